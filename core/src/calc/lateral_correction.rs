//! `lateral-correction`: from where the form lies along the bar to turns of the holder's side screw.

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
pub struct LateralCorrection;

/// From which end a shoulder's length was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum MeasuredFrom {
    /// From the free end of the bar.
    FreeEnd,
    /// From the cut-off end, at the collet.
    ColletEnd,
}

/// What was measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "LateralCorrectionRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// The length wanted.
    #[schemars(transform = schema::positive_length)]
    pub target_length: f64,
    /// The length measured.
    #[schemars(transform = schema::positive_length)]
    pub measured_length: f64,
    /// From which end.
    pub measured_from: MeasuredFrom,
    /// The holder's side screw.
    pub adjuster: AdjusterInput,
    /// Deviations that the part allows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length_tolerance: Option<Limits>,
    /// Deviations inside which the form is left alone; the middle half of the tolerance when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub aim: Option<Limits>,
    /// Standard uncertainty of the measured length.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::not_negative_length)]
    pub length_standard_uncertainty: Option<f64>,
}

/// Where the form lies.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "LateralCorrectionResult")]
pub struct Position {
    /// Measured less target.
    pub length_error: f64,
    /// The length to expect afterwards.
    pub expected_length: f64,
    /// Whether nothing is to be turned.
    pub leave_alone: bool,
}

impl Calculation for LateralCorrection {
    const NAME: &'static str = "lateral-correction";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str =
        "From an error in where the form lies along the bar to turns of the holder's side screw.";
    const EXAMPLE: &'static str = r#"{"unit": "in", "target_length": 0.75, "measured_length": 0.755, "measured_from": "free_end",
        "adjuster": {"travel_per_turn": 0.05, "clockwise_moves": "toward_collet"}, "length_tolerance": 0.003}"#;
    type Request = Request;
    type Result = Position;

    fn calculate(request: &Request) -> Result<Answer<Request, Position>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let target = reader.positive_length("/target_length", request.target_length);
        reader.positive_length("/measured_length", request.measured_length);
        let screw = request.adjuster.read(&mut reader, "/adjuster", AdjusterKind::Lateral);
        let zone = setting_zone(
            &mut reader,
            request.length_tolerance.map(|limits| ("/length_tolerance", limits)),
            request.aim.map(|aim| ("/aim", aim)),
        );
        let uncertainty =
            request.length_standard_uncertainty.map(|u| reader.not_negative_length("/length_standard_uncertainty", u));
        reader.finish()?;

        let unit = reader.unit;
        let error = unit.difference(request.measured_length, request.target_length);
        let aim = zone.map_or(0.0, |zone| zone.middle());
        let to_remove = error - aim;
        let mut work = Work::new(unit);
        work.length("L − T", "measured length less the target", error);
        work.length("a", "deviation aimed at", aim);
        let alone = if let Some(zone) = zone.filter(|zone| zone.holds(error)) {
            Some(format!("the length lies in the setting zone, {} of the target", zone.words(unit)))
        } else if uncertainty.is_some_and(|u| to_remove.abs() <= RESOLVED * u) {
            Some("the error is smaller than this reading can resolve".to_owned())
        } else if to_remove == 0.0 {
            Some("the length is right".to_owned())
        } else {
            None
        };
        let sentence = if let Some(reason) = &alone {
            leave_it_alone(reason)
        } else {
            let too_long = to_remove > 0.0;
            let motion = if too_long == (request.measured_from == MeasuredFrom::FreeEnd) {
                Motion::AwayFromCollet
            } else {
                Motion::TowardCollet
            };
            let effect = format!("by {}", unit.words(to_remove.abs()));
            let expect = format!("a length of {}", unit.words(target + aim));
            let correction = screw.correct(unit, motion, to_remove.abs(), &effect, Some(&expect));
            let sentence = correction.sentence.clone();
            work.corrections.push(correction);
            work.caution(
                "Moving the holder re-opens the approach and the first piece, and the height after clamping should be \
                 read again. Leave the side screw free afterwards, so that the holder sits on the slide and not on the screw.",
            );
            sentence
        };
        work.caution_hands();
        let position = Position {
            length_error: unit.outward(error),
            expected_length: unit.outward(target + if alone.is_some() { error } else { aim }),
            leave_alone: alone.is_some(),
        };
        Ok(work.answer::<Self>(request.clone(), position, sentence, &[Source::GEOMETRY]))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};

    const BASE: &str = r#"{"unit": "in", "target_length": 0.75, "measured_length": 0.755, "measured_from": "free_end",
        "adjuster": {"threads": [{"per_inch": 20, "hand": "right"}], "clockwise_moves": "toward_collet"}}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "lateral-correction",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"target_length": 0}"#, "/target_length"),
                (r#"{"measured_length": -1}"#, "/measured_length"),
                (r#"{"measured_from": "middle"}"#, "/measured_from"),
                (
                    r#"{"adjuster": {"travel_per_turn": 0.05, "clockwise_moves": "tool_in"}}"#,
                    "/adjuster/clockwise_moves",
                ),
                (r#"{"length_tolerance": {"lower": 0.1, "upper": 0}}"#, "/length_tolerance"),
                (r#"{"length_tolerance": 0.001, "aim": 0.1}"#, "/aim"),
                (r#"{"length_standard_uncertainty": -0.1}"#, "/length_standard_uncertainty"),
                (r#"{"spindles": 6}"#, "/spindles"),
            ],
        );
    }

    /// 0.005 in over 0.05 in a turn is 0.1 turn. Too long from the free end: away from the collet; from the collet end:
    /// toward it (derived from the axes).
    #[test]
    fn the_end_it_was_measured_from_decides_the_way() {
        for (from, measured, direction) in [
            ("free_end", 0.755, "counterclockwise"),
            ("free_end", 0.745, "clockwise"),
            ("collet_end", 0.755, "clockwise"),
            ("collet_end", 0.745, "counterclockwise"),
        ] {
            let change = serde_json::json!({"measured_from": from, "measured_length": measured}).to_string();
            let got = answer(BASE, "lateral-correction", &change);
            assert_eq!(got["corrections"][0]["direction"], direction, "{from} {measured}");
            assert!((at(&got, "/corrections/0/turns") - 0.1).abs() < 1e-12);
        }
    }

    #[test]
    fn a_length_in_its_zone_is_left_alone() {
        for change in [
            r#"{"length_tolerance": 0.01}"#,
            r#"{"measured_length": 0.75}"#,
            r#"{"length_standard_uncertainty": 0.003}"#,
        ] {
            let got = answer(BASE, "lateral-correction", change);
            assert_eq!(got["result"]["leave_alone"], true);
            assert!(got["corrections"].as_array().unwrap().is_empty());
        }
        assert_eq!(
            answer(BASE, "lateral-correction", r#"{"length_tolerance": 0.0099}"#)["result"]["leave_alone"],
            false
        );
    }
}
