//! `intermittent-demand`: a forecast for items that are drawn now and then.
//!
//! Croston's method smooths the sizes of demands and the intervals between them, each only when a demand comes; their
//! quotient is the demand in a period. Syntetos and Boylan take out its bias by `1 − α/2`. Smoothing starts with the
//! first size and the first interval, counted from the start of the record.

use super::{
    answer::{Answer, Calculation, Source, Work},
    error::{CalculationError, Reader},
    rounding::rounded,
    schema,
    summary::count,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct IntermittentDemand;

/// The record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "IntermittentDemandRequest")]
pub struct Request {
    /// Demand in each period, in order; zeros count.
    #[schemars(length(min = 1), inner(range(min = 0, max = 1e12)))]
    pub demand: Vec<f64>,
    /// The weight of the newest demand, above 0 and up to 1.
    #[serde(default = "usual")]
    #[schemars(transform = schema::fraction)]
    pub alpha: f64,
}

const fn usual() -> f64 {
    0.1
}

/// The forecast.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "IntermittentDemandResult")]
pub struct Forecast {
    /// Demand in a period, by Croston.
    pub croston: f64,
    /// Demand in a period, by Syntetos and Boylan.
    pub sba: f64,
    /// The smoothed size of a demand.
    pub smoothed_size: f64,
    /// The smoothed interval between demands, in periods.
    pub smoothed_interval: f64,
    /// The demands above zero, in order.
    pub sizes: Vec<f64>,
    /// Periods from each demand back to the one before, or to the start of the record.
    pub intervals: Vec<f64>,
}

impl Calculation for IntermittentDemand {
    const NAME: &'static str = "intermittent-demand";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "A forecast for items that are drawn now and then.";
    const EXAMPLE: &'static str = r#"{"demand": [0, 2, 0, 0, 1, 0, 3, 0, 0, 0, 1, 2], "alpha": 0.15}"#;
    type Request = Request;
    type Result = Forecast;

    fn calculate(request: &Request) -> Result<Answer<Request, Forecast>, CalculationError> {
        let mut reader = Reader::unitless();
        for (i, demand) in request.demand.iter().enumerate() {
            let pointer = format!("/demand/{i}");
            let demand = reader.not_negative(&pointer, *demand);
            reader.refuse_if(demand > 1e12, &pointer, "must be at most a million million");
        }
        reader.refuse_if(
            !request.demand.iter().any(|demand| *demand > 0.0),
            "/demand",
            "at least one period needs a demand above zero",
        );
        let alpha = reader.fraction("/alpha", request.alpha);
        reader.finish()?;

        let (mut sizes, mut intervals) = (Vec::new(), Vec::new());
        let mut last = 0;
        for (i, demand) in request.demand.iter().enumerate() {
            if *demand > 0.0 {
                sizes.push(*demand);
                intervals.push(count(i + 1 - last));
                last = i + 1;
            }
        }
        let smooth = |values: &[f64]| {
            values
                .iter()
                .skip(1)
                .fold(values.first().copied().unwrap_or(0.0), |level, value| level + alpha * (value - level))
        };
        let (size, interval) = (smooth(&sizes), smooth(&intervals));
        let croston = size / interval;
        let sba = (1.0 - alpha / 2.0) * croston;
        let mut work = Work::unitless(None);
        work.number("z", "smoothed size of a demand", size);
        work.value("p", "smoothed interval between demands", interval, "period");
        work.number("1 − α/2", "what takes out the bias", 1.0 - alpha / 2.0);
        let sentence = format!("Expect {sba:.3} in a period: about {size:.1} every {interval:.1} periods.");
        if sizes.len() < 4 {
            work.caution("Fewer than four demands: the forecast rests on the first ones.");
        }
        if interval < 1.32 {
            work.caution("Demand comes nearly every period: a plain moving average does as well.");
        }
        let forecast = Forecast {
            croston: rounded(croston),
            sba: rounded(sba),
            smoothed_size: rounded(size),
            smoothed_interval: rounded(interval),
            sizes,
            intervals,
        };
        Ok(work.answer::<Self>(
            request.clone(),
            forecast,
            sentence,
            &[
                Source::recalled("J. D. Croston, Forecasting and stock control for intermittent demands (1972)"),
                Source::recalled(
                    "A. A. Syntetos and J. E. Boylan, The accuracy of intermittent demand estimates (2005)",
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

    const BASE: &str = r#"{"demand": [0, 3, 0, 0, 1]}"#;

    #[test]
    fn impossible_records_are_refused() {
        refused(
            BASE,
            "intermittent-demand",
            &[
                (r#"{"demand": null}"#, "/demand"),
                (r#"{"demand": []}"#, "/demand"),
                (r#"{"demand": [0, 0]}"#, "/demand"),
                (r#"{"demand": [1, -1]}"#, "/demand/1"),
                (r#"{"demand": [1e13]}"#, "/demand/0"),
                (r#"{"alpha": 0}"#, "/alpha"),
                (r#"{"alpha": 1.1}"#, "/alpha"),
                (r#"{"beta": 1}"#, "/beta"),
            ],
        );
    }

    /// Thirty-six months of a slow-moving lubricant, R. J. Hyndman and G. Athanasopoulos, Forecasting: Principles and
    /// Practice, 2nd ed., 12.2 (recalled): size 2.750, interval 2.793, forecast 0.985.
    #[test]
    fn a_slow_moving_lubricant() {
        let demand = vec![
            0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3, 0, 0, 0, 0, 0, 7, 0, 0, 0, 0, 0, 0, 0, 3, 1, 0, 0, 1, 0, 1, 0, 0,
        ];
        let got = answer(BASE, "intermittent-demand", &json!({"demand": demand}).to_string());
        for (pointer, printed) in [("smoothed_size", 2.750), ("smoothed_interval", 2.793), ("croston", 0.985)] {
            assert!((at(&got, &format!("/result/{pointer}")) - printed).abs() < 5.1e-4, "{pointer}: {got}");
        }
        assert_eq!(got["result"]["intervals"], json!([2.0, 2.0, 2.0, 5.0, 2.0, 1.0, 6.0, 8.0, 1.0, 3.0, 2.0]));
    }

    proptest! {
        /// A steady demand is forecast as it is; sizes scale the forecast; the corrected one is smaller.
        #[test]
        fn steady_demand_and_scale(size in 0.5..100.0_f64, every in 1_usize..9, alpha in 0.01..1.0_f64, scale in 0.1..10.0_f64) {
            let demand: Vec<f64> = (1..=6 * every).map(|i| if i % every == 0 { size } else { 0.0 }).collect();
            let ask = |scale: f64| {
                let demand: Vec<f64> = demand.iter().map(|d| d * scale).collect();
                answer(BASE, "intermittent-demand", &json!({"demand": demand, "alpha": alpha}).to_string())
            };
            let got = ask(1.0);
            let expected = size / crate::calc::summary::count(every);
            prop_assert!((at(&got, "/result/croston") / expected - 1.0).abs() < 1e-12);
            prop_assert!((at(&got, "/result/sba") / expected - (1.0 - alpha / 2.0)).abs() < 1e-12);
            prop_assert!((at(&ask(scale), "/result/sba") / at(&got, "/result/sba") / scale - 1.0).abs() < 1e-12);
        }
    }
}
