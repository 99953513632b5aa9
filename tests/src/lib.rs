//! Integration tests live in the test targets of this crate.
