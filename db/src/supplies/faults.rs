//! What does not fit between supplies, their ledger and the chain of changes.

use super::{MovementRow, SupplyMovement};
use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{changes, changes_pending as pending, supplies, supply_movements},
};
use diesel::{dsl::max, prelude::*};

/// More than this many faults tell nothing new.
const MOST: usize = 100;
const PAGE: i64 = 1000;

/// Supplies that do not hold what their last movement left, and movements that differ from what the chain of changes
/// sealed. That each movement follows the one before, by number and by sum, is a foreign key. Empty when all is sound.
///
/// # Errors
/// A database error.
pub fn faults(connection: &mut Connection) -> Result<Vec<String>> {
    let mut faults = Vec::new();
    hold_supplies_against_movements(connection, &mut faults)?;
    hold_movements_against_seals(connection, &mut faults)?;
    faults.truncate(MOST);
    Ok(faults)
}

fn hold_supplies_against_movements(connection: &mut Connection, faults: &mut Vec<String>) -> Result<()> {
    let all: Vec<(String, String, i64, i64)> = supplies::table
        .order(supplies::code)
        .select((supplies::id, supplies::code, supplies::on_hand, supplies::movements))
        .load(connection)?;
    for (id, code, on_hand, movements) in all {
        let own = supply_movements::table.filter(supply_movements::supply_id.eq(&id));
        let rows: i64 = own.count().get_result(connection)?;
        let last: Option<i64> = own.select(max(supply_movements::number)).first(connection)?;
        let left: Option<i64> = own
            .filter(supply_movements::number.eq(movements))
            .select(supply_movements::on_hand)
            .first(connection)
            .optional()?;
        if rows != movements || last.unwrap_or(0) != movements {
            faults.push(format!("{code} lacks a movement"));
        }
        if left.unwrap_or(0) != on_hand {
            faults.push(format!("{code} does not hold what its last movement left"));
        }
    }
    Ok(())
}

fn hold_movements_against_seals(connection: &mut Connection, faults: &mut Vec<String>) -> Result<()> {
    let (mut after, mut sealed) = (0, 0);
    loop {
        let page: Vec<(i64, String, String)> = changes::table
            .filter(changes::subject_kind.eq("supply_movement"))
            .filter(changes::sequence.gt(after))
            .order(changes::sequence)
            .limit(PAGE)
            .select((changes::sequence, changes::subject_id, changes::state))
            .load(connection)?;
        let Some((last, ..)) = page.last() else { break };
        after = *last;
        for (sequence, id, state) in page {
            sealed += 1;
            let row: Option<MovementRow> = supply_movements::table
                .filter(supply_movements::id.eq(&id))
                .select(MovementRow::as_select())
                .first(connection)
                .optional()?;
            let stored = row.map(SupplyMovement::try_from).transpose();
            match (stored, columns::from_document::<SupplyMovement>(&state)) {
                (Ok(Some(stored)), Ok(wanted)) if stored == wanted => {}
                (Ok(None), _) => faults.push(format!("the supply's movement of change {sequence} is gone")),
                _ => faults.push(format!("the supply's movement of change {sequence} is not what was sealed")),
            }
            if faults.len() > MOST {
                return Ok(());
            }
        }
    }
    let stored: i64 = supply_movements::table.count().get_result(connection)?;
    let waiting: i64 = match connection {
        Connection::Sqlite(_) => 0,
        Connection::Postgres(c) => {
            pending::table.filter(pending::subject_kind.eq("supply_movement")).count().get_result(c)?
        }
    };
    if stored != sealed + waiting {
        faults
            .push(format!("the supplies' ledger holds {stored} movements, the chain of changes {}", sealed + waiting));
    }
    Ok(())
}
