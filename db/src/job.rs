//! A queued write: a use case, its caller, and how the two meet again after the commit.

use crate::{
    connection::Connection,
    database::WriteMode,
    error::{Error, Failure},
    tx::{Change, Tx},
};
use chrono::{DateTime, Utc};
use std::{
    panic::{AssertUnwindSafe, catch_unwind},
    time::{Duration, Instant},
};
use tokio::sync::oneshot;

/// Longer than this inside the writer is worth a line in the log: others wait behind it.
const SLOW: Duration = Duration::from_millis(50);

/// What to do with a use case's work.
pub(crate) enum Verdict {
    /// Keep it, with these changes.
    Keep(Vec<Change>),
    /// Roll it back; the caller's answer stands. With the database error that it rests on, if there is one.
    Undo(Option<Error>),
    /// The database asks for the whole use case again.
    Again(Error),
}

/// A write whose types are erased, so that different use cases share a queue.
pub(crate) trait Job: Send {
    /// Runs the use case; may be called again after [`Verdict::Again`].
    fn run(&mut self, connection: &mut Connection, now: DateTime<Utc>) -> Verdict;
    /// Whether nobody waits any more, or has waited too long already.
    fn expired(&self) -> bool;
    /// Puts an error in the place of what the use case came to: its changes could not be recorded.
    fn fail(&mut self, error: Error);
    /// Hands the answer over. Call only after the commit, or after the rollback of a failed batch.
    fn answer(self: Box<Self>, failed: Option<Error>);
}

pub(crate) struct UseCase<F, T, E> {
    pub(crate) closure: F,
    pub(crate) mode: WriteMode,
    pub(crate) deadline: Instant,
    pub(crate) outcome: Option<Result<T, E>>,
    pub(crate) caller: oneshot::Sender<Result<T, E>>,
}

impl<F, T, E> Job for UseCase<F, T, E>
where
    F: Fn(&mut Tx<'_>) -> Result<T, E> + Send,
    T: Send,
    E: Failure,
{
    fn run(&mut self, connection: &mut Connection, now: DateTime<Utc>) -> Verdict {
        let began = Instant::now();
        let mut tx = Tx::new(connection, now);
        let outcome = catch_unwind(AssertUnwindSafe(|| (self.closure)(&mut tx)));
        let took = began.elapsed();
        if took > SLOW {
            tracing::warn!(milliseconds = took.as_millis(), "a use case held the writer for long");
        }
        match outcome {
            Err(_) => {
                tracing::error!("a use case panicked; its work is rolled back");
                self.outcome = Some(Err(Error::Panicked.into()));
                Verdict::Undo(None)
            }
            Ok(Err(failure)) => {
                if let Some(error @ Error::Again(_)) = failure.database() {
                    return Verdict::Again(error.clone());
                }
                let error = failure.database().cloned();
                self.outcome = Some(Err(failure));
                Verdict::Undo(error)
            }
            Ok(Ok(value)) => {
                self.outcome = Some(Ok(value));
                match self.mode {
                    WriteMode::Keep => Verdict::Keep(tx.into_changes()),
                    WriteMode::Rehearse => Verdict::Undo(None),
                }
            }
        }
    }

    fn expired(&self) -> bool {
        self.caller.is_closed() || Instant::now() > self.deadline
    }

    fn fail(&mut self, error: Error) {
        self.outcome = Some(Err(error.into()));
    }

    fn answer(self: Box<Self>, failed: Option<Error>) {
        let answer = match (failed, self.outcome) {
            (Some(error), _) => Err(error.into()),
            (None, Some(outcome)) => outcome,
            (None, None) => Err(Error::Busy("the request waited too long".to_owned()).into()),
        };
        // The caller may have gone; the work is stored all the same.
        let _ = self.caller.send(answer);
    }
}
