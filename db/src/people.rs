//! People, their roles, their secrets' hashes.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{people, person_roles},
};
use chrono::NaiveDateTime;
use diesel::prelude::*;
use dovetally_core::{
    ids::PersonId,
    people::Role,
    registry::person::{Person, PersonFields},
};

#[derive(Queryable, Selectable)]
#[diesel(table_name = people)]
struct Row {
    id: String,
    badge: String,
    name: String,
    disabled: bool,
    version: i64,
    created_at: NaiveDateTime,
    updated_at: NaiveDateTime,
}

fn with_roles(connection: &mut Connection, rows: Vec<Row>) -> Result<Vec<Person>> {
    let ids: Vec<&str> = rows.iter().map(|row| row.id.as_str()).collect();
    let roles: Vec<(String, String)> = person_roles::table
        .filter(person_roles::person_id.eq_any(ids))
        .select((person_roles::person_id, person_roles::role))
        .load(connection)?;
    rows.into_iter()
        .map(|row| {
            let own = roles.iter().filter(|(id, _)| *id == row.id);
            let mut own: Vec<Role> =
                own.map(|(_, role)| columns::named(role, Role::from_name)).collect::<Result<_>>()?;
            own.sort_unstable();
            Ok(Person {
                id: columns::read(&row.id)?,
                badge: row.badge,
                fields: PersonFields { name: row.name, roles: own, disabled: row.disabled },
                version: row.version,
                created_at: columns::time(row.created_at),
                updated_at: columns::time(row.updated_at),
            })
        })
        .collect()
}

fn set_roles(connection: &mut Connection, person: &Person) -> Result<()> {
    let id = person.id.to_string();
    diesel::delete(person_roles::table.filter(person_roles::person_id.eq(&id))).execute(connection)?;
    for role in &person.fields.roles {
        diesel::insert_into(person_roles::table)
            .values((person_roles::person_id.eq(&id), person_roles::role.eq(role.name())))
            .execute(connection)?;
    }
    Ok(())
}

/// Puts a person on record with the hash of their secret.
///
/// # Errors
/// [`crate::Constraint::BadgeTaken`] when the badge is somebody's.
pub fn insert(connection: &mut Connection, person: &Person, secret_hash: &str) -> Result<()> {
    diesel::insert_into(people::table)
        .values((
            people::id.eq(person.id.to_string()),
            people::badge.eq(&person.badge),
            people::name.eq(&person.fields.name),
            people::secret_hash.eq(secret_hash),
            people::disabled.eq(person.fields.disabled),
            people::version.eq(person.version),
            people::created_at.eq(person.created_at.naive_utc()),
            people::updated_at.eq(person.updated_at.naive_utc()),
        ))
        .execute(connection)?;
    set_roles(connection, person)
}

/// Writes a person's record over; the badge stays.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, person: &Person) -> Result<()> {
    diesel::update(people::table.find(person.id.to_string()))
        .set((
            people::name.eq(&person.fields.name),
            people::disabled.eq(person.fields.disabled),
            people::version.eq(person.version),
            people::updated_at.eq(person.updated_at.naive_utc()),
        ))
        .execute(connection)?;
    set_roles(connection, person)
}

/// Takes a person's row for this transaction: whoever else is to change it waits.
///
/// # Errors
/// A database error.
pub fn lock(connection: &mut Connection, id: PersonId) -> Result<()> {
    // Writing a column over with itself takes the row on both databases.
    diesel::update(people::table.find(id.to_string())).set(people::version.eq(people::version)).execute(connection)?;
    Ok(())
}

/// Sets the hash of a person's secret.
///
/// # Errors
/// A database error.
pub fn set_secret(connection: &mut Connection, id: PersonId, secret_hash: &str) -> Result<()> {
    diesel::update(people::table.find(id.to_string())).set(people::secret_hash.eq(secret_hash)).execute(connection)?;
    Ok(())
}

/// One person.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: PersonId) -> Result<Option<Person>> {
    let row: Option<Row> = people::table.find(id.to_string()).select(Row::as_select()).first(connection).optional()?;
    Ok(with_roles(connection, row.into_iter().collect())?.pop())
}

/// One person, by badge.
///
/// # Errors
/// A database error.
pub fn find_by_badge(connection: &mut Connection, badge: &str) -> Result<Option<Person>> {
    let row: Option<Row> =
        people::table.filter(people::badge.eq(badge)).select(Row::as_select()).first(connection).optional()?;
    Ok(with_roles(connection, row.into_iter().collect())?.pop())
}

/// The hash of a person's secret, for signing in.
///
/// # Errors
/// A database error.
pub fn secret_hash(connection: &mut Connection, id: PersonId) -> Result<String> {
    people::table.find(id.to_string()).select(people::secret_hash).first(connection).map_err(Error::from)
}

/// People by badge, after a badge.
///
/// # Errors
/// A database error.
pub fn page(connection: &mut Connection, after: Option<&str>, limit: i64) -> Result<Vec<Person>> {
    let rows = people::table
        .filter(people::badge.gt(after.unwrap_or("")))
        .order(people::badge)
        .limit(limit)
        .select(Row::as_select())
        .load(connection)?;
    with_roles(connection, rows)
}

/// Whether anybody is on record.
///
/// # Errors
/// A database error.
pub fn any(connection: &mut Connection) -> Result<bool> {
    Ok(diesel::select(diesel::dsl::exists(people::table.select(people::id))).get_result(connection)?)
}

/// Whether somebody else than this person may sign in as an administrator. Takes those people's rows, so that two
/// administrators do not end each other at the same moment.
///
/// # Errors
/// A database error.
pub fn others_administer(connection: &mut Connection, id: PersonId) -> Result<bool> {
    let others: Vec<String> = people::table
        .inner_join(person_roles::table.on(person_roles::person_id.eq(people::id)))
        .filter(person_roles::role.eq(Role::Administrator.name()))
        .filter(people::id.ne(id.to_string()))
        .filter(people::disabled.eq(false))
        .order(people::id)
        .select(people::id)
        .load(connection)?;
    for other in &others {
        lock(connection, columns::read(other)?)?;
    }
    let still = people::table.filter(people::id.eq_any(&others)).filter(people::disabled.eq(false));
    Ok(still.count().get_result::<i64>(connection)? > 0)
}
