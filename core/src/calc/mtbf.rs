//! `mtbf`: mean time between failures with confidence limits, from a time-terminated observation.

use super::{
    answer::{Answer, Calculation, Source, Work},
    distributions::chi_square_quantile,
    error::{CalculationError, Reader, finite},
    rounding::rounded,
    schema,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct Mtbf;

/// On which sides the confidence lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[schemars(rename = "ConfidenceSides")]
pub enum Sided {
    /// A lower limit alone.
    One,
    /// A lower and an upper limit together.
    Two,
}

/// The observation.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "MtbfRequest")]
pub struct Request {
    /// Running time of all units together, in any one unit.
    #[schemars(transform = schema::positive)]
    pub total_time: f64,
    /// Failures in that time.
    #[schemars(range(max = 1_000_000))]
    pub failures: u32,
    /// Confidence of the limits.
    #[schemars(transform = schema::probability)]
    pub confidence: f64,
    /// One limit or two.
    pub sided: Sided,
}

/// The mean time.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "MtbfResult")]
pub struct MeanTime {
    /// Time over failures; absent without a failure.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mtbf: Option<f64>,
    /// The lower limit.
    pub lower: f64,
    /// The upper limit; absent where one-sided, and without a failure.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub upper: Option<f64>,
}

impl Calculation for Mtbf {
    const NAME: &'static str = "mtbf";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "Mean time between failures with confidence limits, without a failure too.";
    const EXAMPLE: &'static str = r#"{"total_time": 4200, "failures": 3, "confidence": 0.9, "sided": "two"}"#;
    type Request = Request;
    type Result = MeanTime;

    fn calculate(request: &Request) -> Result<Answer<Request, MeanTime>, CalculationError> {
        let mut reader = Reader::unitless();
        let time = reader.positive("/total_time", request.total_time);
        let confidence = reader.between("/confidence", request.confidence, 0.0, 1.0);
        reader.refuse_if(request.failures > 1_000_000, "/failures", "must be at most a million");
        reader.finish()?;

        let failures = f64::from(request.failures);
        let tail = match request.sided {
            Sided::One => 1.0 - confidence,
            Sided::Two => (1.0 - confidence) / 2.0,
        };
        let above = chi_square_quantile(1.0 - tail, 2.0 * failures + 2.0);
        let lower = finite(2.0 * time / above, "/total_time", "limit")?;
        let below =
            (request.sided == Sided::Two && request.failures > 0).then(|| chi_square_quantile(tail, 2.0 * failures));
        let upper = below.map(|below| finite(2.0 * time / below, "/total_time", "limit")).transpose()?;
        let mtbf = (request.failures > 0).then(|| time / failures);

        let mut work = Work::unitless(None);
        work.number("χ² upper", "of 2r + 2 degrees of freedom", above);
        if let Some(below) = below {
            work.number("χ² lower", "of 2r degrees of freedom", below);
        }
        let percent = 100.0 * confidence;
        let sentence = match (mtbf, upper) {
            (Some(mtbf), Some(upper)) => {
                format!(
                    "Mean time between failures {mtbf:.4}, with {percent} % confidence between {lower:.4} and {upper:.4}."
                )
            }
            (Some(mtbf), None) => {
                format!("Mean time between failures {mtbf:.4}, with {percent} % confidence at least {lower:.4}.")
            }
            // There is no upper limit, so the lower one alone has what the tail leaves.
            (None, _) => {
                let percent = rounded(100.0 * (1.0 - tail));
                format!("No failure yet: with {percent} % confidence at least {lower:.4} between failures.")
            }
        };
        work.caution("This holds for failures by chance, at a constant rate, in a time fixed beforehand; wear needs a life distribution.");
        if request.failures == 0 && request.sided == Sided::Two {
            work.caution("Without a failure there is no upper limit; the lower one is that of the two-sided question, with half of its doubt.");
        }
        let found = MeanTime { mtbf: mtbf.map(rounded), lower: rounded(lower), upper: upper.map(rounded) };
        Ok(work.answer::<Self>(
            request.clone(),
            found,
            sentence,
            &[Source::seen("NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1")],
        ))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};
    use proptest::prelude::*;
    use serde_json::json;

    const BASE: &str = r#"{"total_time": 1000, "failures": 0, "confidence": 0.9, "sided": "one"}"#;

    #[test]
    fn impossible_observations_are_refused() {
        refused(
            BASE,
            "mtbf",
            &[
                (r#"{"total_time": 0}"#, "/total_time"),
                (r#"{"total_time": null}"#, "/total_time"),
                (r#"{"failures": -1}"#, "/failures"),
                (r#"{"failures": 2000000}"#, "/failures"),
                (r#"{"confidence": 1}"#, "/confidence"),
                (r#"{"confidence": null}"#, "/confidence"),
                (r#"{"sided": "both"}"#, "/sided"),
                (r#"{"hours": 1}"#, "/hours"),
            ],
        );
    }

    /// Without a failure the limit is `T/−ln(1 − confidence)`, for chi-square of two degrees is exponential (derived).
    #[test]
    fn no_failure_still_gives_a_limit() {
        let got = answer(BASE, "mtbf", "{}");
        assert!((at(&got, "/result/lower") / (1000.0 / 10.0_f64.ln()) - 1.0).abs() < 1e-12);
        assert!(got["result"].get("mtbf").is_none() && got["result"].get("upper").is_none());
        let two = answer(BASE, "mtbf", r#"{"sided": "two"}"#);
        assert!((at(&two, "/result/lower") / (1000.0 / 20.0_f64.ln()) - 1.0).abs() < 1e-12);
        assert_eq!(two["sentence"], "No failure yet: with 95 % confidence at least 333.8082 between failures.");
    }

    proptest! {
        /// The limits enclose the estimate and widen with confidence; the Poisson tail at a limit is the doubt.
        #[test]
        fn limits_enclose(failures in 1_u32..200, confidence in 0.5..0.99_f64) {
            let got = answer(BASE, "mtbf", &json!({"failures": failures, "confidence": confidence, "sided": "two"}).to_string());
            let (mtbf, lower, upper) = (at(&got, "/result/mtbf"), at(&got, "/result/lower"), at(&got, "/result/upper"));
            prop_assert!(lower < mtbf && mtbf < upper);
            let at_most = |mean: f64, n: u32| {
                let mut term = (-mean).exp();
                let mut sum = term;
                for i in 1..=n {
                    term *= mean / f64::from(i);
                    sum += term;
                }
                sum
            };
            let doubt = (1.0 - confidence) / 2.0;
            prop_assert!((at_most(1000.0 / lower, failures) - doubt).abs() < 1e-9);
            prop_assert!((1.0 - at_most(1000.0 / upper, failures - 1) - doubt).abs() < 1e-9);
        }
    }
}
