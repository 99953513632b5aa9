//! For race tests only: pause points inside transactions, and locks that can be left out to show that a test notices.
//!
//! In development builds alone, for a program that begins by [`allow`], and driven by the environment: `RACE_CONTROL_PAUSE`
//! names a file of `NAME=MILLISECONDS` pairs, read anew each time so that a test holds nothing before its race begins;
//! `RACE_CONTROL_LEAVE_OUT` has the names of locks. Both are separated by commas.

use std::{
    sync::{
        LazyLock,
        atomic::{AtomicBool, Ordering},
    },
    time::Duration,
};

static ALLOWED: AtomicBool = AtomicBool::new(false);

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
    if !is_allowed() {
        return;
    }
    let file = std::env::var_os("RACE_CONTROL_PAUSE").unwrap_or_default();
    let pairs = std::fs::read_to_string(file).unwrap_or_default();
    for (_, milliseconds) in pairs.split(',').filter_map(|pair| pair.split_once('=')).filter(|(at, _)| *at == name) {
        std::thread::sleep(Duration::from_millis(milliseconds.parse().unwrap_or_default()));
    }
}

/// Whether a lock is left out.
pub(crate) fn is_removed(name: &str) -> bool {
    is_allowed() && LEFT_OUT.iter().any(|left_out| left_out == name)
}
