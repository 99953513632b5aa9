//! Jobs: so many of a part, on a machine, from a day on.

use super::Record;
use crate::{
    code::Code,
    field_error::{FieldError, FieldErrors},
    ids::{JobId, MachineId, PartId},
    names::named,
};
use chrono::NaiveDate;

named! {
    /// Where a job stands.
    JobState {
        /// Booked.
        Planned = "planned",
        /// All pieces made.
        Done = "done",
        /// Called off.
        Cancelled = "cancelled",
    }
}

/// What is written about a job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JobFields {
    /// The part.
    pub part: PartId,
    /// The part's code.
    pub part_code: Code,
    /// The machine.
    pub machine: MachineId,
    /// The machine's code.
    pub machine_code: Code,
    /// Pieces wanted.
    pub quantity: i64,
    /// The day on which it is to start.
    pub planned_start: NaiveDate,
    /// Where it stands.
    pub state: JobState,
}

/// A job on record; its number is its code.
pub type Job = Record<JobId, JobFields>;

impl JobFields {
    /// Everything that cannot be.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require((1..=1_000_000_000).contains(&self.quantity), "/quantity", "must be 1 to 1000000000");
        errors.into_vec()
    }
}
