//! For race tests only: pause points inside transactions, and locks that can be left out to show that a test notices.
//!
//! Built with the feature `race-control`, driven by the environment: `RACE_CONTROL_PAUSE` holds `NAME=MILLISECONDS` pairs,
//! `RACE_CONTROL_LEAVE_OUT` the names of locks, both separated by commas.

use crate::{connection::Connection, error::Result};
use std::{sync::LazyLock, time::Duration};

static PAUSES: LazyLock<Vec<(String, u64)>> = LazyLock::new(|| {
    let text = std::env::var("RACE_CONTROL_PAUSE").unwrap_or_default();
    text.split(',')
        .filter_map(|pair| pair.split_once('='))
        .filter_map(|(name, time)| Some((name.to_owned(), time.parse().ok()?)))
        .collect()
});

static LEFT_OUT: LazyLock<Vec<String>> = LazyLock::new(|| {
    let text = std::env::var("RACE_CONTROL_LEAVE_OUT").unwrap_or_default();
    text.split(',').filter(|name| !name.is_empty()).map(str::to_owned).collect()
});

/// Holds the transaction at a named point.
pub(crate) fn pause(_connection: &mut Connection, name: &str) -> Result<()> {
    if let Some((_, milliseconds)) = PAUSES.iter().find(|(at, _)| at == name) {
        std::thread::sleep(Duration::from_millis(*milliseconds));
    }
    Ok(())
}

/// Whether a lock is left out.
pub(crate) fn is_removed(name: &str) -> bool {
    LEFT_OUT.iter().any(|left_out| left_out == name)
}
