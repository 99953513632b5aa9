//! A refusal as it is told: the rule, in words for the person who asked, and the thing in hand that it concerns.

use super::Rule;
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

/// One refusal or blocker.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refusal {
    /// Which rule.
    pub rule: Rule,
    /// One sentence for the person who asked.
    pub sentence: String,
    /// What the rule saw, as short text.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub saw: Option<String>,
    /// What clears it.
    pub clears: String,
    /// What it concerns.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub subject: Option<Subject>,
}

impl Refusal {
    /// A refusal with the rule's own words for what clears it.
    #[must_use]
    pub fn new(rule: Rule, sentence: impl Into<String>) -> Self {
        Self { rule, sentence: sentence.into(), saw: None, clears: rule.clears().to_owned(), subject: None }
    }

    /// Adds what the rule saw.
    #[must_use]
    pub fn saw(mut self, saw: impl Into<String>) -> Self {
        self.saw = Some(saw.into());
        self
    }

    /// Replaces the rule's general words for what clears it.
    #[must_use]
    pub fn clears(mut self, clears: impl Into<String>) -> Self {
        self.clears = clears.into();
        self
    }

    /// Adds what it concerns.
    #[must_use]
    pub fn about(mut self, subject: Subject) -> Self {
        self.subject = Some(subject);
        self
    }
}
