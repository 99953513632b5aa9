//! Form tools on the wire.

use super::{
    item::ItemView,
    schema::{CodeSchema, LengthSchema},
};
use chrono::{DateTime, Utc};
use dovetally_core::{code::Code, length::Length};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// What puts a form tool on record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"code": "FT-101", "design": "TD-11", "place": "BIN-A1"}))]
pub struct NewFormTool {
    /// Its code.
    #[schema(value_type = CodeSchema)]
    pub code: Code,
    /// Its name; the design's when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// The design it is made to.
    #[schema(value_type = CodeSchema)]
    pub design: Code,
    /// Its height; that of a new tool when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<LengthSchema>)]
    pub height: Option<Length>,
    /// For a circular tool whose design has a radius, instead of the height: the angle left to grind away.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 360)]
    pub usable_angle_deg: Option<f64>,
    /// How many pieces the edge in use has cut: 0 when freshly ground. Left out for a tool that is not as new, nobody knows,
    /// and nothing is learned from how long that edge lasts but that it lasted as long as it did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pieces_on_edge: Option<u32>,
    /// The customer who owns it; left out for the shop's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 100)]
    pub owner: Option<String>,
    /// The part it is kept for; needed for a customer's tool.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub reserved_for: Option<Code>,
    /// The place where it is put.
    #[schema(value_type = CodeSchema)]
    pub place: Code,
}

/// What may be written about a form tool. What its grinds, checks and runs make of it is not among it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Shoulder stud form, second"}))]
pub struct FormToolChange {
    /// Its code.
    #[schema(value_type = CodeSchema)]
    pub code: Code,
    /// Its name.
    pub name: String,
    /// The customer who owns it; null for the shop's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 100)]
    pub owner: Option<String>,
    /// The part it is kept for; needed for a customer's tool.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub reserved_for: Option<Code>,
}

/// A form tool.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = FormTool)]
pub struct FormToolView {
    /// What every item has.
    #[serde(flatten)]
    pub item: ItemView,
    /// The design it is made to.
    #[schema(value_type = CodeSchema)]
    pub design: Code,
    /// The height (flat) or arc (circular) left.
    #[schema(value_type = LengthSchema)]
    pub height: Length,
    /// Circular tools whose design has a radius: the angle left to grind away.
    pub usable_angle_deg: Option<f64>,
    /// Grinds so far.
    pub regrind_count: u32,
    /// Pieces cut on the edge in use.
    pub pieces_since_grind: i64,
    /// Pieces cut in all.
    pub pieces_total: i64,
    /// When it was last ground.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub last_ground_at: Option<DateTime<Utc>>,
    /// Whether it was checked after its last grind.
    pub checked_after_grind: bool,
    /// The customer who owns it; null for the shop's own.
    pub owner: Option<String>,
    /// The part it is kept for; null for any part.
    #[schema(value_type = Option<CodeSchema>)]
    pub reserved_for: Option<Code>,
}

/// What a list of form tools may be narrowed to.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct FormToolFilters {
    /// Only of this design.
    #[param(value_type = Option<String>)]
    pub design: Option<Code>,
}
