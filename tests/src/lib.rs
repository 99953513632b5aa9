//! What the integration tests stand on: a database of its own for each test, a running server, a client.
//!
//! The tests themselves are the test targets beside `src`. `tests/run` starts the PostgreSQL that they use.
//! Nothing here skips: what is missing fails the test with a sentence that says what to do.

#![expect(clippy::panic, clippy::expect_used, reason = "a harness fails its test by panicking")]

pub mod client;
pub mod postgres;
pub mod program;
pub mod readme;
pub mod server;
