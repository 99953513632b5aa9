//! Handovers: who took the floor over, when, and how it stood.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::handovers,
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::ids::{HandoverId, PersonId};
use serde_json::Value;

/// That somebody took over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Handover {
    /// Its id.
    pub id: HandoverId,
    /// Who took over.
    pub taken_by: PersonId,
    /// The server's time.
    pub taken_at: DateTime<Utc>,
    /// What they say.
    pub note: Option<String>,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = handovers)]
struct Row {
    id: String,
    taken_by: String,
    taken_at: NaiveDateTime,
    note: Option<String>,
}

impl TryFrom<Row> for Handover {
    type Error = Error;

    fn try_from(row: Row) -> Result<Self> {
        Ok(Self {
            id: columns::read(&row.id)?,
            taken_by: columns::read(&row.taken_by)?,
            taken_at: columns::time(row.taken_at),
            note: row.note,
        })
    }
}

/// Puts a handover on record, with the floor as it stood.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, handover: &Handover, floor: &Value) -> Result<()> {
    diesel::insert_into(handovers::table)
        .values((
            handovers::id.eq(handover.id.to_string()),
            handovers::taken_by.eq(handover.taken_by.to_string()),
            handovers::taken_at.eq(handover.taken_at.naive_utc()),
            handovers::note.eq(&handover.note),
            handovers::floor.eq(columns::document(floor)?),
        ))
        .execute(connection)?;
    Ok(())
}

/// One handover, with the floor as it stood.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: HandoverId) -> Result<Option<(Handover, Value)>> {
    let found: Option<(Row, String)> = handovers::table
        .find(id.to_string())
        .select((Row::as_select(), handovers::floor))
        .first(connection)
        .optional()?;
    found.map(|(row, floor)| Ok((row.try_into()?, columns::from_document(&floor)?))).transpose()
}

/// Handovers, newest first, before one.
///
/// # Errors
/// A database error.
pub fn page(
    connection: &mut Connection,
    before: Option<(DateTime<Utc>, HandoverId)>,
    limit: i64,
) -> Result<Vec<Handover>> {
    use handovers as h;
    let (at, id) = columns::before_or_newest(before);
    let rows: Vec<Row> = h::table
        .filter(h::taken_at.lt(at).or(h::taken_at.eq(at).and(h::id.lt(id))))
        .order((h::taken_at.desc(), h::id.desc()))
        .limit(limit)
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(Handover::try_from).collect()
}
