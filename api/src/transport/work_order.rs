//! Work orders on the wire.

use super::{
    maintenance_plan::MaintainedBody,
    schema::{CodeSchema, TouchedSchema, WorkOrderStateSchema},
    setup::PersonRef,
};
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    work_order::{Completion, Touched, WorkOrderState},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// What opens a work order: from a plan, or by hand. A breakdown may be reported by every person.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"subject": {"machine": "M-101"}, "what": "Bearing of spindle 3 runs hot", "breakdown": true}))]
pub struct NewWorkOrder {
    /// The plan it is opened from; then the plan says what it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub plan: Option<Code>,
    /// What it is about; needed without a plan.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub subject: Option<MaintainedBody>,
    /// What is to be done, or what is wrong; the plan's name when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub what: Option<String>,
    /// Whether something failed. It counts for the machine's reliability.
    #[serde(default)]
    pub breakdown: bool,
    /// From when the machine was down; for a breakdown of a machine from now, when left out.
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "super::time::optional_instant")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub down_from: Option<DateTime<Utc>>,
}

/// What starts a work order: nothing needs to be said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({}))]
pub struct StartWorkOrder {}

/// A supply that the work used.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartUsed {
    /// The supply.
    #[schema(value_type = CodeSchema, example = "SUP-GREASE")]
    pub supply: Code,
    /// How many.
    #[schema(minimum = 1, example = 1)]
    pub quantity: i64,
}

/// What ends a work order as done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"note": "Bearing of spindle 3 replaced, run-out 0.0002 in", "touched": "spindle_carrier"}))]
pub struct FinishWorkOrder {
    /// What was done.
    pub note: String,
    /// What the work touched. A slide or the spindle carrier makes the machine's gauges stale, and heights are read again.
    #[schema(value_type = TouchedSchema)]
    pub touched: Touched,
    /// The supplies that it used: they are withdrawn with it, as of when it was done. What a count of a later moment saw gone
    /// is not withdrawn once more.
    #[serde(default)]
    pub parts_used: Vec<PartUsed>,
    /// When it was done; now when left out.
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "super::time::optional_instant")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub done_at: Option<DateTime<Utc>>,
    /// Whether something had failed; as it was reported when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub breakdown: Option<bool>,
    /// From when the machine was down; as it was reported when left out.
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "super::time::optional_instant")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub down_from: Option<DateTime<Utc>>,
    /// Until when it was down; until the work was done when left out.
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "super::time::optional_instant")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub down_until: Option<DateTime<Utc>>,
}

impl FinishWorkOrder {
    /// The trade's fields, with the time of the work as it counts.
    #[must_use]
    pub fn completion(&self, done_at: DateTime<Utc>) -> Completion {
        use chrono::SubsecRound as _;
        // To the microsecond, as both databases keep it.
        let kept = |at: Option<DateTime<Utc>>| at.map(|at| at.trunc_subsecs(6));
        Completion {
            note: self.note.clone(),
            touched: self.touched,
            done_at,
            breakdown: self.breakdown,
            down_from: kept(self.down_from),
            down_until: kept(self.down_until),
        }
    }
}

/// What calls a work order off.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"note": "Reported twice", "touched": "nothing"}))]
pub struct CancelWorkOrder {
    /// Why.
    pub note: String,
    /// What the work touched until it was called off; needed where work on a machine was begun. A slide or the spindle
    /// carrier makes the machine's gauges stale, and heights are read again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<TouchedSchema>)]
    pub touched: Option<Touched>,
}

/// What a list of work orders may be narrowed to.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct WorkOrderFilters {
    /// On this machine.
    #[param(value_type = Option<String>)]
    pub machine: Option<Code>,
    /// On this item.
    #[param(value_type = Option<String>)]
    pub item: Option<Code>,
    /// From this plan.
    #[param(value_type = Option<String>)]
    pub plan: Option<Code>,
    /// Only those that have not ended, or only those that have.
    pub open: Option<bool>,
    /// Breakdowns only, or all others.
    pub breakdown: Option<bool>,
}

/// A work order, as lists show it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct WorkOrderSummary {
    /// Its id.
    pub id: Uuid,
    /// The plan it was opened from.
    #[schema(value_type = Option<CodeSchema>)]
    pub plan: Option<Code>,
    /// What it is about.
    pub subject: MaintainedBody,
    /// What is to be done, or what is wrong.
    #[schema(example = "Bearing of spindle 3 runs hot")]
    pub what: String,
    /// Whether something failed.
    pub breakdown: bool,
    /// From when the machine was down.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub down_from: Option<DateTime<Utc>>,
    /// Until when.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub down_until: Option<DateTime<Utc>>,
    /// Where it stands.
    #[schema(value_type = WorkOrderStateSchema)]
    pub state: WorkOrderState,
    /// Who opened it.
    pub opened_by: PersonRef,
    /// When.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub opened_at: DateTime<Utc>,
    /// Who began.
    pub started_by: Option<PersonRef>,
    /// When.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub started_at: Option<DateTime<Utc>>,
    /// Who did it, or called it off.
    pub ended_by: Option<PersonRef>,
    /// When.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub ended_at: Option<DateTime<Utc>>,
    /// When the work was done, as the person says.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub done_at: Option<DateTime<Utc>>,
    /// What was done, or why it was called off.
    pub note: Option<String>,
    /// What the work touched.
    #[schema(value_type = Option<TouchedSchema>)]
    pub touched: Option<Touched>,
}

/// A supply that was used for an order.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct PartWithdrawn {
    /// The supply.
    #[schema(value_type = CodeSchema, example = "SUP-GREASE")]
    pub supply: Code,
    /// How many.
    #[schema(example = 1)]
    pub quantity: i64,
    /// The number of the movement in the supply's ledger: the withdrawal, or the count that saw it gone.
    #[schema(example = 17)]
    pub movement: i64,
    /// Whether a count between the work and its write-up had seen it gone: then it was not withdrawn once more.
    pub seen_by_count: bool,
}

/// A tag-out in force on the order's machine.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct TagOutInForce {
    /// Its id.
    pub id: Uuid,
    /// Why the machine may not be used.
    pub reason: String,
    /// When it was placed.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub placed_at: DateTime<Utc>,
}

/// A work order.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = WorkOrder)]
pub struct WorkOrderView {
    /// The order itself.
    #[serde(flatten)]
    pub order: WorkOrderSummary,
    /// What its plan says to do.
    pub steps: Vec<String>,
    /// What its plan says to be careful about.
    pub cautions: Vec<String>,
    /// The supplies that were used for it.
    pub parts_used: Vec<PartWithdrawn>,
    /// The tag-outs in force on its machine.
    pub tag_outs: Vec<TagOutInForce>,
    /// What these records are not.
    #[schema(example = "A tag-out is a record, not a lock.")]
    pub caution: &'static str,
}

impl WorkOrderView {
    /// Nobody is safe by a record.
    pub const CAUTION: &'static str = "A tag-out is a record, not a lock, and no tag-out here does not mean that the machine \
        is safe: isolate it and lock it out by your local rules before a hand goes in. A done order clears no tag-out.";
}
