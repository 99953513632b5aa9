//! Jobs on the wire. A job's number is its code.

use super::schema::{CodeSchema, JobStateSchema};
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    code::Code,
    ids::{MachineId, PartId},
    registry::job::{Job, JobFields, JobState},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// What is written about a job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "number": "J-5001", "part": "P-2001", "machine": "M-101", "quantity": 25000, "planned_start": "2027-01-11"
}))]
pub struct JobBody {
    /// Its number.
    #[schema(value_type = CodeSchema, example = "J-5001")]
    pub number: Code,
    /// The part's code.
    #[schema(value_type = CodeSchema, example = "P-2001")]
    pub part: Code,
    /// The machine's code.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub machine: Code,
    /// Pieces wanted.
    #[schema(minimum = 1, maximum = 1_000_000_000, example = 25000)]
    pub quantity: i64,
    /// The day on which it is to start.
    #[serde(deserialize_with = "super::time::day")]
    pub planned_start: NaiveDate,
    /// The day on which it is to end; when left out it is estimated from the part's cycle time, or one day is reckoned.
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "super::time::optional_day")]
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub planned_end: Option<NaiveDate>,
    /// Where it stands; planned when left out.
    #[serde(default = "planned")]
    #[schema(value_type = JobStateSchema)]
    pub state: JobState,
}

const fn planned() -> JobState {
    JobState::Planned
}

/// How far a job has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct JobProgress {
    /// Pieces made, as its runs were booked.
    #[schema(example = 12000)]
    pub made: i64,
    /// Pieces still to make.
    #[schema(example = 13000)]
    pub left: i64,
}

/// A job on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct JobView {
    /// Its id.
    #[schema(value_type = uuid::Uuid)]
    pub id: Uuid,
    /// Its number.
    #[schema(value_type = CodeSchema, example = "J-5001")]
    pub number: Code,
    /// The part's code.
    #[schema(value_type = CodeSchema, example = "P-2001")]
    pub part: Code,
    /// The machine's code.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub machine: Code,
    /// Pieces wanted.
    #[schema(minimum = 1, example = 25000)]
    pub quantity: i64,
    /// The day on which it is to start.
    pub planned_start: NaiveDate,
    /// The day on which it is to end, where it is planned.
    pub planned_end: Option<NaiveDate>,
    /// How far its runs have come.
    pub progress: JobProgress,
    /// Where it stands.
    #[schema(value_type = JobStateSchema)]
    pub state: JobState,
    /// When it was put on record.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub updated_at: DateTime<Utc>,
}

impl JobBody {
    /// The trade's fields, with the part and the machine that its codes name.
    #[must_use]
    pub fn fields(&self, part: PartId, machine: MachineId) -> JobFields {
        JobFields {
            part,
            part_code: self.part.clone(),
            machine,
            machine_code: self.machine.clone(),
            quantity: self.quantity,
            planned_start: self.planned_start,
            planned_end: self.planned_end,
            state: self.state,
        }
    }
}

impl From<&Job> for JobBody {
    fn from(job: &Job) -> Self {
        let fields = &job.fields;
        Self {
            number: job.code.clone(),
            part: fields.part_code.clone(),
            machine: fields.machine_code.clone(),
            quantity: fields.quantity,
            planned_start: fields.planned_start,
            planned_end: fields.planned_end,
            state: fields.state,
        }
    }
}

impl JobView {
    /// A job of which so many pieces are made.
    #[must_use]
    pub fn new(job: &Job, made: i64) -> Self {
        let fields = &job.fields;
        Self {
            id: job.id.uuid(),
            number: job.code.clone(),
            part: fields.part_code.clone(),
            machine: fields.machine_code.clone(),
            quantity: fields.quantity,
            planned_start: fields.planned_start,
            planned_end: fields.planned_end,
            progress: JobProgress { made, left: (fields.quantity - made).max(0) },
            state: fields.state,
            created_at: job.created_at,
            updated_at: job.updated_at,
        }
    }
}
