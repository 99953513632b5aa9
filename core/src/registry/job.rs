//! Jobs: so many of a part, on a machine, from a day on.

use super::Record;
use crate::{
    code::Code,
    field_error::{FieldError, FieldErrors},
    ids::{JobId, MachineId, PartId},
    names::named,
    planning::window::LONGEST_RUN_DAYS,
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
    /// The day on which it is to end; none where it follows from the part's cycle time.
    pub planned_end: Option<NaiveDate>,
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
        if let Some(end) = self.planned_end {
            errors.require(end >= self.planned_start, "/planned_end", "must not lie before planned_start");
            let days = (end - self.planned_start).num_days();
            errors.require(
                days < LONGEST_RUN_DAYS.cast_signed(),
                "/planned_end",
                format!("a job lasts at most {LONGEST_RUN_DAYS} days"),
            );
        }
        errors.into_vec()
    }
}
