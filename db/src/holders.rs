//! Holders and their checks.

mod checks;

pub use checks::{HolderCheck, checks_page, insert_check};

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    items::{self, ItemRow},
    schema::{holders, items as items_table},
};
use chrono::NaiveDate;
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::ItemId,
    item::ItemKind,
    registry::item::{Holder, Item},
};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = holders)]
#[diesel(treat_none_as_null = true)]
struct Row {
    item_id: String,
    kind: String,
    style: String,
    adjusters: String,
    next_check: Option<NaiveDate>,
    check_interval_days: Option<i32>,
}

fn row(holder: &Holder) -> Result<Row> {
    Ok(Row {
        item_id: holder.item.id.to_string(),
        kind: ItemKind::Holder.name().to_owned(),
        style: holder.style.clone(),
        adjusters: columns::document(&holder.adjusters)?,
        next_check: holder.next_check,
        check_interval_days: holder.check_interval_days.map(i32::try_from).transpose().map_err(Error::unreadable)?,
    })
}

fn holder((item, row): (ItemRow, Row)) -> Result<Holder> {
    Ok(Holder {
        item: Item::try_from(item)?,
        style: row.style,
        adjusters: columns::from_document(&row.adjusters)?,
        next_check: row.next_check,
        check_interval_days: row.check_interval_days.map(u32::try_from).transpose().map_err(Error::unreadable)?,
    })
}

/// Puts a holder on record; its code must be taken already.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, holder: &Holder) -> Result<()> {
    items::insert(connection, &holder.item)?;
    diesel::insert_into(holders::table).values(row(holder)?).execute(connection)?;
    Ok(())
}

/// Writes a holder's record over.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, holder: &Holder) -> Result<()> {
    items::update(connection, &holder.item)?;
    diesel::update(holders::table.find(holder.item.id.to_string())).set(row(holder)?).execute(connection)?;
    Ok(())
}

/// Deletes a holder that nothing refers to.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] when something does.
pub fn delete(connection: &mut Connection, id: ItemId) -> Result<()> {
    diesel::delete(holders::table.find(id.to_string())).execute(connection)?;
    items::delete(connection, id)
}

/// One holder.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: ItemId) -> Result<Option<Holder>> {
    let found = items_table::table
        .inner_join(holders::table.on(holders::item_id.eq(items_table::id)))
        .filter(items_table::id.eq(id.to_string()))
        .select((ItemRow::as_select(), Row::as_select()))
        .first(connection)
        .optional()?;
    found.map(holder).transpose()
}

/// Holders by code, after a code, of one style or all.
///
/// # Errors
/// A database error.
pub fn page(connection: &mut Connection, style: Option<&str>, after: Option<&Code>, limit: i64) -> Result<Vec<Holder>> {
    let query = items_table::table
        .inner_join(holders::table.on(holders::item_id.eq(items_table::id)))
        .filter(items_table::code.gt(after.map_or("", Code::as_str)))
        .order(items_table::code)
        .limit(limit)
        .select((ItemRow::as_select(), Row::as_select()));
    let rows: Vec<(ItemRow, Row)> = match style {
        Some(style) => query.filter(holders::style.eq(style)).load(connection)?,
        None => query.load(connection)?,
    };
    rows.into_iter().map(holder).collect()
}
