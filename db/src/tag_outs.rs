//! Tag-outs: the record that a machine may not be used. A record, not a lock.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::tag_outs,
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::ids::{MachineId, PersonId, TagOutId};

/// Who cleared a tag-out, when, and what they say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Clearing {
    /// Who.
    pub by: PersonId,
    /// The server's time.
    pub at: DateTime<Utc>,
    /// What was done.
    pub note: Option<String>,
}

/// A tag-out on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TagOut {
    /// Its id.
    pub id: TagOutId,
    /// The machine.
    pub machine: MachineId,
    /// Why it may not be used.
    pub reason: String,
    /// Who placed it.
    pub placed_by: PersonId,
    /// The server's time.
    pub placed_at: DateTime<Utc>,
    /// How it was cleared; none while in force.
    pub cleared: Option<Clearing>,
    /// Raised with every change.
    pub version: i64,
}

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = tag_outs)]
struct Row {
    id: String,
    machine_id: String,
    reason: String,
    placed_by: String,
    placed_at: NaiveDateTime,
    cleared_by: Option<String>,
    cleared_at: Option<NaiveDateTime>,
    cleared_note: Option<String>,
    version: i64,
}

impl From<&TagOut> for Row {
    fn from(tag_out: &TagOut) -> Self {
        let cleared = tag_out.cleared.as_ref();
        Self {
            id: tag_out.id.to_string(),
            machine_id: tag_out.machine.to_string(),
            reason: tag_out.reason.clone(),
            placed_by: tag_out.placed_by.to_string(),
            placed_at: tag_out.placed_at.naive_utc(),
            cleared_by: cleared.map(|c| c.by.to_string()),
            cleared_at: cleared.map(|c| c.at.naive_utc()),
            cleared_note: cleared.and_then(|c| c.note.clone()),
            version: tag_out.version,
        }
    }
}

impl TryFrom<Row> for TagOut {
    type Error = Error;

    fn try_from(row: Row) -> Result<Self> {
        let cleared = row
            .cleared_by
            .zip(row.cleared_at)
            .map(|(by, at)| {
                Ok::<_, Error>(Clearing { by: columns::read(&by)?, at: columns::time(at), note: row.cleared_note })
            })
            .transpose()?;
        Ok(Self {
            id: columns::read(&row.id)?,
            machine: columns::read(&row.machine_id)?,
            reason: row.reason,
            placed_by: columns::read(&row.placed_by)?,
            placed_at: columns::time(row.placed_at),
            cleared,
            version: row.version,
        })
    }
}

/// Puts a tag-out on record; the machine's guard is the caller's to take and set.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, tag_out: &TagOut) -> Result<()> {
    diesel::insert_into(tag_outs::table).values(Row::from(tag_out)).execute(connection)?;
    Ok(())
}

/// Writes a tag-out over.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, tag_out: &TagOut) -> Result<()> {
    diesel::update(tag_outs::table.find(tag_out.id.to_string())).set(Row::from(tag_out)).execute(connection)?;
    Ok(())
}

/// One tag-out.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: TagOutId) -> Result<Option<TagOut>> {
    let row = tag_outs::table.find(id.to_string()).select(Row::as_select()).first(connection).optional()?;
    row.map(TagOut::try_from).transpose()
}

/// The tag-outs in force on a machine, oldest first.
///
/// # Errors
/// A database error.
pub fn in_force(connection: &mut Connection, machine: MachineId) -> Result<Vec<TagOut>> {
    let rows: Vec<Row> = tag_outs::table
        .filter(tag_outs::machine_id.eq(machine.to_string()))
        .filter(tag_outs::cleared_at.is_null())
        .order((tag_outs::placed_at, tag_outs::id))
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(TagOut::try_from).collect()
}

/// The tag-outs that were in force on a machine at an instant, oldest first.
///
/// # Errors
/// A database error.
pub fn in_force_at(connection: &mut Connection, machine: MachineId, at: DateTime<Utc>) -> Result<Vec<TagOut>> {
    let at = at.naive_utc();
    let rows: Vec<Row> = tag_outs::table
        .filter(tag_outs::machine_id.eq(machine.to_string()))
        .filter(tag_outs::placed_at.le(at))
        .filter(tag_outs::cleared_at.is_null().or(tag_outs::cleared_at.gt(at)))
        .order((tag_outs::placed_at, tag_outs::id))
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(TagOut::try_from).collect()
}

/// What a list of tag-outs is narrowed to.
#[derive(Clone, Copy, Debug, Default)]
pub struct TagOutFilter {
    /// One machine's.
    pub machine: Option<MachineId>,
    /// In force or cleared only.
    pub in_force: Option<bool>,
}

/// Tag-outs, newest first, before one.
///
/// # Errors
/// A database error.
pub fn page(
    connection: &mut Connection,
    filter: TagOutFilter,
    before: Option<(DateTime<Utc>, TagOutId)>,
    limit: i64,
) -> Result<Vec<TagOut>> {
    use tag_outs as t;
    let (at, id) = columns::before_or_newest(before);
    let mut query = t::table
        .filter(t::placed_at.lt(at).or(t::placed_at.eq(at).and(t::id.lt(id))))
        .order((t::placed_at.desc(), t::id.desc()))
        .limit(limit)
        .select(Row::as_select())
        .into_boxed();
    if let Some(machine) = filter.machine {
        query = query.filter(t::machine_id.eq(machine.to_string()));
    }
    query = match filter.in_force {
        None => query,
        Some(true) => query.filter(t::cleared_at.is_null()),
        Some(false) => query.filter(t::cleared_at.is_not_null()),
    };
    let rows: Vec<Row> = query.load(connection)?;
    rows.into_iter().map(TagOut::try_from).collect()
}
