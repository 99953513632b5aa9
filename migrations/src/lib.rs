//! The two migration trees, with the same names in the same order, compiled into the program.

use diesel_migrations::{EmbeddedMigrations, embed_migrations};

/// Migrations for SQLite.
pub const SQLITE: EmbeddedMigrations = embed_migrations!("sqlite");
/// Migrations for PostgreSQL.
pub const POSTGRES: EmbeddedMigrations = embed_migrations!("postgres");
