//! Signed-in sessions.

use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{people, person_roles, sessions, spent_refresh_tokens as spent},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    ids::{PersonId, SessionId},
    people::Role,
};

/// A session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Session {
    /// Its id.
    pub id: SessionId,
    /// Whose.
    pub person: PersonId,
    /// SHA-256 of the refresh token in force.
    pub refresh_hash: String,
    /// SHA-256 of the one before it.
    pub previous_refresh_hash: Option<String>,
    /// When the token in force was made.
    pub rotated_at: DateTime<Utc>,
    /// When it began.
    pub created_at: DateTime<Utc>,
    /// When it ends by itself.
    pub expires_at: DateTime<Utc>,
    /// When it was ended.
    pub ended_at: Option<DateTime<Utc>>,
}

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = sessions)]
#[diesel(treat_none_as_null = true)]
struct Row {
    id: String,
    person_id: String,
    refresh_hash: String,
    previous_refresh_hash: Option<String>,
    rotated_at: NaiveDateTime,
    created_at: NaiveDateTime,
    expires_at: NaiveDateTime,
    ended_at: Option<NaiveDateTime>,
}

impl From<&Session> for Row {
    fn from(session: &Session) -> Self {
        Self {
            id: session.id.to_string(),
            person_id: session.person.to_string(),
            refresh_hash: session.refresh_hash.clone(),
            previous_refresh_hash: session.previous_refresh_hash.clone(),
            rotated_at: session.rotated_at.naive_utc(),
            created_at: session.created_at.naive_utc(),
            expires_at: session.expires_at.naive_utc(),
            ended_at: session.ended_at.map(|at| at.naive_utc()),
        }
    }
}

impl TryFrom<Row> for Session {
    type Error = crate::Error;

    fn try_from(row: Row) -> Result<Self> {
        Ok(Self {
            id: columns::read(&row.id)?,
            person: columns::read(&row.person_id)?,
            refresh_hash: row.refresh_hash,
            previous_refresh_hash: row.previous_refresh_hash,
            rotated_at: columns::time(row.rotated_at),
            created_at: columns::time(row.created_at),
            expires_at: columns::time(row.expires_at),
            ended_at: row.ended_at.map(columns::time),
        })
    }
}

/// Begins a session.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, session: &Session) -> Result<()> {
    diesel::insert_into(sessions::table).values(Row::from(session)).execute(connection)?;
    Ok(())
}

/// Writes a session over.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, session: &Session) -> Result<()> {
    diesel::update(sessions::table.find(session.id.to_string())).set(Row::from(session)).execute(connection)?;
    Ok(())
}

/// The session whose refresh token, in force or the one before, has this hash. Its row is locked first, so that two
/// uses of one token follow each other.
///
/// # Errors
/// A database error.
pub fn lock_by_refresh_hash(connection: &mut Connection, hash: &str) -> Result<Option<Session>> {
    let named = sessions::refresh_hash.eq(hash).or(sessions::previous_refresh_hash.eq(hash));
    // Writing a column over with itself takes the row on both databases.
    diesel::update(sessions::table.filter(named))
        .set(sessions::created_at.eq(sessions::created_at))
        .execute(connection)?;
    let row: Option<Row> = sessions::table.filter(named).select(Row::as_select()).first(connection).optional()?;
    row.map(Session::try_from).transpose()
}

/// Notes a token's hash as spent: its successor's successor is in force.
///
/// # Errors
/// A database error.
pub fn spend(connection: &mut Connection, session: SessionId, hash: &str) -> Result<()> {
    diesel::insert_into(spent::table)
        .values((spent::refresh_hash.eq(hash), spent::session_id.eq(session.to_string())))
        .execute(connection)?;
    Ok(())
}

/// The session whose token, spent long ago, has this hash.
///
/// # Errors
/// A database error.
pub fn of_spent(connection: &mut Connection, hash: &str) -> Result<Option<SessionId>> {
    let id: Option<String> = spent::table.find(hash).select(spent::session_id).first(connection).optional()?;
    columns::read_optional(id.as_deref())
}

/// Ends a session.
///
/// # Errors
/// A database error.
pub fn end(connection: &mut Connection, id: SessionId, at: DateTime<Utc>) -> Result<()> {
    diesel::update(sessions::table.find(id.to_string()).filter(sessions::ended_at.is_null()))
        .set(sessions::ended_at.eq(at.naive_utc()))
        .execute(connection)?;
    Ok(())
}

/// Ends every session of a person.
///
/// # Errors
/// A database error.
pub fn end_all_of(connection: &mut Connection, person: PersonId, at: DateTime<Utc>) -> Result<()> {
    diesel::update(
        sessions::table.filter(sessions::person_id.eq(person.to_string())).filter(sessions::ended_at.is_null()),
    )
    .set(sessions::ended_at.eq(at.naive_utc()))
    .execute(connection)?;
    Ok(())
}

/// Deletes sessions that ended by themselves or otherwise before an instant.
///
/// # Errors
/// A database error.
pub fn forget_before(connection: &mut Connection, instant: DateTime<Utc>) -> Result<usize> {
    let over = sessions::table.filter(sessions::expires_at.lt(instant.naive_utc()));
    diesel::delete(spent::table.filter(spent::session_id.eq_any(over.select(sessions::id)))).execute(connection)?;
    Ok(diesel::delete(over).execute(connection)?)
}

/// Whoever stands behind a session that is in force.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SignedIn {
    /// The person.
    pub person: PersonId,
    /// Their badge.
    pub badge: String,
    /// Their name.
    pub name: String,
    /// Their roles now.
    pub roles: Vec<Role>,
}

/// Who stands behind a session, if it is in force and the person may sign in.
///
/// # Errors
/// A database error.
pub fn signed_in(connection: &mut Connection, id: SessionId, now: DateTime<Utc>) -> Result<Option<SignedIn>> {
    let rows: Vec<(String, String, String, Option<String>)> = sessions::table
        .inner_join(people::table.on(people::id.eq(sessions::person_id)))
        .left_join(person_roles::table.on(person_roles::person_id.eq(people::id)))
        .filter(sessions::id.eq(id.to_string()))
        .filter(sessions::ended_at.is_null())
        .filter(sessions::expires_at.gt(now.naive_utc()))
        .filter(people::disabled.eq(false))
        .select((people::id, people::badge, people::name, person_roles::role.nullable()))
        .load(connection)?;
    let Some((person, badge, name, _)) = rows.first().cloned() else { return Ok(None) };
    let roles = rows
        .iter()
        .filter_map(|(_, _, _, role)| role.as_deref())
        .map(|role| columns::named(role, Role::from_name))
        .collect::<Result<_>>()?;
    Ok(Some(SignedIn { person: columns::read(&person)?, badge, name, roles }))
}
