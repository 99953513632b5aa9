//! Places.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::places,
};
use chrono::NaiveDateTime;
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::PlaceId,
    registry::{
        Record,
        place::{Place, PlaceFields, PlaceKind},
    },
};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = places)]
struct Row {
    id: String,
    code: String,
    name: String,
    kind: String,
    retired: bool,
    version: i64,
    created_at: NaiveDateTime,
    updated_at: NaiveDateTime,
}

impl From<&Place> for Row {
    fn from(place: &Place) -> Self {
        Self {
            id: place.id.to_string(),
            code: place.code.to_string(),
            name: place.fields.name.clone(),
            kind: place.fields.kind.name().to_owned(),
            retired: place.fields.retired,
            version: place.version,
            created_at: place.created_at.naive_utc(),
            updated_at: place.updated_at.naive_utc(),
        }
    }
}

impl TryFrom<Row> for Place {
    type Error = Error;

    fn try_from(row: Row) -> Result<Self> {
        Ok(Record {
            id: columns::read(&row.id)?,
            code: columns::code(&row.code)?,
            fields: PlaceFields {
                name: row.name,
                kind: columns::named(&row.kind, PlaceKind::from_name)?,
                retired: row.retired,
            },
            version: row.version,
            created_at: columns::time(row.created_at),
            updated_at: columns::time(row.updated_at),
        })
    }
}

/// Puts a place on record; its code must be taken already.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, place: &Place) -> Result<()> {
    diesel::insert_into(places::table).values(Row::from(place)).execute(connection)?;
    Ok(())
}

/// Writes a place's record over.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, place: &Place) -> Result<()> {
    diesel::update(places::table.find(place.id.to_string())).set(Row::from(place)).execute(connection)?;
    Ok(())
}

/// Deletes a place that nothing refers to.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] when something does.
pub fn delete(connection: &mut Connection, id: PlaceId) -> Result<()> {
    diesel::delete(places::table.find(id.to_string())).execute(connection)?;
    Ok(())
}

/// One place.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: PlaceId) -> Result<Option<Place>> {
    let row = places::table.find(id.to_string()).select(Row::as_select()).first(connection).optional()?;
    row.map(Place::try_from).transpose()
}

/// Places by code, after a code.
///
/// # Errors
/// A database error.
pub fn page(connection: &mut Connection, after: Option<&Code>, limit: i64) -> Result<Vec<Place>> {
    let rows: Vec<Row> = places::table
        .filter(places::code.gt(after.map_or("", Code::as_str)))
        .order(places::code)
        .limit(limit)
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(Place::try_from).collect()
}
