//! `flat-form-profile`: how deep to make each step of a flat (dovetail) form tool.

use super::{
    answer::{Answer, Calculation, Source, Work},
    error::{CalculationError, Reader},
    form_geometry::{face_length, flat_tool_depth},
    schema,
};
use crate::length::LengthUnit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct FlatFormProfile;

/// A diameter of the work that the form makes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WorkStep {
    /// Its diameter, not below the smallest.
    #[schemars(transform = schema::positive_length)]
    pub diameter: f64,
}

/// What the profile is for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "FlatFormProfileRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// Front relief of the tool as held.
    #[schemars(transform = schema::clearance)]
    pub clearance_deg: f64,
    /// Rake of the cutting face.
    #[schemars(transform = schema::acute)]
    pub rake_deg: f64,
    /// The smallest diameter of the work, cut by the edge on centre.
    #[schemars(transform = schema::positive_length)]
    pub smallest_diameter: f64,
    /// The diameters.
    #[schemars(length(min = 1))]
    pub steps: Vec<WorkStep>,
}

/// One step of the tool.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "FlatToolStep")]
pub struct ToolStep {
    /// The diameter of the work.
    pub diameter: f64,
    /// From the edge of the smallest diameter, along the cutting face.
    pub face_length: f64,
    /// From the edge of the smallest diameter, normal to the front face.
    pub tool_depth: f64,
}

/// The profile.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "FlatFormProfileResult")]
pub struct Profile {
    /// In the order asked for.
    pub steps: Vec<ToolStep>,
}

/// Reads the smallest diameter and the steps: radii in millimetres.
pub(crate) fn read_radii(
    reader: &mut Reader,
    smallest_diameter: f64,
    diameters: impl ExactSizeIterator<Item = f64>,
) -> (f64, Vec<f64>) {
    let smallest = reader.positive_length("/smallest_diameter", smallest_diameter) / 2.0;
    if diameters.len() == 0 {
        reader.refuse("/steps", "give at least one step");
    }
    let radii = diameters
        .enumerate()
        .map(|(i, diameter)| {
            let pointer = format!("/steps/{i}/diameter");
            let radius = reader.positive_length(&pointer, diameter) / 2.0;
            reader.refuse_if(radius < smallest, &pointer, "a step must not be below the smallest diameter");
            radius
        })
        .collect();
    (smallest, radii)
}

impl Calculation for FlatFormProfile {
    const NAME: &'static str = "flat-form-profile";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str =
        "The depth of each step on a flat (dovetail) form tool, normal to its front face, and along its cutting face.";
    const EXAMPLE: &'static str = r#"{"unit": "mm", "clearance_deg": 12, "rake_deg": 5, "smallest_diameter": 12.5,
        "steps": [{"diameter": 12.5}, {"diameter": 16}, {"diameter": 19.05}]}"#;
    type Request = Request;
    type Result = Profile;

    fn calculate(request: &Request) -> Result<Answer<Request, Profile>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let (clearance, rake) = reader.tool_angles(request.clearance_deg, request.rake_deg);
        let (smallest, radii) =
            read_radii(&mut reader, request.smallest_diameter, request.steps.iter().map(|step| step.diameter));
        reader.finish()?;

        let unit = reader.unit;
        let mut work = Work::new(unit);
        work.length("r₁", "smallest radius of the work", smallest);
        work.angle("α + γ", "clearance plus rake", clearance + rake);
        let steps: Vec<ToolStep> = request
            .steps
            .iter()
            .zip(radii)
            .map(|(step, radius)| {
                let along = face_length(smallest, radius, rake);
                let depth = flat_tool_depth(along, clearance, rake);
                work.length("C", format!("along the face to the step of {}", unit.words(2.0 * radius)), along);
                work.length("T", format!("depth of the step of {}", unit.words(2.0 * radius)), depth);
                ToolStep { diameter: step.diameter, face_length: unit.outward(along), tool_depth: unit.outward(depth) }
            })
            .collect();
        let deepest = steps.iter().map(|step| step.tool_depth).fold(0.0, f64::max);
        let sentence = format!(
            "The deepest step lies {} behind the front of the tool, normal to its front face.",
            unit.words(unit.inward(deepest))
        );
        if clearance == 0.0 {
            work.caution("Without clearance the tool rubs.");
        }
        Ok(work.answer::<Self>(
            request.clone(),
            Profile { steps },
            sentence,
            &[Source::recalled("Machinery's Handbook, dimensions of formed tools"), Source::GEOMETRY],
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::testing::refused;

    #[test]
    fn impossible_tools_are_refused() {
        let base = r#"{"unit": "in", "clearance_deg": 12, "rake_deg": 5, "smallest_diameter": 0.5, "steps": [{"diameter": 0.75}]}"#;
        refused(
            base,
            "flat-form-profile",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"clearance_deg": -1}"#, "/clearance_deg"),
                (r#"{"clearance_deg": 90}"#, "/clearance_deg"),
                (r#"{"rake_deg": 78}"#, "/rake_deg"),
                (r#"{"rake_deg": -90}"#, "/rake_deg"),
                (r#"{"smallest_diameter": 0}"#, "/smallest_diameter"),
                (r#"{"smallest_diameter": 10001}"#, "/smallest_diameter"),
                (r#"{"steps": []}"#, "/steps"),
                (r#"{"steps": [{"diameter": 0.75}, {"diameter": 0.4999}]}"#, "/steps/1/diameter"),
                (r#"{"steps": [{"diameter": 0.75, "z": 1}]}"#, "/steps/0/z"),
                (r#"{"rake": 1}"#, "/rake"),
            ],
        );
        let mut request: Request = serde_json::from_str(base).unwrap();
        request.rake_deg = f64::NAN;
        let error = FlatFormProfile::calculate(&request).unwrap_err();
        assert_eq!(error.fields()[0].pointer, "/rake_deg");
    }
}
