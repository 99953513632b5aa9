//! What a stock costs at a level, and the reorder point and quantity that cost least.
//!
//! `g(y)`: cost in a day when, after the lead time, the demand of that time has been drawn from a level `y`: holding for
//! each item left, shortage for each item owed. An `(r, Q)` policy spends its days evenly over the levels between `r` and
//! `r + Q`. Source: L. V. Snyder and Z.-J. M. Shen, Fundamentals of Supply Chain Theory, 2nd ed. (2019), 4.3 and 5.3;
//! A. Federgruen and Y.-S. Zheng (1992) for whole numbers; both recalled, values seen.

use crate::calc::{
    distributions::{PoissonDemand, normal, normal_density, normal_quantile},
    root::rising,
};

/// Demand in the lead time.
#[derive(Clone, Copy, Debug)]
pub(super) enum LeadTimeDemand {
    Normal { mean: f64, deviation: f64 },
    Poisson { mean: f64, demand: PoissonDemand },
}

/// What a day, or an order, costs.
#[derive(Clone, Copy, Debug)]
pub(super) struct Costs {
    /// One item on stock for a day.
    pub(super) holding: f64,
    /// One item owed for a day.
    pub(super) shortage: f64,
    /// All orders of a day, were each for one item: cost of an order times demand.
    pub(super) ordering: f64,
}

/// A whole level as a number.
#[expect(clippy::cast_precision_loss, reason = "levels of stock lie far below 2^53")]
pub(super) const fn number(level: i64) -> f64 {
    level as f64
}

impl LeadTimeDemand {
    pub(super) const fn mean(&self) -> f64 {
        match self {
            Self::Normal { mean, .. } | Self::Poisson { mean, .. } => *mean,
        }
    }

    /// The least level that demand does not exceed with this probability.
    pub(super) fn quantile(&self, probability: f64) -> f64 {
        match self {
            Self::Normal { mean, deviation } => mean + deviation * normal_quantile(probability),
            Self::Poisson { demand, .. } => i64::try_from(demand.quantile(probability)).map_or(f64::INFINITY, number),
        }
    }

    /// The probability that demand exceeds a level.
    pub(super) fn exceeds(&self, level: f64) -> f64 {
        match self {
            Self::Normal { mean, deviation } if *deviation > 0.0 => normal((mean - level) / deviation),
            Self::Normal { mean, .. } => f64::from(u8::from(*mean > level * (1.0 + 1e-12))),
            Self::Poisson { demand, .. } => whole(level).map_or(1.0, |level| demand.above(level)),
        }
    }

    /// The mean of what demand exceeds a level by.
    fn excess(&self, level: f64) -> f64 {
        match self {
            Self::Normal { mean, deviation } if *deviation > 0.0 => {
                let z = (level - mean) / deviation;
                deviation * (normal_density(z) - z * normal(-z))
            }
            Self::Normal { mean, .. } => (mean - level).max(0.0),
            Self::Poisson { mean, demand } => whole(level).map_or(mean - level, |level| demand.excess(level)),
        }
    }

    /// `∫ excess` from a level upward.
    fn excess_beyond(&self, level: f64) -> f64 {
        match self {
            Self::Normal { mean, deviation } if *deviation > 0.0 => {
                let z = (level - mean) / deviation;
                0.5 * deviation * deviation * ((z * z + 1.0) * normal(-z) - z * normal_density(z))
            }
            Self::Normal { mean, .. } | Self::Poisson { mean, .. } => 0.5 * (mean - level).max(0.0).powi(2),
        }
    }

    /// `g(y)`.
    pub(super) fn cost(&self, costs: &Costs, level: f64) -> f64 {
        costs.holding * (level - self.mean()) + (costs.holding + costs.shortage) * self.excess(level)
    }

    /// The slope of `g`, for normal demand.
    fn slope(&self, costs: &Costs, level: f64) -> f64 {
        costs.holding - (costs.holding + costs.shortage) * self.exceeds(level)
    }

    /// `∫ g` over the levels of a policy, for normal demand.
    fn cost_over(&self, costs: &Costs, point: f64, quantity: f64) -> f64 {
        let from = point - self.mean();
        costs.holding * quantity * (from + quantity / 2.0)
            + (costs.holding + costs.shortage) * (self.excess_beyond(point) - self.excess_beyond(point + quantity))
    }

    /// Cost in a day of a policy; of a level kept, for no quantity.
    pub(super) fn daily_cost(&self, costs: &Costs, point: f64, quantity: f64) -> f64 {
        match self {
            _ if quantity <= 0.0 => self.cost(costs, point),
            Self::Normal { .. } => (costs.ordering + self.cost_over(costs, point, quantity)) / quantity,
            Self::Poisson { .. } => {
                let mut sum = costs.ordering;
                let mut level = point + 1.0;
                while level <= point + quantity + 0.5 {
                    sum += self.cost(costs, level);
                    level += 1.0;
                }
                sum / quantity
            }
        }
    }

    /// The level that costs least.
    fn best_level(&self, costs: &Costs) -> f64 {
        self.quantile(costs.shortage / (costs.shortage + costs.holding))
    }

    /// The reorder point that costs least for a quantity: `g(r) = g(r + Q)`, or the whole numbers nearest to it.
    pub(super) fn best_point(&self, costs: &Costs, quantity: f64) -> f64 {
        let level = self.best_level(costs);
        match self {
            Self::Normal { .. } => rising(level - quantity, level, level - quantity / 2.0, |point| {
                let (low, high) = (point, point + quantity);
                (self.cost(costs, high) - self.cost(costs, low), self.slope(costs, high) - self.slope(costs, low))
            }),
            Self::Poisson { .. } => self.grow(costs, |count, _, _| count < quantity).0,
        }
    }

    /// The policy that costs least, `(r, Q)`.
    pub(super) fn best_policy(&self, costs: &Costs) -> (f64, f64) {
        match self {
            Self::Poisson { .. } => self.grow(costs, |_, average, next| next < average),
            Self::Normal { .. } if costs.ordering == 0.0 => (self.best_level(costs), 0.0),
            Self::Normal { .. } => {
                let (h, p) = (costs.holding, costs.shortage);
                // The quantity of demand without scatter; scatter only adds to it.
                let start = (2.0 * costs.ordering * (h + p) / (h * p)).sqrt();
                let balance = |quantity: f64| {
                    let point = self.best_point(costs, quantity);
                    let (low, high) = (self.slope(costs, point), self.slope(costs, point + quantity));
                    let value =
                        quantity * self.cost(costs, point) - self.cost_over(costs, point, quantity) - costs.ordering;
                    (value, -quantity * low * high / (high - low))
                };
                let mut most = 2.0 * start;
                while balance(most).0 < 0.0 && most < 1e15 {
                    most *= 2.0;
                }
                let quantity = rising(start / 2.0, most, start, balance);
                (self.best_point(costs, quantity), quantity)
            }
        }
    }

    /// Grows a run of whole levels from the cheapest one, taking the cheaper neighbour while `more` says so of the count
    /// so far, its average cost and the neighbour's. Returns `(r, Q)`.
    fn grow(&self, costs: &Costs, more: impl Fn(f64, f64, f64) -> bool) -> (f64, f64) {
        let level = self.best_level(costs);
        let (mut low, mut high) = (level - 1.0, level + 1.0);
        let (mut count, mut sum) = (1.0, costs.ordering + self.cost(costs, level));
        let (mut below, mut above) = (self.cost(costs, low), self.cost(costs, high));
        while count < LARGEST_QUANTITY && more(count, sum / count, below.min(above)) {
            if below <= above {
                sum += below;
                low -= 1.0;
                below = self.cost(costs, low);
            } else {
                sum += above;
                high += 1.0;
                above = self.cost(costs, high);
            }
            count += 1.0;
        }
        (low, count)
    }
}

/// The largest quantity of whole items that is searched for.
pub(super) const LARGEST_QUANTITY: f64 = 10_000.0;

/// A level as a count; `None` below zero.
fn whole(level: f64) -> Option<u64> {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "levels are whole, not negative here, and far below 2^53"
    )]
    (level >= 0.0).then(|| level.round() as u64)
}
