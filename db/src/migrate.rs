//! Bringing a database to this program's schema.

use crate::{
    connection::Connection,
    error::{Error, Result},
};
use diesel_migrations::MigrationHarness;

/// Applies what is pending. Several processes starting at once on one PostgreSQL wait for each other.
pub(crate) fn up(connection: &mut Connection) -> Result<()> {
    use diesel::connection::SimpleConnection;
    let failed = |e: Box<dyn std::error::Error + Send + Sync>| Error::Storage(format!("migration: {e}"));
    match connection {
        Connection::Sqlite(c) => {
            c.run_pending_migrations(dovetally_migrations::SQLITE).map_err(failed)?;
        }
        Connection::Postgres(c) => {
            c.batch_execute("SELECT pg_advisory_lock(7041982)")?;
            let outcome = c.run_pending_migrations(dovetally_migrations::POSTGRES).map(|_| ()).map_err(failed);
            c.batch_execute("SELECT pg_advisory_unlock(7041982)")?;
            outcome?;
        }
    }
    Ok(())
}

/// Reverts every migration: for tests of the migrations themselves.
///
/// # Errors
/// When a migration cannot be reverted.
pub fn down(connection: &mut Connection) -> Result<()> {
    let failed = |e: Box<dyn std::error::Error + Send + Sync>| Error::Storage(format!("migration: {e}"));
    match connection {
        Connection::Sqlite(c) => c.revert_all_migrations(dovetally_migrations::SQLITE).map_err(failed)?,
        Connection::Postgres(c) => c.revert_all_migrations(dovetally_migrations::POSTGRES).map_err(failed)?,
    };
    Ok(())
}

/// Applies every migration: for tests that open connections themselves.
///
/// # Errors
/// When a migration cannot be applied.
pub fn migrate(connection: &mut Connection) -> Result<()> {
    up(connection)
}
