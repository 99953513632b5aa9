//! The traveller that a form tool takes along to the grinder, on the wire.

use super::{
    item::Where,
    schema::{CodeSchema, ConditionSchema, LengthSchema, ToolDesignKindSchema},
};
use chrono::{DateTime, Utc};
use dovetally_core::{code::Code, item::Condition, length::Length, registry::tool_design::ToolDesignKind};
use serde::Serialize;
use utoipa::ToSchema;

/// The target of one usual grind.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct GrindTarget {
    /// The height (flat) or arc (circular) to grind to; null when nothing would be left.
    #[schema(value_type = Option<LengthSchema>)]
    pub height: Option<Length>,
    /// What the grind takes along the relief face.
    #[schema(value_type = LengthSchema)]
    pub height_loss: Length,
    /// The same as stock, normal to the cutting face.
    #[schema(value_type = LengthSchema)]
    pub stock: Length,
    /// Circular tools whose design has a radius: the angle left afterwards.
    pub usable_angle_deg: Option<f64>,
    /// Whole grinds left afterwards.
    pub regrinds_left: u64,
    /// Whether the tool would be below its design's minimum then, and retire.
    pub retires: bool,
}

/// What a form tool takes along to the grinder.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Traveller)]
pub struct TravellerView {
    /// The tool.
    #[schema(value_type = CodeSchema)]
    pub tool: Code,
    /// Its name.
    pub name: String,
    /// Its design.
    #[schema(value_type = CodeSchema)]
    pub design: Code,
    /// How it is made.
    #[schema(value_type = ToolDesignKindSchema)]
    pub kind: ToolDesignKind,
    /// The last judgement of it.
    #[schema(value_type = ConditionSchema)]
    pub condition: Condition,
    /// Where it is.
    #[serde(rename = "where")]
    pub whereabouts: Where,
    /// The height (flat) or arc (circular) now.
    #[schema(value_type = LengthSchema)]
    pub height: Length,
    /// The height below which it is not used.
    #[schema(value_type = LengthSchema)]
    pub minimum_height: Length,
    /// Circular tools whose design has a radius: the angle left now.
    pub usable_angle_deg: Option<f64>,
    /// Grinds so far.
    pub regrind_count: u32,
    /// Pieces on the edge.
    pub pieces_on_edge: i64,
    /// What to grind it to.
    pub target: GrindTarget,
    /// The design's rake.
    pub rake_deg: f64,
    /// How far the rake may lie from it, either way.
    pub rake_tolerance_deg: f64,
    /// The design's clearance.
    pub clearance_deg: f64,
    /// Circular tools whose design has a radius: the face's distance from the tool's centre.
    #[schema(value_type = Option<LengthSchema>)]
    pub face_offset: Option<Length>,
    /// The customer who owns it; null for the shop's own.
    pub owner: Option<String>,
    /// The part it is kept for.
    #[schema(value_type = Option<CodeSchema>)]
    pub reserved_for: Option<Code>,
    /// The owner's consent to grind: `not_needed`, `given` or `missing`.
    #[schema(example = "not_needed")]
    pub consent: &'static str,
    /// What to check, in the order of the work.
    pub checks: Vec<String>,
    /// What to be careful of.
    pub cautions: Vec<String>,
    /// When this was written; the records may have changed since.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub written_at: DateTime<Utc>,
}
