//! Reading a setup with what its rules need.

use crate::{
    problem::Problem,
    transport::setup::{People, PersonRef, SetupRow, SetupView},
};
use dovetally_core::{
    ids::{MachineId, PersonId, SetupId},
    setup::{
        event::Recorded,
        facts::{MachineFacts, TagOutFacts},
        state::Setup,
        view,
    },
};
use dovetally_db::{Connection, jobs, machines, people, setups, tag_outs};

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

/// What the records know of a machine now.
///
/// # Errors
/// A database error.
pub fn machine_facts(connection: &mut Connection, machine: MachineId) -> Result<MachineFacts, Problem> {
    let tag_outs = tag_outs::in_force(connection, machine)?;
    let found = machines::find(connection, machine)?;
    Ok(MachineFacts {
        tag_outs: tag_outs.into_iter().map(|t| TagOutFacts { tag_out: t.id, reason: t.reason }).collect(),
        gauges: setups::gauges_in(connection, machine)?,
        spindle_spreads: machines::spindle_spreads(connection, machine)?,
        centers_may_have_moved_at: found.and_then(|machine| machine.centers_may_have_moved_at),
    })
}

/// The names of people.
///
/// # Errors
/// A database error.
pub(super) fn names(connection: &mut Connection, ids: impl IntoIterator<Item = PersonId>) -> Result<People, Problem> {
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
pub(super) fn show(connection: &mut Connection, loaded: &Loaded) -> Result<SetupView, Problem> {
    let facts = machine_facts(connection, loaded.row.machine)?;
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
    Ok(SetupView::of(view::SetupView::of(&loaded.setup, &facts), row, &people))
}
