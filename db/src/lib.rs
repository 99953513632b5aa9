//! Connections, the writer, tables, rows and queries, on SQLite and PostgreSQL alike.
//!
//! Two ways in: [`Database::read`] and [`Database::write`]. A use case is a closure on one connection that knows nothing
//! of batching, of commits or of which database it runs on. What differs per database stands in [`connection`],
//! `sqlite`, `postgres`, [`constraint`] and, for hours between instants, [`usage`]; the other modules hold portable
//! queries only.

pub mod bookings;
pub mod center_gauges;
pub mod chain;
mod clock;
pub mod codes;
mod columns;
pub mod connection;
pub mod constraint;
pub mod custody;
mod database;
pub mod due;
mod error;
pub mod find;
pub mod form_tools;
pub mod gauge_control;
pub mod gauge_uses;
pub mod handovers;
pub mod holders;
pub mod idempotency;
pub mod impacts;
pub mod items;
mod job;
pub mod jobs;
pub mod life;
pub mod machines;
pub mod maintenance_plans;
pub mod migrate;
pub mod parts;
pub mod people;
pub mod places;
pub mod planning;
mod postgres;
#[cfg(debug_assertions)]
pub mod race_control;
#[expect(missing_docs, reason = "diesel's macros make undocumented items; the migrations document the columns")]
pub mod schema;
pub mod sessions;
pub mod settings;
pub mod setups;
mod sqlite;
pub mod supplies;
pub mod tag_outs;
pub mod tool_designs;
mod tx;
pub mod usage;
mod verify;
pub mod work_orders;

pub use clock::{Clock, FixedClock, SystemClock};
pub use connection::{Connection, DatabaseUrl, UrlError};
pub use constraint::Constraint;
pub use database::{Database, OpenOptions, WriteMode};
pub use error::{Error, Failure, Result};
pub use tx::{Change, Tx};
pub use verify::verify;
