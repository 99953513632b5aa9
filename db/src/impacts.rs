//! Documents of what a gauge has touched, and their entries.

mod entries;
mod facts;
mod runs;

pub use entries::{
    Counts, EntryFilter, ImpactEntry, Judgement, counts, entries, entries_page, find_entries, insert_entry,
    update_entry,
};
pub use facts::touched_setups;
pub use runs::{NamedRun, NamedSetup, named_runs, named_setups};

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::impacts,
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    gauge::impact::Window,
    ids::{GaugeCheckId, ImpactId, ItemId, MachineId, PersonId},
};

/// Who closed a document, when, and what they say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Closing {
    /// Who.
    pub by: PersonId,
    /// The server's time.
    pub at: DateTime<Utc>,
    /// What they say.
    pub note: String,
}

/// A document on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Impact {
    /// Its id.
    pub id: ImpactId,
    /// The gauge.
    pub gauge: ItemId,
    /// The machine it was bound to.
    pub machine: MachineId,
    /// The check that found it wrong; none where somebody raised the document by hand.
    pub check: Option<GaugeCheckId>,
    /// Why it was raised.
    pub reason: String,
    /// The time in doubt.
    pub window: Window,
    /// Who raised it.
    pub raised_by: PersonId,
    /// The server's time.
    pub raised_at: DateTime<Utc>,
    /// When it was last held against the records.
    pub up_to_date_at: DateTime<Utc>,
    /// How it was closed; none while open.
    pub closed: Option<Closing>,
    /// Raised with every change.
    pub version: i64,
}

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = impacts)]
struct Row {
    id: String,
    gauge_id: String,
    machine_id: String,
    check_id: Option<String>,
    reason: String,
    doubtful_since: Option<NaiveDateTime>,
    doubtful_until: Option<NaiveDateTime>,
    raised_by: String,
    raised_at: NaiveDateTime,
    up_to_date_at: NaiveDateTime,
    closed_by: Option<String>,
    closed_at: Option<NaiveDateTime>,
    closing_note: Option<String>,
    version: i64,
}

impl From<&Impact> for Row {
    fn from(impact: &Impact) -> Self {
        let closed = impact.closed.as_ref();
        Self {
            id: impact.id.to_string(),
            gauge_id: impact.gauge.to_string(),
            machine_id: impact.machine.to_string(),
            check_id: impact.check.map(|check| check.to_string()),
            reason: impact.reason.clone(),
            doubtful_since: impact.window.since.map(|at| at.naive_utc()),
            doubtful_until: impact.window.until.map(|at| at.naive_utc()),
            raised_by: impact.raised_by.to_string(),
            raised_at: impact.raised_at.naive_utc(),
            up_to_date_at: impact.up_to_date_at.naive_utc(),
            closed_by: closed.map(|closed| closed.by.to_string()),
            closed_at: closed.map(|closed| closed.at.naive_utc()),
            closing_note: closed.map(|closed| closed.note.clone()),
            version: impact.version,
        }
    }
}

impl TryFrom<Row> for Impact {
    type Error = Error;

    fn try_from(row: Row) -> Result<Self> {
        let closed = match (row.closed_by, row.closed_at, row.closing_note) {
            (Some(by), Some(at), Some(note)) => Some(Closing { by: columns::read(&by)?, at: columns::time(at), note }),
            _ => None,
        };
        Ok(Self {
            id: columns::read(&row.id)?,
            gauge: columns::read(&row.gauge_id)?,
            machine: columns::read(&row.machine_id)?,
            check: columns::read_optional(row.check_id.as_deref())?,
            reason: row.reason,
            window: Window {
                since: row.doubtful_since.map(columns::time),
                until: row.doubtful_until.map(columns::time),
            },
            raised_by: columns::read(&row.raised_by)?,
            raised_at: columns::time(row.raised_at),
            up_to_date_at: columns::time(row.up_to_date_at),
            closed,
            version: row.version,
        })
    }
}

/// Puts a document on record.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, impact: &Impact) -> Result<()> {
    diesel::insert_into(impacts::table).values(Row::from(impact)).execute(connection)?;
    Ok(())
}

/// Writes a document over.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, impact: &Impact) -> Result<()> {
    diesel::update(impacts::table.find(impact.id.to_string())).set(Row::from(impact)).execute(connection)?;
    Ok(())
}

/// Takes a document for this transaction: whoever else works through it waits.
///
/// # Errors
/// A database error.
pub fn lock(connection: &mut Connection, id: ImpactId) -> Result<()> {
    // Writing a column over with itself takes the row on both databases.
    diesel::update(impacts::table.find(id.to_string()))
        .set(impacts::version.eq(impacts::version))
        .execute(connection)?;
    Ok(())
}

/// One document.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: ImpactId) -> Result<Option<Impact>> {
    let row = impacts::table.find(id.to_string()).select(Row::as_select()).first(connection).optional()?;
    row.map(Impact::try_from).transpose()
}

/// The document that a check raised, or was added to.
///
/// # Errors
/// A database error.
pub fn raised_by_check(connection: &mut Connection, check: GaugeCheckId) -> Result<Option<ImpactId>> {
    let id: Option<String> = impacts::table
        .filter(impacts::check_id.eq(check.to_string()))
        .select(impacts::id)
        .first(connection)
        .optional()?;
    columns::read_optional(id.as_deref())
}

/// The open document of a gauge whose doubt begins at an instant, or with the gauge itself.
///
/// # Errors
/// A database error.
pub fn open_of(connection: &mut Connection, gauge: ItemId, since: Option<DateTime<Utc>>) -> Result<Option<Impact>> {
    let query = impacts::table
        .filter(impacts::gauge_id.eq(gauge.to_string()))
        .filter(impacts::closed_at.is_null())
        .order((impacts::raised_at, impacts::id))
        .select(Row::as_select())
        .into_boxed();
    let query = match since {
        Some(since) => query.filter(impacts::doubtful_since.eq(since.naive_utc())),
        None => query.filter(impacts::doubtful_since.is_null()),
    };
    let row: Option<Row> = query.first(connection).optional()?;
    row.map(Impact::try_from).transpose()
}

/// What a list of documents is narrowed to.
#[derive(Clone, Copy, Debug, Default)]
pub struct ImpactFilter {
    /// One gauge's.
    pub gauge: Option<ItemId>,
    /// Open or closed only.
    pub open: Option<bool>,
}

/// Documents, newest first, before one.
///
/// # Errors
/// A database error.
pub fn page(
    connection: &mut Connection,
    filter: ImpactFilter,
    before: Option<(DateTime<Utc>, ImpactId)>,
    limit: i64,
) -> Result<Vec<Impact>> {
    use impacts as i;
    let (at, id) = columns::before_or_newest(before);
    let mut query = i::table
        .filter(i::raised_at.lt(at).or(i::raised_at.eq(at).and(i::id.lt(id))))
        .order((i::raised_at.desc(), i::id.desc()))
        .limit(limit)
        .select(Row::as_select())
        .into_boxed();
    if let Some(gauge) = filter.gauge {
        query = query.filter(i::gauge_id.eq(gauge.to_string()));
    }
    query = match filter.open {
        None => query,
        Some(true) => query.filter(i::closed_at.is_null()),
        Some(false) => query.filter(i::closed_at.is_not_null()),
    };
    let rows: Vec<Row> = query.load(connection)?;
    rows.into_iter().map(Impact::try_from).collect()
}
