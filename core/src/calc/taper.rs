//! `taper`: taper from two diameters, and the turns of the taper screw that remove its error.

use super::{
    answer::{Answer, Calculation, Source, Work},
    correction::{AdjusterInput, leave_it_alone},
    error::{CalculationError, Reader},
    limits::Limits,
    rounding::rounded,
    schema,
};
use crate::{
    adjuster::{AdjusterKind, Motion},
    length::LengthUnit,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct Taper;

/// What was measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "TaperRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// The diameter nearer to the collet.
    #[schemars(transform = schema::positive_length)]
    pub near_diameter: f64,
    /// The diameter farther from the collet.
    #[schemars(transform = schema::positive_length)]
    pub far_diameter: f64,
    /// Between the two, along the axis.
    #[schemars(transform = schema::positive_length)]
    pub distance: f64,
    /// The half angle wanted; above zero the diameter grows away from the collet.
    #[serde(default)]
    #[schemars(transform = schema::acute)]
    pub target_half_angle_deg: f64,
    /// The taper screw.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adjuster: Option<AdjusterInput>,
    /// Deviations of the half angle, in degrees, inside which the taper may lie.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub half_angle_limits_deg: Option<Limits>,
    /// Standard uncertainty of one measured diameter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::not_negative_length)]
    pub diameter_standard_uncertainty: Option<f64>,
}

/// The taper.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "TaperResult")]
pub struct Measured {
    /// The half angle to the axis, in degrees.
    pub half_angle_deg: f64,
    /// Change of diameter over length.
    pub taper_per_length: f64,
    /// Inches of diameter in a foot of length; a ratio, the same for both units.
    pub taper_per_foot: f64,
    /// Half angle less the one wanted, in degrees.
    pub error_half_angle_deg: f64,
    /// Standard uncertainty of the half angle, where that of a diameter was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub half_angle_standard_uncertainty_deg: Option<f64>,
    /// Whether nothing is to be turned.
    pub leave_alone: bool,
}

/// Two standard uncertainties: below it an error is not resolved (95 %, GUM convention).
pub(crate) const RESOLVED: f64 = 1.96;

impl Calculation for Taper {
    const NAME: &'static str = "taper";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "Taper from two diameters, and the turns of the taper screw that remove its error.";
    const EXAMPLE: &'static str = r#"{"unit": "mm", "near_diameter": 12.7, "far_diameter": 12.76, "distance": 28, "diameter_standard_uncertainty": 0.002,
        "adjuster": {"threads": [{"pitch": 1, "hand": "right"}], "arm": 60, "clockwise_moves": "far_diameter_up"}}"#;
    type Request = Request;
    type Result = Measured;

    fn calculate(request: &Request) -> Result<Answer<Request, Measured>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        reader.positive_length("/near_diameter", request.near_diameter);
        reader.positive_length("/far_diameter", request.far_diameter);
        let distance = reader.positive_length("/distance", request.distance);
        let target = reader.between("/target_half_angle_deg", request.target_half_angle_deg, -90.0, 90.0).to_radians();
        let screw = request.adjuster.as_ref().map(|a| a.read(&mut reader, "/adjuster", AdjusterKind::Taper));
        let uncertainty = request
            .diameter_standard_uncertainty
            .map(|u| reader.not_negative_length("/diameter_standard_uncertainty", u));
        if let Some(limits) = request.half_angle_limits_deg {
            reader.number("/half_angle_limits_deg/lower", limits.lower);
            reader.number("/half_angle_limits_deg/upper", limits.upper);
            reader.refuse_if(
                limits.lower > limits.upper,
                "/half_angle_limits_deg",
                "the lower deviation must not be above the upper one",
            );
        }
        reader.finish()?;

        let unit = reader.unit;
        let growth = unit.difference(request.far_diameter, request.near_diameter);
        let ratio = growth / distance;
        let half = (ratio / 2.0).atan();
        let error = half - target;
        // d(half)/d(D) = cos²(half)/(2L), two independent diameters.
        let half_uncertainty =
            uncertainty.map(|u| u * std::f64::consts::SQRT_2 * half.cos().powi(2) / (2.0 * distance));
        let zone = request.half_angle_limits_deg.map(|limits| {
            let quarter = (limits.upper - limits.lower) / 4.0;
            (limits.lower + quarter, limits.upper - quarter)
        });
        let aim = zone.map_or(0.0, |(lower, upper)| f64::midpoint(lower, upper).to_radians());

        let mut work = Work::new(unit);
        work.length("ΔD", "far diameter less near diameter", growth);
        work.angle("φ", "half angle, atan(ΔD / 2L)", half);
        work.angle("Δφ", "half angle less the one wanted", error);
        if let Some(u) = half_uncertainty {
            work.angle("u(φ)", "standard uncertainty of the half angle", u);
        }
        let to_remove = error - aim;
        let alone = if zone.is_some_and(|(lower, upper)| (lower..=upper).contains(&error.to_degrees())) {
            Some("the taper lies in the middle half of its limits")
        } else if half_uncertainty.is_some_and(|u| to_remove.abs() <= RESOLVED * u) {
            Some("the error is smaller than these readings can resolve")
        } else if growth == 0.0 && target == 0.0 && aim == 0.0 {
            Some("there is no taper")
        } else {
            None
        };
        let sentence = if let Some(reason) = alone {
            leave_it_alone(reason)
        } else if let Some(screw) = &screw {
            let travel = screw.arm * to_remove.abs().tan();
            work.length("t", "screw travel, arm · tan of the half angle to remove", travel);
            let motion = if to_remove > 0.0 { Motion::FarDiameterDown } else { Motion::FarDiameterUp };
            let effect = format!(
                "by {} over the {} measured",
                unit.words(2.0 * distance * to_remove.abs().tan()),
                unit.words(distance)
            );
            let correction = screw.correct(unit, motion, travel, &effect, None);
            let sentence = correction.sentence.clone();
            work.corrections.push(correction);
            work.caution(
                "Moving the holder re-opens the approach and the first piece, and the height after clamping should be \
                 read again. Retighten the holder and leave its side screw free.",
            );
            sentence
        } else {
            format!(
                "The half angle is {:.4} degrees, {:.4} degrees from the one wanted: the far diameter is too {}.",
                half.to_degrees(),
                error.to_degrees().abs(),
                if error > 0.0 { "large" } else { "small" },
            )
        };
        work.caution_hands();
        let measured = Measured {
            half_angle_deg: rounded(half.to_degrees()),
            taper_per_length: rounded(ratio),
            taper_per_foot: rounded(12.0 * ratio),
            error_half_angle_deg: rounded(error.to_degrees()),
            half_angle_standard_uncertainty_deg: half_uncertainty.map(|u| rounded(u.to_degrees())),
            leave_alone: alone.is_some(),
        };
        Ok(work.answer::<Self>(request.clone(), measured, sentence, &[Source::GEOMETRY]))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};
    use proptest::prelude::*;

    const BASE: &str = r#"{"unit": "in", "near_diameter": 0.5, "far_diameter": 0.504, "distance": 1.0,
        "adjuster": {"travel_per_turn": 0.05, "arm": 3.0, "clockwise_moves": "far_diameter_up"}}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "taper",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"near_diameter": 0}"#, "/near_diameter"),
                (r#"{"far_diameter": -1}"#, "/far_diameter"),
                (r#"{"distance": 0}"#, "/distance"),
                (r#"{"target_half_angle_deg": 90}"#, "/target_half_angle_deg"),
                (r#"{"adjuster": {"travel_per_turn": 0.05, "clockwise_moves": "far_diameter_up"}}"#, "/adjuster/arm"),
                (
                    r#"{"adjuster": {"travel_per_turn": 0.05, "arm": 1, "clockwise_moves": "tool_in"}}"#,
                    "/adjuster/clockwise_moves",
                ),
                (
                    r#"{"adjuster": {"travel_per_turn": 0.05, "arm": 0, "clockwise_moves": "far_diameter_up"}}"#,
                    "/adjuster/arm",
                ),
                (r#"{"half_angle_limits_deg": {"lower": 1, "upper": 0}}"#, "/half_angle_limits_deg"),
                (r#"{"diameter_standard_uncertainty": -1}"#, "/diameter_standard_uncertainty"),
                (r#"{"per_foot": 1}"#, "/per_foot"),
            ],
        );
    }

    /// Half angle atan(0.002), arm 3 in: 0.006 in of screw, 0.12 turn; too large far out, so the far diameter goes down
    /// and this screw turns counterclockwise (derived).
    #[test]
    fn a_taper_becomes_turns() {
        let got = answer(BASE, "taper", "{}");
        assert!((at(&got, "/corrections/0/turns") - 0.12).abs() < 1e-12);
        assert_eq!(got["corrections"][0]["direction"], "counterclockwise");
        let other = answer(BASE, "taper", r#"{"far_diameter": 0.496}"#);
        assert_eq!(other["corrections"][0]["direction"], "clockwise");
    }

    #[test]
    fn what_needs_no_turn_is_left_alone() {
        for change in [
            r#"{"far_diameter": 0.5}"#,
            r#"{"half_angle_limits_deg": 0.3}"#,
            r#"{"diameter_standard_uncertainty": 0.002}"#,
        ] {
            let got = answer(BASE, "taper", change);
            assert!(got["corrections"].as_array().unwrap().is_empty());
            assert_eq!(got["result"]["leave_alone"], true);
            assert!(got["sentence"].as_str().unwrap().starts_with("Leave it alone: "), "{got}");
        }
        assert_eq!(
            answer(BASE, "taper", r#"{"diameter_standard_uncertainty": 0.0005}"#)["result"]["leave_alone"],
            false
        );
    }

    proptest! {
        /// More taper never means fewer turns.
        #[test]
        fn more_taper_never_means_fewer_turns(small in 0.0..0.05_f64, more in 0.0..0.05_f64, target in -1.0..1.0_f64) {
            let turns = |growth: f64| {
                let change = serde_json::json!({"far_diameter": 0.6 + growth, "target_half_angle_deg": target - 4.0});
                at(&answer(BASE, "taper", &change.to_string()), "/corrections/0/turns")
            };
            prop_assert!(turns(small + more) >= turns(small));
        }

        /// Swinging the holder back by what the turns swing removes the error.
        #[test]
        fn the_correction_removes_the_error(growth in -0.1..0.1_f64, target in -2.0..2.0_f64) {
            let change = serde_json::json!({"far_diameter": 0.5 + growth, "target_half_angle_deg": target});
            let got = answer(BASE, "taper", &change.to_string());
            let swung = (at(&got, "/corrections/0/turns") * 0.05 / 3.0).atan().to_degrees();
            let sense = if got["corrections"][0]["direction"] == "clockwise" { 1.0 } else { -1.0 };
            prop_assert!((at(&got, "/result/half_angle_deg") + sense * swung - target).abs() < 1e-10);
        }
    }
}
