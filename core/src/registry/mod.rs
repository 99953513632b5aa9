//! The registry: places, machines, tool designs, serialised items, parts and jobs.
//!
//! Each topic has what people write about a thing (`…Fields`, with `check`, which finds everything that cannot be) and
//! the thing on record with its id, code and version.

mod center_height;
pub mod item;
pub mod job;
pub mod machine;
pub mod part;
pub mod person;
pub mod place;
pub mod tool_design;

use crate::{code::Code, length::Length};
use chrono::{DateTime, Utc};

/// What every thing on record has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Record<I, F> {
    /// Its id.
    pub id: I,
    /// Its code.
    pub code: Code,
    /// What was written about it.
    pub fields: F,
    /// Raised with every change.
    pub version: i64,
    /// When it was put on record.
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    pub updated_at: DateTime<Utc>,
}

pub(crate) const fn is_positive(length: Length) -> bool {
    length.picometres() > 0
}

/// What a length above zero is asked for with.
pub(crate) const MUST_BE_POSITIVE: &str = "must be above zero";
