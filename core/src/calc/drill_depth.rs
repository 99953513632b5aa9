//! `drill-depth`: from a depth error to turns of that position's turnbuckle; a centre drill's depth from its mouth.

use super::{
    answer::{Answer, Calculation, Source, Work},
    correction::{AdjusterInput, leave_it_alone},
    error::{CalculationError, Reader},
    limits::{Limits, setting_zone},
    schema,
    taper::RESOLVED,
};
use crate::{
    adjuster::{AdjusterKind, Motion},
    length::LengthUnit,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct DrillDepth;

/// A centre-drilled hole, measured at its mouth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "DrilledCone")]
pub struct Cone {
    /// The diameter of the cone at the finished face.
    #[schemars(transform = schema::positive_length)]
    pub mouth_diameter: f64,
    /// The pilot's diameter, where the cone ends; zero for a plain countersink.
    #[schemars(transform = schema::not_negative_length)]
    pub pilot_diameter: f64,
    /// The pilot's length, to its tip.
    #[schemars(transform = schema::not_negative_length)]
    pub pilot_length: f64,
    /// The cone's included angle.
    #[schemars(extend("exclusiveMinimum" = 0, "exclusiveMaximum" = 180))]
    pub included_angle_deg: f64,
    /// The drill's body diameter: the mouth cannot be wider.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub body_diameter: Option<f64>,
}

/// What was measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "DrillDepthRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// The depth wanted, from the finished face to the pilot's tip.
    #[schemars(transform = schema::positive_length)]
    pub target_depth: f64,
    /// The depth measured; or give `cone`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub measured_depth: Option<f64>,
    /// A cone measured at its mouth; or give `measured_depth`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cone: Option<Cone>,
    /// The position's turnbuckle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adjuster: Option<AdjusterInput>,
    /// Deviations that the part allows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth_tolerance: Option<Limits>,
    /// Deviations inside which the depth is left alone; the middle half of the tolerance when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub aim: Option<Limits>,
    /// Standard uncertainty of the depth, or for a cone of its mouth diameter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::not_negative_length)]
    pub standard_uncertainty: Option<f64>,
}

/// How deep the hole is.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "DrillDepthResult")]
pub struct Depth {
    /// From the finished face to the pilot's tip.
    pub depth: f64,
    /// Depth less target: above zero, too deep.
    pub depth_error: f64,
    /// The depth to expect afterwards.
    pub expected_depth: f64,
    /// Whether nothing is to be turned.
    pub leave_alone: bool,
}

/// The cone's depth `Z = (D − d)/(2 tan(A/2))` and its change with the mouth, both checked.
fn read_cone(reader: &mut Reader, cone: Cone) -> (f64, f64) {
    let mouth = reader.positive_length("/cone/mouth_diameter", cone.mouth_diameter);
    let pilot = reader.not_negative_length("/cone/pilot_diameter", cone.pilot_diameter);
    let length = reader.not_negative_length("/cone/pilot_length", cone.pilot_length);
    let half = reader.between("/cone/included_angle_deg", cone.included_angle_deg, 0.0, 180.0).to_radians() / 2.0;
    reader.refuse_if(mouth < pilot, "/cone/mouth_diameter", "the mouth must not be narrower than the pilot");
    if let Some(body) = cone.body_diameter {
        let body = reader.positive_length("/cone/body_diameter", body);
        reader.refuse_if(
            mouth > body,
            "/cone/mouth_diameter",
            "the mouth must not be wider than the drill's body: the cone ends there, and the mouth no longer tells the depth",
        );
    }
    let slope = 1.0 / (2.0 * half.tan());
    (length + reader.unit.difference(cone.mouth_diameter, cone.pilot_diameter) * slope, slope)
}

impl Calculation for DrillDepth {
    const NAME: &'static str = "drill-depth";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str =
        "From a depth error to turns of that position's turnbuckle; a centre drill's depth from its mouth diameter.";
    const EXAMPLE: &'static str = r#"{"unit": "in", "target_depth": 0.24, "cone": {"mouth_diameter": 0.25, "pilot_diameter": 0.125,
        "pilot_length": 0.125, "included_angle_deg": 60, "body_diameter": 0.3125},
        "adjuster": {"travel_per_turn": 0.1, "clockwise_moves": "deeper"}, "depth_tolerance": 0.004}"#;
    type Request = Request;
    type Result = Depth;

    fn calculate(request: &Request) -> Result<Answer<Request, Depth>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let target = reader.positive_length("/target_depth", request.target_depth);
        let (depth, slope) = match (request.measured_depth, request.cone) {
            (Some(measured), None) => (reader.positive_length("/measured_depth", measured), 1.0),
            (None, Some(cone)) => read_cone(&mut reader, cone),
            _ => (reader.refuse("", "give measured_depth or cone, one of the two"), 1.0),
        };
        let screw = request.adjuster.as_ref().map(|a| a.read(&mut reader, "/adjuster", AdjusterKind::Depth));
        let zone = setting_zone(
            &mut reader,
            request.depth_tolerance.map(|limits| ("/depth_tolerance", limits)),
            request.aim.map(|aim| ("/aim", aim)),
        );
        let uncertainty =
            request.standard_uncertainty.map(|u| slope * reader.not_negative_length("/standard_uncertainty", u));
        reader.finish()?;

        let unit = reader.unit;
        let error =
            request.measured_depth.map_or(depth - target, |measured| unit.difference(measured, request.target_depth));
        let aim = zone.map_or(0.0, |zone| zone.middle());
        let to_remove = error - aim;
        let mut work = Work::new(unit);
        if let Some(cone) = request.cone {
            work.length("Z", "depth of the cone, (D − d)/(2 tan(A/2))", depth - unit.inward(cone.pilot_length));
        }
        work.length("Z₀", "depth from the finished face to the pilot's tip", depth);
        work.length("e", "depth less the one wanted", error);
        let alone = if let Some(zone) = zone.filter(|zone| zone.holds(error)) {
            Some(format!("the depth lies in the setting zone, {} of the target", zone.words(unit)))
        } else if uncertainty.is_some_and(|u| to_remove.abs() <= RESOLVED * u) {
            Some("the error is smaller than this reading can resolve".to_owned())
        // A cone's depth passes through a tangent: a few last bits are not an error.
        } else if to_remove.abs() <= 1e-14 * target {
            Some("the depth is right".to_owned())
        } else {
            None
        };
        let sentence = if let Some(reason) = &alone {
            leave_it_alone(reason)
        } else if let Some(screw) = &screw {
            let motion = if to_remove > 0.0 { Motion::Shallower } else { Motion::Deeper };
            let effect = format!("by {}", unit.words(to_remove.abs()));
            let expect = format!("a depth of {}", unit.words(target + aim));
            let correction = screw.correct(unit, motion, to_remove.abs(), &effect, Some(&expect));
            let sentence = correction.sentence.clone();
            work.corrections.push(correction);
            sentence
        } else {
            format!(
                "The hole is {} deep, {} too {}.",
                unit.words(depth),
                unit.words(error.abs()),
                if error > 0.0 { "deep" } else { "shallow" }
            )
        };
        work.caution("This turnbuckle does not change how far stock is fed.");
        work.caution_hands();
        let result = Depth {
            depth: unit.outward(depth),
            depth_error: unit.outward(error),
            expected_depth: unit.outward(target + if screw.is_none() || alone.is_some() { error } else { aim }),
            leave_alone: alone.is_some(),
        };
        Ok(work.answer::<Self>(request.clone(), result, sentence, &[Source::GEOMETRY]))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};

    const BASE: &str = r#"{"unit": "in", "target_depth": 0.25, "measured_depth": 0.26,
        "adjuster": {"travel_per_turn": 0.1, "clockwise_moves": "deeper"}}"#;
    const CONE: &str = r#"{"unit": "in", "target_depth": 0.25,
        "cone": {"mouth_diameter": 0.25, "pilot_diameter": 0.125, "pilot_length": 0.125, "included_angle_deg": 60}}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "drill-depth",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"target_depth": 0}"#, "/target_depth"),
                (r#"{"target_depth": null}"#, "/target_depth"),
                (r#"{"measured_depth": 0}"#, "/measured_depth"),
                (r#"{"measured_depth": null}"#, ""),
                (
                    r#"{"adjuster": {"travel_per_turn": 0.1, "clockwise_moves": "tool_in"}}"#,
                    "/adjuster/clockwise_moves",
                ),
                (r#"{"depth_tolerance": {"lower": 0.1, "upper": 0}}"#, "/depth_tolerance"),
                (r#"{"standard_uncertainty": -1}"#, "/standard_uncertainty"),
                (r#"{"feed": 1}"#, "/feed"),
            ],
        );
        let cone = |mouth: f64, pilot: f64, length: f64, angle: f64| {
            serde_json::json!({"cone": {"mouth_diameter": mouth, "pilot_diameter": pilot, "pilot_length": length,
                "included_angle_deg": angle, "body_diameter": 0.4375}})
            .to_string()
        };
        refused(
            CONE,
            "drill-depth",
            &[
                (&cone(0.0, 0.1, 0.1, 60.0), "/cone/mouth_diameter"),
                (&cone(0.09, 0.1, 0.1, 60.0), "/cone/mouth_diameter"),
                (&cone(0.44, 0.1, 0.1, 60.0), "/cone/mouth_diameter"),
                (&cone(0.3, -0.1, 0.1, 60.0), "/cone/pilot_diameter"),
                (&cone(0.3, 0.1, -0.1, 60.0), "/cone/pilot_length"),
                (&cone(0.3, 0.1, 0.1, 0.0), "/cone/included_angle_deg"),
                (&cone(0.3, 0.1, 0.1, 180.0), "/cone/included_angle_deg"),
                (r#"{"measured_depth": 1}"#, ""),
            ],
        );
    }

    #[test]
    fn too_deep_goes_shallower() {
        let got = answer(BASE, "drill-depth", "{}");
        assert_eq!(got["corrections"][0]["direction"], "counterclockwise");
        assert!((at(&got, "/corrections/0/turns") - 0.1).abs() < 1e-12);
        assert_eq!(at(&got, "/result/expected_depth"), 0.25);
        assert_eq!(
            answer(BASE, "drill-depth", r#"{"measured_depth": 0.24}"#)["corrections"][0]["direction"],
            "clockwise"
        );
        assert!(got["cautions"][0].as_str().unwrap().contains("does not change how far stock is fed"));
    }

    #[test]
    fn a_depth_in_its_zone_is_left_alone() {
        for change in
            [r#"{"depth_tolerance": 0.02}"#, r#"{"measured_depth": 0.25}"#, r#"{"standard_uncertainty": 0.006}"#]
        {
            assert_eq!(answer(BASE, "drill-depth", change)["result"]["leave_alone"], true, "{change}");
        }
        // The mouth tells the depth 0.866 times as finely as its own uncertainty: 1.96 · 0.866 · u against 0.016747.
        assert_eq!(answer(CONE, "drill-depth", r#"{"standard_uncertainty": 0.0098}"#)["result"]["leave_alone"], false);
        assert_eq!(answer(CONE, "drill-depth", r#"{"standard_uncertainty": 0.0099}"#)["result"]["leave_alone"], true);
    }
}
