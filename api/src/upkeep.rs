//! What is done now and then while the server runs: forgetting what is kept for a time only.

use chrono::TimeDelta;
use dovetally_db::{Database, Error, WriteMode, idempotency, sessions};
use std::time::Duration;

/// For how long an idempotency key's answer is kept.
const KEYS_KEPT: TimeDelta = TimeDelta::days(7);
/// For how long a session's row is kept after its end, to know a late use of its tokens.
const SESSIONS_KEPT: TimeDelta = TimeDelta::days(30);

/// Runs until the server stops.
pub async fn run(database: Database) {
    let mut hourly = tokio::time::interval(Duration::from_secs(3600));
    loop {
        hourly.tick().await;
        let outcome = database
            .write(WriteMode::Keep, |tx| {
                let now = tx.now();
                let keys = idempotency::forget_before(tx.connection(), now - KEYS_KEPT)?;
                let sessions = sessions::forget_before(tx.connection(), now - SESSIONS_KEPT)?;
                Ok::<_, Error>((keys, sessions))
            })
            .await;
        match outcome {
            Ok((keys, sessions)) => tracing::debug!(keys, sessions, "forgot what is kept for a time only"),
            Err(error) => tracing::warn!(%error, "could not forget old idempotency keys and sessions"),
        }
    }
}
