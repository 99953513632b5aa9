//! `setting-adjustment`: how much of an observed error to take out, piece after piece, without chasing noise.
//!
//! Grubbs' harmonic rule: after the first piece take out all of its deviation, after the second half, after the n-th
//! one n-th. Stated for any history of moves: the setting's offset is the mean of `yᵢ − target − Aᵢ₋₁`, `A` the moves
//! applied before piece i, and the next move brings the total of moves to its negative.

use super::{
    answer::{Answer, Calculation, Source, Work},
    correction::leave_it_alone,
    error::{CalculationError, Reader},
    limits::Limits,
    schema,
};
use crate::length::LengthUnit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct SettingAdjustment;

/// The pieces so far.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "SettingAdjustmentRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// The size wanted.
    #[schemars(transform = schema::length)]
    pub target: f64,
    /// The sizes of the pieces, in the order they were made.
    #[schemars(length(min = 1), transform = schema::length)]
    pub measured: Vec<f64>,
    /// The change of measured size that was made after each piece; none where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::length)]
    pub applied: Option<Vec<f64>>,
    /// How far pieces of one setting scatter.
    #[schemars(transform = schema::positive_length)]
    pub process_standard_deviation: f64,
    /// Deviations that the part allows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tolerance: Option<Limits>,
    /// The smallest move that is worth making.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::not_negative_length)]
    pub smallest_move: Option<f64>,
}

/// The squared error to expect of the next piece, in the unit squared.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ExpectedSquaredError {
    /// After this rule's move: `σ²(1 + 1/n)`.
    pub harmonic: f64,
    /// After taking out the whole deviation of the last piece: `2σ²`.
    pub full_correction: f64,
}

/// The next move.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "SettingAdjustmentResult")]
pub struct NextMove {
    /// The change of measured size that the rule makes next.
    pub next_adjustment: f64,
    /// Which rule.
    #[schemars(extend("const" = "harmonic"))]
    pub rule: &'static str,
    /// Whether the move is better not made.
    pub leave_alone: bool,
    /// The setting's deviation from the target as it stands, by all pieces.
    pub estimated_deviation: f64,
    /// Its standard uncertainty, `σ/√n`.
    pub standard_uncertainty: f64,
    /// What to expect of the next piece.
    pub expected_squared_error: ExpectedSquaredError,
}

impl Calculation for SettingAdjustment {
    const NAME: &'static str = "setting-adjustment";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str =
        "How much of an observed error to take out, piece after piece, without chasing noise.";
    const EXAMPLE: &'static str = r#"{"unit": "mm", "target": 12.7, "measured": [12.74, 12.708, 12.695], "applied": [-0.04, -0.004],
        "process_standard_deviation": 0.006, "tolerance": 0.02, "smallest_move": 0.002}"#;
    type Request = Request;
    type Result = NextMove;

    fn calculate(request: &Request) -> Result<Answer<Request, NextMove>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        reader.length("/target", request.target);
        let count = request.measured.len();
        reader.refuse_if(count == 0, "/measured", "measure at least one piece");
        for (i, size) in request.measured.iter().enumerate() {
            reader.length(&format!("/measured/{i}"), *size);
        }
        let given = request.applied.as_deref().unwrap_or_default();
        reader.refuse_if(given.len() > count, "/applied", "there are more moves than pieces to make them after");
        let applied: Vec<f64> =
            given.iter().enumerate().map(|(i, change)| reader.length(&format!("/applied/{i}"), *change)).collect();
        let sigma = reader.positive_length("/process_standard_deviation", request.process_standard_deviation);
        let zone = request.tolerance.map(|limits| limits.read(&mut reader, "/tolerance").middle_half());
        let smallest = request.smallest_move.map(|m| reader.not_negative_length("/smallest_move", m));
        reader.finish()?;

        let unit = reader.unit;
        #[expect(clippy::cast_precision_loss, reason = "a count of pieces")]
        let n = count as f64;
        let mut total = 0.0;
        let mut sum = 0.0;
        for (i, size) in request.measured.iter().enumerate() {
            sum += unit.difference(*size, request.target) - total;
            total += applied.get(i).copied().unwrap_or(0.0);
        }
        let offset = sum / n;
        let next = -offset - total;
        let uncertainty = sigma / n.sqrt();
        let mut work = Work::new(unit);
        work.length("ô", "offset of the setting without any move, the mean of yᵢ − target − Aᵢ₋₁", offset);
        work.length("Aₙ", "sum of the moves so far", total);
        work.length("m", "next move, −ô − Aₙ", next);
        work.length("σ/√n", "standard uncertainty of the offset", uncertainty);
        let reason = if smallest.is_some_and(|smallest| next.abs() < smallest) {
            Some("the move would be smaller than the smallest useful one".to_owned())
        } else if let Some(zone) = zone.filter(|zone| zone.holds(-next)) {
            Some(format!("the setting lies in the middle half of the tolerance, {} of the target", zone.words(unit)))
        } else if next.abs() <= 1e-14 * (offset.abs() + total.abs()) {
            Some("the setting is on target".to_owned())
        } else {
            None
        };
        let sentence = match &reason {
            Some(reason) => leave_it_alone(reason),
            None => format!(
                "After {count} {} change the measured size by {}: {} of the last deviation counts, the rest is scatter.",
                if count == 1 { "piece" } else { "pieces" },
                unit.words(next),
                if count == 1 { "all".to_owned() } else { format!("about 1/{count}") },
            ),
        };
        work.caution("Measure pieces from one spindle, or means over full rounds of spindles; never mix them.");
        let square = |millimetres: f64| {
            let length = unit.outward(millimetres);
            super::rounding::rounded(length * length)
        };
        let result = NextMove {
            next_adjustment: unit.outward(next),
            rule: "harmonic",
            leave_alone: reason.is_some(),
            estimated_deviation: unit.outward(-next),
            standard_uncertainty: unit.outward(uncertainty),
            expected_squared_error: ExpectedSquaredError {
                harmonic: square(sigma * (1.0 + 1.0 / n).sqrt()),
                full_correction: square(sigma * std::f64::consts::SQRT_2),
            },
        };
        Ok(work.answer::<Self>(
            request.clone(),
            result,
            sentence,
            &[Source::recalled(
                "F. E. Grubbs, An optimum procedure for setting machines or adjusting processes (1954)",
            )],
        ))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};
    use proptest::prelude::*;

    const BASE: &str = r#"{"unit": "mm", "target": 10, "measured": [10.04], "process_standard_deviation": 0.01}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "setting-adjustment",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"target": 1e9}"#, "/target"),
                (r#"{"measured": []}"#, "/measured"),
                (r#"{"measured": [1e9]}"#, "/measured/0"),
                (r#"{"applied": [0.1, 0.1]}"#, "/applied"),
                (r#"{"applied": [1e9]}"#, "/applied/0"),
                (r#"{"process_standard_deviation": 0}"#, "/process_standard_deviation"),
                (r#"{"tolerance": {"lower": 1, "upper": 0}}"#, "/tolerance"),
                (r#"{"smallest_move": -1}"#, "/smallest_move"),
                (r#"{"gain": 1}"#, "/gain"),
            ],
        );
    }

    /// The rule as its author states it: after piece n take out one n-th of that piece's deviation.
    #[test]
    fn the_harmonic_rule() {
        let deviations = [0.04, -0.012, 0.008, 0.003, -0.006];
        let mut measured = Vec::new();
        let mut applied: Vec<f64> = Vec::new();
        for (i, deviation) in deviations.iter().enumerate() {
            measured.push(10.0 + deviation);
            let change = serde_json::json!({"measured": measured, "applied": applied}).to_string();
            let next = at(&answer(BASE, "setting-adjustment", &change), "/result/next_adjustment");
            let n = f64::from(u32::try_from(i + 1).unwrap());
            assert!((next + deviation / n).abs() < 1e-14, "piece {n}: {next}");
            applied.push(next);
        }
        let all = answer(BASE, "setting-adjustment", r#"{"measured": [10.04, 9.98], "applied": [-0.04]}"#);
        assert!((at(&all, "/result/expected_squared_error/harmonic") - 1.5e-4).abs() < 1e-16);
        assert!((at(&all, "/result/expected_squared_error/full_correction") - 2e-4).abs() < 1e-16);
    }

    #[test]
    fn small_moves_are_left_alone() {
        for change in [
            r#"{"smallest_move": 0.041}"#,
            r#"{"tolerance": 0.08}"#,
            r#"{"measured": [10]}"#,
            r#"{"measured": [10.04], "applied": [-0.04]}"#,
        ] {
            let got = answer(BASE, "setting-adjustment", change);
            assert_eq!(got["result"]["leave_alone"], true, "{change}");
        }
        for change in [r#"{"smallest_move": 0.04}"#, r#"{"tolerance": 0.079}"#] {
            assert_eq!(answer(BASE, "setting-adjustment", change)["result"]["leave_alone"], false, "{change}");
        }
    }

    proptest! {
        /// Whatever moves were made, the next one brings the total to minus the mean of what the pieces would have been.
        #[test]
        fn any_history_leads_to_the_same_place(
            raw in prop::collection::vec(-0.1..0.1_f64, 1..12), moves in prop::collection::vec(-0.05..0.05_f64, 12),
        ) {
            let mut total = 0.0;
            let mut measured = Vec::new();
            for (deviation, change) in raw.iter().zip(&moves) {
                measured.push(10.0 + deviation + total);
                total += change;
            }
            let applied = &moves[..raw.len()];
            let change = serde_json::json!({"measured": measured, "applied": applied}).to_string();
            let next = at(&answer(BASE, "setting-adjustment", &change), "/result/next_adjustment");
            #[expect(clippy::cast_precision_loss, reason = "a small count")]
            let mean = raw.iter().sum::<f64>() / raw.len() as f64;
            prop_assert!((total + next + mean).abs() < 1e-12);
        }
    }
}
