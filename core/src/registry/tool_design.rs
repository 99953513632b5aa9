//! Tool designs: the form that form tools of one kind share.

use super::{MUST_BE_POSITIVE, Record, is_positive};
use crate::{
    field_error::{FieldError, FieldErrors},
    ids::ToolDesignId,
    length::{Deviations, Length},
    life::arc,
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

/// The tolerance of a rake whose design says none: half a degree either way, as a protractor head reads it. Common practice,
/// no published source.
pub const RAKE_TOLERANCE_DEG: f64 = 0.5;

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
    /// How far the rake may lie from the design's after a grind, either way, in degrees; a circular tool's face offset as
    /// far as this turns it.
    pub rake_tolerance_deg: f64,
    /// Height (flat) or arc (circular) of a new tool.
    pub new_height: Length,
    /// The height (flat) or arc (circular) below which a tool is not used.
    pub minimum_height: Length,
    /// What one usual grind takes off the height.
    pub grind_stock: Length,
    /// The style of holder that carries it.
    pub holder_style: String,
    /// Pieces that are expected from one edge until records say better.
    pub expected_pieces_per_grind: i64,
    /// Circular: the tool's largest radius, along which its arc is measured; none where only the arc is known.
    pub tool_radius: Option<Length>,
    /// Circular: the angle that can be ground away from a new tool; the height of a new tool follows from it.
    pub usable_angle_deg: Option<f64>,
    /// Days from ordering a tool to having it.
    pub lead_time_days: Option<u32>,
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
        errors.require(
            self.rake_tolerance_deg > 0.0 && self.rake_tolerance_deg <= 5.0,
            "/rake_tolerance_deg",
            "must be above 0 and at most 5 degrees",
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
        errors.require(self.lead_time_days.is_none_or(|days| days <= 3650), "/lead_time_days", "must be at most 3650");
        self.check_circular(&mut errors);
        errors.into_vec()
    }

    fn check_circular(&self, errors: &mut FieldErrors) {
        let circular = self.kind == ToolDesignKind::Circular;
        if let Some(radius) = self.tool_radius {
            errors.require(circular, "/tool_radius", "belongs to circular tools");
            errors.require(is_positive(radius), "/tool_radius/value", MUST_BE_POSITIVE);
        }
        if let Some(angle) = self.usable_angle_deg {
            errors.require(
                self.tool_radius.is_some(),
                "/usable_angle_deg",
                "needs the tool_radius that it turns about",
            );
            errors.require(
                angle.is_finite() && angle > 0.0 && angle <= 360.0,
                "/usable_angle_deg",
                "must be above 0 and at most 360 degrees",
            );
        }
    }

    /// The angle that is left to grind away from a circular tool of so much arc; none where the design has no radius.
    #[must_use]
    pub fn usable_angle_of(&self, arc: Length) -> Option<f64> {
        self.tool_radius.map(|radius| arc::usable_angle_deg(arc, self.minimum_height, radius))
    }

    /// The arc of a circular tool with an angle left to grind away.
    ///
    /// # Errors
    /// What is wrong with the angle, in words.
    pub fn arc_with_usable_angle(&self, angle_deg: f64) -> Result<Length, String> {
        let radius = self.tool_radius.ok_or("the design has no tool_radius to turn about")?;
        if !(0.0..=360.0).contains(&angle_deg) {
            return Err("must be from 0 to 360 degrees".to_owned());
        }
        let arc = arc::arc_of(angle_deg, radius).map_err(|error| error.to_string())?;
        Ok(self.minimum_height.plus(arc))
    }
}
