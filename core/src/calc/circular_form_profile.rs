//! `circular-form-profile`: the radius of each step on a circular form tool.

use super::{
    answer::{Answer, Calculation, Source, Work},
    error::{CalculationError, Reader},
    flat_form_profile::{WorkStep, read_radii},
    form_geometry::{circular_tool_radius, face_length},
    rounding::rounded,
    schema,
};
use crate::length::LengthUnit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct CircularFormProfile;

/// What the profile is for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "CircularFormProfileRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// The tool's largest radius, which cuts the smallest diameter.
    #[schemars(transform = schema::positive_length)]
    pub tool_radius: f64,
    /// Vertical drop of the edge below the tool's centre, `h = R sin α`; or give `wanted_clearance_deg`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::not_negative_length)]
    pub face_below_center: Option<f64>,
    /// The clearance to have; or give `face_below_center`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::clearance)]
    pub wanted_clearance_deg: Option<f64>,
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
#[schemars(rename = "CircularToolStep")]
pub struct ToolStep {
    /// The diameter of the work.
    pub diameter: f64,
    /// From the edge of the smallest diameter, along the cutting face.
    pub face_length: f64,
    /// The radius of the tool that cuts it.
    pub tool_radius: f64,
}

/// The profile.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "CircularFormProfileResult")]
pub struct Profile {
    /// The clearance, `asin(h/R)`.
    pub clearance_deg: f64,
    /// Vertical drop of the edge below the tool's centre.
    pub face_below_center: f64,
    /// The distance of the cutting face's plane from the tool's centre, `R sin(α + γ)`: what the grinder sets.
    pub face_offset: f64,
    /// In the order asked for.
    pub steps: Vec<ToolStep>,
}

fn read_clearance(reader: &mut Reader, request: &Request, tool_radius: f64) -> f64 {
    match (request.face_below_center, request.wanted_clearance_deg) {
        (Some(drop), None) => {
            let drop = reader.not_negative_length("/face_below_center", drop);
            if drop >= tool_radius {
                return reader
                    .refuse("/face_below_center", "the edge must lie less than the tool's radius below its centre");
            }
            (drop / tool_radius).asin()
        }
        (None, Some(wanted)) => {
            let wanted = reader.not_negative("/wanted_clearance_deg", wanted);
            if wanted >= 90.0 {
                return reader.refuse("/wanted_clearance_deg", "the clearance must stay below 90 degrees");
            }
            wanted.to_radians()
        }
        _ => reader.refuse("", "give face_below_center or wanted_clearance_deg, one of the two"),
    }
}

impl Calculation for CircularFormProfile {
    const NAME: &'static str = "circular-form-profile";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str =
        "The radius of each step on a circular form tool, its clearance, and the offset at which to grind its face.";
    const EXAMPLE: &'static str = r#"{"unit": "mm", "tool_radius": 35, "face_below_center": 6, "rake_deg": 5, "smallest_diameter": 10,
        "steps": [{"diameter": 10}, {"diameter": 14.5}, {"diameter": 18}]}"#;
    type Request = Request;
    type Result = Profile;

    fn calculate(request: &Request) -> Result<Answer<Request, Profile>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let tool_radius = reader.positive_length("/tool_radius", request.tool_radius);
        let clearance = read_clearance(&mut reader, request, tool_radius);
        let rake = reader.rake(request.rake_deg);
        reader.refuse_if(
            (clearance + rake).abs() >= std::f64::consts::FRAC_PI_2,
            "/rake_deg",
            "clearance plus rake must stay below 90 degrees: nothing would be left of the edge",
        );
        let (smallest, radii) =
            read_radii(&mut reader, request.smallest_diameter, request.steps.iter().map(|step| step.diameter));
        reader.finish()?;

        let unit = reader.unit;
        let (offset, beside) = (clearance + rake).sin_cos();
        let mut work = Work::new(unit);
        work.length("r₁", "smallest radius of the work", smallest);
        work.angle("α", "clearance, asin(h/R)", clearance);
        work.length("H", "offset of the face from the tool's centre, R sin(α + γ)", tool_radius * offset);
        work.length("X", "outer edge beside the foot of the centre, R cos(α + γ)", tool_radius * beside);
        let mut steps = Vec::with_capacity(radii.len());
        for (i, (step, radius)) in request.steps.iter().zip(radii).enumerate() {
            let along = face_length(smallest, radius, rake);
            let Some(cutting) = circular_tool_radius(tool_radius, clearance, rake, along) else {
                reader.refuse(
                    format!("/steps/{i}/diameter"),
                    "this step is deeper than the tool's face reaches: take a larger tool",
                );
                continue;
            };
            work.length("R₂", format!("tool radius for the step of {}", unit.words(2.0 * radius)), cutting);
            steps.push(ToolStep {
                diameter: step.diameter,
                face_length: unit.outward(along),
                tool_radius: unit.outward(cutting),
            });
        }
        reader.finish()?;
        let profile = Profile {
            clearance_deg: rounded(clearance.to_degrees()),
            face_below_center: unit.outward(tool_radius * clearance.sin()),
            face_offset: unit.outward(tool_radius * offset),
            steps,
        };
        let sentence = format!(
            "Grind the face in a plane {} from the tool's centre: the edge then lies {} below the centre and has {:.2} \
             degrees of clearance.",
            unit.words(tool_radius * offset),
            unit.words(tool_radius * clearance.sin()),
            clearance.to_degrees(),
        );
        if clearance == 0.0 {
            work.caution("Without clearance the tool rubs.");
        }
        Ok(work.answer::<Self>(
            request.clone(),
            profile,
            sentence,
            &[Source::recalled("Machinery's Handbook, circular forming tools"), Source::GEOMETRY],
        ))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::refused;

    #[test]
    fn impossible_tools_are_refused() {
        let base = r#"{"unit": "in", "tool_radius": 1, "face_below_center": 0.25, "rake_deg": 0, "smallest_diameter": 0.5,
            "steps": [{"diameter": 0.75}]}"#;
        refused(
            base,
            "circular-form-profile",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"tool_radius": 0}"#, "/tool_radius"),
                (r#"{"face_below_center": -0.1}"#, "/face_below_center"),
                (r#"{"face_below_center": 1}"#, "/face_below_center"),
                (r#"{"face_below_center": null}"#, ""),
                (r#"{"wanted_clearance_deg": 10}"#, ""),
                (r#"{"face_below_center": null, "wanted_clearance_deg": 90}"#, "/wanted_clearance_deg"),
                (r#"{"face_below_center": null, "wanted_clearance_deg": -1}"#, "/wanted_clearance_deg"),
                (r#"{"rake_deg": 76}"#, "/rake_deg"),
                (r#"{"steps": [{"diameter": 2.5}]}"#, "/steps/0/diameter"),
                (r#"{"steps": [{"diameter": 0.4}]}"#, "/steps/0/diameter"),
                (r#"{"face_offset": 0.25}"#, "/face_offset"),
            ],
        );
    }
}
