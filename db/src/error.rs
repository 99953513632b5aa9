//! What can go wrong between a use case and its database.

use crate::constraint::{self, Constraint};
use diesel::result::{DatabaseErrorKind, Error as DieselError};

/// Shorthand for database results.
pub type Result<T> = std::result::Result<T, Error>;

/// A failure below the use case. The texts are for logs, never for callers.
#[derive(Clone, Debug, thiserror::Error)]
pub enum Error {
    /// A unique, check or foreign-key constraint refused the row: the last guard behind the rules.
    #[error("constraint {constraint:?} refused: {message}")]
    Constraint {
        /// Which.
        constraint: Constraint,
        /// The database's own words.
        message: String,
    },
    /// Another transaction is in the way, or the queue is full. Trying again later can help.
    #[error("busy: {0}")]
    Busy(String),
    /// The database asks for the transaction to be run again from its start (PostgreSQL 40001, 40P01).
    #[error("serialization failure: {0}")]
    Again(String),
    /// The disk is full.
    #[error("storage is full: {0}")]
    StorageFull(String),
    /// The disk or the connection failed.
    #[error("storage failed: {0}")]
    Storage(String),
    /// A use case panicked; its work was rolled back.
    #[error("the use case panicked")]
    Panicked,
    /// A stored value could not be read back: a fault of ours or tampering.
    #[error("stored value unreadable: {0}")]
    Unreadable(String),
    /// Anything else the database said.
    #[error("database: {0}")]
    Other(String),
}

impl Error {
    /// A stored value that makes no sense.
    pub fn unreadable(what: impl std::fmt::Display) -> Self {
        Self::Unreadable(what.to_string())
    }

    /// The violated constraint, if that is what happened.
    #[must_use]
    pub const fn constraint(&self) -> Option<Constraint> {
        match self {
            Self::Constraint { constraint, .. } => Some(*constraint),
            _ => None,
        }
    }
}

/// A use case's own error type: it can carry a database error, so that the writer can tell what to do about it.
pub trait Failure: From<Error> + Send + 'static {
    /// The database error inside, if there is one.
    fn database(&self) -> Option<&Error>;
}

impl Failure for Error {
    fn database(&self) -> Option<&Error> {
        Some(self)
    }
}

impl From<DieselError> for Error {
    fn from(error: DieselError) -> Self {
        let DieselError::DatabaseError(kind, info) = &error else {
            return Self::Other(error.to_string());
        };
        let message = info.message().to_owned();
        match kind {
            DatabaseErrorKind::UniqueViolation
            | DatabaseErrorKind::ForeignKeyViolation
            | DatabaseErrorKind::CheckViolation
            | DatabaseErrorKind::NotNullViolation
            | DatabaseErrorKind::ExclusionViolation
            | DatabaseErrorKind::RestrictViolation => {
                Self::Constraint { constraint: constraint::recognise(kind, info.as_ref()), message }
            }
            DatabaseErrorKind::SerializationFailure => Self::Again(message),
            DatabaseErrorKind::UnableToSendCommand | DatabaseErrorKind::ClosedConnection => Self::Storage(message),
            _ => Self::from_message(message),
        }
    }
}

impl Error {
    /// Neither client library gives diesel the code of these, so that the text has to tell.
    fn from_message(message: String) -> Self {
        let says = |text: &str| message.contains(text);
        if says("deadlock detected") {
            Self::Again(message)
        } else if says("database is locked") || says("lock timeout") || says("statement timeout") {
            Self::Busy(message)
        } else if says("disk is full") || says("No space left on device") || says("could not extend file") {
            Self::StorageFull(message)
        } else if says("disk I/O error")
            || says("unable to open database file")
            || says("server closed the connection")
            || says("terminating connection")
            || says("no connection to the server")
            || says("could not receive data")
            || says("readonly database")
        {
            Self::Storage(message)
        } else {
            Self::Other(message)
        }
    }
}

impl From<serde_json::Error> for Error {
    fn from(error: serde_json::Error) -> Self {
        Self::Unreadable(error.to_string())
    }
}
