//! Tool designs on the wire.

use super::schema::{CodeSchema, DeviationsSchema, LengthSchema, ToolDesignKindSchema, ToolFaceSchema};
use crate::problem::Problem;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    length::Length,
    machine::ToolFace,
    registry::tool_design::{RAKE_TOLERANCE_DEG, Step, ToolDesign, ToolDesignFields, ToolDesignKind},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// One step of the profile.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Step, example = json!({
    "diameter": {"value": 0.375, "unit": "in"}, "z": {"value": 0, "unit": "in"},
    "tolerance": {"lower": {"value": -0.001, "unit": "in"}, "upper": {"value": 0.001, "unit": "in"}}
}))]
pub struct StepSchema {
    /// The work diameter that this step cuts, above zero.
    diameter: LengthSchema,
    /// Where along the spindle axis, away from the collet, from the profile's own zero.
    z: LengthSchema,
    /// Signed deviations of the diameter.
    tolerance: DeviationsSchema,
}

/// What is written about a tool design.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "code": "TD-11", "name": "Shoulder stud form", "kind": "flat", "tool_face": "up",
    "steps": [
        {"diameter": {"value": 0.375, "unit": "in"}, "z": {"value": 0, "unit": "in"},
            "tolerance": {"lower": {"value": -0.001, "unit": "in"}, "upper": {"value": 0.001, "unit": "in"}}},
        {"diameter": {"value": 0.5, "unit": "in"}, "z": {"value": 0.25, "unit": "in"},
            "tolerance": {"lower": {"value": -0.002, "unit": "in"}, "upper": {"value": 0, "unit": "in"}}}
    ],
    "rake_deg": 0.0, "clearance_deg": 12.0, "new_height": {"value": 1.25, "unit": "in"},
    "minimum_height": {"value": 0.625, "unit": "in"}, "grind_stock": {"value": 0.01, "unit": "in"},
    "holder_style": "DT-A", "expected_pieces_per_grind": 40000
}))]
pub struct ToolDesignBody {
    /// Its code.
    #[schema(value_type = CodeSchema, example = "TD-11")]
    pub code: Code,
    /// Its name.
    #[schema(example = "Shoulder stud form")]
    pub name: String,
    /// How the tool is made.
    #[schema(value_type = ToolDesignKindSchema)]
    pub kind: ToolDesignKind,
    /// Which way its cutting face looks when mounted; left out where it serves both.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<ToolFaceSchema>)]
    pub tool_face: Option<ToolFace>,
    /// The profile, at least one step.
    #[schema(value_type = Vec<StepSchema>)]
    pub steps: Vec<Step>,
    /// Rake in degrees, above zero when the cutting face falls away from the edge.
    #[schema(exclusive_minimum = -45, exclusive_maximum = 45, example = 0.0)]
    pub rake_deg: f64,
    /// Front clearance in degrees.
    #[schema(minimum = 0, exclusive_maximum = 45, example = 12.0)]
    pub clearance_deg: f64,
    /// How far the rake may lie from the design's after a grind, either way; half a degree when left out. A circular tool's
    /// face offset may lie as far off as this turns it.
    #[serde(default = "rake_tolerance")]
    #[schema(exclusive_minimum = 0, maximum = 5, default = 0.5)]
    pub rake_tolerance_deg: f64,
    /// Height (flat) or arc (circular) of a new tool, above zero. Left out where `usable_angle_deg` is given: it follows then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<LengthSchema>)]
    pub new_height: Option<Length>,
    /// The height (flat) or arc (circular) below which a tool is not used, above zero and not above that of a new tool.
    #[schema(value_type = LengthSchema)]
    pub minimum_height: Length,
    /// What one usual grind takes off the height, above zero.
    #[schema(value_type = LengthSchema)]
    pub grind_stock: Length,
    /// The style of holder that carries it.
    #[schema(example = "DT-A")]
    pub holder_style: String,
    /// Pieces that are expected from one edge until records say better.
    #[schema(minimum = 1, example = 40000)]
    pub expected_pieces_per_grind: i64,
    /// Circular: the tool's largest radius, along which its arc is measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<LengthSchema>)]
    pub tool_radius: Option<Length>,
    /// Circular: the angle that can be ground away from a new tool; needs `tool_radius`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(exclusive_minimum = 0, maximum = 360)]
    pub usable_angle_deg: Option<f64>,
    /// Days from ordering a tool to having it; without it no day to order by can be advised.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(maximum = 3650)]
    pub lead_time_days: Option<u32>,
    /// Whether it is out of use.
    #[serde(default)]
    pub retired: bool,
}

const fn rake_tolerance() -> f64 {
    RAKE_TOLERANCE_DEG
}

/// A tool design on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ToolDesignView {
    /// Its id.
    #[schema(value_type = uuid::Uuid)]
    pub id: Uuid,
    /// Its code.
    #[schema(value_type = CodeSchema, example = "TD-11")]
    pub code: Code,
    /// Its name.
    #[schema(example = "Shoulder stud form")]
    pub name: String,
    /// How the tool is made.
    #[schema(value_type = ToolDesignKindSchema)]
    pub kind: ToolDesignKind,
    /// Which way its cutting face looks when mounted; absent where it serves both.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<ToolFaceSchema>)]
    pub tool_face: Option<ToolFace>,
    /// The profile.
    #[schema(value_type = Vec<StepSchema>)]
    pub steps: Vec<Step>,
    /// Rake in degrees, above zero when the cutting face falls away from the edge.
    #[schema(example = 0.0)]
    pub rake_deg: f64,
    /// Front clearance in degrees.
    #[schema(example = 12.0)]
    pub clearance_deg: f64,
    /// How far the rake may lie from the design's after a grind, either way.
    #[schema(example = 0.5)]
    pub rake_tolerance_deg: f64,
    /// Height (flat) or usable arc (circular) of a new tool.
    #[schema(value_type = LengthSchema)]
    pub new_height: Length,
    /// The height below which a tool is not used.
    #[schema(value_type = LengthSchema)]
    pub minimum_height: Length,
    /// What one usual grind takes off the height.
    #[schema(value_type = LengthSchema)]
    pub grind_stock: Length,
    /// The style of holder that carries it.
    #[schema(example = "DT-A")]
    pub holder_style: String,
    /// Pieces that are expected from one edge until records say better.
    #[schema(minimum = 1, example = 40000)]
    pub expected_pieces_per_grind: i64,
    /// Circular: the tool's largest radius, along which its arc is measured.
    #[schema(value_type = Option<LengthSchema>)]
    pub tool_radius: Option<Length>,
    /// Circular: the angle that can be ground away from a new tool.
    pub usable_angle_deg: Option<f64>,
    /// Days from ordering a tool to having it.
    pub lead_time_days: Option<u32>,
    /// Whether it is out of use.
    pub retired: bool,
    /// When it was put on record.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub updated_at: DateTime<Utc>,
}

impl ToolDesignBody {
    /// The trade's fields. The height of a new circular tool follows from its usable angle where that is given.
    ///
    /// # Errors
    /// 422 where neither or both are given, or an angle that gives no arc.
    pub fn fields(&self) -> Result<ToolDesignFields, Problem> {
        let fields = ToolDesignFields {
            name: self.name.clone(),
            kind: self.kind,
            tool_face: self.tool_face,
            steps: self.steps.clone(),
            rake_deg: self.rake_deg,
            clearance_deg: self.clearance_deg,
            rake_tolerance_deg: self.rake_tolerance_deg,
            new_height: self.new_height.unwrap_or(self.minimum_height),
            minimum_height: self.minimum_height,
            grind_stock: self.grind_stock,
            holder_style: self.holder_style.clone(),
            expected_pieces_per_grind: self.expected_pieces_per_grind,
            tool_radius: self.tool_radius,
            usable_angle_deg: self.usable_angle_deg,
            lead_time_days: self.lead_time_days,
            retired: self.retired,
        };
        match (self.new_height, self.usable_angle_deg) {
            (Some(_), None) => Ok(fields),
            (None, None) => Err(Problem::field("/new_height", "is needed, or for a circular tool usable_angle_deg")),
            (Some(_), Some(_)) => {
                Err(Problem::field("/new_height", "follows from tool_radius and usable_angle_deg; leave it out"))
            }
            (None, Some(angle)) => {
                let arc = fields.arc_with_usable_angle(angle);
                let new_height = arc.map_err(|why| Problem::field("/usable_angle_deg", why))?;
                Ok(ToolDesignFields { new_height, ..fields })
            }
        }
    }
}

impl From<&ToolDesign> for ToolDesignBody {
    fn from(design: &ToolDesign) -> Self {
        let fields = &design.fields;
        Self {
            code: design.code.clone(),
            name: fields.name.clone(),
            kind: fields.kind,
            tool_face: fields.tool_face,
            steps: fields.steps.clone(),
            rake_deg: fields.rake_deg,
            clearance_deg: fields.clearance_deg,
            rake_tolerance_deg: fields.rake_tolerance_deg,
            new_height: Some(fields.new_height).filter(|_| fields.usable_angle_deg.is_none()),
            minimum_height: fields.minimum_height,
            grind_stock: fields.grind_stock,
            holder_style: fields.holder_style.clone(),
            expected_pieces_per_grind: fields.expected_pieces_per_grind,
            tool_radius: fields.tool_radius,
            usable_angle_deg: fields.usable_angle_deg,
            lead_time_days: fields.lead_time_days,
            retired: fields.retired,
        }
    }
}

impl From<&ToolDesign> for ToolDesignView {
    fn from(design: &ToolDesign) -> Self {
        let fields = &design.fields;
        Self {
            id: design.id.uuid(),
            code: design.code.clone(),
            name: fields.name.clone(),
            kind: fields.kind,
            tool_face: fields.tool_face,
            steps: fields.steps.clone(),
            rake_deg: fields.rake_deg,
            clearance_deg: fields.clearance_deg,
            rake_tolerance_deg: fields.rake_tolerance_deg,
            new_height: fields.new_height,
            minimum_height: fields.minimum_height,
            grind_stock: fields.grind_stock,
            holder_style: fields.holder_style.clone(),
            expected_pieces_per_grind: fields.expected_pieces_per_grind,
            tool_radius: fields.tool_radius,
            usable_angle_deg: fields.usable_angle_deg,
            lead_time_days: fields.lead_time_days,
            retired: fields.retired,
            created_at: design.created_at,
            updated_at: design.updated_at,
        }
    }
}
