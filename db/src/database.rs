//! The database as the rest of the program sees it: read, write, nothing else.

use crate::{
    clock::Clock,
    connection::{Connection, DatabaseUrl},
    error::{Error, Failure, Result},
    job::{Job, UseCase},
    migrate,
    postgres::Postgres,
    sqlite::Sqlite,
    tx::Tx,
};
use chrono::{DateTime, Utc};
use std::{
    sync::Arc,
    time::{Duration, Instant},
};
use tokio::sync::oneshot;

/// A write that has not begun by then is dropped and answered as busy: its caller has given up.
const PATIENCE: Duration = Duration::from_secs(10);

/// Whether a use case's work is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WriteMode {
    /// Commit it.
    Keep,
    /// Run it exactly as it would run, answer as it would answer, and roll it back.
    Rehearse,
}

/// How to open a database.
pub struct OpenOptions {
    /// Where it is.
    pub url: DatabaseUrl,
    /// The time.
    pub clock: Arc<dyn Clock>,
    /// Writes that may wait at once; one more is refused as busy.
    pub queue: usize,
    /// Connections for writing and, as many again, for reading (PostgreSQL).
    pub connections: usize,
}

impl OpenOptions {
    /// The usual measures.
    #[must_use]
    pub fn new(url: DatabaseUrl, clock: Arc<dyn Clock>) -> Self {
        Self { url, clock, queue: 1024, connections: 8 }
    }
}

/// A handle on the database; cheap to clone.
#[derive(Clone)]
pub struct Database {
    inner: Arc<Inner>,
}

struct Inner {
    clock: Arc<dyn Clock>,
    url: DatabaseUrl,
    engine: Engine,
}

enum Engine {
    Sqlite(Sqlite),
    Postgres(Postgres),
}

impl Database {
    /// Migrates the database to this program's schema and opens it.
    ///
    /// # Errors
    /// When it cannot be opened or migrated.
    pub fn open(options: OpenOptions) -> Result<Self> {
        migrate::up(&mut options.url.connect()?)?;
        let engine = match &options.url {
            DatabaseUrl::Sqlite(_) => Engine::Sqlite(Sqlite::start(&options)?),
            DatabaseUrl::Postgres(_) => Engine::Postgres(Postgres::start(&options)?),
        };
        Ok(Self { inner: Arc::new(Inner { clock: options.clock, url: options.url, engine }) })
    }

    /// The time, as this database's transactions see it.
    #[must_use]
    pub fn now(&self) -> DateTime<Utc> {
        self.inner.clock.now()
    }

    /// Where the data is.
    #[must_use]
    pub fn url(&self) -> &DatabaseUrl {
        &self.inner.url
    }

    /// Runs a use case in one write transaction and answers after the commit.
    ///
    /// The closure may run more than once (PostgreSQL asks for that at times), so it works on owned input and does no
    /// hashing, no parsing and no input or output of its own.
    ///
    /// # Errors
    /// The use case's own refusal, or a database error inside it.
    pub async fn write<T, E, F>(&self, mode: WriteMode, closure: F) -> std::result::Result<T, E>
    where
        F: Fn(&mut Tx<'_>) -> std::result::Result<T, E> + Send + 'static,
        T: Send + 'static,
        E: Failure,
    {
        let (caller, answer) = oneshot::channel();
        self.submit(Box::new(UseCase { closure, mode, deadline: Instant::now() + PATIENCE, outcome: None, caller }))?;
        answer.await.unwrap_or_else(|_| Err(stopped().into()))
    }

    /// The same for the command line and for tests, without an executor.
    ///
    /// # Errors
    /// As [`Database::write`].
    pub fn write_blocking<T, E, F>(&self, mode: WriteMode, closure: F) -> std::result::Result<T, E>
    where
        F: Fn(&mut Tx<'_>) -> std::result::Result<T, E> + Send + 'static,
        T: Send + 'static,
        E: Failure,
    {
        let (caller, answer) = oneshot::channel();
        self.submit(Box::new(UseCase { closure, mode, deadline: Instant::now() + PATIENCE, outcome: None, caller }))?;
        answer.blocking_recv().unwrap_or_else(|_| Err(stopped().into()))
    }

    /// Copies the whole database, as of one instant and while writes go on, into a new file (SQLite only: PostgreSQL
    /// has its own tools for that).
    ///
    /// # Errors
    /// When the file is there already or cannot be written, and on PostgreSQL.
    pub fn backup(&self, file: &std::path::Path) -> Result<()> {
        use diesel::{RunQueryDsl, sql_types::Text};
        if file.exists() {
            return Err(Error::Storage(format!("{} is there already", file.display())));
        }
        let DatabaseUrl::Sqlite(_) = &self.inner.url else {
            return Err(Error::Other("on PostgreSQL use pg_dump or its continuous archiving".to_owned()));
        };
        let path = file.to_str().ok_or_else(|| Error::Storage("the path is not UTF-8".to_owned()))?;
        let mut connection = self.inner.url.connect()?;
        let Connection::Sqlite(connection) = &mut connection else { return Ok(()) };
        diesel::sql_query("VACUUM INTO ?").bind::<Text, _>(path).execute(connection)?;
        Ok(())
    }

    fn submit(&self, job: Box<dyn Job>) -> Result<()> {
        match &self.inner.engine {
            Engine::Sqlite(engine) => engine.submit(job),
            Engine::Postgres(engine) => engine.submit(job),
        }
    }

    /// Runs a short read on one snapshot. On SQLite it runs where it is called: a point read takes about 10 µs, less
    /// than a hop to another thread.
    ///
    /// # Errors
    /// The reader's own, or a database error inside it.
    pub async fn read<T, E, F>(&self, reader: F) -> std::result::Result<T, E>
    where
        F: FnOnce(&mut Connection) -> std::result::Result<T, E> + Send + 'static,
        T: Send + 'static,
        E: Failure,
    {
        match &self.inner.engine {
            Engine::Sqlite(engine) => engine.read_here(reader),
            Engine::Postgres(engine) => engine.read(reader)?.await.unwrap_or_else(|_| Err(stopped().into())),
        }
    }

    /// The same for the command line and for tests, without an executor.
    ///
    /// # Errors
    /// As [`Database::read`].
    pub fn read_blocking<T, E, F>(&self, reader: F) -> std::result::Result<T, E>
    where
        F: FnOnce(&mut Connection) -> std::result::Result<T, E> + Send + 'static,
        T: Send + 'static,
        E: Failure,
    {
        match &self.inner.engine {
            Engine::Sqlite(engine) => engine.read_here(reader),
            Engine::Postgres(engine) => engine.read(reader)?.blocking_recv().unwrap_or_else(|_| Err(stopped().into())),
        }
    }
}

fn stopped() -> Error {
    Error::Storage("the database threads have stopped".to_owned())
}
