//! Serialised items, what every kind has in common.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{custody, items},
};
use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{ItemId, JobId},
    item::{Condition, ItemKind, Keeper},
    registry::{
        Record,
        item::{Item, ItemFields},
    },
};
use std::collections::{BTreeMap, BTreeSet};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = items)]
pub(crate) struct ItemRow {
    id: String,
    code: String,
    kind: String,
    name: String,
    condition: String,
    version: i64,
    created_at: NaiveDateTime,
    updated_at: NaiveDateTime,
    blocked_at: Option<NaiveDateTime>,
}

impl From<&Item> for ItemRow {
    fn from(item: &Item) -> Self {
        Self {
            id: item.id.to_string(),
            code: item.code.to_string(),
            kind: item.fields.kind.name().to_owned(),
            name: item.fields.name.clone(),
            condition: item.fields.condition.name().to_owned(),
            version: item.version,
            created_at: item.created_at.naive_utc(),
            updated_at: item.updated_at.naive_utc(),
            blocked_at: item.fields.blocked_at.map(|at| at.naive_utc()),
        }
    }
}

impl TryFrom<ItemRow> for Item {
    type Error = Error;

    fn try_from(row: ItemRow) -> Result<Self> {
        Ok(Record {
            id: columns::read(&row.id)?,
            code: columns::code(&row.code)?,
            fields: ItemFields {
                kind: columns::named(&row.kind, ItemKind::from_name)?,
                name: row.name,
                condition: columns::named(&row.condition, Condition::from_name)?,
                blocked_at: row.blocked_at.map(columns::time),
            },
            version: row.version,
            created_at: columns::time(row.created_at),
            updated_at: columns::time(row.updated_at),
        })
    }
}

/// Puts an item on record; its code must be taken already.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, item: &Item) -> Result<()> {
    diesel::insert_into(items::table).values(ItemRow::from(item)).execute(connection)?;
    Ok(())
}

/// Writes an item's record over.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, item: &Item) -> Result<()> {
    diesel::update(items::table.find(item.id.to_string())).set(ItemRow::from(item)).execute(connection)?;
    Ok(())
}

/// Deletes an item that was never moved or used, its custody and its first ledger row are the caller's to take first.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] when something refers to it.
pub fn delete(connection: &mut Connection, id: ItemId) -> Result<()> {
    diesel::delete(items::table.find(id.to_string())).execute(connection)?;
    Ok(())
}

/// One item.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: ItemId) -> Result<Option<Item>> {
    let row = items::table.find(id.to_string()).select(ItemRow::as_select()).first(connection).optional()?;
    row.map(Item::try_from).transpose()
}

/// When several items were put on record.
///
/// # Errors
/// A database error.
pub fn created_at(connection: &mut Connection, ids: &BTreeSet<ItemId>) -> Result<BTreeMap<ItemId, DateTime<Utc>>> {
    let ids: Vec<String> = ids.iter().map(ItemId::to_string).collect();
    let mut created = BTreeMap::new();
    for some in ids.chunks(columns::MOST_IDS) {
        let rows: Vec<(String, NaiveDateTime)> =
            items::table.filter(items::id.eq_any(some)).select((items::id, items::created_at)).load(connection)?;
        for (id, at) in rows {
            created.insert(columns::read(&id)?, columns::time(at));
        }
    }
    Ok(created)
}

/// The codes of the items that were put on record since an instant, the newest first.
///
/// # Errors
/// A database error.
pub fn created_since(connection: &mut Connection, since: DateTime<Utc>, limit: i64) -> Result<Vec<Code>> {
    let codes: Vec<String> = items::table
        .filter(items::created_at.ge(since.naive_utc()))
        .order((items::created_at.desc(), items::code))
        .limit(limit)
        .select(items::code)
        .load(connection)?;
    codes.iter().map(|code| columns::code(code)).collect()
}

/// The codes of several items.
///
/// # Errors
/// A database error.
pub fn codes_of(connection: &mut Connection, ids: &BTreeSet<ItemId>) -> Result<BTreeMap<ItemId, Code>> {
    let ids: Vec<String> = ids.iter().map(ItemId::to_string).collect();
    let mut codes = BTreeMap::new();
    for some in ids.chunks(columns::MOST_IDS) {
        let rows: Vec<(String, String)> =
            items::table.filter(items::id.eq_any(some)).select((items::id, items::code)).load(connection)?;
        for (id, code) in rows {
            codes.insert(columns::read(&id)?, columns::code(&code)?);
        }
    }
    Ok(codes)
}

/// What a list of items is narrowed to.
#[derive(Clone, Copy, Debug, Default)]
pub struct ItemFilter {
    /// Of one kind.
    pub kind: Option<ItemKind>,
    /// Of one keeper.
    pub keeper: Option<Keeper>,
    /// Of one condition.
    pub condition: Option<Condition>,
    /// Out for one job.
    pub job: Option<JobId>,
    /// Whether it is out past its day, on this day.
    pub overdue_on: Option<(bool, NaiveDate)>,
}

/// Items by code, after a code.
///
/// # Errors
/// A database error.
pub fn page(connection: &mut Connection, filter: &ItemFilter, after: Option<&Code>, limit: i64) -> Result<Vec<Item>> {
    let mut query = items::table
        .inner_join(custody::table.on(custody::item_id.eq(items::id)))
        .filter(items::code.gt(after.map_or("", Code::as_str)))
        .order(items::code)
        .limit(limit)
        .select(ItemRow::as_select())
        .into_boxed();
    if let Some(kind) = filter.kind {
        query = query.filter(items::kind.eq(kind.name()));
    }
    if let Some(condition) = filter.condition {
        query = query.filter(items::condition.eq(condition.name()));
    }
    if let Some(job) = filter.job {
        query = query.filter(custody::job_id.eq(job.to_string()));
    }
    query = match filter.overdue_on {
        None => query,
        Some((true, day)) => query.filter(custody::due.lt(day)),
        Some((false, day)) => query.filter(custody::due.is_null().or(custody::due.ge(day))),
    };
    query = match filter.keeper {
        None => query,
        Some(Keeper::Place(id)) => query.filter(custody::place_id.eq(id.to_string())),
        Some(Keeper::Person(id)) => query.filter(custody::person_id.eq(id.to_string())),
        Some(Keeper::Machine(id)) => query.filter(custody::machine_id.eq(id.to_string())),
    };
    let rows: Vec<ItemRow> = query.load(connection)?;
    rows.into_iter().map(Item::try_from).collect()
}

/// Sets an item's condition and raises its version; `judged_at` is kept where it is not usable, as
/// [`ItemFields::judge`] keeps it.
///
/// # Errors
/// A database error.
pub fn set_condition(
    connection: &mut Connection,
    id: ItemId,
    condition: Condition,
    judged_at: DateTime<Utc>,
    at: DateTime<Utc>,
) -> Result<()> {
    if !condition.is_usable() {
        let judged_at = judged_at.naive_utc();
        diesel::update(items::table.find(id.to_string()))
            .filter(items::blocked_at.is_null().or(items::blocked_at.lt(judged_at)))
            .set(items::blocked_at.eq(judged_at))
            .execute(connection)?;
    }
    diesel::update(items::table.find(id.to_string()))
        .set((
            items::condition.eq(condition.name()),
            items::version.eq(items::version + 1),
            items::updated_at.eq(at.naive_utc()),
        ))
        .execute(connection)?;
    Ok(())
}

/// Raises an item's version: something of its own kind's record changed.
///
/// # Errors
/// A database error.
pub fn touch(connection: &mut Connection, id: ItemId, at: DateTime<Utc>) -> Result<()> {
    diesel::update(items::table.find(id.to_string()))
        .set((items::version.eq(items::version + 1), items::updated_at.eq(at.naive_utc())))
        .execute(connection)?;
    Ok(())
}
