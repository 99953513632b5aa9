//! PostgreSQL: each use case is a transaction of its own on one of several connections; a sealing pass numbers the
//! changes after the commit.
//!
//! READ COMMITTED is enough: whatever must not happen side by side begins by raising a version in the same row.

use crate::{
    chain::{Head, SealedChange, Unsealed},
    clock::Clock,
    connection::{Connection, DatabaseUrl},
    database::OpenOptions,
    error::{Error, Failure, Result},
    job::{Job, Verdict},
    schema::{chain_head, changes, changes_pending as pending},
    tx::Change,
};
use chrono::NaiveDateTime;
use diesel::{connection::SimpleConnection, prelude::*};
use std::{
    panic::{AssertUnwindSafe, catch_unwind},
    sync::{
        Arc, Mutex, PoisonError,
        mpsc::{Receiver, SyncSender, TrySendError, sync_channel},
    },
    time::Duration,
};
use tokio::sync::oneshot;

/// How often a use case is run before its caller is told to come back later.
const ATTEMPTS: u32 = 6;
/// Sealing passes come after commits, and at least this often for what other processes left.
const SEAL_EVERY: Duration = Duration::from_millis(100);

type Reader = Box<dyn FnOnce(&mut Connection) + Send>;

pub(crate) struct Postgres {
    writes: SyncSender<Box<dyn Job>>,
    reads: SyncSender<Reader>,
}

impl Postgres {
    pub(crate) fn start(options: &OpenOptions) -> Result<Self> {
        let (writes, waiting_writes) = sync_channel::<Box<dyn Job>>(options.queue);
        let (reads, waiting_reads) = sync_channel::<Reader>(options.queue);
        let (committed, seal) = sync_channel::<()>(1);
        let waiting_writes = Arc::new(Mutex::new(waiting_writes));
        let waiting_reads = Arc::new(Mutex::new(waiting_reads));
        for number in 0..options.connections {
            let (url, clock) = (options.url.clone(), Arc::clone(&options.clock));
            let (waiting, committed) = (Arc::clone(&waiting_writes), committed.clone());
            spawn(format!("writer-{number}"), move || {
                write_loop(&Link::new(url), &waiting, clock.as_ref(), &committed)
            })?;
            let (url, waiting) = (options.url.clone(), Arc::clone(&waiting_reads));
            spawn(format!("reader-{number}"), move || read_loop(&Link::new(url), &waiting))?;
        }
        let url = options.url.clone();
        spawn("sealer".to_owned(), move || seal_loop(&Link::new(url), &seal))?;
        Ok(Self { writes, reads })
    }

    pub(crate) fn submit(&self, job: Box<dyn Job>) -> Result<()> {
        self.writes.try_send(job).map_err(|e| refused(&e))
    }

    /// Queues a reader; it runs on one snapshot.
    pub(crate) fn read<T, E, F>(&self, reader: F) -> Result<oneshot::Receiver<std::result::Result<T, E>>>
    where
        F: FnOnce(&mut Connection) -> std::result::Result<T, E> + Send + 'static,
        T: Send + 'static,
        E: Failure,
    {
        let (caller, answer) = oneshot::channel();
        let job: Reader = Box::new(move |connection| {
            let opened = connection.batch_execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY");
            let outcome = match opened.map_err(Error::from) {
                Ok(()) => reader(connection),
                Err(error) => Err(error.into()),
            };
            let _ = connection.batch_execute("COMMIT");
            let _ = caller.send(outcome);
        });
        self.reads.try_send(job).map_err(|e| refused(&e))?;
        Ok(answer)
    }
}

fn refused<T>(error: &TrySendError<T>) -> Error {
    match error {
        TrySendError::Full(_) => Error::Busy("the queue is full".to_owned()),
        TrySendError::Disconnected(_) => Error::Storage("the database threads have stopped".to_owned()),
    }
}

fn spawn(name: String, work: impl FnOnce() + Send + 'static) -> Result<()> {
    std::thread::Builder::new().name(name).spawn(work).map(drop).map_err(|e| Error::Storage(e.to_string()))
}

/// A connection that is opened when first needed and again after it was lost.
struct Link {
    url: DatabaseUrl,
    connection: Mutex<Option<Connection>>,
}

impl Link {
    const fn new(url: DatabaseUrl) -> Self {
        Self { url, connection: Mutex::new(None) }
    }

    /// Does some work; a storage failure or a panic drops the connection, so that the next work gets a new one, with no
    /// transaction left open in it.
    fn with<T>(&self, work: impl FnOnce(&mut Connection) -> Result<T>) -> Result<T> {
        let mut held = self.connection.lock().unwrap_or_else(PoisonError::into_inner);
        // Not an empty statement: the client library takes its answer for an error, and each work would connect anew.
        if held.as_mut().is_some_and(|c| c.batch_execute("SELECT 1").is_err()) {
            *held = None;
        }
        let connection = match held.as_mut() {
            Some(connection) => connection,
            None => held.insert(self.url.connect()?),
        };
        let outcome = work(connection);
        if matches!(outcome, Err(Error::Storage(_) | Error::Panicked)) {
            *held = None;
        }
        outcome
    }
}

fn take<T>(waiting: &Mutex<Receiver<T>>) -> Option<T> {
    waiting.lock().unwrap_or_else(PoisonError::into_inner).recv().ok()
}

fn read_loop(link: &Link, waiting: &Mutex<Receiver<Reader>>) {
    while let Some(reader) = take(waiting) {
        let outcome = link.with(|connection| {
            // A reader that panics fails its own caller, and not every reader after it.
            catch_unwind(AssertUnwindSafe(|| reader(connection))).map_err(|_| Error::Panicked)
        });
        // Without a connection the reader is dropped, and its caller told that the answer never came.
        if let Err(error) = outcome {
            tracing::error!(%error, "no connection for reading");
        }
    }
}

fn write_loop(link: &Link, waiting: &Mutex<Receiver<Box<dyn Job>>>, clock: &dyn Clock, committed: &SyncSender<()>) {
    while let Some(mut job) = take(waiting) {
        if job.expired() {
            job.answer(None);
            continue;
        }
        let outcome = link.with(|connection| attempt(connection, job.as_mut(), clock));
        match outcome {
            Ok(kept) => {
                job.answer(None);
                if kept {
                    // Full means that a pass is due anyway.
                    let _ = committed.try_send(());
                }
            }
            Err(error) => {
                tracing::warn!(%error, "a write was not stored");
                job.answer(Some(error));
            }
        }
    }
}

/// Runs one use case as one transaction, again from its start when the database asks for it. Tells whether it was kept.
fn attempt(connection: &mut Connection, job: &mut dyn Job, clock: &dyn Clock) -> Result<bool> {
    let mut last = None;
    for number in 0..ATTEMPTS {
        if number > 0 {
            std::thread::sleep(Duration::from_millis(2 << number));
        }
        connection.batch_execute("BEGIN")?;
        let error = match job.run(connection, clock.now()) {
            Verdict::Undo(_) => {
                connection.batch_execute("ROLLBACK")?;
                return Ok(false);
            }
            Verdict::Again(error) => error,
            Verdict::Keep(recorded) => match leave_pending(connection, &recorded).and_then(|()| commit(connection)) {
                Ok(()) => return Ok(!recorded.is_empty()),
                Err(error @ Error::Again(_)) => error,
                Err(error) => {
                    let _ = connection.batch_execute("ROLLBACK");
                    return Err(error);
                }
            },
        };
        connection.batch_execute("ROLLBACK")?;
        last = Some(error);
    }
    tracing::warn!(error = ?last, "retries are spent");
    Err(Error::Busy("the retries are spent".to_owned()))
}

/// COMMIT of a transaction that failed earlier answers as if all were well but rolls back; a statement before it tells.
fn commit(connection: &mut Connection) -> Result<()> {
    connection.batch_execute("SELECT 1")?;
    Ok(connection.batch_execute("COMMIT")?)
}

#[derive(Insertable, Queryable, Selectable)]
#[diesel(table_name = pending)]
struct PendingRow {
    id: String,
    kind: String,
    subject_kind: String,
    subject_id: String,
    subject_version: i64,
    actor_id: Option<String>,
    recorded_at: NaiveDateTime,
    state: String,
    digest: String,
}

/// The last statement of a transaction: whoever saw another's commit draws a later ticket.
fn leave_pending(connection: &mut Connection, recorded: &[Change]) -> Result<()> {
    let Connection::Postgres(connection) = connection else { return Ok(()) };
    let mut rows = Vec::with_capacity(recorded.len());
    for change in recorded {
        let u = Unsealed::new(change)?;
        rows.push(PendingRow {
            id: u.id,
            kind: u.kind,
            subject_kind: u.subject_kind,
            subject_id: u.subject_id,
            subject_version: u.subject_version,
            actor_id: u.actor_id,
            recorded_at: u.recorded_at,
            state: u.state,
            digest: u.digest,
        });
    }
    for rows in rows.chunks(500) {
        diesel::insert_into(pending::table).values(rows).execute(connection)?;
    }
    Ok(())
}

fn seal_loop(link: &Link, committed: &Receiver<()>) {
    use std::sync::mpsc::RecvTimeoutError;
    loop {
        if matches!(committed.recv_timeout(SEAL_EVERY), Err(RecvTimeoutError::Disconnected)) {
            // The writers are gone; one last pass for what they left.
            let _ = link.with(seal_pass);
            return;
        }
        if let Err(error) = link.with(seal_pass) {
            tracing::error!(%error, "a sealing pass failed; the changes wait for the next");
        }
    }
}

/// One sealing pass: whoever holds the head's row numbers and chains what is pending. Another pass under way does it
/// instead of us.
pub(crate) fn seal_pass(connection: &mut Connection) -> Result<()> {
    let Connection::Postgres(connection) = connection else { return Ok(()) };
    connection.batch_execute("BEGIN")?;
    match number_pending(connection) {
        Ok(()) => Ok(connection.batch_execute("COMMIT")?),
        Err(error) => {
            let _ = connection.batch_execute("ROLLBACK");
            Err(error)
        }
    }
}

fn number_pending(connection: &mut PgConnection) -> Result<()> {
    let head: Option<(i64, String)> = chain_head::table
        .find(1)
        .select((chain_head::sequence, chain_head::chain_hash))
        .for_update()
        .skip_locked()
        .first(connection)
        .optional()?;
    let Some((sequence, chain_hash)) = head else { return Ok(()) };
    let mut rows: Vec<(i64, PendingRow)> = diesel::delete(pending::table)
        .returning((pending::ticket, PendingRow::as_returning()))
        .get_results(connection)?;
    if rows.is_empty() {
        return Ok(());
    }
    rows.sort_by_key(|(ticket, _)| *ticket);
    let mut head = Head { sequence, chain_hash };
    let sealed: Vec<SealedChange> = rows
        .into_iter()
        .map(|(_, row)| {
            head.seal(Unsealed {
                id: row.id,
                kind: row.kind,
                subject_kind: row.subject_kind,
                subject_id: row.subject_id,
                subject_version: row.subject_version,
                actor_id: row.actor_id,
                recorded_at: row.recorded_at,
                state: row.state,
                digest: row.digest,
            })
        })
        .collect();
    for rows in sealed.chunks(500) {
        diesel::insert_into(changes::table).values(rows).execute(connection)?;
    }
    diesel::update(chain_head::table.find(1))
        .set((chain_head::sequence.eq(head.sequence), chain_head::chain_hash.eq(&head.chain_hash)))
        .execute(connection)?;
    Ok(())
}
