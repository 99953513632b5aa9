//! A database of a test's own, a use case to try on it, and how writes are made to wait for each other.

use dovetally_core::{
    code::Code,
    ids::{ChangeId, PlaceId},
    registry::{
        Record,
        place::{PlaceFields, PlaceKind},
    },
};
use dovetally_db::{
    Change, Database, DatabaseUrl, Error, Failure, OpenOptions, Result, SystemClock, Tx, WriteMode, chain,
    codes::{self, CodeSubject},
    places,
};
use dovetally_tests::postgres::PostgresDatabase;
use std::{
    pin::Pin,
    sync::{
        Arc, Mutex,
        mpsc::{Receiver, Sender, channel},
    },
    task::{Context, Poll, Wake, Waker},
    thread::{self, Thread},
    time::{Duration, Instant},
};
use tempfile::TempDir;

/// Longer than anything here takes on a busy machine.
const LIMIT: Duration = Duration::from_secs(30);

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Backend {
    Sqlite,
    Postgres,
}

impl Backend {
    pub(crate) const BOTH: [Self; 2] = [Self::Sqlite, Self::Postgres];
}

/// An empty database and where it lies.
pub(crate) struct Shop {
    pub(crate) database: Database,
    pub(crate) backend: Backend,
    // Dropped after the handle on the database.
    _folder: Option<TempDir>,
    _server: Option<PostgresDatabase>,
}

impl Shop {
    pub(crate) fn open(backend: Backend) -> Self {
        Self::open_with(backend, |_| {})
    }

    pub(crate) fn open_with(backend: Backend, set: impl FnOnce(&mut OpenOptions)) -> Self {
        let (url, folder, server) = match backend {
            Backend::Sqlite => {
                let folder = tempfile::tempdir().unwrap();
                (DatabaseUrl::Sqlite(folder.path().join("shop.db")), Some(folder), None)
            }
            Backend::Postgres => {
                let server = PostgresDatabase::create();
                (DatabaseUrl::parse(server.url()).unwrap(), None, Some(server))
            }
        };
        let mut options = OpenOptions::new(url, Arc::new(SystemClock));
        set(&mut options);
        Self { database: Database::open(options).unwrap(), backend, _folder: folder, _server: server }
    }

    /// Puts a place on record.
    pub(crate) fn put(&self, code: &str) -> Result<()> {
        let code = code.to_owned();
        self.database.write_blocking(WriteMode::Keep, move |tx| put(tx, &code, "a place"))
    }

    /// The codes of all places, as anybody else sees them now.
    pub(crate) fn stored(&self) -> Vec<String> {
        stored(&self.database)
    }

    /// Exactly these places are stored, with one change for each, and the chain is sound.
    #[track_caller]
    pub(crate) fn holds(&self, codes: &[&str]) {
        let mut codes: Vec<String> = codes.iter().map(|code| (*code).to_owned()).collect();
        codes.sort_unstable();
        assert_eq!(self.stored(), codes, "{:?}", self.backend);
        let found = self.sealed(i64::try_from(codes.len()).unwrap());
        assert_eq!(
            (found.changes, found.faults),
            (i64::try_from(codes.len()).unwrap(), Vec::new()),
            "{:?}",
            self.backend
        );
    }

    /// What a walk along the chain finds once this many changes are sealed, which on PostgreSQL comes after the commit.
    pub(crate) fn sealed(&self, changes: i64) -> chain::Verification {
        let now = self.database.now();
        let begun = Instant::now();
        loop {
            let found = self.database.read_blocking(move |connection| chain::verify(connection, now)).unwrap();
            if self.backend == Backend::Sqlite || found.changes >= changes || begun.elapsed() > LIMIT {
                return found;
            }
            thread::sleep(Duration::from_millis(2));
        }
    }

    /// Occupies one writer until the answer is asked to go on: what is queued meanwhile comes after it, together.
    pub(crate) fn hold_writer(&self) -> Held {
        let (begun, has_begun) = channel::<()>();
        let (go_on, wait) = channel::<()>();
        let (begun, wait) = (Mutex::new(begun), Mutex::new(wait));
        let held = Queued::new(&self.database, WriteMode::Keep, move |_| {
            begun.lock().unwrap().send(()).unwrap();
            wait.lock().unwrap().recv_timeout(LIMIT).unwrap();
            Ok::<_, Error>(())
        });
        wait_for(&has_begun);
        Held { go_on, held }
    }
}

fn wait_for(signal: &Receiver<()>) {
    signal.recv_timeout(LIMIT).expect("the writer takes up the work");
}

/// A writer that is occupied.
pub(crate) struct Held {
    go_on: Sender<()>,
    held: Queued<Result<()>>,
}

impl Held {
    /// Lets the writer go on; tells how the write that occupied it was answered.
    pub(crate) fn let_go(self) -> Result<()> {
        self.go_on.send(()).unwrap();
        self.held.answer()
    }
}

/// A write that stands in the queue; dropping it is what happens when a caller goes away.
pub(crate) struct Queued<T>(Pin<Box<dyn Future<Output = T> + Send>>, Option<T>);

impl<T: Send + 'static, E: Failure> Queued<std::result::Result<T, E>> {
    /// Queues a write, behind those that were queued before.
    pub(crate) fn new<F>(database: &Database, mode: WriteMode, closure: F) -> Self
    where
        F: Fn(&mut Tx<'_>) -> std::result::Result<T, E> + Send + 'static,
    {
        let database = database.clone();
        let mut future: Pin<Box<dyn Future<Output = _> + Send>> =
            Box::pin(async move { database.write(mode, closure).await });
        // The first poll queues it; one that finds the queue full is ready at once.
        let ready = match future.as_mut().poll(&mut Context::from_waker(Waker::noop())) {
            Poll::Ready(answer) => Some(answer),
            Poll::Pending => None,
        };
        Self(future, ready)
    }
}

impl<T> Queued<T> {
    /// Waits for the answer.
    pub(crate) fn answer(mut self) -> T {
        struct Unpark(Thread);
        impl Wake for Unpark {
            fn wake(self: Arc<Self>) {
                self.0.unpark();
            }
        }
        if let Some(answer) = self.1 {
            return answer;
        }
        let waker = Waker::from(Arc::new(Unpark(thread::current())));
        loop {
            if let Poll::Ready(answer) = self.0.as_mut().poll(&mut Context::from_waker(&waker)) {
                return answer;
            }
            thread::park_timeout(LIMIT);
        }
    }
}

/// A use case's refusal, or what the database said.
#[derive(Debug)]
pub(crate) enum Problem {
    Refused,
    Database(Error),
}

impl From<Error> for Problem {
    fn from(error: Error) -> Self {
        Self::Database(error)
    }
}

impl Failure for Problem {
    fn database(&self) -> Option<&Error> {
        match self {
            Self::Refused => None,
            Self::Database(error) => Some(error),
        }
    }
}

/// The codes of all places, as a new reader sees them.
pub(crate) fn stored(database: &Database) -> Vec<String> {
    let places = database.read_blocking(|connection| places::page(connection, None, 1000)).unwrap();
    places.into_iter().map(|place| place.code.to_string()).collect()
}

/// The use case that the tests try: a place is put on record, with its code and the change that tells of it.
pub(crate) fn put(tx: &mut Tx<'_>, code: &str, name: &str) -> Result<()> {
    let id: PlaceId = tx.new_id();
    let code = Code::parse(code).unwrap();
    let now = tx.now();
    codes::take(tx.connection(), &code, CodeSubject::Place, id.uuid())?;
    let fields = PlaceFields { name: name.to_owned(), kind: PlaceKind::Bin, retired: false };
    let place = Record { id, code, fields, version: 1, created_at: now, updated_at: now };
    places::insert(tx.connection(), &place)?;
    let id: ChangeId = tx.new_id();
    tx.record(Change {
        id,
        kind: "dovetally.place.created",
        subject_kind: "place",
        subject_id: place.id.uuid(),
        subject_version: 1,
        actor: None,
        recorded_at: now,
        state: serde_json::json!({"code": place.code.as_str()}),
    });
    Ok(())
}
