//! Tool designs: the form that form tools of one kind share.

use super::{MUST_BE_POSITIVE, Record, is_positive};
use crate::{
    field_error::{FieldError, FieldErrors},
    ids::ToolDesignId,
    length::{Deviations, Length},
    machine::ToolFace,
    names::named,
};
use serde::{Deserialize, Serialize};

named! {
    /// How the tool is made.
    ToolDesignKind {
        /// A flat (dovetail) form tool, ground on its top face.
        Flat = "flat",
        /// A circular form tool, ground on its gashed face.
        Circular = "circular",
    }
}

/// One step of the profile.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// The work diameter that this step cuts.
    pub diameter: Length,
    /// Where along the spindle axis, away from the collet, from the profile's own zero.
    pub z: Length,
    /// Signed deviations of the diameter.
    pub tolerance: Deviations,
}

/// What people write about a tool design.
#[derive(Clone, Debug, PartialEq)]
pub struct ToolDesignFields {
    /// Its name.
    pub name: String,
    /// How the tool is made.
    pub kind: ToolDesignKind,
    /// Which way its cutting face looks when mounted; none where it serves both.
    pub tool_face: Option<ToolFace>,
    /// The profile.
    pub steps: Vec<Step>,
    /// Rake in degrees, above zero when the cutting face falls away from the edge.
    pub rake_deg: f64,
    /// Front clearance in degrees, zero or more.
    pub clearance_deg: f64,
    /// Height (flat) or usable arc (circular) of a new tool.
    pub new_height: Length,
    /// The height below which a tool is not used.
    pub minimum_height: Length,
    /// What one usual grind takes off the height.
    pub grind_stock: Length,
    /// The style of holder that carries it.
    pub holder_style: String,
    /// Pieces that are expected from one edge until records say better.
    pub expected_pieces_per_grind: i64,
    /// Whether it is out of use.
    pub retired: bool,
}

/// A tool design on record.
pub type ToolDesign = Record<ToolDesignId, ToolDesignFields>;

impl ToolDesignFields {
    /// Everything that cannot be.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require_text(&self.name, 200, "/name");
        errors.require_text(&self.holder_style, 64, "/holder_style");
        errors.require(!self.steps.is_empty(), "/steps", "a form has at least one step");
        for (index, step) in self.steps.iter().enumerate() {
            errors.require(is_positive(step.diameter), format!("/steps/{index}/diameter/value"), MUST_BE_POSITIVE);
        }
        errors.require(
            self.rake_deg.is_finite() && self.rake_deg.abs() < 45.0,
            "/rake_deg",
            "must lie between -45 and 45 degrees",
        );
        errors.require(
            self.clearance_deg.is_finite() && (0.0..45.0).contains(&self.clearance_deg),
            "/clearance_deg",
            "must be at least 0 and below 45 degrees",
        );
        errors.require(is_positive(self.new_height), "/new_height/value", MUST_BE_POSITIVE);
        errors.require(is_positive(self.minimum_height), "/minimum_height/value", MUST_BE_POSITIVE);
        errors.require(
            self.minimum_height <= self.new_height,
            "/minimum_height/value",
            "must not be above the height of a new tool",
        );
        errors.require(is_positive(self.grind_stock), "/grind_stock/value", MUST_BE_POSITIVE);
        errors.require(self.expected_pieces_per_grind > 0, "/expected_pieces_per_grind", MUST_BE_POSITIVE);
        errors.into_vec()
    }
}
