//! One movement of one item: the ledger's row, where the item is after it, and the change that seals it.

use super::{facts::in_setup, registry::write_change};
use crate::{principal::Principal, problem::Problem, transport::movement::MovementView};
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    ids::{ItemId, JobId, MachineId, SetupId},
    item::{Keeper, Purpose},
};
use dovetally_db::{
    Connection, Error, Tx,
    custody::{self, Movement, MovementFilter, MovementKind},
    items, machines, setups,
};

/// What a movement carries beside item, source and destination.
#[derive(Clone, Copy, Debug)]
pub struct MovementDetails {
    /// Why.
    pub kind: MovementKind,
    /// What it is handed out for.
    pub purpose: Option<Purpose>,
    /// The day by which it is due back.
    pub due: Option<NaiveDate>,
    /// For which job.
    pub job: Option<JobId>,
    /// For which machine.
    pub for_machine: Option<MachineId>,
    /// In which setup.
    pub setup: Option<SetupId>,
    /// When it happened, as the person says.
    pub occurred_at: DateTime<Utc>,
}

/// Moves an item by a step of a setup: what it was handed out for stays with it.
///
/// # Errors
/// A database error.
pub fn move_item(
    tx: &mut Tx<'_>,
    who: &Principal,
    item: ItemId,
    to: Keeper,
    kind: MovementKind,
    setup: Option<SetupId>,
    occurred_at: DateTime<Utc>,
) -> Result<Movement, Problem> {
    let now = custody::find(tx.connection(), item)?;
    let now = now.ok_or_else(|| Error::unreadable("an item that is nowhere"))?;
    let (purpose, due, job, for_machine) = (now.purpose, now.due, now.job, now.for_machine);
    append(tx, who, item, to, MovementDetails { kind, purpose, due, job, for_machine, setup, occurred_at })
}

/// Appends a movement of an item; its custody row is locked already, unless it is the item's first.
///
/// # Errors
/// A constraint when somebody moved it in between.
pub fn append(
    tx: &mut Tx<'_>,
    who: &Principal,
    item: ItemId,
    to: Keeper,
    details: MovementDetails,
) -> Result<Movement, Problem> {
    let before = custody::find(tx.connection(), item)?;
    let record = items::find(tx.connection(), item)?;
    let record = record.ok_or_else(|| Error::unreadable("a movement of an item that is not on record"))?;
    let movement = Movement {
        id: tx.new_id(),
        item,
        item_sequence: before.as_ref().map_or(1, |before| before.movement_sequence + 1),
        kind: details.kind,
        from: before.as_ref().map(|before| before.keeper),
        to,
        condition: record.fields.condition,
        purpose: details.purpose,
        due: details.due,
        job: details.job,
        for_machine: details.for_machine,
        setup: details.setup,
        recorded_by: who.person,
        occurred_at: details.occurred_at,
        recorded_at: before.map_or_else(|| tx.now(), |before| tx.recorded_after(before.since)),
    };
    custody::append(tx.connection(), &movement)?;
    let mut state = serde_json::to_value(&movement).map_err(Problem::internal)?;
    state["code"] = serde_json::to_value(&record.code).map_err(Problem::internal)?;
    write_change(tx, who, "movement", "dovetally.movement.recorded", movement.id.uuid(), 1, state);
    Ok(movement)
}

/// Takes items for this transaction: what is judged of them cannot change until the commit. The guards of the machines in
/// whose setups they are come before custody rows everywhere.
///
/// # Errors
/// A database error.
pub(crate) fn take_items(tx: &mut Tx<'_>, ids: &[ItemId]) -> Result<(), Problem> {
    let mut guarded = Vec::new();
    for id in ids {
        if let Some(place) = in_setup(tx.connection(), *id)? {
            guarded.extend(setups::machine_of(tx.connection(), place.setup)?);
        }
    }
    guarded.sort_unstable();
    guarded.dedup();
    for machine in guarded {
        machines::take_guard(tx.connection(), machine)?;
    }
    Ok(custody::lock(tx.connection(), ids)?)
}

/// The newest moves, of one item or of all, newest first.
///
/// # Errors
/// A database error.
pub(crate) fn last_moves(
    connection: &mut Connection,
    item: Option<ItemId>,
    count: i64,
) -> Result<Vec<MovementView>, Problem> {
    let filter = MovementFilter { item, ..MovementFilter::default() };
    let rows = custody::movements_page(connection, &filter, None, count)?;
    super::custody::show_all(connection, &rows)
}
