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
    /// The place where it is put.
    #[schema(value_type = CodeSchema)]
    pub place: Code,
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
    /// The height left.
    #[schema(value_type = LengthSchema)]
    pub height: Length,
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
