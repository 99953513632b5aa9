//! `approach`: the gap between form and bar when the working part of the cycle begins.

use super::{
    answer::{Answer, Calculation, Source, Work},
    error::{CalculationError, Reader},
    schema,
};
use crate::length::LengthUnit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct Approach;

/// The bar's section.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum BarShape {
    /// Round: its diameter.
    #[default]
    Round,
    /// Hexagon, given across flats.
    Hexagon,
    /// Square, given across flats.
    Square,
}

impl BarShape {
    /// Across corners over across flats.
    fn corners(self) -> f64 {
        match self {
            Self::Round => 1.0,
            Self::Hexagon => 2.0 / 3.0_f64.sqrt(),
            Self::Square => std::f64::consts::SQRT_2,
        }
    }
}

/// The bar, the form and the cam.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "ApproachRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// The largest diameter that meets *this* tool; across flats for a hexagon or a square.
    #[schemars(transform = schema::positive_length)]
    pub bar_diameter: f64,
    /// The bar's section.
    #[serde(default)]
    pub bar_shape: BarShape,
    /// How much larger the diameter may come.
    #[serde(default)]
    #[schemars(transform = schema::not_negative_length)]
    pub bar_tolerance: f64,
    /// Run-out of the bar as a total indicator reading.
    #[serde(default)]
    #[schemars(transform = schema::not_negative_length)]
    pub runout: f64,
    /// The smallest diameter that the form makes.
    #[schemars(transform = schema::positive_length)]
    pub smallest_diameter: f64,
    /// The tool's travel during the working part of the cycle.
    #[schemars(transform = schema::positive_length)]
    pub rise: f64,
    /// The gap to have.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub wanted_gap: Option<f64>,
    /// Spindle revolutions during the working part of the cycle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive)]
    pub working_revolutions: Option<f64>,
}

/// The gap.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "ApproachResult")]
pub struct Gap {
    /// Between the form and a bar of nominal size that runs true; below zero they overlap.
    pub gap: f64,
    /// The gap to the largest bar at its worst run-out.
    pub least_gap: f64,
    /// Whether even the least gap is above zero: the form touches nothing before the index is complete.
    pub clear: bool,
    /// The rise that leaves the wanted gap to the largest bar.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub needed_rise: Option<f64>,
    /// Feed in one revolution.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub feed_per_revolution: Option<f64>,
}

impl Calculation for Approach {
    const NAME: &'static str = "approach";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str =
        "The gap between form and bar when the working part of the cycle begins, and the feed per revolution.";
    const EXAMPLE: &'static str = r#"{"unit": "in", "bar_diameter": 0.75, "bar_shape": "hexagon", "bar_tolerance": 0.004, "runout": 0.006,
        "smallest_diameter": 0.5, "rise": 0.21, "wanted_gap": 0.01, "working_revolutions": 140}"#;
    type Request = Request;
    type Result = Gap;

    fn calculate(request: &Request) -> Result<Answer<Request, Gap>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let corners = request.bar_shape.corners();
        let bar = reader.positive_length("/bar_diameter", request.bar_diameter) * corners / 2.0;
        let tolerance = reader.not_negative_length("/bar_tolerance", request.bar_tolerance) * corners / 2.0;
        let runout = reader.not_negative_length("/runout", request.runout) / 2.0;
        let smallest = reader.positive_length("/smallest_diameter", request.smallest_diameter) / 2.0;
        let rise = reader.positive_length("/rise", request.rise);
        let wanted = request.wanted_gap.map(|gap| reader.positive_length("/wanted_gap", gap));
        let revolutions = request.working_revolutions.map(|n| reader.positive("/working_revolutions", n));
        reader.refuse_if(
            bar < smallest,
            "/bar_diameter",
            "the bar must not be below the smallest diameter made from it",
        );
        reader.finish()?;

        let unit = reader.unit;
        let depth = if request.bar_shape == BarShape::Round {
            unit.difference(request.bar_diameter, request.smallest_diameter) / 2.0
        } else {
            bar - smallest
        };
        let gap = rise - depth;
        let least = gap - tolerance - runout;
        let needed = wanted.map(|wanted| depth + tolerance + runout + wanted);
        let feed = revolutions.map(|revolutions| rise / revolutions);
        let mut work = Work::new(unit);
        work.length("r", "radius of the bar, across corners where it has any", bar);
        work.length("d", "depth of the form in the bar, bar radius less smallest radius", depth);
        work.length("t/2", "half of the tolerance, across corners", tolerance);
        work.length("TIR/2", "half of the run-out", runout);
        // The last bits of the sum are not a gap.
        let clear = least > 1e-12 * (rise + bar);
        let sentence = match (clear, needed) {
            (true, _) if wanted.is_none_or(|wanted| least >= wanted - 1e-12 * rise) => {
                format!("Clear: the form starts at least {} from the bar.", unit.words(least))
            }
            (true, Some(needed)) => format!(
                "The form starts only {} from the bar; a rise of {} would leave the gap wanted.",
                unit.words(least),
                unit.words(needed)
            ),
            (_, Some(needed)) => format!(
                "Not clear: the form can meet the bar before the index is complete. It needs a rise of {}, or to start farther out.",
                unit.words(needed)
            ),
            (_, None) => "Not clear: the form can meet the bar before the index is complete.".to_owned(),
        };
        work.caution("The form never touches the bar before the index is complete. Prove it by hand, with stock in every spindle.");
        work.caution_hands();
        let result = Gap {
            gap: unit.outward(gap),
            least_gap: unit.outward(least),
            clear,
            needed_rise: needed.map(|rise| unit.outward(rise)),
            feed_per_revolution: feed.map(|feed| unit.outward(feed)),
        };
        Ok(work.answer::<Self>(
            request.clone(),
            result,
            sentence,
            &[
                Source::GEOMETRY,
                Source {
                    title: "a gap of about 0.010 in at the start of the cut: common practice, no published source",
                    status: "recalled",
                },
            ],
        ))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};

    const BASE: &str = r#"{"unit": "in", "bar_diameter": 0.75, "bar_tolerance": 0.004, "runout": 0.006,
        "smallest_diameter": 0.5, "rise": 0.14, "wanted_gap": 0.01, "working_revolutions": 100}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "approach",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"bar_diameter": 0}"#, "/bar_diameter"),
                (r#"{"bar_diameter": 0.49}"#, "/bar_diameter"),
                (r#"{"bar_shape": "oval"}"#, "/bar_shape"),
                (r#"{"bar_tolerance": -1}"#, "/bar_tolerance"),
                (r#"{"runout": -1}"#, "/runout"),
                (r#"{"smallest_diameter": 0}"#, "/smallest_diameter"),
                (r#"{"rise": 0}"#, "/rise"),
                (r#"{"wanted_gap": 0}"#, "/wanted_gap"),
                (r#"{"working_revolutions": 0}"#, "/working_revolutions"),
                (r#"{"cam": 1}"#, "/cam"),
            ],
        );
    }

    /// 0.140 − 0.125 = 0.015; less 0.002 and 0.003 leaves 0.010 (derived).
    #[test]
    fn the_gap_is_what_the_rise_leaves() {
        let got = answer(BASE, "approach", "{}");
        assert_eq!(at(&got, "/result/gap"), 0.015);
        assert!((at(&got, "/result/least_gap") - 0.01).abs() < 1e-14);
        assert!((at(&got, "/result/needed_rise") - 0.14).abs() < 1e-14);
        assert_eq!(at(&got, "/result/feed_per_revolution"), 0.0014);
        assert_eq!(got["result"]["clear"], true);
        assert!(got["sentence"].as_str().unwrap().starts_with("Clear: "), "{}", got["sentence"]);
    }

    #[test]
    fn touching_is_not_clear() {
        for (rise, clear) in [(0.1300, false), (0.1299, false), (0.1301, true)] {
            let got = answer(BASE, "approach", &serde_json::json!({"rise": rise}).to_string());
            assert_eq!(got["result"]["clear"], clear, "{rise}");
        }
    }

    /// A 3/4 in hexagon is 0.8660 in across corners, a square 1.0607 in (plane geometry; also in stock tables, recalled).
    #[test]
    fn corners_count_for_hexagon_and_square() {
        for (shape, across) in [("hexagon", 0.866_025_403_784_438_6), ("square", 1.060_660_171_779_821_2)] {
            let change = serde_json::json!({"bar_shape": shape, "bar_tolerance": 0.0, "runout": 0.0, "rise": 0.3});
            let got = answer(BASE, "approach", &change.to_string());
            assert!((at(&got, "/result/gap") - (0.3 - (across - 0.5) / 2.0)).abs() < 1e-13, "{shape}");
        }
    }
}
