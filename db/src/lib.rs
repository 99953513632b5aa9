//! Database.
