//! The life of form tools: grinds, checks, edges that ended, whose a tool is, and what is booked on a design's tools.

pub mod booking;
pub mod checks;
pub mod edges;
pub mod ownership;
pub mod regrinds;
pub mod supply;

use dovetally_core::length::Length;

/// A length's two columns, where there may be none.
fn split(length: Option<Length>) -> (Option<i64>, Option<String>) {
    (length.map(Length::picometres), length.map(|length| length.unit().sign().to_owned()))
}
