//! Supplies and their ledger on the wire.

use super::{
    schema::{CodeSchema, SupplyMovementKindSchema},
    setup::PersonRef,
};
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    supply::{Supply, SupplyMovementKind},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// What is written about a supply.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"code": "SUP-COLLET-PAD", "name": "Collet pads, 3/4 round", "unit": "set", "minimum": 4,
    "reorder_quantity": 10, "lead_time_days": 21, "place": "SHELF-1"}))]
pub struct SupplyBody {
    /// Its code.
    #[schema(value_type = CodeSchema)]
    pub code: Code,
    /// Its name.
    pub name: String,
    /// What one of it is: piece, pair, litre.
    pub unit: String,
    /// Fewer than this on hand are too few.
    #[schema(minimum = 0)]
    pub minimum: i64,
    /// How many are ordered at once.
    #[schema(minimum = 1)]
    pub reorder_quantity: i64,
    /// Days from order to delivery.
    #[schema(minimum = 1, maximum = 3650)]
    pub lead_time_days: i64,
    /// Where it is kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub place: Option<Code>,
    /// Whether it is out of use.
    #[serde(default)]
    pub retired: bool,
}

/// What a list of supplies may be narrowed to.
#[derive(Clone, Copy, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct SupplyFilters {
    /// Only those of which fewer are on hand than the minimum.
    #[serde(default)]
    #[param(required = false)]
    pub below_minimum: bool,
}

/// A supply on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Supply)]
pub struct SupplyView {
    /// Its id.
    pub id: Uuid,
    /// Its code.
    #[schema(value_type = CodeSchema, example = "SUP-COLLET-PAD")]
    pub code: Code,
    /// Its name.
    #[schema(example = "Collet pads, 3/4 round")]
    pub name: String,
    /// What one of it is.
    #[schema(example = "set")]
    pub unit: String,
    /// Fewer than this on hand are too few.
    #[schema(example = 4)]
    pub minimum: i64,
    /// How many are ordered at once.
    #[schema(example = 10)]
    pub reorder_quantity: i64,
    /// Days from order to delivery.
    #[schema(example = 21)]
    pub lead_time_days: i64,
    /// Where it is kept.
    #[schema(value_type = Option<CodeSchema>)]
    pub place: Option<Code>,
    /// What is on hand by the ledger.
    #[schema(example = 6)]
    pub on_hand: i64,
    /// Whether that is below the minimum.
    pub below_minimum: bool,
    /// Movements so far: the number of the last one.
    #[schema(example = 17)]
    pub movements: i64,
    /// Whether it is out of use.
    pub retired: bool,
    /// When it was put on record.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub created_at: DateTime<Utc>,
    /// When its record was last changed.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub updated_at: DateTime<Utc>,
}

impl From<&Supply> for SupplyBody {
    fn from(supply: &Supply) -> Self {
        let fields = &supply.record.fields;
        Self {
            code: supply.record.code.clone(),
            name: fields.name.clone(),
            unit: fields.unit.clone(),
            minimum: fields.minimum,
            reorder_quantity: fields.reorder_quantity,
            lead_time_days: fields.lead_time_days,
            place: fields.place.as_ref().map(|(_, code)| code.clone()),
            retired: fields.retired,
        }
    }
}

impl From<&Supply> for SupplyView {
    fn from(supply: &Supply) -> Self {
        let (record, fields) = (&supply.record, &supply.record.fields);
        Self {
            id: record.id.uuid(),
            code: record.code.clone(),
            name: fields.name.clone(),
            unit: fields.unit.clone(),
            minimum: fields.minimum,
            reorder_quantity: fields.reorder_quantity,
            lead_time_days: fields.lead_time_days,
            place: fields.place.as_ref().map(|(_, code)| code.clone()),
            on_hand: supply.on_hand,
            below_minimum: supply.is_below_minimum(),
            movements: supply.movements,
            retired: fields.retired,
            created_at: record.created_at,
            updated_at: record.updated_at,
        }
    }
}

/// Takes some of a supply for use.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"quantity": 1, "machine": "M-101"}))]
pub struct NewWithdrawal {
    /// How many.
    #[schema(minimum = 1)]
    pub quantity: i64,
    /// The work order they are for; it has not ended.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub work_order: Option<Uuid>,
    /// The machine they are for; the order's when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub machine: Option<Code>,
    /// What is to be said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Takes a delivery in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"quantity": 10, "note": "Delivery of Monday"}))]
pub struct NewReceipt {
    /// How many.
    #[schema(minimum = 1)]
    pub quantity: i64,
    /// What is to be said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Says what was found on the shelf at a moment. What was withdrawn or received after that moment stays.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"counted": 7}))]
pub struct NewCount {
    /// How many were there.
    #[schema(minimum = 0)]
    pub counted: i64,
    /// At which moment: when the counting was begun, if others may have taken some meanwhile. Now when left out.
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "super::time::optional_instant")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub counted_at: Option<DateTime<Utc>>,
    /// What is to be said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// One row of a supply's ledger.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = SupplyMovement)]
pub struct SupplyMovementView {
    /// Its id.
    pub id: Uuid,
    /// The supply.
    #[schema(value_type = CodeSchema, example = "SUP-COLLET-PAD")]
    pub supply: Code,
    /// Its number among the supply's movements, from 1 without a gap.
    #[schema(example = 17)]
    pub number: i64,
    /// Why.
    #[schema(value_type = SupplyMovementKindSchema, example = "withdrawn")]
    pub kind: SupplyMovementKind,
    /// By how much; below zero for what went out.
    #[schema(example = -1)]
    pub change: i64,
    /// What is on hand after it.
    #[schema(example = 6)]
    pub on_hand: i64,
    /// What a count found.
    pub counted: Option<i64>,
    /// The work order it was used for.
    pub work_order: Option<Uuid>,
    /// The machine it was used for.
    #[schema(value_type = Option<CodeSchema>)]
    pub machine: Option<Code>,
    /// What is said of it.
    pub note: Option<String>,
    /// Who recorded it.
    pub recorded_by: PersonRef,
    /// For a count the moment it refers to, else when it was recorded.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub occurred_at: DateTime<Utc>,
    /// The server's time.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub recorded_at: DateTime<Utc>,
}

/// How sure a lead time is to pass without running out.
#[derive(Clone, Copy, Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ReorderQuery {
    /// The probability that a lead time passes without running out.
    #[serde(default = "usual")]
    #[param(required = false, minimum = 0.5, maximum = 0.9999, default = 0.95)]
    pub service: f64,
}

const fn usual() -> f64 {
    0.95
}

impl Default for ReorderQuery {
    fn default() -> Self {
        Self { service: usual() }
    }
}

/// When to order a supply, and how many.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = ReorderAdvice)]
pub struct ReorderView {
    /// The supply.
    #[schema(value_type = CodeSchema, example = "SUP-COLLET-PAD")]
    pub supply: Code,
    /// What is on hand.
    #[schema(example = 3)]
    pub on_hand: i64,
    /// Fewer than this are too few.
    #[schema(example = 4)]
    pub minimum: i64,
    /// Whether fewer are on hand.
    pub below_minimum: bool,
    /// The probability that a lead time passes without running out, as asked.
    #[schema(example = 0.95)]
    pub service: f64,
    /// Whether to order now.
    pub order_now: bool,
    /// How many to order now.
    #[schema(example = 10)]
    pub order_quantity: i64,
    /// Order when so few are left; none while the history is too short.
    #[schema(example = 4.0)]
    pub reorder_point: Option<f64>,
    /// The probability that a lead time's withdrawals exceed the reorder point.
    #[schema(example = 0.044)]
    pub stock_out_probability: Option<f64>,
    /// What is expected to be withdrawn in a week; none while the history is too short.
    #[schema(example = 0.95)]
    pub expected_per_week: Option<f64>,
    /// What was withdrawn in each whole week up to now, the oldest first.
    pub weeks: Vec<i64>,
    /// The advice in words.
    pub sentence: String,
    /// What it rests on.
    pub assumed: Vec<String>,
    /// Why there is no reorder point.
    pub history_too_short: Option<String>,
}
