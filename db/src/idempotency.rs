//! Idempotency records: the answer to a request, kept in the same transaction as its work.

use crate::{
    connection::Connection,
    error::{Error, Result},
    schema::idempotency_keys as keys,
};
use chrono::{DateTime, Utc};
use diesel::prelude::*;

/// What a key is for: one principal's request to one path.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyScope {
    /// Who.
    pub principal: String,
    /// `POST`, …
    pub method: String,
    /// The request's path, without its query.
    pub path: String,
    /// The key itself.
    pub key: String,
}

/// A stored answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StoredAnswer {
    /// Status code.
    pub status: u16,
    /// Headers as a document.
    pub headers: String,
    /// The body's text.
    pub body: String,
}

/// What came of taking a key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Taken {
    /// It is ours: do the work, then [`store`] its answer.
    New,
    /// The work was done before by the same request.
    Before(StoredAnswer),
    /// The key was used for another request.
    OtherRequest,
}

/// Takes a key for this transaction. On PostgreSQL a duplicate that is under way is waited for, up to the lock's
/// time-out; then [`Error::Busy`].
///
/// # Errors
/// A database error.
pub fn take(connection: &mut Connection, scope: &KeyScope, fingerprint: &str, now: DateTime<Utc>) -> Result<Taken> {
    let values = (
        keys::principal.eq(&scope.principal),
        keys::method.eq(&scope.method),
        keys::path.eq(&scope.path),
        keys::idempotency_key.eq(&scope.key),
        keys::fingerprint.eq(fingerprint),
        keys::created_at.eq(now.naive_utc()),
    );
    // Diesel has no `on conflict` for both databases at once.
    let inserted = match connection {
        Connection::Sqlite(c) => diesel::insert_into(keys::table).values(values).on_conflict_do_nothing().execute(c)?,
        Connection::Postgres(c) => {
            diesel::insert_into(keys::table).values(values).on_conflict_do_nothing().execute(c)?
        }
    };
    if inserted == 1 {
        return Ok(Taken::New);
    }
    let row: (String, Option<i32>, Option<String>, Option<String>) = keys::table
        .find((&scope.principal, &scope.method, &scope.path, &scope.key))
        .select((keys::fingerprint, keys::status, keys::headers, keys::body))
        .first(connection)?;
    let (stored, status, headers, body) = row;
    if stored != fingerprint {
        return Ok(Taken::OtherRequest);
    }
    let status = status.and_then(|status| u16::try_from(status).ok());
    match (status, headers, body) {
        (Some(status), Some(headers), Some(body)) => Ok(Taken::Before(StoredAnswer { status, headers, body })),
        _ => Err(Error::unreadable("an idempotency record without its answer")),
    }
}

/// Stores the answer of the work that was done under a key taken in this transaction.
///
/// # Errors
/// A database error.
pub fn store(connection: &mut Connection, scope: &KeyScope, answer: &StoredAnswer) -> Result<()> {
    diesel::update(keys::table.find((&scope.principal, &scope.method, &scope.path, &scope.key)))
        .set((
            keys::status.eq(i32::from(answer.status)),
            keys::headers.eq(&answer.headers),
            keys::body.eq(&answer.body),
        ))
        .execute(connection)?;
    Ok(())
}

/// Forgets records older than an instant.
///
/// # Errors
/// A database error.
pub fn forget_before(connection: &mut Connection, instant: DateTime<Utc>) -> Result<usize> {
    Ok(diesel::delete(keys::table.filter(keys::created_at.lt(instant.naive_utc()))).execute(connection)?)
}
