//! One connection type over both databases, and how each is opened.

use crate::error::{Error, Result};
use diesel::{
    Connection as _, PgConnection, SqliteConnection,
    connection::{InstrumentationEvent, SimpleConnection},
};
use std::{path::PathBuf, time::Duration};

#[expect(missing_docs, reason = "made by diesel's derive")]
mod multi {
    use diesel::{PgConnection, SqliteConnection};

    /// A connection to either database.
    #[derive(diesel::MultiConnection)]
    pub enum AnyConnection {
        /// The embedded default.
        Sqlite(SqliteConnection),
        /// A PostgreSQL server.
        Postgres(PgConnection),
    }
}
pub use multi::{AnyConnection as Connection, MultiBackend};

/// Where the data is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DatabaseUrl {
    /// An SQLite file.
    Sqlite(PathBuf),
    /// A PostgreSQL connection string.
    Postgres(String),
}

/// Why a text does not name a database.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum UrlError {
    /// Neither scheme.
    #[error("the database is named by sqlite:PATH or postgres://USER@HOST/NAME")]
    Scheme,
    /// The bundled client cannot encrypt.
    #[error(
        "this build speaks to PostgreSQL without TLS: use a local server, or add sslmode=disable to say that the network is trusted"
    )]
    Unencrypted,
}

impl DatabaseUrl {
    /// Reads `sqlite:PATH`, `sqlite://PATH`, `postgres://…` or `postgresql://…`. The bundled PostgreSQL client has no
    /// TLS, and would silently go on in clear text: so a server elsewhere must be allowed in words.
    ///
    /// # Errors
    /// [`UrlError`] for anything else.
    pub fn parse(text: &str) -> std::result::Result<Self, UrlError> {
        if let Some(path) = text.strip_prefix("sqlite:") {
            let path = path.strip_prefix("//").unwrap_or(path);
            return if path.is_empty() { Err(UrlError::Scheme) } else { Ok(Self::Sqlite(PathBuf::from(path))) };
        }
        let rest =
            text.strip_prefix("postgres://").or_else(|| text.strip_prefix("postgresql://")).ok_or(UrlError::Scheme)?;
        let (authority, query) = rest.split_once('?').unwrap_or((rest, ""));
        let authority = authority.split('/').next().unwrap_or_default();
        let host = authority.rsplit_once('@').map_or(authority, |(_, host)| host);
        let mut hosts: Vec<&str> = host.split(',').filter(|h| !h.is_empty()).map(host_without_port).collect();
        let mut mode = None;
        for pair in query.split('&') {
            match pair.split_once('=') {
                Some(("host" | "hostaddr", value)) => hosts.extend(value.split(',')),
                Some(("sslmode", value)) => mode = Some(value),
                _ => {}
            }
        }
        let local = |host: &str| {
            let host = host.replace("%2F", "/").replace("%2f", "/");
            host.starts_with('/') || matches!(host.as_str(), "localhost" | "127.0.0.1" | "[::1]" | "::1")
        };
        match mode {
            Some("disable") => {}
            Some("allow" | "prefer") | None if hosts.iter().all(|host| local(host)) => {}
            _ => return Err(UrlError::Unencrypted),
        }
        Ok(Self::Postgres(text.to_owned()))
    }

    /// Opens a connection that may write.
    ///
    /// # Errors
    /// [`Error::Storage`] when there is nothing to open.
    pub fn connect(&self) -> Result<Connection> {
        let mut connection = self.open()?;
        if tracing::enabled!(target: STATEMENTS, tracing::Level::TRACE) {
            connection.set_instrumentation(tell_statement);
        }
        Ok(connection)
    }

    fn open(&self) -> Result<Connection> {
        match self {
            Self::Sqlite(path) => {
                let mut connection = open_sqlite(path)?;
                connection.batch_execute(
                    "PRAGMA busy_timeout = 5000; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; \
                     PRAGMA foreign_keys = ON; PRAGMA cache_size = -16000;",
                )?;
                Ok(Connection::Sqlite(connection))
            }
            Self::Postgres(url) => {
                let mut connection = PgConnection::establish(&with_timeout(url, Duration::from_secs(5)))
                    .map_err(|e| Error::Storage(e.to_string()))?;
                connection.batch_execute(
                    "SET TIME ZONE 'UTC'; SET lock_timeout = '5s'; SET statement_timeout = '30s'; \
                     SET idle_in_transaction_session_timeout = '60s'; SET client_min_messages = warning; \
                     SET jit = off;",
                )?;
                Ok(Connection::Postgres(connection))
            }
        }
    }

    /// Opens a connection that cannot write.
    ///
    /// # Errors
    /// [`Error::Storage`] when there is nothing to open.
    pub fn connect_read_only(&self) -> Result<Connection> {
        let mut connection = match self {
            Self::Sqlite(path) => {
                let mut connection = open_sqlite(path)?;
                connection.batch_execute("PRAGMA busy_timeout = 5000; PRAGMA cache_size = -16000;")?;
                let mut connection = Connection::Sqlite(connection);
                if tracing::enabled!(target: STATEMENTS, tracing::Level::TRACE) {
                    connection.set_instrumentation(tell_statement);
                }
                connection
            }
            Self::Postgres(_) => self.connect()?,
        };
        match &mut connection {
            Connection::Sqlite(c) => c.batch_execute("PRAGMA query_only = ON;")?,
            Connection::Postgres(c) => c.batch_execute("SET default_transaction_read_only = on;")?,
        }
        Ok(connection)
    }
}

/// The log's target for every statement, at the level `trace`; values go with it, secrets only as hashes.
const STATEMENTS: &str = "dovetally_db::statements";

fn tell_statement(event: InstrumentationEvent<'_>) {
    if let InstrumentationEvent::StartQuery { query, .. } = event {
        // One line each, whatever the statement was written like.
        let words = query.to_string();
        let words: Vec<&str> = words.split_whitespace().collect();
        tracing::trace!(target: STATEMENTS, "{}", words.join(" "));
    }
}

fn host_without_port(host: &str) -> &str {
    if host.starts_with('[') {
        return host.split_inclusive(']').next().unwrap_or(host);
    }
    host.split(':').next().unwrap_or(host)
}

fn open_sqlite(path: &std::path::Path) -> Result<SqliteConnection> {
    let path = path.to_str().ok_or_else(|| Error::Storage("the database path is not UTF-8".to_owned()))?;
    let mut connection = SqliteConnection::establish(path).map_err(|e| Error::Storage(e.to_string()))?;
    folding::lower_utils::register_impl(&mut connection, |text: Option<String>| text.map(|text| text.to_lowercase()))?;
    Ok(connection)
}

/// SQLite's own `lower` folds ASCII alone; what is looked for by name is folded by Unicode.
mod folding {
    #[diesel::declare_sql_function]
    extern "SQL" {
        fn lower(
            text: diesel::sql_types::Nullable<diesel::sql_types::Text>,
        ) -> diesel::sql_types::Nullable<diesel::sql_types::Text>;
    }
}

/// A dead primary must not hang requests.
fn with_timeout(url: &str, timeout: Duration) -> String {
    if url.contains("connect_timeout=") {
        return url.to_owned();
    }
    let joint = if url.contains('?') { '&' } else { '?' };
    format!("{url}{joint}connect_timeout={}", timeout.as_secs())
}

/// SQLite keeps global memory statistics behind a lock that readers on two cores feel. Call it first thing in `main`,
/// before any connection exists.
pub fn quiet_sqlite_statistics() {
    // SAFETY: sqlite3_config is allowed before SQLite is initialised, which happens with the first connection; this
    // option takes one int. A late call is answered with SQLITE_MISUSE and changes nothing.
    #[expect(unsafe_code, reason = "SQLite offers this switch only through its C interface")]
    unsafe {
        libsqlite3_sys::sqlite3_config(libsqlite3_sys::SQLITE_CONFIG_MEMSTATUS, 0_i32);
    }
}

#[cfg(test)]
mod tests {
    use super::{DatabaseUrl, UrlError};

    #[test]
    fn both_databases_are_named_by_url() {
        assert_eq!(DatabaseUrl::parse("sqlite:a/b.db"), Ok(DatabaseUrl::Sqlite("a/b.db".into())));
        assert_eq!(DatabaseUrl::parse("sqlite:///tmp/b.db"), Ok(DatabaseUrl::Sqlite("/tmp/b.db".into())));
        for local in [
            "postgres://shop@localhost/shop",
            "postgresql://127.0.0.1:5433/shop",
            "postgres://shop@[::1]:5432/shop",
            "postgres:///shop?host=/run/postgresql",
            "postgres://shop@%2Frun%2Fpostgresql/shop",
            "postgres://db.example/shop?sslmode=disable",
        ] {
            assert_eq!(DatabaseUrl::parse(local), Ok(DatabaseUrl::Postgres(local.to_owned())), "{local}");
        }
    }

    #[test]
    fn what_would_go_in_clear_text_unasked_is_refused() {
        for url in [
            "postgres://db.example/shop",
            "postgres://localhost/shop?host=db.example",
            "postgres://localhost/shop?sslmode=require",
            "postgres://db.example/shop?sslmode=prefer",
        ] {
            assert_eq!(DatabaseUrl::parse(url), Err(UrlError::Unencrypted), "{url}");
        }
        for url in ["mysql://localhost/shop", "sqlite:", "shop.db"] {
            assert_eq!(DatabaseUrl::parse(url), Err(UrlError::Scheme), "{url}");
        }
    }
}
