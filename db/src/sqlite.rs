//! SQLite: one writer thread that commits several use cases together, and readers that read where they are called.
//!
//! A sync to disk is what a write costs; whoever waits while one is under way shares the next. Each use case runs in a
//! savepoint of its own, so that a refusal, a violated constraint or a panic undoes that one alone. No answer leaves
//! before COMMIT, refusals included: they may rest on a neighbour's work that is not committed yet.

use crate::{
    chain::{self, Head, Unsealed},
    clock::Clock,
    connection::{Connection, DatabaseUrl},
    database::OpenOptions,
    error::{Error, Failure, Result},
    job::{Job, Verdict},
    schema::{chain_head, changes},
    tx::Change,
};
use chrono::{DateTime, TimeDelta, Utc};
use diesel::{connection::SimpleConnection, prelude::*};
use std::{
    sync::{
        Arc, Mutex, PoisonError,
        mpsc::{Receiver, SyncSender, TrySendError, sync_channel},
    },
    time::{Duration, Instant},
};

/// A batch is what waits: at most this many, or as many as fit this time. No delay is ever added to gather more.
const BATCH: usize = 64;
const BATCH_TIME: Duration = Duration::from_millis(5);
/// Idle read connections that are kept.
const IDLE_READERS: usize = 16;

pub(crate) struct Sqlite {
    queue: SyncSender<Box<dyn Job>>,
    readers: Mutex<Vec<Connection>>,
    url: DatabaseUrl,
}

impl Sqlite {
    pub(crate) fn start(options: &OpenOptions) -> Result<Self> {
        let (queue, waiting) = sync_channel(options.queue);
        let writer = Writer {
            connection: options.url.connect()?,
            url: options.url.clone(),
            clock: Arc::clone(&options.clock),
            last: DateTime::UNIX_EPOCH,
            waiting,
        };
        std::thread::Builder::new()
            .name("writer".to_owned())
            .spawn(move || writer.work())
            .map_err(|e| Error::Storage(e.to_string()))?;
        Ok(Self { queue, readers: Mutex::new(Vec::new()), url: options.url.clone() })
    }

    pub(crate) fn submit(&self, job: Box<dyn Job>) -> Result<()> {
        self.queue.try_send(job).map_err(|error| match error {
            TrySendError::Full(_) => Error::Busy("the write queue is full".to_owned()),
            TrySendError::Disconnected(_) => Error::Storage("the writer has stopped".to_owned()),
        })
    }

    /// Runs a reader on an idle connection, on one snapshot.
    pub(crate) fn read_here<T, E: Failure>(
        &self,
        reader: impl FnOnce(&mut Connection) -> std::result::Result<T, E>,
    ) -> std::result::Result<T, E> {
        let idle = self.readers.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let mut connection = match idle {
            Some(connection) => connection,
            None => self.url.connect_read_only()?,
        };
        connection.batch_execute("BEGIN").map_err(Error::from)?;
        let outcome = reader(&mut connection);
        // A connection that cannot even end its snapshot is not kept.
        if connection.batch_execute("COMMIT").is_ok() {
            let mut idle = self.readers.lock().unwrap_or_else(PoisonError::into_inner);
            if idle.len() < IDLE_READERS {
                idle.push(connection);
            }
        }
        outcome
    }
}

struct Writer {
    connection: Connection,
    url: DatabaseUrl,
    clock: Arc<dyn Clock>,
    last: DateTime<Utc>,
    waiting: Receiver<Box<dyn Job>>,
}

impl Writer {
    fn work(mut self) {
        while let Ok(first) = self.waiting.recv() {
            let mut done: Vec<Box<dyn Job>> = Vec::new();
            let failed = self.batch(first, &mut done).err();
            if let Some(error) = &failed {
                tracing::error!(%error, jobs = done.len(), "a batch failed; none of it is stored");
                self.recover();
            }
            for job in done {
                job.answer(failed.clone());
            }
        }
    }

    /// Runs what waits in one transaction. On an error nothing of the batch is stored.
    fn batch(&mut self, first: Box<dyn Job>, done: &mut Vec<Box<dyn Job>>) -> Result<()> {
        let began = Instant::now();
        let mut next = Some(first);
        let opened = self.connection.batch_execute("BEGIN IMMEDIATE").map_err(Error::from);
        let start = opened.and_then(|()| chain::head(&mut self.connection));
        let mut head = match start {
            Ok(head) => head,
            Err(error) => {
                done.extend(next);
                return Err(error);
            }
        };
        let start = head.sequence;
        while let Some(mut job) = next.take() {
            let outcome = if job.expired() { Ok(()) } else { self.run(job.as_mut(), &mut head) };
            done.push(job);
            outcome?;
            if done.len() < BATCH && began.elapsed() < BATCH_TIME {
                next = self.waiting.try_recv().ok();
            }
        }
        if head.sequence > start {
            diesel::update(chain_head::table.find(1))
                .set((chain_head::sequence.eq(head.sequence), chain_head::chain_hash.eq(&head.chain_hash)))
                .execute(&mut self.connection)?;
        }
        Ok(self.connection.batch_execute("COMMIT")?)
    }

    /// Runs one use case in its savepoint. An error here means that the transaction itself is lost: a full disk, a
    /// failed read or a lack of memory may have rolled back everything, and then the savepoint is gone.
    fn run(&mut self, job: &mut dyn Job, head: &mut Head) -> Result<()> {
        self.connection.batch_execute("SAVEPOINT use_case")?;
        // Time never stands still between two use cases, so that their order can be read from it.
        self.last = self.clock.now().max(self.last + TimeDelta::microseconds(1));
        let error = match job.run(&mut self.connection, self.last) {
            Verdict::Keep(recorded) => match self.seal(&recorded, head) {
                Ok(moved) => {
                    self.connection.batch_execute("RELEASE use_case")?;
                    *head = moved;
                    return Ok(());
                }
                // A change that does not fit undoes its own use case, and no neighbour's.
                Err(error @ Error::Constraint { .. }) => {
                    self.connection.batch_execute("ROLLBACK TO use_case; RELEASE use_case")?;
                    job.fail(error);
                    return Ok(());
                }
                Err(error) => return Err(error),
            },
            Verdict::Undo(error) => error,
            Verdict::Again(error) => return Err(error),
        };
        let undone = self.connection.batch_execute("ROLLBACK TO use_case; RELEASE use_case");
        // The savepoint is gone with the whole transaction: what the use case met says more than that.
        undone.map_err(|lost| error.unwrap_or_else(|| lost.into()))
    }

    fn seal(&mut self, recorded: &[Change], head: &Head) -> Result<Head> {
        let mut moved = head.clone();
        for change in recorded {
            let row = moved.seal(Unsealed::new(change)?);
            diesel::insert_into(changes::table).values(&row).execute(&mut self.connection)?;
        }
        Ok(moved)
    }

    /// Goes back to a connection without a transaction, by a new one if need be.
    fn recover(&mut self) {
        if self.connection.batch_execute("ROLLBACK").is_ok() {
            return;
        }
        match self.url.connect() {
            Ok(connection) => self.connection = connection,
            Err(error) => tracing::error!(%error, "the database cannot be opened again yet"),
        }
    }
}
