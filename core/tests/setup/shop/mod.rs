//! One invented shop for the tests: a machine with three stations, its people, its items, and a bench that records.
#![allow(dead_code, unused_imports, reason = "each test binary uses its own part of the shop")]

mod bench;
mod records;
mod steps;

pub(crate) use bench::*;
pub(crate) use records::*;
pub(crate) use steps::*;
