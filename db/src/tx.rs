//! A write transaction as a use case sees it.

use crate::connection::Connection;
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::ids::{ChangeId, PersonId};
use std::sync::LazyLock;
use uuid::{ContextV7, Timestamp, Uuid};

static IDS: LazyLock<std::sync::Mutex<ContextV7>> = LazyLock::new(|| std::sync::Mutex::new(ContextV7::new()));

/// One row for the chain of changes: what happened to which subject, and its state afterwards.
#[derive(Clone, Debug)]
pub struct Change {
    /// Its id.
    pub id: ChangeId,
    /// `dovetally.<resource>.<past participle>`.
    pub kind: &'static str,
    /// The resource: `machine`, `movement`, …
    pub subject_kind: &'static str,
    /// The subject's id.
    pub subject_id: Uuid,
    /// The subject's version after the change, from 1.
    pub subject_version: i64,
    /// Who; `None` for what the program itself does.
    pub actor: Option<PersonId>,
    /// The server's time.
    pub recorded_at: DateTime<Utc>,
    /// The subject's state after the change, without secrets.
    pub state: serde_json::Value,
}

/// A write transaction. Whatever a use case does through it is kept whole or not at all.
pub struct Tx<'c> {
    connection: &'c mut Connection,
    now: DateTime<Utc>,
    set: Option<DateTime<Utc>>,
    changes: Vec<Change>,
}

impl<'c> Tx<'c> {
    pub(crate) const fn new(connection: &'c mut Connection, now: DateTime<Utc>) -> Self {
        Self { connection, now, set: None, changes: Vec::new() }
    }

    /// The connection, for the query functions of this crate.
    pub const fn connection(&mut self) -> &mut Connection {
        self.connection
    }

    /// The server's time for this transaction.
    #[must_use]
    pub const fn now(&self) -> DateTime<Utc> {
        self.now
    }

    /// Sets the time for what follows in this transaction: for loading history, whose order its own times tell. It never
    /// stands still or goes back behind what was set before.
    pub fn set_time(&mut self, instant: DateTime<Utc>) {
        let after = self.set.map_or(instant, |before| instant.max(before + TimeDelta::microseconds(1)));
        self.set = Some(after);
        self.now = after;
    }

    /// The recorded time of something that follows `last` on the same subject: never at or before it, whatever the
    /// clocks of several processes say.
    #[must_use]
    pub fn recorded_after(&self, last: DateTime<Utc>) -> DateTime<Utc> {
        self.now.max(last + TimeDelta::microseconds(1))
    }

    /// A new UUIDv7.
    #[must_use]
    pub fn new_id<T: From<Uuid>>(&self) -> T {
        T::from(new_uuid(self.now))
    }

    /// Adds a row to the chain of changes; it is numbered and sealed with the commit.
    pub fn record(&mut self, change: Change) {
        self.changes.push(change);
    }

    /// What was recorded so far.
    #[must_use]
    pub fn changes(&self) -> &[Change] {
        &self.changes
    }

    pub(crate) fn into_changes(self) -> Vec<Change> {
        self.changes
    }

    /// A place where race tests can hold a transaction between its reads and its writes, to try every order. It does
    /// nothing in any other program.
    pub fn pause_point(&mut self, name: &str) {
        #[cfg(debug_assertions)]
        crate::race_control::pause(name);
        let _ = name;
    }
}

/// A UUIDv7 of this instant, later than every one this process made before.
pub(crate) fn new_uuid(now: DateTime<Utc>) -> Uuid {
    let seconds = u64::try_from(now.timestamp()).unwrap_or_default();
    let context = IDS.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    Uuid::new_v7(Timestamp::from_unix(&*context, seconds, now.timestamp_subsec_nanos()))
}
