//! What the schema of maintenance, supplies and tool life holds by itself, and what is summed over runs, on both databases.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod booking;
mod codes_made_anew;
mod edges;
mod first_checks;
mod ledger;
mod usage;

use diesel::{Connection as _, PgConnection, SqliteConnection, connection::SimpleConnection};
use diesel_migrations::MigrationHarness;
use dovetally_db::{Connection, migrate};
use dovetally_tests::postgres::PostgresDatabase;

/// An empty migrated database of each kind, with what keeps it.
fn both() -> [(Connection, Option<PostgresDatabase>); 2] {
    let mut sqlite = SqliteConnection::establish(":memory:").unwrap();
    sqlite.batch_execute("PRAGMA foreign_keys = ON").unwrap();
    let mut sqlite = Connection::Sqlite(sqlite);
    migrate::migrate(&mut sqlite).unwrap();
    let server = PostgresDatabase::create();
    let mut postgres = Connection::Postgres(PgConnection::establish(server.url()).unwrap());
    migrate::migrate(&mut postgres).unwrap();
    [(sqlite, None), (postgres, Some(server))]
}

/// Takes migrations back up to and with one.
fn back(connection: &mut Connection, migration: &str) {
    loop {
        let version = match connection {
            Connection::Sqlite(c) => c.revert_last_migration(dovetally_migrations::SQLITE).unwrap().to_string(),
            Connection::Postgres(c) => c.revert_last_migration(dovetally_migrations::POSTGRES).unwrap().to_string(),
        };
        if version == migration {
            return;
        }
    }
}

/// A machine, a part, an item and a person for rows to refer to.
const SHOP: &str = "
    INSERT INTO people VALUES ('p', 'maintainer', 'Mara', 'x', FALSE, 1, '2026-01-01 00:00:00', '2026-01-01 00:00:00');
    INSERT INTO codes VALUES ('M-1', 'machine', 'm', FALSE), ('P-1', 'part', 'part', FALSE), ('H-1', 'item', 'item', FALSE);
    INSERT INTO machines VALUES ('m', 'M-1', 'Machine', 6, 6, 6, 1, 'clockwise', 1, 'mm', NULL, NULL, NULL, FALSE, 1,
        '2026-01-01 00:00:00', '2026-01-01 00:00:00');
    INSERT INTO parts (id, code, name, retired, version, created_at, updated_at) VALUES ('part', 'P-1', 'Part', FALSE, 1, '2026-01-01 00:00:00', '2026-01-01 00:00:00');
    INSERT INTO items (id, code, kind, name, condition, version, created_at, updated_at) VALUES ('item', 'H-1', 'holder', 'Holder', 'usable', 1, '2026-01-01 00:00:00', '2026-01-01 00:00:00');
";
