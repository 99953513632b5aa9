//! `life-distribution`: a Weibull distribution of lives, by maximum likelihood and by median ranks, with units that had
//! not failed yet.

use super::{
    answer::{Answer, Calculation, Source, Work},
    error::{CalculationError, Reader, finite},
    root::rising,
    rounding::rounded,
    schema,
    summary::{count, line, mean},
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use statrs::function::gamma::ln_gamma;

/// The calculation.
#[derive(Debug)]
pub struct LifeDistribution;

/// The lives, in any one unit: hours, pieces.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "LifeDistributionRequest")]
pub struct Request {
    /// Lives that ended in failure.
    #[schemars(length(min = 2), inner(range(min = 1e-15, max = 1e15)))]
    pub failures: Vec<f64>,
    /// Lives that were going on when last seen, or ended otherwise.
    #[serde(default)]
    #[schemars(inner(range(min = 1e-15, max = 1e15)))]
    pub suspensions: Vec<f64>,
    /// Shares failed, between 0 and 1, whose lives are asked.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(transform = schema::probability)]
    pub quantiles: Vec<f64>,
}

/// A life by which a share has failed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "LifeQuantile")]
pub struct Quantile {
    /// The share failed.
    pub share: f64,
    /// The life.
    pub life: f64,
}

/// One failure on the Weibull plot.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "LifePlotted")]
pub struct Plotted {
    /// The life.
    pub life: f64,
    /// The share failed by then: the median rank `(i − 0.3)/(n + 0.4)`, `i` adjusted for suspensions before it.
    pub median_rank: f64,
    /// `−ln(1 − share)`.
    pub cumulative_hazard: f64,
}

/// The line through the Weibull plot, the logarithm of the cumulative hazard over that of the life.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "LifeMedianRanks")]
pub struct MedianRanks {
    /// Slope of the line.
    pub shape: f64,
    /// Life at a cumulative hazard of 1.
    pub scale: f64,
    /// The failures, in order of life.
    pub points: Vec<Plotted>,
}

/// The distribution.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "LifeDistributionResult")]
pub struct Fitted {
    /// Below 1, early failures; 1, chance; above 1, wear.
    pub shape: f64,
    /// The life by which 63.2 % have failed.
    pub scale: f64,
    /// The life by which a tenth has failed.
    pub b10: f64,
    /// The mean life.
    pub mean: f64,
    /// The logarithm of the likelihood.
    pub log_likelihood: f64,
    /// The lives asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub quantiles: Vec<Quantile>,
    /// The same by median ranks, for a plot; absent where all failures came at one life.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub median_ranks: Option<MedianRanks>,
}

/// Sums of the likelihood equation at a shape, lives over the longest: `(Σ tᵝ, Σ tᵝ ln t, Σ tᵝ ln² t)`.
fn sums(lives: &[f64], shape: f64) -> (f64, f64, f64) {
    lives.iter().fold((0.0, 0.0, 0.0), |(zero, one, two), life| {
        let log = life.ln();
        let power = (shape * log).exp();
        (zero + power, one + power * log, two + power * log * log)
    })
}

/// The shape of greatest likelihood: the root of `Σ tᵝ ln t / Σ tᵝ − 1/β − mean ln t_failed`, which only grows with β.
fn likely_shape(failed: &[f64], all: &[f64]) -> Option<f64> {
    let mean_log = mean(&failed.iter().map(|life| life.ln()).collect::<Vec<_>>());
    let score = |shape: f64| {
        let (zero, one, two) = sums(all, shape);
        let average = one / zero;
        (average - 1.0 / shape - mean_log, two / zero - average * average + 1.0 / (shape * shape))
    };
    let (mut low, mut high) = (1e-3, 2.0);
    while score(low).0 > 0.0 && low > 1e-9 {
        low /= 10.0;
    }
    // As β grows the score approaches −mean ln t_failed: above zero unless all failures came at the longest life.
    while score(high).0 < 0.0 {
        high *= 2.0;
        if high > 1e6 {
            return None;
        }
    }
    Some(rising(low, high, 1.0_f64.clamp(low, high), score))
}

/// Median ranks of the failures, with ranks spread over the suspensions before them (L. G. Johnson, recalled).
fn median_ranks(failures: &[f64], suspensions: &[f64]) -> Option<MedianRanks> {
    let mut order: Vec<(f64, bool)> = failures.iter().map(|life| (*life, true)).collect();
    order.extend(suspensions.iter().map(|life| (*life, false)));
    // At one life, failures come first.
    order.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
    let n = order.len();
    let mut rank = 0.0;
    let mut points = Vec::new();
    for (i, (life, failed)) in order.iter().enumerate() {
        if *failed {
            rank += (count(n) + 1.0 - rank) / (1.0 + count(n - i));
            let share = (rank - 0.3) / (count(n) + 0.4);
            points.push(Plotted { life: *life, median_rank: share, cumulative_hazard: -(-share).ln_1p() });
        }
    }
    let logs: Vec<(f64, f64)> = points.iter().map(|p| (p.life.ln(), p.cumulative_hazard.ln())).collect();
    let fit = line(&logs).filter(|fit| fit.slope > 0.0)?;
    let scale = (fit.mean_x - fit.mean_y / fit.slope).exp();
    for point in &mut points {
        *point = Plotted {
            life: rounded(point.life),
            median_rank: rounded(point.median_rank),
            cumulative_hazard: rounded(point.cumulative_hazard),
        };
    }
    scale.is_finite().then(|| MedianRanks { shape: rounded(fit.slope), scale: rounded(scale), points })
}

impl Calculation for LifeDistribution {
    const NAME: &'static str = "life-distribution";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "A Weibull distribution of lives, by maximum likelihood and by median ranks, units that had not failed included.";
    const EXAMPLE: &'static str =
        r#"{"failures": [5200, 7400, 8100, 9900, 11200], "suspensions": [6000, 12000], "quantiles": [0.05, 0.5]}"#;
    type Request = Request;
    type Result = Fitted;

    fn calculate(request: &Request) -> Result<Answer<Request, Fitted>, CalculationError> {
        let mut reader = Reader::unitless();
        let failed = request.failures.len();
        if failed < 2 {
            reader.refuse("/failures", format!("two failures shape a distribution: {} more", 2 - failed));
        }
        for (name, lives) in [("failures", &request.failures), ("suspensions", &request.suspensions)] {
            for (i, life) in lives.iter().enumerate() {
                let pointer = format!("/{name}/{i}");
                let life = reader.positive(&pointer, *life);
                reader.refuse_if(
                    !life.is_nan() && !(1e-15..=1e15).contains(&life),
                    &pointer,
                    "must lie between 1e-15 and 1e15",
                );
            }
        }
        for (i, share) in request.quantiles.iter().enumerate() {
            reader.between(&format!("/quantiles/{i}"), *share, 0.0, 1.0);
        }
        reader.finish()?;

        let all: Vec<f64> = request.failures.iter().chain(&request.suspensions).copied().collect();
        let longest = all.iter().copied().fold(0.0, f64::max);
        let over = |lives: &[f64]| lives.iter().map(|life| life / longest).collect::<Vec<f64>>();
        let (failures, all) = (over(&request.failures), over(&all));
        let shape = likely_shape(&failures, &all).ok_or_else(|| {
            CalculationError::field(
                "/failures",
                "all failures came at one life, the longest: no shape is likelier than a steeper one",
            )
        })?;
        let r = count(failed);
        let scale = longest * (sums(&all, shape).0 / r).powf(1.0 / shape);
        let logs: f64 = failures.iter().map(|life| life.ln() + longest.ln()).sum();
        let likelihood = r * shape.ln() - r * shape * scale.ln() + (shape - 1.0) * logs - r;
        let mean_life = finite(scale * ln_gamma(1.0 + 1.0 / shape).exp(), "/failures", "mean life")?;
        let life = |share: f64| scale * (-(-share).ln_1p()).powf(1.0 / shape);

        let mut work = Work::unitless(None);
        work.number("β", "shape", shape);
        work.number("η", "scale", scale);
        let kind = if shape < 0.9 {
            "early failures: look at fitting and setting"
        } else if shape <= 1.1 {
            "chance: exchange before failure gains nothing"
        } else {
            "wear: exchange in time pays"
        };
        let sentence = format!(
            "Shape {shape:.2} ({kind}); a tenth has failed by {:.4}, the mean life is {mean_life:.4}.",
            life(0.1)
        );
        if failed < 10 {
            work.caution("Fewer than ten failures: the shape is uncertain and tends to come out too large.");
        }
        let fitted = Fitted {
            shape: rounded(shape),
            scale: rounded(scale),
            b10: rounded(life(0.1)),
            mean: rounded(mean_life),
            log_likelihood: rounded(likelihood),
            quantiles: request
                .quantiles
                .iter()
                .map(|share| Quantile { share: *share, life: rounded(life(*share)) })
                .collect(),
            median_ranks: median_ranks(&request.failures, &request.suspensions),
        };
        Ok(work.answer::<Self>(
            request.clone(),
            fitted,
            sentence,
            &[
                Source::transcription("NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1"),
                Source::recalled(
                    "A. Benard and E. C. Bos-Levenbach (1953), median ranks; L. G. Johnson (1964), adjusted ranks",
                ),
            ],
        ))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};
    use proptest::prelude::*;
    use serde_json::json;

    const BASE: &str = r#"{"failures": [10, 20, 30], "suspensions": [40], "quantiles": [0.5]}"#;

    #[test]
    fn impossible_lives_are_refused() {
        refused(
            BASE,
            "life-distribution",
            &[
                (r#"{"failures": null}"#, "/failures"),
                (r#"{"failures": []}"#, "/failures"),
                (r#"{"failures": [10]}"#, "/failures"),
                (r#"{"failures": [10, 0]}"#, "/failures/1"),
                (r#"{"failures": [10, 1e16]}"#, "/failures/1"),
                (r#"{"suspensions": [-1]}"#, "/suspensions/0"),
                (r#"{"failures": [40, 40]}"#, "/failures"),
                (r#"{"quantiles": [0]}"#, "/quantiles/0"),
                (r#"{"quantiles": [1]}"#, "/quantiles/0"),
                (r#"{"unit": "mm"}"#, "/unit"),
            ],
        );
    }

    /// Failures at one life with a longer suspension have a likeliest shape, but no line of ranks.
    #[test]
    fn failures_at_one_life_before_a_suspension() {
        let got = answer(BASE, "life-distribution", r#"{"failures": [20, 20]}"#);
        assert!(at(&got, "/result/shape") > 0.0);
        assert!(got["result"].get("median_ranks").is_none());
    }

    proptest! {
        /// The likelihood falls to every side of the shape and scale found, and lives in another unit scale.
        #[test]
        fn the_likelihood_is_greatest_where_found(
            failures in prop::collection::vec(1.0..1000.0_f64, 3..15), suspensions in prop::collection::vec(1.0..1000.0_f64, 0..6), unit in 1e-3..1e3_f64,
        ) {
            let got = answer(BASE, "life-distribution", &json!({"failures": failures, "suspensions": suspensions}).to_string());
            let (shape, scale) = (at(&got, "/result/shape"), at(&got, "/result/scale"));
            let likelihood = |b: f64, e: f64| -> f64 {
                let each = |t: &f64| b.ln() - e.ln() + (b - 1.0) * (t / e).ln();
                failures.iter().map(each).sum::<f64>() - failures.iter().chain(&suspensions).map(|t| (t / e).powf(b)).sum::<f64>()
            };
            let best = likelihood(shape, scale);
            prop_assert!((best - at(&got, "/result/log_likelihood")).abs() < 1e-8 * best.abs().max(1.0));
            for (b, e) in [(1.001, 1.0), (0.999, 1.0), (1.0, 1.001), (1.0, 0.999)] {
                prop_assert!(likelihood(shape * b, scale * e) < best);
            }
            let scaled = |lives: &[f64]| lives.iter().map(|t| t * unit).collect::<Vec<_>>();
            let other = answer(BASE, "life-distribution", &json!({"failures": scaled(&failures), "suspensions": scaled(&suspensions)}).to_string());
            prop_assert!((at(&other, "/result/shape") / shape - 1.0).abs() < 1e-9);
            prop_assert!((at(&other, "/result/mean") / at(&got, "/result/mean") / unit - 1.0).abs() < 1e-9);
        }
    }
}
