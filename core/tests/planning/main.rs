//! Planning against every answer there is: small random cases, tried out from the statement of the problem in
//! `dovetally_core::planning`, with nothing of how the program solves it.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod every_answer;
mod matching;
mod whole_plans;
