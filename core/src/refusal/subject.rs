//! What a refusal concerns.

use crate::code::Code;
use serde::{Deserialize, Serialize};

/// What a refusal concerns.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Subject {
    /// `machine`, `form_tool`, `holder`, `center_gauge`, `item`, `station`, `setup`, `person`,
    /// `maintenance_plan`, `work_order`, `supply`.
    pub kind: SubjectKind,
    /// Its code; a station's is that of the station within its machine.
    pub code: String,
}

/// The kinds of things a refusal can concern.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SubjectKind {
    /// A machine.
    Machine,
    /// A form tool.
    FormTool,
    /// A holder.
    Holder,
    /// A centre gauge.
    CenterGauge,
    /// Any serialised item.
    Item,
    /// A station of the machine in question.
    Station,
    /// A setup.
    Setup,
    /// A person.
    Person,
    /// A job.
    Job,
    /// A maintenance plan.
    MaintenancePlan,
    /// A work order; its code is its id.
    WorkOrder,
    /// A supply.
    Supply,
}

impl Subject {
    /// Names what a refusal concerns.
    #[must_use]
    pub fn new(kind: SubjectKind, code: impl Into<String>) -> Self {
        Self { kind, code: code.into() }
    }

    /// A coded thing.
    #[must_use]
    pub fn coded(kind: SubjectKind, code: &Code) -> Self {
        Self::new(kind, code.as_str())
    }
}
