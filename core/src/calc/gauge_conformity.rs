//! `gauge-conformity`: whether a gauge lies inside its limits, given the uncertainty with which it was measured.

use super::{
    answer::{Answer, Calculation, Source, Work},
    distributions::{normal, normal_quantile},
    error::{CalculationError, Reader},
    rounding::rounded,
    schema,
};
use crate::length::LengthUnit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct GaugeConformity;

/// The measurement.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "GaugeConformityRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// The smallest size that conforms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::length)]
    pub lower_limit: Option<f64>,
    /// The largest size that conforms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::length)]
    pub upper_limit: Option<f64>,
    /// The size measured.
    #[schemars(transform = schema::length)]
    pub measured: f64,
    /// Its standard uncertainty.
    #[schemars(transform = schema::positive_length)]
    pub standard_uncertainty: f64,
    /// Probability of conformance that an acceptance needs: 0.95 when absent. Not together with `guard_factor`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::likely)]
    pub conformance: Option<f64>,
    /// Guard band over standard uncertainty; not together with `conformance`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0, max = 30))]
    pub guard_factor: Option<f64>,
}

/// What the measurement proves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[schemars(rename = "GaugeConformityVerdict")]
pub enum Verdict {
    /// Conformance is proved.
    Accept,
    /// Non-conformance is proved.
    Reject,
    /// Neither.
    Undecided,
}

/// The decision.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "GaugeConformityResult")]
pub struct Decision {
    /// The smallest size that is accepted; absent without a lower limit or without an acceptance zone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub acceptance_lower: Option<f64>,
    /// The largest size that is accepted; absent without an upper limit or without an acceptance zone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub acceptance_upper: Option<f64>,
    /// The guard band.
    pub guard_band: f64,
    /// Guard band over standard uncertainty.
    pub guard_factor: f64,
    /// What is proved.
    pub verdict: Verdict,
    /// The probability that the true size lies inside the limits.
    pub conformance_probability: f64,
}

/// Reads the wanted conformance and the guard factor, whichever was given.
fn read_guard(reader: &mut Reader, request: &Request) -> (f64, f64) {
    match (request.conformance, request.guard_factor) {
        (Some(_), Some(_)) => {
            reader.refuse("/guard_factor", "give conformance or guard_factor, one of the two");
            (f64::NAN, f64::NAN)
        }
        (None, Some(factor)) => {
            let factor = reader.not_negative("/guard_factor", factor);
            reader.refuse_if(factor > 30.0, "/guard_factor", "must be at most 30");
            (normal(factor), factor)
        }
        (conformance, None) => {
            let wanted = reader.likely("/conformance", conformance.unwrap_or(0.95));
            if wanted.is_nan() { (wanted, wanted) } else { (wanted, normal_quantile(wanted)) }
        }
    }
}

impl Calculation for GaugeConformity {
    const NAME: &'static str = "gauge-conformity";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "Whether a gauge lies inside its limits, given the uncertainty of its measurement.";
    const EXAMPLE: &'static str = r#"{"unit": "mm", "lower_limit": 12.7, "upper_limit": 12.704, "measured": 12.7021,
        "standard_uncertainty": 0.0005, "conformance": 0.95}"#;
    type Request = Request;
    type Result = Decision;

    fn calculate(request: &Request) -> Result<Answer<Request, Decision>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let lower = request.lower_limit.map(|limit| reader.length("/lower_limit", limit));
        let upper = request.upper_limit.map(|limit| reader.length("/upper_limit", limit));
        let measured = reader.length("/measured", request.measured);
        let uncertainty = reader.positive_length("/standard_uncertainty", request.standard_uncertainty);
        let (wanted, factor) = read_guard(&mut reader, request);
        reader.refuse_if(
            lower.is_none() && upper.is_none(),
            "/upper_limit",
            "give a lower limit, an upper limit or both",
        );
        reader.refuse_if(
            lower.zip(upper).is_some_and(|(lower, upper)| lower >= upper),
            "/upper_limit",
            "the upper limit must lie above the lower one",
        );
        reader.finish()?;

        let unit = reader.unit;
        let guard = factor * uncertainty;
        // How far the measured size lies inside each limit; below zero, outside.
        let inside = |limit: Option<f64>, sign: f64| {
            limit.map_or(f64::INFINITY, |limit| sign * unit.difference(request.measured, limit))
        };
        let (above_lower, below_upper) = (inside(request.lower_limit, 1.0), inside(request.upper_limit, -1.0));
        let least = above_lower.min(below_upper);
        // Both tails, each in its own digits.
        let probability = if least >= 0.0 {
            1.0 - normal(-above_lower / uncertainty) - normal(-below_upper / uncertainty)
        } else {
            let (near, far) = (least, above_lower.max(below_upper));
            normal(near / uncertainty) - normal(-far / uncertainty)
        }
        .clamp(0.0, 1.0);
        // Last bits of the guard band or of the probability do not decide.
        let slack = 1e-12 * (guard + measured.abs());
        let width = request.lower_limit.zip(request.upper_limit).map(|(lower, upper)| unit.difference(upper, lower));
        let no_zone = width.is_some_and(|width| 2.0 * guard >= width - slack);
        let verdict = if !no_zone && least >= guard - slack && probability >= wanted - 1e-12 {
            Verdict::Accept
        } else if least < -guard - slack {
            Verdict::Reject
        } else {
            Verdict::Undecided
        };

        let mut work = Work::new(unit);
        work.number("k", "guard band over standard uncertainty", factor);
        work.length("g", "guard band, k · u", guard);
        work.number("p", "probability that the true size lies inside the limits", probability);
        let acceptance = |limit: Option<f64>| limit.filter(|_| !no_zone);
        let percent = 100.0 * probability;
        let sentence = match verdict {
            Verdict::Accept => format!("Accept: {percent:.1} % sure that it lies inside its limits."),
            Verdict::Reject => format!("Reject: {:.1} % sure that it lies outside its limits.", 100.0 - percent),
            Verdict::Undecided => format!(
                "Undecided: {percent:.1} % sure that it lies inside its limits. Measure with a smaller uncertainty, or \
                 do not use it."
            ),
        };
        if no_zone {
            work.caution(
                "There is no acceptance zone: the guard bands fill the limits. Nothing can be accepted with this uncertainty.",
            );
        }
        let decision = Decision {
            acceptance_lower: acceptance(lower).map(|limit| unit.outward(limit + guard)),
            acceptance_upper: acceptance(upper).map(|limit| unit.outward(limit - guard)),
            guard_band: unit.outward(guard),
            guard_factor: rounded(factor),
            verdict,
            conformance_probability: rounded(probability),
        };
        Ok(work.answer::<Self>(
            request.clone(),
            decision,
            sentence,
            &[
                Source::transcription(
                    "ISO 14253-1, decision rules for verifying conformity (guard factor 1.65 for 95 %)",
                ),
                Source::recalled("JCGM 106:2012, conformance probability"),
            ],
        ))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};
    use proptest::prelude::*;

    const BASE: &str = r#"{"unit": "mm", "lower_limit": 9.99, "upper_limit": 10.01, "measured": 10.0,
        "standard_uncertainty": 0.002}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "gauge-conformity",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"lower_limit": null, "upper_limit": null}"#, "/upper_limit"),
                (r#"{"lower_limit": 10.01}"#, "/upper_limit"),
                (r#"{"measured": null}"#, "/measured"),
                (r#"{"measured": 1e9}"#, "/measured"),
                (r#"{"standard_uncertainty": 0}"#, "/standard_uncertainty"),
                (r#"{"conformance": 1}"#, "/conformance"),
                (r#"{"conformance": 0.4}"#, "/conformance"),
                (r#"{"conformance": 0.9, "guard_factor": 2}"#, "/guard_factor"),
                (r#"{"guard_factor": -1}"#, "/guard_factor"),
                (r#"{"guard_factor": 31}"#, "/guard_factor"),
                (r#"{"expanded_uncertainty": 1}"#, "/expanded_uncertainty"),
            ],
        );
    }

    /// g = 2 · 0.002 = 0.004: accepted from 9.994 to 10.006, rejected below 9.986 and above 10.014 (derived).
    #[test]
    fn guard_bands_decide_both_ways() {
        for (measured, verdict) in [
            (10.0, "accept"),
            (10.005, "accept"),
            (10.0061, "undecided"),
            (10.01, "undecided"),
            (10.0139, "undecided"),
            (10.0141, "reject"),
            (9.994, "accept"),
            (9.9859, "reject"),
        ] {
            let change = serde_json::json!({"measured": measured, "guard_factor": 2.0}).to_string();
            assert_eq!(answer(BASE, "gauge-conformity", &change)["result"]["verdict"], verdict, "{measured}");
        }
        let got = answer(BASE, "gauge-conformity", r#"{"guard_factor": 2.0}"#);
        assert_eq!((at(&got, "/result/acceptance_lower"), at(&got, "/result/acceptance_upper")), (9.994, 10.006));
    }

    #[test]
    fn a_guard_band_of_half_the_width_accepts_nothing() {
        let got = answer(BASE, "gauge-conformity", r#"{"guard_factor": 5.0}"#);
        assert_eq!(got["result"]["verdict"], "undecided");
        assert!(got["result"].get("acceptance_lower").is_none());
        assert!(got["cautions"][0].as_str().unwrap().starts_with("There is no acceptance zone"));
    }

    /// Inside both guard limits, but with both tails outside together below 95 %: not accepted. Width 3.4 u, guard
    /// 1.645 u each side; on centre 1 − 2·Φ(−1.7) = 0.9109 (derived).
    #[test]
    fn both_tails_count() {
        let change = r#"{"lower_limit": 9.9966, "upper_limit": 10.0034}"#;
        let got = answer(BASE, "gauge-conformity", change);
        assert_eq!(got["result"]["verdict"], "undecided");
        assert!((at(&got, "/result/conformance_probability") - 0.910_869_074_482_914).abs() < 1e-12, "{got}");
    }

    proptest! {
        /// A size farther outside never becomes more probable to conform, and probabilities stay probabilities.
        #[test]
        fn farther_out_is_less_probable(measured in 9.9..10.1_f64, out in 0.0..0.05_f64, u in 0.0005..0.01_f64) {
            let probability = |measured: f64| {
                let change = serde_json::json!({"measured": measured, "standard_uncertainty": u});
                at(&answer(BASE, "gauge-conformity", &change.to_string()), "/result/conformance_probability")
            };
            let outward = if measured < 10.0 { -out } else { out };
            let (near, far) = (probability(measured), probability(measured + outward));
            prop_assert!((0.0..=1.0).contains(&near) && far <= near + 1e-15);
        }
    }
}
