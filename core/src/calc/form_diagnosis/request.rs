//! What `form-diagnosis` is asked.

use super::model::Unknown;
use crate::{
    calc::{correction::AdjusterInput, limits::Limits, schema},
    length::{Length, LengthUnit},
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A diameter measured along the form.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "FormReading")]
pub struct Reading {
    /// Where along the axis; grows away from the collet.
    #[schemars(transform = schema::length)]
    pub z: f64,
    /// The diameter that the form makes there when it is set right.
    #[schemars(transform = schema::positive_length)]
    pub target_diameter: f64,
    /// The diameter measured there.
    #[schemars(transform = schema::positive_length)]
    pub measured_diameter: f64,
    /// Deviations that the part allows there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limits: Option<Limits>,
}

impl Reading {
    /// A reading of a stored feature.
    #[must_use]
    pub fn from_stored(unit: LengthUnit, z: Length, target: Length, measured: Length) -> Self {
        Self {
            z: z.value_in(unit),
            target_diameter: target.value_in(unit),
            measured_diameter: measured.value_in(unit),
            limits: None,
        }
    }
}

/// The screws of the slide and the holder.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "FormAdjusters")]
pub struct Adjusters {
    /// The slide's turnbuckle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub infeed: Option<AdjusterInput>,
    /// The holder's height screw, which lifts the tool along its inclined ways.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height: Option<AdjusterInput>,
    /// The holder's taper screw.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taper: Option<AdjusterInput>,
}

/// What was measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "FormDiagnosisRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// Front relief of the tool as held; also the inclination of the ways along which the height screw lifts it.
    #[schemars(transform = schema::clearance)]
    pub clearance_deg: f64,
    /// Rake of the cutting face.
    #[schemars(transform = schema::acute)]
    pub rake_deg: f64,
    /// The smallest diameter of the work, cut by the edge meant to be on centre.
    #[schemars(transform = schema::positive_length)]
    pub smallest_diameter: f64,
    /// The diameters measured.
    #[schemars(length(min = 1))]
    pub readings: Vec<Reading>,
    /// Standard uncertainty of one measured diameter.
    #[schemars(transform = schema::positive_length)]
    pub diameter_standard_uncertainty: f64,
    /// Where along the axis the holder swings; infeed is stated there.
    #[serde(default)]
    #[schemars(transform = schema::length)]
    pub pivot_z: f64,
    /// How far from the spindle axis the holder's pivot lies, for the shift of the form along the bar.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::length)]
    pub pivot_x: Option<f64>,
    /// What to solve for; all three when absent.
    #[serde(default = "all", skip_serializing_if = "Vec::is_empty")]
    #[schemars(extend("minItems" = 1, "uniqueItems" = true))]
    pub solve_for: Vec<Unknown>,
    /// The screws.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adjusters: Option<Adjusters>,
    /// The smallest movement at the edge that is worth a turn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::not_negative_length)]
    pub smallest_move: Option<f64>,
}

fn all() -> Vec<Unknown> {
    Unknown::ALL.to_vec()
}
