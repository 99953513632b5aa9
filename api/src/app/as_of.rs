//! The records as they stood at a past instant: read off the ledger, the events and the chain of changes.

use super::{
    items::place_shown,
    registry::{self, AnyItem, Machines, Registered, find, machine_state},
    setups,
};
use crate::{
    conditional::answer_read,
    extract::{IfNoneMatch, Reference},
    page::Paging,
    principal::{Guarded, Read},
    problem::Problem,
    transport::item::{InSetup, ItemFilters, ItemView},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    ids::MachineId,
    item::{Condition, Keeper},
    machine::MachineMode,
    registry::item::Item,
};
use dovetally_db::{
    Connection, Error, chain,
    custody::{self, Movement, PastFilter},
    items, jobs,
    machines::{self, Guard},
};
use serde_json::Value;
use std::collections::{BTreeMap, btree_map::Entry};

/// The instant asked for, which must be past.
///
/// # Errors
/// 422 for one that lies ahead.
pub fn past(at: DateTime<Utc>, now: DateTime<Utc>) -> Result<DateTime<Utc>, Problem> {
    if at > now {
        return Err(Problem::impossible_query("as_of", "lies ahead of the server's time"));
    }
    Ok(at)
}

/// Reads an item, now or as it was.
///
/// # Errors
/// 404 when there is none, or was none then; 422 for an instant ahead.
pub async fn item(
    guarded: &Guarded<Read>,
    reference: Reference,
    at: Option<DateTime<Utc>>,
    condition: &IfNoneMatch,
) -> Result<HttpResponse, Problem> {
    let Some(at) = at else { return registry::get::<AnyItem>(guarded, reference, condition).await };
    let at = past(at, guarded.database().now())?;
    let view = guarded
        .database()
        .read(move |connection| {
            let item = find::<AnyItem>(connection, &reference)?;
            let movement = custody::last_movement(connection, item.id, at)?;
            let movement = movement.ok_or_else(|| not_yet("item", &reference))?;
            show_all(connection, std::slice::from_ref(&movement), at)?.pop().ok_or_else(incomplete)
        })
        .await?;
    answer_read(&view, condition)
}

/// A page of items as they were.
///
/// # Errors
/// 400 for filters that only know the present; 422 for an instant ahead.
pub async fn items_page(
    guarded: &Guarded<Read>,
    paging: Paging<ItemFilters>,
    at: DateTime<Utc>,
) -> Result<HttpResponse, Problem> {
    let at = past(at, guarded.database().now())?;
    let filters = &paging.filters;
    let only_now = [("condition", filters.condition.is_some()), ("job", filters.job.is_some())];
    let only_now = only_now.into_iter().chain([("overdue", filters.overdue.is_some())]);
    if let Some((name, _)) = only_now.into_iter().find(|(_, given)| *given) {
        return Err(Problem::query(name, "is known of the present only: leave it out together with as_of"));
    }
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let after: Option<Code> = paging.after()?;
            let filters = &paging.filters;
            let (person, place) = (filters.person.as_ref(), filters.place.as_ref());
            let keeper = super::items::keeper_in_query(connection, person, place, filters.machine.as_ref())?;
            let filter = PastFilter { kind: filters.kind, keeper };
            let rows = custody::page_as_of(connection, filter, at, after.as_ref(), paging.rows_to_fetch())?;
            let (codes, movements): (Vec<Code>, Vec<Movement>) = rows.into_iter().unzip();
            let shown = codes.into_iter().zip(show_all(connection, &movements, at)?).collect();
            let page = paging.page(shown, |(code, _)| code.clone(), |(_, view)| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

/// Items as their last movements until then and their last changes until then left them, in the movements' order.
fn show_all(connection: &mut Connection, movements: &[Movement], at: DateTime<Utc>) -> Result<Vec<ItemView>, Problem> {
    let known = custody::all_known_as(connection, &movements.iter().map(|row| row.to).collect::<Vec<_>>())?;
    let jobs = jobs::codes_of(connection, &movements.iter().filter_map(|row| row.job).collect())?;
    let machines = machines::codes_of(connection, &movements.iter().filter_map(|row| row.for_machine).collect())?;
    let mut open = OpenSetups::at(at);
    let mut shown = Vec::with_capacity(movements.len());
    for movement in movements {
        let item = items::find(connection, movement.item)?.ok_or_else(incomplete)?;
        let then = stated(connection, &item, movement, at)?;
        let keeper = known.get(&movement.to).ok_or_else(incomplete)?;
        shown.push(ItemView {
            id: item.id.uuid(),
            code: then.code,
            kind: item.fields.kind,
            name: then.name,
            condition: then.condition,
            whereabouts: place_shown(movement.to, keeper),
            since: movement.recorded_at,
            purpose: movement.purpose,
            due: movement.due,
            job: movement.job.and_then(|job| jobs.get(&job).cloned()),
            for_machine: movement.for_machine.and_then(|machine| machines.get(&machine).cloned()),
            in_setup: open.holding(connection, movement)?,
            created_at: item.created_at,
            updated_at: then.updated_at,
        });
    }
    Ok(shown)
}

/// What an item's own record said.
struct Stated {
    code: Code,
    name: String,
    condition: Condition,
    updated_at: DateTime<Utc>,
}

fn stated(connection: &mut Connection, item: &Item, movement: &Movement, at: DateTime<Utc>) -> Result<Stated, Problem> {
    let changed = chain::state_as_of(connection, item.id.uuid(), at)?;
    let told = |name: &str| changed.as_ref().and_then(|changed| changed.state.get(name)).cloned();
    let code = told("code").map(serde_json::from_value::<Code>).transpose().map_err(Problem::internal)?;
    let name = told("name").and_then(|name| name.as_str().map(str::to_owned));
    let judged = told("condition").map(serde_json::from_value::<Condition>).transpose().map_err(Problem::internal)?;
    // Whichever of the two came later knew the condition last; one that changed nothing repeats the one before.
    let condition = match (&changed, judged) {
        (Some(changed), Some(judged)) if changed.recorded_at >= movement.recorded_at => judged,
        _ => movement.condition,
    };
    Ok(Stated {
        code: code.unwrap_or_else(|| item.code.clone()),
        name: name.unwrap_or_else(|| item.fields.name.clone()),
        condition,
        updated_at: changed.map_or(item.created_at, |changed| changed.recorded_at),
    })
}

/// The setups that were open then, each folded once.
struct OpenSetups {
    at: DateTime<Utc>,
    known: BTreeMap<MachineId, Option<setups::Loaded>>,
}

impl OpenSetups {
    const fn at(at: DateTime<Utc>) -> Self {
        Self { at, known: BTreeMap::new() }
    }

    /// In which open setup an item was: what is at a machine need not have come there for the setup that holds it.
    fn holding(&mut self, connection: &mut Connection, movement: &Movement) -> Result<Option<InSetup>, Problem> {
        let Keeper::Machine(machine) = movement.to else { return Ok(None) };
        let open = match self.known.entry(machine) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(unknown) => {
                let open = machines::standing_as_of(connection, machine, self.at)?.open_setup;
                unknown.insert(open.map(|id| setups::load_as_of(connection, id, self.at)).transpose()?)
            }
        };
        let Some(loaded) = open else { return Ok(None) };
        let held = loaded.setup.items().into_iter().find(|(item, _)| *item == movement.item);
        let placed = loaded.setup.plan.stations.iter().zip(&loaded.setup.stations).find_map(|(plan, state)| {
            state.gauge.as_ref().filter(|gauge| gauge.item == movement.item).map(|_| &plan.code)
        });
        Ok(held.map(|(_, station)| station).or(placed).map(|station| InSetup {
            setup: loaded.row.id.uuid(),
            machine: loaded.row.plan.machine_code.clone(),
            station: station.clone(),
        }))
    }
}

/// Reads a machine, now or as it stood.
///
/// # Errors
/// 404 when there is none, or was none then; 422 for an instant ahead.
pub async fn machine(
    guarded: &Guarded<Read>,
    reference: Reference,
    at: Option<DateTime<Utc>>,
    condition: &IfNoneMatch,
) -> Result<HttpResponse, Problem> {
    let Some(at) = at else { return registry::get::<Machines>(guarded, reference, condition).await };
    let at = past(at, guarded.database().now())?;
    let view = guarded
        .database()
        .read(move |connection| {
            let machine = find::<Machines>(connection, &reference)?;
            let id = machine.record.id;
            let known = chain::state_as_of(connection, Machines::record_of(&machine).0, at)?;
            let known = known.ok_or_else(|| not_yet("machine", &reference))?;
            stood(connection, id, known.state, at)
        })
        .await?;
    answer_read(&view, condition)
}

/// The machine's own record as it was written then, with how it stood beside it.
fn stood(connection: &mut Connection, id: MachineId, mut view: Value, at: DateTime<Utc>) -> Result<Value, Problem> {
    let standing = machines::standing_as_of(connection, id, at)?;
    let mode = if standing.running { MachineMode::Running } else { MachineMode::Idle };
    let guard = Guard { version: 0, mode, tagged_out: !standing.tag_outs.is_empty() };
    let retired = view["retired"].as_bool().unwrap_or(false);
    let state = machine_state(retired, guard, standing.open_setup.is_some());
    put(&mut view, "state", Some(&state))?;
    let gauges = standing.gauges.iter();
    view["gauges_in_machine"] =
        gauges.map(|gauge| serde_json::json!({"code": gauge.code, "station": gauge.station})).collect();
    put(&mut view, "open_setup", standing.open_setup.as_ref())?;
    put(&mut view, "centers_may_have_moved_at", standing.centers_may_have_moved_at.as_ref())?;
    let measured = standing.center_height.map(|height| height.fields);
    put(&mut view["center_height"], "measured", measured.as_ref().map(|fields| &fields.measured))?;
    let uncertainty = measured.as_ref().map(|fields| &fields.standard_uncertainty);
    put(&mut view["center_height"], "standard_uncertainty", uncertainty)?;
    Ok(view)
}

/// Writes a member, or takes it away where there is nothing: as absent members are answered.
fn put<T: serde::Serialize>(view: &mut Value, name: &str, value: Option<&T>) -> Result<(), Problem> {
    let Some(members) = view.as_object_mut() else { return Ok(()) };
    match value {
        Some(value) => members.insert(name.to_owned(), serde_json::to_value(value).map_err(Problem::internal)?),
        None => members.remove(name),
    };
    Ok(())
}

fn not_yet(what: &str, reference: &Reference) -> Problem {
    Problem::not_found(&format!("{what} on record at that instant:"), reference)
}

fn incomplete() -> Problem {
    Error::unreadable("an item whose record is incomplete").into()
}
