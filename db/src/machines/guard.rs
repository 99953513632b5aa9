//! The machine guard: one row a machine, which keeps apart what must never happen side by side.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{centers_moved, machine_states, machines},
    tx::Tx,
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{ids::MachineId, machine::MachineMode};

/// The machine guard's row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Guard {
    /// Raised by every setup event, tag-out and centre-height record.
    pub version: i64,
    /// Idle, a gauge in it, or running.
    pub mode: MachineMode,
    /// Whether a tag-out is in force.
    pub tagged_out: bool,
}

/// Takes the machine's guard for this transaction by raising its version: the first statement of whatever must not
/// happen side by side on one machine.
///
/// # Errors
/// A database error; [`Error::Unreadable`] when the machine has no guard.
pub fn take_guard(connection: &mut Connection, id: MachineId) -> Result<Guard> {
    #[cfg(debug_assertions)]
    if crate::race_control::is_removed("machine-guard") {
        return guard(connection, id);
    }
    diesel::update(machine_states::table.find(id.to_string()))
        .set(machine_states::version.eq(machine_states::version + 1))
        .execute(connection)?;
    guard(connection, id)
}

/// Reads the guard without taking it.
///
/// # Errors
/// A database error; [`Error::Unreadable`] when the machine has no guard.
pub fn guard(connection: &mut Connection, id: MachineId) -> Result<Guard> {
    let row: Option<(i64, String, bool)> = machine_states::table
        .find(id.to_string())
        .select((machine_states::version, machine_states::mode, machine_states::tagged_out))
        .first(connection)
        .optional()?;
    let (version, mode, tagged_out) = row.ok_or_else(|| Error::unreadable("a machine without its guard"))?;
    Ok(Guard { version, mode: columns::named(&mode, MachineMode::from_name)?, tagged_out })
}

/// Sets the guard's mode.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] while a gauge or a release holds the present mode, [`crate::Constraint::Check`]
/// for running while tagged out.
pub fn set_mode(connection: &mut Connection, id: MachineId, mode: MachineMode) -> Result<()> {
    diesel::update(machine_states::table.find(id.to_string()))
        .set(machine_states::mode.eq(mode.name()))
        .execute(connection)?;
    Ok(())
}

/// Sets whether the machine is tagged out.
///
/// # Errors
/// [`crate::Constraint::Check`] while it is running.
pub fn set_tagged_out(connection: &mut Connection, id: MachineId, tagged_out: bool) -> Result<()> {
    diesel::update(machine_states::table.find(id.to_string()))
        .set(machine_states::tagged_out.eq(tagged_out))
        .execute(connection)?;
    Ok(())
}

/// Notes that the spindle centres may have moved by what was recorded at an instant: gauges checked before are stale. The
/// instant never lies before the last one noted, whatever the clocks of several processes say.
///
/// # Errors
/// A database error.
pub fn note_centers_moved(tx: &mut Tx<'_>, id: MachineId, recorded_at: DateTime<Utc>) -> Result<()> {
    let before: Option<Option<NaiveDateTime>> = machines::table
        .find(id.to_string())
        .select(machines::centers_may_have_moved_at)
        .first(tx.connection())
        .optional()?;
    let before = before.flatten().map(columns::time);
    let at = before.map_or(recorded_at, |before| recorded_at.max(tx.recorded_after(before)));
    set_centers_may_have_moved(tx.connection(), id, at)
}

/// Notes that the spindle centres may have moved at an instant: gauges checked before are stale.
///
/// # Errors
/// A database error.
pub fn set_centers_may_have_moved(connection: &mut Connection, id: MachineId, at: DateTime<Utc>) -> Result<()> {
    diesel::update(machines::table.find(id.to_string()))
        .set(machines::centers_may_have_moved_at.eq(at.naive_utc()))
        .execute(connection)?;
    keep_centers_moved(connection, id, at)
}

/// Keeps an instant at which the centres may have moved, so that it can still be told when a later one has taken its place.
pub(super) fn keep_centers_moved(connection: &mut Connection, id: MachineId, at: DateTime<Utc>) -> Result<()> {
    let (id, at) = (id.to_string(), at.naive_utc());
    let kept: bool =
        diesel::select(diesel::dsl::exists(centers_moved::table.find((&id, at)))).get_result(connection)?;
    if !kept {
        let row = (centers_moved::machine_id.eq(id), centers_moved::moved_at.eq(at));
        diesel::insert_into(centers_moved::table).values(row).execute(connection)?;
    }
    Ok(())
}
