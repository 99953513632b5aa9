//! For race tests only: pause points inside transactions, and locks that can be left out to show that a test notices.
//!
//! In development builds alone, for a program that begins by [`allow`], and driven by the environment: `RACE_CONTROL_PAUSE`
//! holds `NAME=MILLISECONDS` pairs, `RACE_CONTROL_LEAVE_OUT` the names of locks, both separated by commas.

use std::{
    sync::{
        LazyLock,
        atomic::{AtomicBool, Ordering},
    },
    time::Duration,
};

static ALLOWED: AtomicBool = AtomicBool::new(false);

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

/// Makes this process heed the environment. `dovetally` itself never does.
pub fn allow() {
    ALLOWED.store(true, Ordering::Relaxed);
}

fn is_allowed() -> bool {
    ALLOWED.load(Ordering::Relaxed)
}

/// Holds the transaction at a named point.
pub(crate) fn pause(name: &str) {
    let found = || PAUSES.iter().find(|(at, _)| at == name);
    if let Some((_, milliseconds)) = is_allowed().then(found).flatten() {
        std::thread::sleep(Duration::from_millis(*milliseconds));
    }
}

/// Whether a lock is left out.
pub(crate) fn is_removed(name: &str) -> bool {
    is_allowed() && LEFT_OUT.iter().any(|left_out| left_out == name)
}
