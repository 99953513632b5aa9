//! The one source of time.

use chrono::{DateTime, SubsecRound, TimeDelta, Utc};
use std::sync::Mutex;

/// Tells the time, truncated to microseconds: what both databases can hold, so that a time read back equals the one
/// written.
pub trait Clock: Send + Sync + 'static {
    /// The present instant.
    fn now(&self) -> DateTime<Utc>;
}

/// The machine's clock.
#[derive(Clone, Copy, Debug, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> DateTime<Utc> {
        #[expect(clippy::disallowed_methods, reason = "this is the Clock")]
        Utc::now().trunc_subsecs(6)
    }
}

/// A clock that stands where it is set: for tests and for loading history.
#[derive(Debug)]
pub struct FixedClock(Mutex<DateTime<Utc>>);

impl FixedClock {
    /// A clock that stands at this instant.
    #[must_use]
    pub fn at(instant: DateTime<Utc>) -> Self {
        Self(Mutex::new(instant.trunc_subsecs(6)))
    }

    /// Sets the clock.
    pub fn set(&self, instant: DateTime<Utc>) {
        *self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner) = instant.trunc_subsecs(6);
    }

    /// Moves the clock forward.
    pub fn advance(&self, by: TimeDelta) {
        let mut instant = self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        *instant += by;
    }
}

impl Clock for FixedClock {
    fn now(&self) -> DateTime<Utc> {
        *self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }
}
