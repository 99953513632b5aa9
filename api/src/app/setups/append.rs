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
    refusal::Refusal,
    setup::{
        decide::{Decision, decide},
        event::{EventKind, Recorded},
        runs::Uses,
    },
};
use dovetally_db::{Connection, Tx, custody, machines, setups};
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
    may_record(&guarded.who, event.kind())?;
    let condition = options.if_match.clone();
    guarded
        .perform(options, &bytes, move |tx, who| {
            let loaded = take_in(tx, who, id, &event, condition.as_ref())?;
            let now = tx.now();
            let view = show(tx.connection(), &loaded, now)?;
            Done::created(&view, format!("/v1/setups/{id}/events"))
        })
        .await
}

/// Asks for a permission that a kind of event takes: any of them is enough.
///
/// # Errors
/// 403 that names the first.
pub(crate) fn may_record(who: &Principal, kind: EventKind) -> Result<(), Problem> {
    let permissions = kind.permissions();
    match permissions.first() {
        Some(first) if !permissions.iter().any(|permission| who.may(*permission)) => Err(Problem::forbidden(*first)),
        _ => Ok(()),
    }
}

/// Everything that would speak against an event if it were recorded now; nothing is. For a page that says so before
/// anybody asks for it.
///
/// # Errors
/// 422 for an event that cannot be.
pub(crate) fn speaks_against(
    connection: &mut Connection,
    who: &Principal,
    loaded: &Loaded,
    event: &EventBody,
    now: DateTime<Utc>,
) -> Result<Vec<Refusal>, Problem> {
    let facts = machine_facts(connection, loaded.row.machine, Some(&loaded.setup))?;
    let command = command(connection, event)?;
    Ok(decide(&loaded.setup, &facts, &command, &who.actor(), now).err().unwrap_or_default())
}

/// Appends one event inside a transaction, without showing the setup afterwards: that is half of the work.
pub(crate) fn take_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    id: SetupId,
    event: &EventBody,
    condition: Option<&IfMatch>,
) -> Result<Loaded, Problem> {
    let machine = setups::machine_of(tx.connection(), id)?.ok_or_else(|| Problem::not_found("setup", id))?;
    machines::take_guard(tx.connection(), machine)?;
    // The setup is nobody else's while the guard is held; it tells which items move beside the one that was scanned.
    let loaded = load(tx.connection(), id)?;
    // So is whatever a check or a return may say of the gauges that it relies on and the holders seated in it: they take the
    // same rows.
    let mut rows = moving_items(tx.connection(), event, &loaded.setup)?;
    rows.extend(loaded.setup.gauges_relied_on().into_keys());
    rows.extend(loaded.setup.holders());
    custody::lock(tx.connection(), &rows)?;
    if let Some(condition) = condition {
        condition.check(Some(&ETag::of_resource(&event_list(tx.connection(), &loaded)?)?))?;
    }
    let occurred_at = occurred(event.occurred_at(), tx.now())?;
    let facts = machine_facts(tx.connection(), loaded.row.machine, Some(&loaded.setup))?;
    let mut command = command(tx.connection(), event)?;
    advice::attach(tx.connection(), &loaded, &facts, &mut command)?;
    let now = tx.now();
    let decision = decide(&loaded.setup, &facts, &command, &who.actor(), now).map_err(Problem::refusals)?;
    tx.pause_point("setup-read");
    store(tx, who, loaded, decision, occurred_at)
}

/// Stores a decision: events, effects, where the setup stands, one change an event.
pub(crate) fn store(
    tx: &mut Tx<'_>,
    who: &Principal,
    mut loaded: Loaded,
    decision: Decision,
    occurred_at: DateTime<Utc>,
) -> Result<Loaded, Problem> {
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
    let scene = Scene { setup: loaded.row.id, machine: loaded.row.machine, occurred_at, recorded_at: last };
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
