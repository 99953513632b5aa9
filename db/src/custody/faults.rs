//! What does not fit between custody, the ledger and the chain of changes.

use super::{Movement, MovementRow, Row};
use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{changes, changes_pending as pending, custody, items, movements},
};
use diesel::prelude::*;
use std::collections::BTreeSet;

/// More than this many faults tell nothing new.
const MOST: usize = 100;
const PAGE: i64 = 1000;

/// Items that are not where their last movement brought them, gaps in the numbering, and movements that differ from
/// what the chain of changes sealed. Empty when all is sound.
///
/// # Errors
/// A database error.
pub fn faults(connection: &mut Connection) -> Result<Vec<String>> {
    let mut faults = Vec::new();
    hold_custody_against_movements(connection, &mut faults)?;
    hold_movements_against_seals(connection, &mut faults)?;
    faults.truncate(MOST);
    Ok(faults)
}

fn hold_custody_against_movements(connection: &mut Connection, faults: &mut Vec<String>) -> Result<()> {
    let all: Vec<(String, Option<Row>)> = items::table
        .left_join(custody::table.on(custody::item_id.eq(items::id)))
        .order(items::code)
        .select((items::code, Option::<Row>::as_select()))
        .load(connection)?;
    for (code, row) in all {
        if faults.len() > MOST {
            return Ok(());
        }
        let Some(row) = row else {
            faults.push(format!("{code} is nowhere"));
            continue;
        };
        let moved: Vec<MovementRow> = movements::table
            .filter(movements::item_id.eq(&row.item_id))
            .order(movements::item_sequence)
            .select(MovementRow::as_select())
            .load(connection)?;
        if let Some((_, number)) = moved.iter().zip(1..).find(|(movement, number)| movement.item_sequence != *number) {
            faults.push(format!("{code} lacks its movement {number}"));
        }
        let last = moved.last().map(|m| {
            (
                &m.to_kind,
                &m.to_place_id,
                &m.to_person_id,
                &m.to_machine_id,
                &m.purpose,
                m.due,
                &m.job_id,
                &m.for_machine_id,
            )
        });
        let here = (
            &row.held_by,
            &row.place_id,
            &row.person_id,
            &row.machine_id,
            &row.purpose,
            row.due,
            &row.job_id,
            &row.for_machine_id,
        );
        let number = moved.last().map(|m| (m.item_sequence, m.recorded_at));
        if last != Some(here) || number != Some((row.movement_sequence, row.since)) {
            faults.push(format!("{code} is not where its last movement brought it"));
        }
    }
    Ok(())
}

/// The items that were taken off the records, as the chain of changes has it.
fn removed_items(connection: &mut Connection) -> Result<BTreeSet<String>> {
    let sealed: Vec<String> = changes::table
        .filter(changes::subject_kind.eq("item"))
        .filter(changes::kind.like("%.removed"))
        .select(changes::subject_id)
        .load(connection)?;
    let mut removed: BTreeSet<String> = sealed.into_iter().collect();
    if let Connection::Postgres(c) = connection {
        let waiting: Vec<String> = pending::table
            .filter(pending::subject_kind.eq("item"))
            .filter(pending::kind.like("%.removed"))
            .select(pending::subject_id)
            .load(c)?;
        removed.extend(waiting);
    }
    Ok(removed)
}

fn hold_movements_against_seals(connection: &mut Connection, faults: &mut Vec<String>) -> Result<()> {
    let removed = removed_items(connection)?;
    let (mut after, mut sealed) = (0, 0);
    loop {
        let page: Vec<(i64, String, String)> = changes::table
            .filter(changes::subject_kind.eq("movement"))
            .filter(changes::sequence.gt(after))
            .order(changes::sequence)
            .limit(PAGE)
            .select((changes::sequence, changes::subject_id, changes::state))
            .load(connection)?;
        let Some((last, ..)) = page.last() else { break };
        after = *last;
        for (sequence, id, state) in page {
            sealed += 1;
            let row: Option<MovementRow> =
                movements::table.find(&id).select(MovementRow::as_select()).first(connection).optional()?;
            let stored = row.map(Movement::try_from).transpose();
            let wanted = columns::from_document::<Movement>(&state);
            match (stored, wanted) {
                // Where an unused item was put on record goes with it; the chain holds that it was taken off.
                (Ok(None), Ok(wanted)) if wanted.item_sequence == 1 && removed.contains(&wanted.item.to_string()) => {
                    sealed -= 1;
                }
                (Ok(Some(stored)), Ok(wanted)) if stored == wanted => {}
                (Ok(None), _) => faults.push(format!("the movement of change {sequence} is gone")),
                _ => faults.push(format!("the movement of change {sequence} is not what was sealed")),
            }
            if faults.len() > MOST {
                return Ok(());
            }
        }
    }
    let stored: i64 = movements::table.count().get_result(connection)?;
    let waiting: i64 = match connection {
        Connection::Sqlite(_) => 0,
        Connection::Postgres(c) => pending::table.filter(pending::subject_kind.eq("movement")).count().get_result(c)?,
    };
    if stored != sealed + waiting {
        faults.push(format!("the ledger holds {stored} movements, the chain of changes {}", sealed + waiting));
    }
    Ok(())
}
