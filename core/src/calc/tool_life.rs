//! `tool-life`: Taylor's life of an edge, `V·Tⁿ = C`, and pieces from one grind.

use super::{
    answer::{Answer, Calculation, Source, Work},
    error::{CalculationError, Reader, finite},
    rounding::rounded,
    schema,
    summary::line,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct ToolLife;

/// An edge's life at one surface speed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "ToolLifePoint")]
pub struct Point {
    /// Surface speed, in any one unit for all points.
    #[schemars(transform = schema::positive)]
    pub speed: f64,
    /// Minutes of cutting until the edge is dull.
    #[schemars(transform = schema::positive)]
    pub minutes: f64,
}

/// What is known of the edge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "ToolLifeRequest")]
pub struct Request {
    /// Two or more lives; or give `n` and `c`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 2))]
    pub points: Option<Vec<Point>>,
    /// Taylor's exponent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("exclusiveMinimum" = 0, "exclusiveMaximum" = 2))]
    pub n: Option<f64>,
    /// The speed of a life of one minute.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive)]
    pub c: Option<f64>,
    /// The speed whose life is asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive)]
    pub speed: Option<f64>,
    /// The life whose speed is asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive)]
    pub wanted_minutes: Option<f64>,
    /// Seconds of cutting in one piece.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive)]
    pub cut_seconds_per_piece: Option<f64>,
}

/// The life.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "ToolLifeResult")]
pub struct Life {
    /// Taylor's exponent.
    pub n: f64,
    /// The speed of a life of one minute.
    pub c: f64,
    /// Minutes at the speed asked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub minutes: Option<f64>,
    /// Whole pieces in those minutes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pieces_per_grind: Option<u64>,
    /// The speed of the life asked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub speed_for_wanted_minutes: Option<f64>,
}

/// `(n, ln C)`: from two points exactly, from more by a straight line of `ln T` over `ln V`, since life is what scatters.
fn taylor(reader: &mut Reader, request: &Request) -> (f64, f64) {
    const NAN: (f64, f64) = (f64::NAN, f64::NAN);
    match (&request.points, request.n, request.c) {
        (Some(points), None, None) => {
            if points.len() < 2 {
                reader.refuse("/points", format!("two lives at two speeds are needed: {} more", 2 - points.len()));
                return NAN;
            }
            let logs: Vec<(f64, f64)> = points
                .iter()
                .enumerate()
                .map(|(i, point)| {
                    let speed = reader.positive(&format!("/points/{i}/speed"), point.speed);
                    let minutes = reader.positive(&format!("/points/{i}/minutes"), point.minutes);
                    (speed.ln(), minutes.ln())
                })
                .collect();
            if logs.iter().any(|(v, t)| v.is_nan() || t.is_nan()) {
                return NAN;
            }
            match line(&logs) {
                None => {
                    reader.refuse("/points", "lives at one speed tell nothing of another: measure at a second speed");
                    NAN
                }
                Some(fit) if fit.slope >= 0.0 => {
                    reader.refuse("/points", "these lives do not fall with speed; Taylor's rule does not hold here");
                    NAN
                }
                Some(fit) => (-1.0 / fit.slope, fit.mean_x - fit.mean_y / fit.slope),
            }
        }
        (None, Some(n), Some(c)) => (reader.between("/n", n, 0.0, 2.0), reader.positive("/c", c).ln()),
        _ => {
            reader.refuse("/points", "give points, or n and c");
            NAN
        }
    }
}

impl Calculation for ToolLife {
    const NAME: &'static str = "tool-life";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str =
        "Taylor's life of an edge at a speed, its n and C from lives, and pieces from one grind.";
    const EXAMPLE: &'static str = r#"{"points": [{"speed": 210, "minutes": 95}, {"speed": 260, "minutes": 38}], "speed": 230,
        "cut_seconds_per_piece": 4.5}"#;
    type Request = Request;
    type Result = Life;

    fn calculate(request: &Request) -> Result<Answer<Request, Life>, CalculationError> {
        let mut reader = Reader::unitless();
        let (n, log_c) = taylor(&mut reader, request);
        let speed = request.speed.map(|speed| reader.positive("/speed", speed));
        let wanted = request.wanted_minutes.map(|minutes| reader.positive("/wanted_minutes", minutes));
        let seconds = request.cut_seconds_per_piece.map(|seconds| reader.positive("/cut_seconds_per_piece", seconds));
        reader.refuse_if(
            seconds.is_some() && speed.is_none(),
            "/speed",
            "pieces from a grind need the speed at which they are cut",
        );
        reader.finish()?;

        finite(n, "/points", "exponent")?;
        let c = finite(log_c.exp(), "/points", "speed of a life of one minute")?;
        let minutes = speed.map(|speed| finite(((log_c - speed.ln()) / n).exp(), "/speed", "life")).transpose()?;
        let pieces = match (minutes, seconds) {
            (Some(minutes), Some(seconds)) => Some(whole_pieces(60.0 * minutes / seconds)?),
            _ => None,
        };
        let speed_for =
            wanted.map(|minutes| finite((log_c - n * minutes.ln()).exp(), "/wanted_minutes", "speed")).transpose()?;
        let mut work = Work::unitless(None);
        work.number("n", "Taylor's exponent", n);
        work.number("C", "speed of a life of one minute, in the unit of the speeds", c);
        if let Some(minutes) = minutes {
            work.value("T", "life, (C / V)^(1/n)", minutes, "min");
        }
        let sentence = match (minutes, pieces) {
            (Some(minutes), Some(pieces)) => format!("The edge lasts {minutes:.1} minutes, {pieces} pieces."),
            (Some(minutes), None) => format!("The edge lasts {minutes:.1} minutes."),
            _ => format!("V·T^{n:.4} = {c:.4}: halving the speed lasts {:.1} times as long.", 2.0_f64.powf(1.0 / n)),
        };
        if request.points.as_ref().is_some_and(|points| points.len() == 2) {
            work.caution("Two lives fit any curve; a third would check this one.");
        }
        work.caution("Taylor's rule holds between the speeds that were tried, not far beyond them.");
        let life = Life {
            n: rounded(n),
            c: rounded(c),
            minutes: minutes.map(rounded),
            pieces_per_grind: pieces,
            speed_for_wanted_minutes: speed_for.map(rounded),
        };
        Ok(work.answer::<Self>(
            request.clone(),
            life,
            sentence,
            &[Source::seen("F. W. Taylor, The Principles of Scientific Management (1911)")],
        ))
    }
}

/// Whole pieces of a quotient; the last bits of an exact one do not lose a piece.
fn whole_pieces(quotient: f64) -> Result<u64, CalculationError> {
    let whole = (quotient * (1.0 + 1e-12)).floor();
    if whole > 1e15 {
        return Err(CalculationError::field("/cut_seconds_per_piece", "these numbers give no countable pieces"));
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "not negative, and below 2^53, checked above"
    )]
    Ok(whole as u64)
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};
    use proptest::prelude::*;

    const BASE: &str = r#"{"n": 0.25, "c": 400, "speed": 100, "cut_seconds_per_piece": 4.5}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "tool-life",
            &[
                (r#"{"n": null}"#, "/points"),
                (r#"{"points": []}"#, "/points"),
                (r#"{"n": null, "c": null, "points": [{"speed": 100, "minutes": 30}]}"#, "/points"),
                (
                    r#"{"n": null, "c": null, "points": [{"speed": 100, "minutes": 30}, {"speed": 100, "minutes": 40}]}"#,
                    "/points",
                ),
                (
                    r#"{"n": null, "c": null, "points": [{"speed": 100, "minutes": 30}, {"speed": 120, "minutes": 40}]}"#,
                    "/points",
                ),
                (
                    r#"{"n": null, "c": null, "points": [{"speed": 100, "minutes": 30}, {"speed": 0, "minutes": 40}]}"#,
                    "/points/1/speed",
                ),
                (
                    r#"{"n": null, "c": null, "points": [{"speed": 100, "minutes": 30}, {"speed": 120, "minutes": -4}]}"#,
                    "/points/1/minutes",
                ),
                (r#"{"n": 0}"#, "/n"),
                (r#"{"c": 0}"#, "/c"),
                (r#"{"speed": 0}"#, "/speed"),
                (r#"{"speed": null}"#, "/speed"),
                (r#"{"speed": 1e-300}"#, "/speed"),
                (r#"{"speed": 1e-9}"#, "/cut_seconds_per_piece"),
                (r#"{"wanted_minutes": 0}"#, "/wanted_minutes"),
                (r#"{"cut_seconds_per_piece": 0}"#, "/cut_seconds_per_piece"),
                (r#"{"unit": "mm"}"#, "/unit"),
            ],
        );
    }

    /// C = V at one minute; a quarter of C with n = 1/4 lasts 256 minutes, 3413 pieces of 4.5 s (derived).
    #[test]
    fn a_quarter_of_c_lasts_256_minutes() {
        let got = answer(BASE, "tool-life", r#"{"wanted_minutes": 16}"#);
        assert!((at(&got, "/result/minutes") - 256.0).abs() < 1e-10);
        assert_eq!(got["result"]["pieces_per_grind"], 3413);
        assert!((at(&got, "/result/speed_for_wanted_minutes") - 200.0).abs() < 1e-10);
    }

    proptest! {
        /// Lives made with an n and a C give them back, from two points and from more.
        #[test]
        fn n_and_c_read_back(n in 0.05..1.0_f64, c in 10.0..2000.0_f64, count in 2_usize..6) {
            let points: Vec<_> = (0..count).map(|i| {
                let minutes = 5.0 * 2.0_f64.powi(i32::try_from(i).unwrap());
                serde_json::json!({"speed": c / minutes.powf(n), "minutes": minutes})
            }).collect();
            let change = serde_json::json!({"n": null, "c": null, "speed": c, "points": points});
            let got = answer(BASE, "tool-life", &change.to_string());
            prop_assert!((at(&got, "/result/n") / n - 1.0).abs() < 1e-11);
            prop_assert!((at(&got, "/result/c") / c - 1.0).abs() < 1e-10);
        }
    }
}
