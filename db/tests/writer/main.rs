//! What becomes of writes when something goes wrong among them, on both databases.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod neighbours;
mod sessions;
mod shop;
mod storage;
mod tampering;
