//! A PostgreSQL database of its own for each test, so that tests run side by side and leave nothing behind.

use ::postgres::{Client, NoTls};
use std::env;
use uuid::Uuid;

/// The environment variable with the address of a PostgreSQL server on which databases may be created.
pub const ADDRESS_VARIABLE: &str = "DOVETALLY_TEST_POSTGRES";

/// An empty database that is dropped, with every connection to it, when this value is.
#[derive(Debug)]
pub struct PostgresDatabase {
    name: String,
    url: String,
    server_url: String,
}

impl PostgresDatabase {
    /// Creates an empty database with a name that no other test has.
    ///
    /// # Panics
    /// Without the variable [`ADDRESS_VARIABLE`], or when the server there cannot be reached.
    #[must_use]
    pub fn create() -> Self {
        let server_url = env::var(ADDRESS_VARIABLE).unwrap_or_else(|_| {
            panic!("{ADDRESS_VARIABLE} is not set: run the tests with tests/run, which starts a PostgreSQL for them")
        });
        let name = format!("test_{}", Uuid::now_v7().simple());
        let url = with_database(&server_url, &name);
        connect(&server_url)
            .batch_execute(&format!("CREATE DATABASE {name}"))
            .unwrap_or_else(|error| panic!("cannot create the database {name}: {error}"));
        Self { name, url, server_url }
    }

    /// The database's address, as `dovetally --database` takes it.
    #[must_use]
    pub fn url(&self) -> &str {
        &self.url
    }

    /// The database's name on its server.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// A connection to this database, for what a test must see or do behind the server's back.
    ///
    /// # Panics
    /// When the database cannot be reached.
    #[must_use]
    pub fn connect(&self) -> Client {
        connect(&self.url)
    }
}

impl Drop for PostgresDatabase {
    fn drop(&mut self) {
        // A second panic while a test is failing would hide why it fails; the server is thrown away anyway.
        if std::thread::panicking() {
            if let Ok(mut client) = Client::connect(&self.server_url, NoTls) {
                let _ = client.batch_execute(&format!("DROP DATABASE {} WITH (FORCE)", self.name));
            }
            return;
        }
        connect(&self.server_url)
            .batch_execute(&format!("DROP DATABASE {} WITH (FORCE)", self.name))
            .unwrap_or_else(|error| panic!("cannot drop the database {}: {error}", self.name));
    }
}

fn connect(url: &str) -> Client {
    Client::connect(url, NoTls).unwrap_or_else(|error| panic!("cannot connect to {url}: {error}"))
}

/// The same server's address with another database in its path; the parameters (a socket's folder) stay.
fn with_database(server_url: &str, name: &str) -> String {
    let (address, parameters) = match server_url.split_once('?') {
        Some((address, parameters)) => (address, format!("?{parameters}")),
        None => (server_url, String::new()),
    };
    let (scheme, rest) = address
        .split_once("://")
        .unwrap_or_else(|| panic!("{ADDRESS_VARIABLE} must be postgres://…, but is {server_url}"));
    let authority = rest.split('/').next().unwrap_or_default();
    format!("{scheme}://{authority}/{name}{parameters}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_path_is_replaced_and_the_rest_is_kept() {
        assert_eq!(
            with_database("postgres://me@/postgres?host=/tmp/s&port=5433", "test_1"),
            "postgres://me@/test_1?host=/tmp/s&port=5433"
        );
        assert_eq!(with_database("postgres://127.0.0.1:5433", "test_1"), "postgres://127.0.0.1:5433/test_1");
        assert_eq!(with_database("postgresql://me:x@host/old", "test_1"), "postgresql://me:x@host/test_1");
    }

    #[test]
    fn a_database_is_created_empty_used_and_dropped() {
        let database = PostgresDatabase::create();
        let other = PostgresDatabase::create();
        assert_ne!(database.name(), other.name());

        let mut client = database.connect();
        client.batch_execute("CREATE TABLE mark (n INTEGER NOT NULL)").unwrap();
        let tables = "SELECT count(*) FROM information_schema.tables WHERE table_schema = 'public'";
        assert_eq!(client.query_one(tables, &[]).unwrap().get::<_, i64>(0), 1);
        assert_eq!(other.connect().query_one(tables, &[]).unwrap().get::<_, i64>(0), 0, "one test sees another's");

        // Dropped although a connection is still open, as a killed server leaves them.
        let server_url = env::var(ADDRESS_VARIABLE).unwrap();
        let name = database.name().to_owned();
        drop(database);
        let found = connect(&server_url)
            .query_one("SELECT count(*) FROM pg_database WHERE datname = $1", &[&name])
            .unwrap()
            .get::<_, i64>(0);
        assert_eq!(found, 0, "{name} is still there");
        assert!(client.simple_query("SELECT 1").is_err(), "the open connection should have been ended");
    }
}
