//! What work used before a count that was on record when the work was written up.

use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{parts_counted, supplies},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{SupplyId, WorkOrderId},
};

/// Parts that a count saw gone before the work that used them was written up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CountedParts {
    /// The supply.
    pub supply: SupplyId,
    /// How many.
    pub quantity: i64,
    /// When the work was done.
    pub used_at: DateTime<Utc>,
    /// The number of the count in the supply's ledger.
    pub count: i64,
}

/// Keeps what an order used so; its supply is locked already.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] for a count that is not in the supply's ledger.
pub fn keep(connection: &mut Connection, order: WorkOrderId, parts: &CountedParts) -> Result<()> {
    diesel::insert_into(parts_counted::table)
        .values((
            parts_counted::work_order_id.eq(order.to_string()),
            parts_counted::supply_id.eq(parts.supply.to_string()),
            parts_counted::quantity.eq(parts.quantity),
            parts_counted::used_at.eq(parts.used_at.naive_utc()),
            parts_counted::count_number.eq(parts.count),
        ))
        .execute(connection)?;
    Ok(())
}

/// What an order used so, with the supplies' codes, in their order.
///
/// # Errors
/// A database error.
pub fn of_order(connection: &mut Connection, order: WorkOrderId) -> Result<Vec<(Code, CountedParts)>> {
    let rows: Vec<(String, String, i64, NaiveDateTime, i64)> = parts_counted::table
        .inner_join(supplies::table.on(supplies::id.eq(parts_counted::supply_id)))
        .filter(parts_counted::work_order_id.eq(order.to_string()))
        .order(supplies::code)
        .select((
            supplies::code,
            parts_counted::supply_id,
            parts_counted::quantity,
            parts_counted::used_at,
            parts_counted::count_number,
        ))
        .load(connection)?;
    rows.into_iter()
        .map(|(code, supply, quantity, used_at, count)| {
            let used_at = columns::time(used_at);
            Ok((columns::code(&code)?, CountedParts { supply: columns::read(&supply)?, quantity, used_at, count }))
        })
        .collect()
}

/// What was used so of a supply after an instant: when, and how many.
///
/// # Errors
/// A database error.
pub(super) fn since(
    connection: &mut Connection,
    supply: SupplyId,
    after: DateTime<Utc>,
) -> Result<Vec<(DateTime<Utc>, i64)>> {
    let rows: Vec<(NaiveDateTime, i64)> = parts_counted::table
        .filter(parts_counted::supply_id.eq(supply.to_string()))
        .filter(parts_counted::used_at.gt(after.naive_utc()))
        .select((parts_counted::used_at, parts_counted::quantity))
        .load(connection)?;
    Ok(rows.into_iter().map(|(at, quantity)| (columns::time(at), quantity)).collect())
}
