//! Connections, the writer, tables, rows and queries, on SQLite and PostgreSQL alike.
//!
//! Two ways in: [`Database::read`] and [`Database::write`]. A use case is a closure on one connection that knows nothing
//! of batching, of commits or of which database it runs on. What differs per database stands in [`connection`],
//! [`sqlite`], [`postgres`] and [`constraint`]; the topic modules hold portable queries only.

pub mod chain;
mod clock;
mod columns;
pub mod connection;
pub mod constraint;
mod database;
mod error;
mod job;
pub mod migrate;
mod postgres;
#[expect(missing_docs, reason = "diesel's macros make undocumented items; the migrations document the columns")]
pub mod schema;
mod sqlite;
mod tx;

pub use clock::{Clock, FixedClock, SystemClock};
pub use connection::{Connection, DatabaseUrl, UrlError};
pub use constraint::Constraint;
pub use database::{Database, OpenOptions, WriteMode};
pub use error::{Error, Failure, Result};
pub use tx::{Change, Tx};
