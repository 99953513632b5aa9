//! Appending an event to a setup.

use super::{
    advice,
    commands::{command, moving_items},
    effects::{Scene, carry_out},
    load::{Loaded, load, machine_facts, show},
    read::event_list,
};
use crate::{
    app::{occurred, perform::Done, registry::write_change},
    conditional::ETag,
    extract::{IfMatch, Json, WriteOptions},
    principal::{Guarded, Principal, RecordEvent},
    problem::Problem,
    transport::setup_event::EventBody,
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    ids::SetupId,
    setup::{
        decide::{Decision, decide},
        event::Recorded,
        runs::Uses,
    },
};
use dovetally_db::{Tx, custody, machines, setups};
use serde_json::{Map, Value};

/// Appends one event.
///
/// # Errors
/// 409 with every refusal, 412 when other events came since `If-Match`, 422 for a body that cannot be.
pub async fn append(
    guarded: &Guarded<RecordEvent>,
    options: &WriteOptions,
    id: SetupId,
    body: Json<Map<String, Value>>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let event = EventBody::parse(body.into_inner())?;
    // Which permission it takes depends on the kind: any of them is enough.
    let permissions = event.kind().permissions();
    if let Some(first) = permissions.first()
        && !permissions.iter().any(|permission| guarded.who.may(*permission))
    {
        return Err(Problem::forbidden(*first));
    }
    let condition = options.if_match.clone();
    guarded.perform(options, &bytes, move |tx, who| append_in(tx, who, id, &event, condition.as_ref())).await
}

/// The same inside a transaction.
pub(crate) fn append_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    id: SetupId,
    event: &EventBody,
    condition: Option<&IfMatch>,
) -> Result<Done, Problem> {
    let machine = setups::machine_of(tx.connection(), id)?.ok_or_else(|| Problem::not_found("setup", id))?;
    machines::take_guard(tx.connection(), machine)?;
    // The setup is nobody else's while the guard is held; it tells which items move beside the one that was scanned.
    let loaded = load(tx.connection(), id)?;
    let moving = moving_items(tx.connection(), event, &loaded.setup)?;
    custody::lock(tx.connection(), &moving)?;
    if let Some(condition) = condition {
        condition.check(Some(&ETag::of_resource(&event_list(tx.connection(), &loaded)?)?))?;
    }
    let occurred_at = occurred(event.occurred_at(), tx.now())?;
    let facts = machine_facts(tx.connection(), loaded.row.machine)?;
    let mut command = command(tx.connection(), event)?;
    advice::attach(tx.connection(), &loaded, &facts, &mut command)?;
    let now = tx.now();
    let decision = decide(&loaded.setup, &facts, &command, &who.actor(), now).map_err(Problem::refusals)?;
    tx.pause_point("setup-read")?;
    let loaded = store(tx, who, loaded, decision, occurred_at)?;
    let view = show(tx.connection(), &loaded)?;
    Done::created(&view, format!("/v1/setups/{id}/events"))
}

/// Stores a decision: events, effects, where the setup stands, one change an event.
pub(crate) fn store(
    tx: &mut Tx<'_>,
    who: &Principal,
    mut loaded: Loaded,
    decision: Decision,
    occurred_at: DateTime<Utc>,
) -> Result<Loaded, Problem> {
    let scene = Scene { setup: loaded.row.id, machine: loaded.row.machine, occurred_at };
    let mut last = loaded.events.last().map_or(loaded.row.opened_at, |recorded| recorded.recorded_at);
    let first_new = loaded.events.len();
    for event in decision.events {
        let recorded = Recorded {
            sequence: loaded.setup.last_sequence + 1,
            by: who.person,
            recorded_at: tx.recorded_after(last),
            occurred_at,
            event,
        };
        last = recorded.recorded_at;
        setups::append(tx.connection(), loaded.row.id, &recorded)?;
        loaded.setup.apply(&recorded);
        loaded.events.push(recorded);
    }
    let closes = carry_out(tx, who, scene, &decision.effects)?;
    loaded.row.state = loaded.setup.state;
    if closes {
        loaded.row.closed_at = Some(last);
    }
    for index in first_new..loaded.events.len() {
        loaded.row.version += 1;
        let recorded = &loaded.events[index];
        let state = serde_json::json!({
            "id": loaded.row.id,
            "machine": loaded.row.plan.machine_code,
            "part": loaded.row.plan.part_code,
            "state": loaded.row.state,
            "event": {
                "sequence": recorded.sequence,
                "by": recorded.by,
                "occurred_at": recorded.occurred_at,
                "recorded_at": recorded.recorded_at,
                "event": recorded.event,
            },
        });
        write_change(tx, who, "setup", "dovetally.setup.recorded", loaded.row.id.uuid(), loaded.row.version, state);
    }
    if loaded.events[first_new..].iter().any(|recorded| Uses::concern(&recorded.event)) {
        setups::keep_uses(tx, &loaded.row, &Uses::of(&loaded.row.plan, &loaded.events))?;
    }
    setups::update_state(tx.connection(), &loaded.row)?;
    Ok(loaded)
}
