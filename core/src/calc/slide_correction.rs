//! `slide-correction`: from a diameter error to turns of the slide's turnbuckle.

use super::{
    answer::{Answer, Calculation, Source, Work},
    correction::{AdjusterInput, leave_it_alone},
    error::{CalculationError, Reader},
    limits::{Limits, setting_zone},
    schema,
    taper::RESOLVED,
};
use crate::{
    adjuster::{Adjuster, AdjusterKind, Motion},
    length::{Deviations, Length, LengthUnit},
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct SlideCorrection;

/// What was measured, on one full round of spindles.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "SlideCorrectionRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// The diameter wanted.
    #[schemars(transform = schema::positive_length)]
    pub target_diameter: f64,
    /// One piece from each spindle, over one or more full rounds.
    #[schemars(length(min = 1), transform = schema::positive_length)]
    pub measured_diameters: Vec<f64>,
    /// The slide's turnbuckle.
    pub adjuster: AdjusterInput,
    /// Deviations that the part allows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diameter_limits: Option<Limits>,
    /// Deviations inside which a setting is left alone; the middle half of the limits when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub aim: Option<Limits>,
    /// How many spindles make a full round.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1))]
    pub spindles: Option<u32>,
    /// Standard uncertainty of one measured diameter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::not_negative_length)]
    pub diameter_standard_uncertainty: Option<f64>,
}

impl Request {
    /// Asks with what is on record: the machine's adjuster, the part's diameter and its limits.
    #[must_use]
    pub fn from_stored(
        unit: LengthUnit,
        target: Length,
        measured: &[Length],
        adjuster: &Adjuster,
        limits: Option<Deviations>,
    ) -> Self {
        Self {
            unit,
            target_diameter: target.value_in(unit),
            measured_diameters: measured.iter().map(|diameter| diameter.value_in(unit)).collect(),
            adjuster: AdjusterInput::from_stored(adjuster, unit),
            diameter_limits: limits.map(|limits| Limits::from_stored(limits, unit)),
            aim: None,
            spindles: None,
            diameter_standard_uncertainty: None,
        }
    }
}

/// What the slide makes.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "SlideCorrectionResult")]
pub struct Setting {
    /// The mean of the measured diameters.
    pub mean_diameter: f64,
    /// Half of mean less target; above zero the tool stands too far from the axis.
    pub radial_error: f64,
    /// The diameter aimed at: the target, or the middle of the setting zone.
    pub aim_diameter: f64,
    /// Largest less smallest measured diameter: no slide screw removes this.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spindle_spread: Option<f64>,
    /// The mean diameter to expect afterwards.
    pub expected_diameter: f64,
    /// Whether nothing is to be turned.
    pub leave_alone: bool,
}

impl Calculation for SlideCorrection {
    const NAME: &'static str = "slide-correction";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "From a diameter error to turns of the slide's turnbuckle.";
    const EXAMPLE: &'static str = r#"{"unit": "in", "target_diameter": 0.5,
        "measured_diameters": [0.5042, 0.5036, 0.505, 0.5039, 0.5044, 0.5041], "spindles": 6,
        "adjuster": {"travel_per_turn": 0.05, "ratio": 0.5, "clockwise_moves": "tool_in", "seen_from": "the operator's side",
            "has_stop": true, "backlash": 0.004},
        "diameter_limits": {"lower": -0.002, "upper": 0.001}}"#;
    type Request = Request;
    type Result = Setting;

    fn calculate(request: &Request) -> Result<Answer<Request, Setting>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let target = reader.positive_length("/target_diameter", request.target_diameter);
        let count = request.measured_diameters.len();
        for (i, diameter) in request.measured_diameters.iter().enumerate() {
            reader.positive_length(&format!("/measured_diameters/{i}"), *diameter);
        }
        reader.refuse_if(
            count == 0,
            "/measured_diameters",
            "measure at least one piece; one from every spindle is better",
        );
        match request.spindles {
            Some(0) => reader.refuse_if(true, "/spindles", "must be above zero"),
            Some(spindles) => {
                let over = count % spindles as usize;
                reader.refuse_if(
                    over > 0,
                    "/measured_diameters",
                    format!(
                        "the slide is set by the mean over full rounds: measure {} more, so that every spindle counts alike",
                        spindles as usize - over
                    ),
                );
            }
            None => {}
        }
        let screw = request.adjuster.read(&mut reader, "/adjuster", AdjusterKind::Infeed);
        let zone = setting_zone(
            &mut reader,
            request.diameter_limits.map(|limits| ("/diameter_limits", limits)),
            request.aim.map(|aim| ("/aim", aim)),
        );
        let uncertainty = request
            .diameter_standard_uncertainty
            .map(|u| reader.not_negative_length("/diameter_standard_uncertainty", u));
        reader.finish()?;

        let unit = reader.unit;
        #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
        let n = count as f64;
        let deviations: Vec<f64> = request
            .measured_diameters
            .iter()
            .map(|diameter| unit.difference(*diameter, request.target_diameter))
            .collect();
        let mean = deviations.iter().sum::<f64>() / n;
        let aim = zone.map_or(0.0, |zone| zone.middle());
        let radial = (mean - aim) / 2.0;
        let spread = deviations.iter().copied().fold(f64::NEG_INFINITY, f64::max)
            - deviations.iter().copied().fold(f64::INFINITY, f64::min);

        let mut work = Work::new(unit);
        work.length("D − T", "mean of the measured diameters less the target", mean);
        work.length("a", "deviation aimed at", aim);
        work.length("e", "radial movement, half of the rest", radial);
        work.length("p", "tool travel in one turn: screw travel times ratio", screw.travel_per_turn * screw.ratio);

        let alone = if let Some(zone) = zone.filter(|zone| zone.holds(mean)) {
            Some(format!("the mean lies in the setting zone, {} of the target", zone.words(unit)))
        } else if uncertainty.is_some_and(|u| (mean - aim).abs() <= RESOLVED * u / n.sqrt()) {
            Some("the error is smaller than these readings can resolve".to_owned())
        } else if mean - aim == 0.0 {
            Some("the mean is on size".to_owned())
        } else {
            None
        };
        let sentence = if let Some(reason) = &alone {
            leave_it_alone(reason)
        } else {
            let motion = if radial > 0.0 { Motion::ToolIn } else { Motion::ToolOut };
            let expect = format!("a mean diameter of {}", unit.words(target + aim));
            let effect = format!("by {}", unit.words(radial.abs()));
            let correction = screw.correct(unit, motion, radial.abs(), &effect, Some(&expect));
            let sentence = correction.sentence.clone();
            work.corrections.push(correction);
            work.caution(
                "Pieces already formed at this station tell nothing about the new setting: throw them away first.",
            );
            sentence
        };
        if count > 1 && spread > 0.0 {
            work.caution(format!(
                "The pieces differ by {} among themselves; no slide screw removes this.",
                unit.words(spread)
            ));
        }
        if count == 1 {
            work.caution(
                "One piece shows one spindle. Measure one full round of spindles before the slide is trusted.",
            );
        }
        work.caution_hands();
        let setting = Setting {
            mean_diameter: unit.outward(target + mean),
            radial_error: unit.outward(mean / 2.0),
            aim_diameter: unit.outward(target + aim),
            spindle_spread: (count > 1).then(|| unit.outward(spread)),
            expected_diameter: unit.outward(target + if alone.is_some() { mean } else { aim }),
            leave_alone: alone.is_some(),
        };
        Ok(work.answer::<Self>(request.clone(), setting, sentence, &[Source::GEOMETRY]))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};
    use proptest::prelude::*;

    const BASE: &str = r#"{"unit": "in", "target_diameter": 0.375, "measured_diameters": [0.3772],
        "adjuster": {"travel_per_turn": 0.05, "ratio": 0.5, "clockwise_moves": "tool_in"}}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "slide-correction",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"unit": "cm"}"#, "/unit"),
                (r#"{"target_diameter": 0}"#, "/target_diameter"),
                (r#"{"measured_diameters": []}"#, "/measured_diameters"),
                (r#"{"measured_diameters": [0.375, -0.375]}"#, "/measured_diameters/1"),
                (r#"{"measured_diameters": [0.375, 0.375], "spindles": 6}"#, "/measured_diameters"),
                (r#"{"spindles": 0}"#, "/spindles"),
                (
                    r#"{"adjuster": {"travel_per_turn": 0.05, "clockwise_moves": "edge_up"}}"#,
                    "/adjuster/clockwise_moves",
                ),
                (r#"{"diameter_limits": {"lower": 1, "upper": 0}}"#, "/diameter_limits"),
                (r#"{"diameter_limits": 0.001, "aim": 0.002}"#, "/aim"),
                (r#"{"diameter_standard_uncertainty": -1}"#, "/diameter_standard_uncertainty"),
                (r#"{"turns": 1}"#, "/turns"),
            ],
        );
    }

    /// 0.0022 in large is 0.0011 in too far out; a turn moves 0.025 in: 0.044 turn clockwise (derived).
    #[test]
    fn an_error_becomes_turns() {
        let got = answer(BASE, "slide-correction", "{}");
        assert_eq!(at(&got, "/corrections/0/turns"), 0.044);
        assert_eq!(at(&got, "/result/radial_error"), 0.0011);
        assert_eq!(at(&got, "/corrections/0/travel"), 0.0022);
        assert_eq!(got["corrections"][0]["direction"], "clockwise");
        let small = answer(BASE, "slide-correction", r#"{"measured_diameters": [0.3728]}"#);
        assert_eq!(small["corrections"][0]["direction"], "counterclockwise");
        assert_eq!(at(&small, "/corrections/0/turns"), 0.044);
    }

    /// +0.000/−0.004: the zone is −0.003 to −0.001, its middle −0.002.
    #[test]
    fn the_aim_is_the_middle_of_the_setting_zone() {
        let limits = |measured: f64| {
            let change = serde_json::json!({"measured_diameters": [measured], "diameter_limits": {"lower": -0.004, "upper": 0.0}});
            answer(BASE, "slide-correction", &change.to_string())
        };
        let inside_tolerance_only = limits(0.375);
        assert_eq!(at(&inside_tolerance_only, "/corrections/0/turns"), 0.04);
        assert_eq!(at(&inside_tolerance_only, "/result/expected_diameter"), 0.373);
        for measured in [0.372, 0.3735, 0.374] {
            let got = limits(measured);
            assert!(got["corrections"].as_array().unwrap().is_empty());
            assert!(got["sentence"].as_str().unwrap().starts_with("Leave it alone: the mean lies in the setting zone"));
        }
    }

    #[test]
    fn the_mean_over_a_round_counts_and_the_spread_is_told() {
        let got =
            answer(BASE, "slide-correction", r#"{"measured_diameters": [0.374, 0.376, 0.377, 0.379], "spindles": 4}"#);
        assert_eq!(at(&got, "/result/mean_diameter"), 0.3765);
        assert_eq!(at(&got, "/result/spindle_spread"), 0.005);
        let unresolved = answer(
            BASE,
            "slide-correction",
            r#"{"measured_diameters": [0.374, 0.376, 0.377, 0.379], "diameter_standard_uncertainty": 0.0016}"#,
        );
        assert_eq!(unresolved["result"]["leave_alone"], true);
    }

    proptest! {
        /// Moving the tool by what the turns move makes the target.
        #[test]
        fn the_correction_removes_the_error(measured in 0.3..0.45_f64) {
            let change = serde_json::json!({"measured_diameters": [measured]}).to_string();
            let got = answer(BASE, "slide-correction", &change);
            prop_assume!(got["result"]["leave_alone"] == false);
            let moved = at(&got, "/corrections/0/turns") * 0.025;
            let sense = if got["corrections"][0]["direction"] == "clockwise" { -1.0 } else { 1.0 };
            prop_assert!((measured + 2.0 * sense * moved - 0.375).abs() < 1e-12);
        }
    }
}
