//! `capability`: what a process can hold: Cp, Cpk with confidence limits, expected rejects, a tolerance interval.

use super::{
    answer::{Answer, Calculation, Source, Work},
    distributions::{normal, normal_quantile},
    error::{CalculationError, Reader, finite},
    rounding::rounded,
    schema,
    summary::{count, mean, standard_deviation},
    tolerance_interval::{one_sided_factor, two_sided_factor},
};
use crate::length::LengthUnit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct Capability;

/// A tolerance interval to compute.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "ToleranceIntervalRequest")]
pub struct IntervalRequest {
    /// The share of pieces that it holds, at least a half.
    #[schemars(transform = schema::likely)]
    pub share: f64,
    /// The confidence with which it holds them.
    #[schemars(transform = schema::probability)]
    pub confidence: f64,
}

/// The readings, or what is known of them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "CapabilityRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// The smallest size allowed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::length)]
    pub lower_limit: Option<f64>,
    /// The largest size allowed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::length)]
    pub upper_limit: Option<f64>,
    /// Readings of one spindle; or give `mean`, `standard_deviation` and, for confidence limits, `n`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::length)]
    pub readings: Option<Vec<f64>>,
    /// The mean.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::length)]
    pub mean: Option<f64>,
    /// The standard deviation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub standard_deviation: Option<f64>,
    /// From how many readings.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 2))]
    pub n: Option<u32>,
    /// Confidence of the limits of Cpk, both together.
    #[serde(default = "usual")]
    #[schemars(transform = schema::probability)]
    pub confidence: f64,
    /// A tolerance interval, where wanted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tolerance_interval: Option<IntervalRequest>,
}

const fn usual() -> f64 {
    0.95
}

/// An interval that holds a share of all pieces.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "ToleranceInterval")]
pub struct Interval {
    /// Mean ± this many standard deviations, both sides together.
    pub two_sided_factor: f64,
    /// Lower end, two-sided.
    pub lower: f64,
    /// Upper end, two-sided.
    pub upper: f64,
    /// Mean + or − this many standard deviations, one side alone.
    pub one_sided_factor: f64,
    /// Lower end, one side alone.
    pub one_sided_lower: f64,
    /// Upper end, one side alone.
    pub one_sided_upper: f64,
}

/// What the process can hold.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "CapabilityResult")]
pub struct Capable {
    /// The mean.
    pub mean: f64,
    /// The standard deviation.
    pub standard_deviation: f64,
    /// Width of the limits over six standard deviations; with both limits only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cp: Option<f64>,
    /// The smaller of `cpu` and `cpl`.
    pub cpk: f64,
    /// Upper limit less mean over three standard deviations.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cpu: Option<f64>,
    /// Mean less lower limit over three standard deviations.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cpl: Option<f64>,
    /// Lower confidence limit of Cpk, where the count of readings is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cpk_lower: Option<f64>,
    /// Upper confidence limit of Cpk, where the count of readings is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cpk_upper: Option<f64>,
    /// Expected rejects in a million, of a normal process that stays where it is.
    pub rejects_per_million: f64,
    /// The tolerance interval asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tolerance_interval: Option<Interval>,
}

/// Mean and standard deviation in millimetres, and the count where known.
fn read_sample(reader: &mut Reader, request: &Request) -> (f64, f64, Option<usize>) {
    const NAN: (f64, f64, Option<usize>) = (f64::NAN, f64::NAN, None);
    match (&request.readings, request.mean, request.standard_deviation) {
        (Some(readings), None, None) => {
            reader.refuse_if(request.n.is_some(), "/n", "readings are counted; leave n out");
            if readings.len() < 2 {
                reader.refuse("/readings", format!("two readings show a scatter: {} more", 2 - readings.len()));
                return NAN;
            }
            let lengths: Vec<f64> =
                readings.iter().enumerate().map(|(i, x)| reader.length(&format!("/readings/{i}"), *x)).collect();
            let deviation = standard_deviation(&lengths);
            reader.refuse_if(deviation == 0.0, "/readings", "readings without any scatter are not a process");
            (mean(&lengths), deviation, Some(lengths.len()))
        }
        (None, Some(mean), Some(deviation)) => {
            reader.refuse_if(request.n.is_some_and(|n| n < 2), "/n", "must be at least 2");
            let n = request.n.and_then(|n| usize::try_from(n).ok());
            (reader.length("/mean", mean), reader.positive_length("/standard_deviation", deviation), n)
        }
        _ => {
            reader.refuse("/readings", "give readings, or mean and standard_deviation");
            NAN
        }
    }
}

/// Bissell's standard error of Cpk, `√(1/(9n) + Cpk²/(2(n − 1)))`.
fn bissell(cpk: f64, n: usize) -> f64 {
    (1.0 / (9.0 * count(n)) + cpk * cpk / (2.0 * count(n - 1))).sqrt()
}

impl Calculation for Capability {
    const NAME: &'static str = "capability";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str =
        "What a process can hold: Cp, Cpk with confidence limits, expected rejects, and a tolerance interval.";
    const EXAMPLE: &'static str = r#"{"unit": "mm", "lower_limit": 12.68, "upper_limit": 12.72,
        "readings": [12.698, 12.702, 12.704, 12.699, 12.703, 12.697, 12.701, 12.7, 12.705, 12.698],
        "tolerance_interval": {"share": 0.95, "confidence": 0.9}}"#;
    type Request = Request;
    type Result = Capable;

    fn calculate(request: &Request) -> Result<Answer<Request, Capable>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let lower = request.lower_limit.map(|limit| reader.length("/lower_limit", limit));
        let upper = request.upper_limit.map(|limit| reader.length("/upper_limit", limit));
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
        let (mean, deviation, n) = read_sample(&mut reader, request);
        let confidence = reader.between("/confidence", request.confidence, 0.0, 1.0);
        if let Some(interval) = request.tolerance_interval {
            reader.likely("/tolerance_interval/share", interval.share);
            reader.between("/tolerance_interval/confidence", interval.confidence, 0.0, 1.0);
            reader.refuse_if(
                request.readings.is_none() && request.n.is_none(),
                "/n",
                "a tolerance interval needs the count of readings",
            );
            reader.refuse_if(
                n.is_some_and(|n| n > 100_000),
                "/n",
                "a tolerance interval takes at most 100000 readings",
            );
        }
        reader.finish()?;

        let unit = reader.unit;
        let cpu = upper.map(|upper| (upper - mean) / (3.0 * deviation));
        let cpl = lower.map(|lower| (mean - lower) / (3.0 * deviation));
        let cp = lower.zip(upper).map(|(lower, upper)| (upper - lower) / (6.0 * deviation));
        let cpk = finite(
            cpu.unwrap_or(f64::INFINITY).min(cpl.unwrap_or(f64::INFINITY)),
            "/standard_deviation",
            "capability",
        )?;
        let beyond = |index: Option<f64>| index.map_or(0.0, |index| normal(-3.0 * index));
        let rejects = beyond(cpu) + beyond(cpl);
        let half = n.map(|n| normal_quantile(0.5 + confidence / 2.0) * bissell(cpk, n));
        let interval = request.tolerance_interval.zip(n).map(|(asked, n)| {
            let two = two_sided_factor(n, asked.share, asked.confidence);
            let one = one_sided_factor(n, asked.share, asked.confidence);
            Interval {
                two_sided_factor: rounded(two),
                lower: unit.outward(mean - two * deviation),
                upper: unit.outward(mean + two * deviation),
                one_sided_factor: rounded(one),
                one_sided_lower: unit.outward(mean - one * deviation),
                one_sided_upper: unit.outward(mean + one * deviation),
            }
        });

        let mut work = Work::new(unit);
        work.length("x̄", "mean", mean);
        work.length("s", "standard deviation", deviation);
        if let Some(half) = half {
            work.number("c", "half width of the confidence interval of Cpk", half);
        }
        let sentence = match half {
            Some(half) => format!(
                "Cpk = {cpk:.2}, between {:.2} and {:.2} with {:.0} % confidence; {} rejects in a million are to be expected.",
                cpk - half,
                cpk + half,
                100.0 * confidence,
                million(rejects)
            ),
            None => format!("Cpk = {cpk:.2}; {} rejects in a million are to be expected.", million(rejects)),
        };
        work.caution(
            "This holds for a process that is in control and normal: look at a control chart first. A form tool drifts \
             with wear, and spindles differ: judge each spindle by itself.",
        );
        if n.is_some_and(|n| n < 30) {
            work.caution("Fewer than 30 readings: the confidence limits say more than Cpk.");
        }
        let capable = Capable {
            mean: unit.outward(mean),
            standard_deviation: unit.outward(deviation),
            cp: cp.map(rounded),
            cpk: rounded(cpk),
            cpu: cpu.map(rounded),
            cpl: cpl.map(rounded),
            cpk_lower: half.map(|half| rounded(cpk - half)),
            cpk_upper: half.map(|half| rounded(cpk + half)),
            rejects_per_million: rounded(1e6 * rejects),
            tolerance_interval: interval,
        };
        Ok(work.answer::<Self>(
            request.clone(),
            capable,
            sentence,
            &[
                Source::transcription("NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6 and 7.2.6.3"),
                Source::recalled("A. F. Bissell, How reliable is your capability index? (1990)"),
            ],
        ))
    }
}

/// Rejects in a million for a sentence.
fn million(rejects: f64) -> String {
    let rejects = 1e6 * rejects;
    if rejects >= 10.0 { format!("{rejects:.0}") } else { format!("{rejects:.2}") }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};
    use proptest::prelude::*;

    const BASE: &str =
        r#"{"unit": "mm", "lower_limit": 8, "upper_limit": 20, "mean": 16, "standard_deviation": 2, "n": 50}"#;

    #[test]
    fn impossible_requests_are_refused() {
        refused(
            BASE,
            "capability",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"lower_limit": null, "upper_limit": null}"#, "/upper_limit"),
                (r#"{"lower_limit": 20}"#, "/upper_limit"),
                (r#"{"readings": [1, 2]}"#, "/readings"),
                (r#"{"mean": null}"#, "/readings"),
                (r#"{"mean": null, "standard_deviation": null, "n": null, "readings": [16]}"#, "/readings"),
                (r#"{"mean": null, "standard_deviation": null, "n": null, "readings": [16, 16, 16]}"#, "/readings"),
                (r#"{"mean": null, "standard_deviation": null, "n": null, "readings": [16, 1e9]}"#, "/readings/1"),
                (r#"{"mean": null, "standard_deviation": null, "readings": [16, 17]}"#, "/n"),
                (r#"{"standard_deviation": 0}"#, "/standard_deviation"),
                (r#"{"n": 1}"#, "/n"),
                (r#"{"confidence": 1}"#, "/confidence"),
                (r#"{"tolerance_interval": {"share": 0.4, "confidence": 0.9}}"#, "/tolerance_interval/share"),
                (r#"{"tolerance_interval": {"share": 0.9, "confidence": 1}}"#, "/tolerance_interval/confidence"),
                (r#"{"n": null, "tolerance_interval": {"share": 0.9, "confidence": 0.9}}"#, "/n"),
                (r#"{"cpk": 1}"#, "/cpk"),
            ],
        );
    }

    #[test]
    fn one_limit_is_enough() {
        let got = answer(BASE, "capability", r#"{"lower_limit": null, "n": null}"#);
        assert!((at(&got, "/result/cpk") - 2.0 / 3.0).abs() < 1e-13);
        assert!(got["result"].get("cp").is_none() && got["result"].get("cpk_lower").is_none());
        // Φ(−2) = 0.02275013194817921 (mpmath 1.3).
        assert!((at(&got, "/result/rejects_per_million") - 22_750.131_948_179_21).abs() < 1e-8);
    }

    proptest! {
        /// Readings and their mean, standard deviation and count say the same; inches say what millimetres say.
        #[test]
        fn readings_and_their_summary_agree(readings in prop::collection::vec(9.9..10.1_f64, 3..40)) {
            let n = crate::calc::summary::count(readings.len());
            let mean = readings.iter().sum::<f64>() / n;
            let s = (readings.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
            let limits = serde_json::json!({"lower_limit": 9.8, "upper_limit": 10.2, "mean": null, "standard_deviation": null, "n": null, "readings": readings});
            let got = answer(BASE, "capability", &limits.to_string());
            let summary = serde_json::json!({"lower_limit": 9.8, "upper_limit": 10.2, "mean": mean, "standard_deviation": s, "n": readings.len()});
            let same = answer(BASE, "capability", &summary.to_string());
            let inch: Vec<f64> = readings.iter().map(|x| x / 25.4).collect();
            let inch = serde_json::json!({"unit": "in", "lower_limit": 9.8 / 25.4, "upper_limit": 10.2 / 25.4, "mean": null, "standard_deviation": null, "n": null, "readings": inch});
            let inch = answer(BASE, "capability", &inch.to_string());
            for name in ["cp", "cpk", "cpk_lower", "cpk_upper"] {
                let pointer = format!("/result/{name}");
                let value = at(&got, &pointer);
                prop_assert!((at(&same, &pointer) - value).abs() < 1e-10 * (1.0 + value.abs()), "{name}");
                prop_assert!((at(&inch, &pointer) - value).abs() < 1e-10 * (1.0 + value.abs()), "{name}");
            }
        }
    }
}
