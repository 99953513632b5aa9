//! Reading a setup with what its rules need.

use super::standings;
use crate::{
    problem::Problem,
    transport::setup::{People, PersonRef, SetupRow, SetupView},
};
use chrono::{DateTime, Utc};
use dovetally_core::{
    ids::{MachineId, PersonId, SetupId},
    setup::{
        event::Recorded,
        facts::{MachineFacts, TagOutFacts},
        state::Setup,
        view,
    },
};
use dovetally_db::{Connection, chain, jobs, machines, people, setups, tag_outs};

/// A setup: its row, its events, their fold.
#[derive(Clone, Debug)]
pub struct Loaded {
    /// The row.
    pub row: setups::Setup,
    /// The events in order.
    pub events: Vec<Recorded>,
    /// Their fold.
    pub setup: Setup,
}

/// Reads a setup.
///
/// # Errors
/// 404 when there is none.
pub fn load(connection: &mut Connection, id: SetupId) -> Result<Loaded, Problem> {
    let row = setups::find(connection, id)?.ok_or_else(|| Problem::not_found("setup", id))?;
    of_row(connection, row)
}

/// Reads a setup as it stood at an instant, inclusive.
///
/// # Errors
/// 404 when there was none then.
pub fn load_as_of(connection: &mut Connection, id: SetupId, at: DateTime<Utc>) -> Result<Loaded, Problem> {
    let mut row = setups::find(connection, id)?.ok_or_else(|| Problem::not_found("setup", id))?;
    if row.opened_at > at {
        return Err(Problem::not_found("setup open at that instant:", id));
    }
    let mut events = setups::events(connection, row.id)?;
    events.retain(|recorded| recorded.recorded_at <= at);
    let mut setup = Setup::new(row.plan.clone());
    setup.apply_all(&events);
    row.state = setup.state;
    row.closed_at = row.closed_at.filter(|closed_at| *closed_at <= at);
    Ok(Loaded { row, events, setup })
}

/// What the records knew of a machine at an instant.
fn machine_facts_as_of(
    connection: &mut Connection,
    machine: MachineId,
    setup: &Setup,
    at: DateTime<Utc>,
) -> Result<MachineFacts, Problem> {
    let stood = machines::standing_as_of(connection, machine, at)?;
    let mut spindle_spreads = machines::measured_spreads_at(connection, machine, at)?;
    if spindle_spreads.machine.is_none() {
        // What was written about the machine then.
        let written = chain::state_as_of(connection, machine.uuid(), at)?;
        let written = written.and_then(|written| written.state.get("spindle_center_spread").cloned());
        spindle_spreads.machine = written.map(serde_json::from_value).transpose().map_err(Problem::internal)?.flatten();
    }
    Ok(MachineFacts {
        tag_outs: stood.tag_outs.into_iter().map(|t| TagOutFacts { tag_out: t.id, reason: t.reason }).collect(),
        gauges: stood.gauges,
        gauge_standings: standings::as_of(connection, setup, at)?,
        holder_standings: standings::holders_as_of(connection, setup, at)?,
        spindle_spreads,
        centers_may_have_moved_at: stood.centers_may_have_moved_at,
    })
}

/// A setup as it stood, as it is answered.
///
/// # Errors
/// A database error.
pub(super) fn show_as_of(
    connection: &mut Connection,
    loaded: &Loaded,
    at: DateTime<Utc>,
) -> Result<SetupView, Problem> {
    let facts = machine_facts_as_of(connection, loaded.row.machine, &loaded.setup, at)?;
    shown(connection, loaded, &facts, at)
}

/// Reads a setup whose row is at hand.
///
/// # Errors
/// A database error.
pub(super) fn of_row(connection: &mut Connection, row: setups::Setup) -> Result<Loaded, Problem> {
    let events = setups::events(connection, row.id)?;
    let mut setup = Setup::new(row.plan.clone());
    setup.apply_all(&events);
    Ok(Loaded { row, events, setup })
}

/// What the records know now of a machine, of the gauges on which its setup relies, and of the holders seated in it.
///
/// # Errors
/// A database error.
pub fn machine_facts(
    connection: &mut Connection,
    machine: MachineId,
    setup: Option<&Setup>,
) -> Result<MachineFacts, Problem> {
    let tag_outs = tag_outs::in_force(connection, machine)?;
    let found = machines::find(connection, machine)?;
    Ok(MachineFacts {
        tag_outs: tag_outs.into_iter().map(|t| TagOutFacts { tag_out: t.id, reason: t.reason }).collect(),
        gauges: setups::gauges_in(connection, machine)?,
        gauge_standings: setup.map(|setup| standings::now(connection, setup)).transpose()?.unwrap_or_default(),
        holder_standings: setup.map(|setup| standings::holders_now(connection, setup)).transpose()?.unwrap_or_default(),
        spindle_spreads: machines::spindle_spreads(connection, machine)?,
        centers_may_have_moved_at: found.and_then(|machine| machine.centers_may_have_moved_at),
    })
}

/// The names of people.
///
/// # Errors
/// A database error.
pub(crate) fn names(connection: &mut Connection, ids: impl IntoIterator<Item = PersonId>) -> Result<People, Problem> {
    let mut found = People::new();
    for id in ids {
        if let std::collections::btree_map::Entry::Vacant(entry) = found.entry(id)
            && let Some(person) = people::find(connection, id)?
        {
            entry.insert(PersonRef { badge: person.badge, name: person.fields.name });
        }
    }
    Ok(found)
}

/// A setup as it is answered.
///
/// # Errors
/// A database error.
pub(crate) fn show(connection: &mut Connection, loaded: &Loaded, now: DateTime<Utc>) -> Result<SetupView, Problem> {
    let facts = machine_facts(connection, loaded.row.machine, Some(&loaded.setup))?;
    shown(connection, loaded, &facts, now)
}

/// A setup as it is answered at an instant, with what is known of its machine and gauges.
///
/// # Errors
/// A database error.
pub(crate) fn shown(
    connection: &mut Connection,
    loaded: &Loaded,
    facts: &MachineFacts,
    now: DateTime<Utc>,
) -> Result<SetupView, Problem> {
    let mut ids = vec![loaded.row.opened_by, loaded.setup.in_charge];
    ids.extend(loaded.events.iter().map(|recorded| recorded.by));
    let people = names(connection, ids)?;
    let job = match loaded.row.job {
        Some(job) => jobs::find(connection, job)?.map(|job| job.code),
        None => None,
    };
    let row = SetupRow {
        job,
        opened_by: loaded.row.opened_by,
        opened_at: loaded.row.opened_at,
        closed_at: loaded.row.closed_at,
    };
    Ok(SetupView::of(view::SetupView::of(&loaded.setup, facts, now), row, &people))
}
