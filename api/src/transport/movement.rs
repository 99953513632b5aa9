//! Custody on the wire: hand-outs, returns, transfers, and the ledger's rows.

use super::{
    item::Where,
    schema::{CodeSchema, ConditionSchema, MovementKindSchema, PurposeSchema},
};
use crate::openapi::RefusalSchema;
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    code::Code,
    item::{Condition, Purpose},
    refusal::Refusal,
};
use dovetally_db::custody::MovementKind;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// Hands items out to a person: all or none.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"items": ["FT-001", "HD-01", "CG-101"], "person": "setter", "machine": "M-101", "job": "J-5001",
    "purpose": "use"}))]
pub struct CheckOut {
    /// The items' codes as scanned.
    pub items: Vec<String>,
    /// The badge of whoever takes them; oneself when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub person: Option<String>,
    /// The machine they are for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub machine: Option<Code>,
    /// The job they are for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub job: Option<Code>,
    /// The day by which they are due back.
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "super::time::optional_day")]
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub due: Option<NaiveDate>,
    /// What they are handed out for.
    #[schema(value_type = PurposeSchema)]
    pub purpose: Purpose,
    /// When it happened; now when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub occurred_at: Option<DateTime<Utc>>,
}

/// Takes items back from a person: all or none.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"items": [{"code": "FT-001", "place": "BIN-A1", "condition": "needs_grinding"}],
    "person": "setter"}))]
pub struct CheckIn {
    /// The items with where they go and how they are.
    pub items: Vec<CheckInItem>,
    /// The badge of whoever brings them; oneself when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub person: Option<String>,
    /// When it happened; now when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub occurred_at: Option<DateTime<Utc>>,
}

/// One item that comes back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CheckInItem {
    /// Its code as scanned.
    pub code: String,
    /// The place it goes to.
    #[schema(value_type = CodeSchema)]
    pub place: Code,
    /// How it is.
    #[schema(value_type = ConditionSchema)]
    pub condition: Condition,
}

/// Passes items on: all or none.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"items": ["FT-005"], "to": {"place": "OUT-GRIND"}}))]
pub struct Transfer {
    /// The items' codes as scanned.
    pub items: Vec<String>,
    /// To whom or where: one of the three.
    pub to: TransferTo,
    /// When it happened; now when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub occurred_at: Option<DateTime<Utc>>,
}

/// To whom or where items go: one of the three.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"place": "OUT-GRIND"}))]
pub struct TransferTo {
    /// A person, by badge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub person: Option<String>,
    /// A place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub place: Option<Code>,
    /// A machine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub machine: Option<Code>,
}

/// One row of the ledger.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Movement)]
pub struct MovementView {
    /// Its id.
    pub id: Uuid,
    /// The item.
    #[schema(value_type = CodeSchema)]
    pub item: Code,
    /// Its number among the item's movements, from 1 without a gap.
    pub item_sequence: i64,
    /// Why.
    #[schema(value_type = MovementKindSchema)]
    pub kind: MovementKind,
    /// From whom or where; null for the first.
    pub from: Option<Where>,
    /// To whom or where.
    pub to: Where,
    /// The item's condition after it.
    #[schema(value_type = ConditionSchema)]
    pub condition: Condition,
    /// What it was handed out for.
    #[schema(value_type = Option<PurposeSchema>)]
    pub purpose: Option<Purpose>,
    /// The day by which it is due back.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub due: Option<NaiveDate>,
    /// For which job.
    #[schema(value_type = Option<CodeSchema>)]
    pub job: Option<Code>,
    /// For which machine.
    #[schema(value_type = Option<CodeSchema>)]
    pub for_machine: Option<Code>,
    /// In which setup.
    pub setup: Option<Uuid>,
    /// The badge of whoever recorded it.
    pub recorded_by: String,
    /// When it happened, as the person says.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub occurred_at: DateTime<Utc>,
    /// The server's time.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub recorded_at: DateTime<Utc>,
}

/// The movements that a request made.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Moved {
    /// One an item, in the order of the request.
    pub movements: Vec<MovementView>,
    /// What to know of the items: those that are kept for other jobs meanwhile. It refuses nothing.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<RefusalSchema>, required = false)]
    pub notices: Vec<Refusal>,
}

/// What the ledger may be narrowed to.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct MovementFilters {
    /// Only of this item.
    #[param(value_type = Option<String>)]
    pub item: Option<Code>,
    /// Only from or to the person with this badge.
    pub person: Option<String>,
    /// Only from or to this place.
    #[param(value_type = Option<String>)]
    pub place: Option<Code>,
    /// Only from, to or handed out for this machine.
    #[param(value_type = Option<String>)]
    pub machine: Option<Code>,
    /// Recorded at or after this instant.
    #[serde(default, deserialize_with = "super::time::optional_instant")]
    #[param(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub since: Option<DateTime<Utc>>,
    /// Recorded before this instant.
    #[serde(default, deserialize_with = "super::time::optional_instant")]
    #[param(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub until: Option<DateTime<Utc>>,
}

/// What a walk along the records found.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Verification)]
pub struct VerificationView {
    /// Whether all is sound.
    pub sound: bool,
    /// Changes read.
    pub changes: i64,
    /// The hash at the end of the chain.
    pub chain_hash: String,
    /// What does not fit, in words.
    pub faults: Vec<String>,
}
