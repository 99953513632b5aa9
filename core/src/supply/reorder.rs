//! When to order a supply, from what was withdrawn week by week: a forecast for slow movers, and the reorder point for it.

use super::Supply;
use crate::calc::{
    Calculation, CalculationError,
    intermittent_demand::{Forecast, IntermittentDemand, Request as DemandRequest},
    reorder::{DemandModel, Policy, Reorder, Request as ReorderRequest},
};

/// What was withdrawn, week by week.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Demand {
    /// Withdrawn in each whole week up to now, the oldest first.
    pub weeks: Vec<i64>,
}

/// What is advised.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    /// The forecast; none while the history is too short.
    pub forecast: Option<Forecast>,
    /// The reorder point for it; none while the history is too short.
    pub policy: Option<Policy>,
    /// Whether to order now: at or below the reorder point, or below the minimum.
    pub order_now: bool,
    /// How many to order now: so many lots of the reorder quantity as bring the stock above both.
    pub order_quantity: i64,
    /// The advice in words.
    pub sentence: String,
    /// What it rests on.
    pub assumed: Vec<String>,
    /// Why there is no forecast.
    pub too_short: Option<String>,
}

/// Fewer whole weeks on record tell no demand.
const LEAST_WEEKS: usize = 8;
/// Nor do fewer weeks in which anything was withdrawn.
const LEAST_DEMANDS: usize = 4;
/// The weight of the newest demand. 0.1 is what the forecast's authors tried and found fit (recalled).
const ALPHA: f64 = 0.1;

/// Advises when to order: `service` is the probability that a lead time passes without running out.
///
/// # Errors
/// When the service is no probability.
#[expect(clippy::cast_precision_loss, reason = "quantities are at most a thousand million")]
pub fn advise(supply: &Supply, demand: &Demand, service: f64) -> Result<Advice, CalculationError> {
    let fields = &supply.record.fields;
    let demands = demand.weeks.iter().filter(|quantity| **quantity > 0).count();
    let mut assumed = vec![
        format!("Withdrawals of the last {} whole weeks; counts and receipts are no demand.", demand.weeks.len()),
        "Orders under way are not on record: take them off what is to be ordered.".to_owned(),
    ];
    let too_short = if demand.weeks.len() < LEAST_WEEKS {
        Some(format!("{} whole weeks are on record; a forecast needs {LEAST_WEEKS}.", demand.weeks.len()))
    } else if demands < LEAST_DEMANDS {
        Some(format!("Something was withdrawn in {demands} weeks; a forecast needs {LEAST_DEMANDS}."))
    } else {
        None
    };
    let mut request = ReorderRequest {
        demand_per_day: 1.0,
        lead_time_days: fields.lead_time_days as f64,
        model: DemandModel::Poisson,
        standard_deviation: None,
        service: Some(service),
        holding_cost: None,
        shortage_cost: None,
        ordering_cost: None,
        method: crate::calc::reorder::Method::EconomicQuantity,
        reorder_point: None,
        order_quantity: None,
    };
    let (forecast, policy) = if too_short.is_some() {
        // The service is judged all the same: a wrong one is told whatever the records hold.
        ReorderRequest { lead_time_days: 1.0, ..request.clone() }.judge()?;
        (None, None)
    } else {
        let weeks = demand.weeks.iter().map(|quantity| *quantity as f64).collect();
        let forecast = IntermittentDemand::calculate(&DemandRequest { demand: weeks, alpha: ALPHA })?.result;
        request.demand_per_day = forecast.sba / 7.0;
        let variance = weekly_variance(&demand.weeks);
        // Withdrawn one by one and by chance, demand scatters as much as its mean; withdrawn in lots, by more.
        if variance > mean(&demand.weeks) || request.demand_per_day * request.lead_time_days > 1e4 {
            request.model = DemandModel::Normal;
            request.standard_deviation = Some((variance / 7.0).sqrt());
            assumed.push("Weeks scatter by more than single withdrawals by chance would: taken as normal, with the weeks' own standard deviation.".to_owned());
        } else {
            assumed.push("Single withdrawals by chance (Poisson).".to_owned());
        }
        assumed.push(format!("The forecast of {:.2} a week (Syntetos and Boylan, weight {ALPHA}).", forecast.sba));
        assumed.push(format!("A lead time of {} days that does not vary.", fields.lead_time_days));
        (Some(forecast), Some(Reorder::calculate(&request)?.result))
    };
    let point = policy.as_ref().map(|policy| policy.reorder_point);
    let at_point = point.is_some_and(|point| supply.on_hand as f64 <= point);
    let order_now = !fields.retired && (at_point || supply.is_below_minimum());
    let order_quantity = if order_now { lots(supply, point) } else { 0 };
    let sentence = sentence(supply, point, order_now, order_quantity);
    Ok(Advice { forecast, policy, order_now, order_quantity, sentence, assumed, too_short })
}

impl ReorderRequest {
    fn judge(&self) -> Result<(), CalculationError> {
        Reorder::calculate(self).map(drop)
    }
}

/// Lots of the reorder quantity that bring the stock to the minimum and above the reorder point.
#[expect(clippy::cast_possible_truncation, reason = "a reorder point is at most a thousand million")]
fn lots(supply: &Supply, point: Option<f64>) -> i64 {
    let fields = &supply.record.fields;
    let above_point = point.map_or(0, |point| point.floor() as i64 + 1);
    let missing = (fields.minimum.max(above_point) - supply.on_hand).max(1);
    (missing + fields.reorder_quantity - 1) / fields.reorder_quantity * fields.reorder_quantity
}

fn sentence(supply: &Supply, point: Option<f64>, order_now: bool, quantity: i64) -> String {
    let (unit, minimum) = (&supply.record.fields.unit, supply.record.fields.minimum);
    let has = format!("{} on hand ({unit}), the minimum is {minimum}", supply.on_hand);
    let against = match point {
        Some(point) => format!("{has}, the reorder point {point:.1}"),
        None => format!("{has}; there is no reorder point yet"),
    };
    if order_now { format!("Order {quantity} now: {against}.") } else { format!("Nothing to order: {against}.") }
}

#[expect(clippy::cast_precision_loss, reason = "quantities are at most a thousand million")]
fn mean(weeks: &[i64]) -> f64 {
    weeks.iter().map(|quantity| *quantity as f64).sum::<f64>() / weeks.len() as f64
}

#[expect(clippy::cast_precision_loss, reason = "quantities are at most a thousand million")]
fn weekly_variance(weeks: &[i64]) -> f64 {
    let mean = mean(weeks);
    let squares: f64 = weeks.iter().map(|quantity| (*quantity as f64 - mean).powi(2)).sum();
    squares / (weeks.len() as f64 - 1.0)
}

#[cfg(test)]
mod tests {
    use super::{Advice, Demand, advise};
    use crate::{
        code::Code,
        ids::SupplyId,
        registry::Record,
        supply::{Supply, SupplyFields},
    };
    use chrono::DateTime;
    use proptest::prelude::*;
    use uuid::Uuid;

    fn supply(on_hand: i64, minimum: i64) -> Supply {
        let fields = SupplyFields {
            name: "Way oil".to_owned(),
            unit: "litre".to_owned(),
            minimum,
            reorder_quantity: 10,
            lead_time_days: 14,
            place: None,
            retired: false,
        };
        let at = DateTime::UNIX_EPOCH;
        let id = SupplyId::from_uuid(Uuid::nil());
        let code = Code::parse("SUP-1").unwrap();
        Supply {
            record: Record { id, code, fields, version: 1, created_at: at, updated_at: at },
            on_hand,
            movements: 1,
        }
    }

    fn ask(supply: &Supply, weeks: &[i64]) -> Advice {
        advise(supply, &Demand { weeks: weeks.to_vec() }, 0.95).unwrap()
    }

    /// One a week, every week: by the smoothed forecast 0.95 a week, 1.9 in a lead time of two weeks. The Poisson
    /// distribution of mean 1.9 reaches 0.9559 at 4 and 0.8747 at 3 (summed by hand: e^-1.9 = 0.149569).
    #[test]
    fn a_steady_withdrawal() {
        let found = ask(&supply(20, 0), &[1; 12]);
        assert_eq!(found.policy.as_ref().unwrap().reorder_point, 4.0);
        assert!((found.forecast.unwrap().sba - 0.95).abs() < 1e-12);
        assert!(!found.order_now && found.order_quantity == 0 && found.too_short.is_none());
        assert!(found.assumed.iter().any(|text| text.contains("Poisson")));
        let low = ask(&supply(4, 0), &[1; 12]);
        assert!(low.order_now && low.order_quantity == 10, "{}", low.sentence);
        assert!(!ask(&supply(5, 0), &[1; 12]).order_now);
    }

    #[test]
    fn lots_scatter_more_than_single_withdrawals() {
        let weeks = [0, 0, 12, 0, 0, 0, 12, 0, 0, 12, 0, 12];
        let found = ask(&supply(100, 0), &weeks);
        assert!(found.assumed.iter().any(|text| text.contains("normal")), "{:?}", found.assumed);
        let policy = found.policy.unwrap();
        assert!(policy.safety_stock > 0.0);
        // 1.6449 standard deviations of two weeks: the weeks' own is sqrt(384/11).
        let expected = 1.644_853_6 * (384.0_f64 / 11.0 * 2.0).sqrt();
        assert!((policy.safety_stock - expected).abs() < 1e-4, "{}", policy.safety_stock);
    }

    #[test]
    fn a_history_too_short_is_said_and_the_minimum_still_holds() {
        for (weeks, words) in [(&[1; 7][..], "7 whole weeks"), (&[0, 0, 3, 0, 0, 1, 0, 2, 0, 0], "in 3 weeks")] {
            let found = ask(&supply(3, 5), weeks);
            assert!(found.too_short.as_ref().unwrap().contains(words), "{:?}", found.too_short);
            assert!(found.policy.is_none() && found.order_now && found.order_quantity == 10);
            assert!(!ask(&supply(5, 5), weeks).order_now);
        }
        let nothing = Demand { weeks: Vec::new() };
        assert!(advise(&supply(3, 5), &nothing, 1.5).is_err() && advise(&supply(3, 5), &nothing, 0.9).is_ok());
    }

    proptest! {
        /// What is ordered brings the stock to the minimum and above the reorder point, by no more than a lot.
        #[test]
        fn an_order_is_enough_and_no_more(weeks in proptest::collection::vec(0_i64..9, 8..40), on_hand in 0_i64..60, minimum in 0_i64..40) {
            let found = ask(&supply(on_hand, minimum), &weeks);
            if found.order_now {
                let after = on_hand + found.order_quantity;
                let point = found.policy.as_ref().map_or(-1.0, |policy| policy.reorder_point);
                prop_assert!(after >= minimum && after as f64 > point);
                prop_assert!(found.order_quantity % 10 == 0);
                let less = after - 10;
                prop_assert!(found.order_quantity == 10 || less < minimum || less as f64 <= point);
            }
        }
    }
}
