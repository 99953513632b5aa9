//! The drift of a gauge over its checks: a straight line through what was found, with the interval in which the next
//! finding is to be expected.
//!
//! A gauge that was adjusted in between starts anew from where it was left. What it drifted from one check to the next is
//! the height as found less the height as left before; the line goes through the sum of these, as if nothing had ever
//! been done to the gauge, and is told from where the gauge is now. An adjustment is taken for exact: both heights around
//! it are read with the same instrument on the same day. A gauge that moved at once begins anew too ([`jump`]).
//!
//! With `x` the days since the first check, `y` the height found less the adjustments before it, `n` checks and `s` the
//! scatter of the findings about the line `a + b x`, the finding to be expected on day `x` is
//! `a + b x + A ± t · s · √(1 + 1/n + (x − x̄)²/Sxx)`, `A` all adjustments so far and `t` Student's, two-sided, with
//! `n − 2` degrees of freedom (NIST/SEMATECH e-Handbook of Statistical Methods, 4.5.1.2; recalled).

pub mod jump;

use crate::{
    calc::{
        distributions::student_quantile,
        rising,
        summary::{Line, count, line},
    },
    field_error::{FieldError, FieldErrors},
};
use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use serde::{Deserialize, Serialize};

/// The fewest checks with which a line has a scatter.
pub const FEWEST_CHECKS: usize = 3;

/// The fewest checks on which a day is proposed. With three the interval is twelve scatters wide to each side (Student's
/// t of one degree of freedom) and would propose tomorrow for the best of gauges.
pub const FEWEST_CHECKS_FOR_A_PROPOSAL: usize = 5;

/// How far ahead a day is looked for: a hundred years. What lies beyond is no drift that a shop can see.
const DAYS_AHEAD: f64 = 36_525.0;

const SECONDS_A_DAY: f64 = 86_400.0;

/// One check, as the line sees it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Finding {
    /// Days since the first check.
    pub day: f64,
    /// The height found less the nominal one, in millimetres.
    pub found: f64,
    /// The height left less the nominal one, in millimetres; as found where nothing was done.
    pub left: f64,
    /// Whether the gauge was adjusted at this check, or rejected.
    #[serde(default)]
    pub not_left_alone: bool,
}

/// A gauge's checks, oldest first, and its limits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct History {
    /// The checks.
    pub findings: Vec<Finding>,
    /// The lower limit less the nominal height, in millimetres.
    pub lower_limit: f64,
    /// The upper one.
    pub upper_limit: f64,
    /// The day for which a finding is foretold, in days since the first check.
    pub due: Option<f64>,
    /// How likely the interval is to hold one finding, two-sided: 0.95 in the program.
    pub confidence: f64,
}

impl History {
    /// Everything that cannot be.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        let finite = |finding: &Finding| [finding.day, finding.found, finding.left].iter().all(|n| n.is_finite());
        errors.require(self.findings.iter().all(finite), "/findings", "must hold finite numbers");
        errors.require(self.lower_limit < self.upper_limit, "/upper_limit", "must lie above the lower limit");
        errors.require((0.5..1.0).contains(&self.confidence), "/confidence", "must be at least 0.5 and below 1");
        errors.into_vec()
    }
}

/// What is to be found on a day.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Expected {
    /// Days since the first check.
    pub day: f64,
    /// The height on the line less the nominal one, in millimetres.
    pub expected: f64,
    /// The interval's lower end.
    pub lower: f64,
    /// Its upper end.
    pub upper: f64,
}

/// A point of the line's plot.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Point {
    /// Days since the first check.
    pub day: f64,
    /// The height found less the nominal one, in millimetres.
    pub found: f64,
    /// Where it would be found had every adjustment been made before the first check: what the line goes through, told
    /// from where the gauge is now.
    pub drifted: f64,
    /// The line on that day.
    pub expected: f64,
}

/// A limit of a gauge.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Limit {
    /// The lower one.
    Lower,
    /// The upper one.
    Upper,
}

/// When the interval reaches a limit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Reach {
    /// Which limit.
    pub limit: Limit,
    /// Days since the first check, not before the last one.
    pub day: f64,
}

/// A line through a gauge's checks.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Drift {
    /// Change of height, in millimetres a day; below zero the gauge becomes lower.
    pub slope: f64,
    /// The slope's standard uncertainty.
    pub slope_standard_uncertainty: f64,
    /// Whether the drift stands out from the scatter at the confidence asked.
    pub significant: bool,
    /// Scatter of the findings about the line, in millimetres.
    pub residual_standard_deviation: f64,
    /// All adjustments so far, in millimetres; above zero they made the gauge higher.
    pub adjusted: f64,
    /// Each check on its day.
    pub points: Vec<Point>,
    /// The finding to be expected on the day that was asked for.
    pub at_due: Option<Expected>,
    /// When the interval reaches a limit; none within a hundred years.
    pub reaches: Option<Reach>,
}

/// What the checks say of a gauge's drift.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "answer")]
pub enum Answer {
    /// So many more checks are needed before there is a line.
    TooFew {
        /// How many.
        more: usize,
    },
    /// All checks are of one instant: another day is needed.
    OneDay,
    /// The line.
    Line(Drift),
}

/// The line through a gauge's checks with its interval; none with too few checks, or with all of one instant.
#[must_use]
pub fn band(history: &History) -> Option<Band> {
    band_of(&history.findings, history.confidence)
}

fn band_of(findings: &[Finding], confidence: f64) -> Option<Band> {
    let n = findings.len();
    if n < FEWEST_CHECKS {
        return None;
    }
    let mut adjusted = 0.0;
    let mut through = Vec::with_capacity(n);
    for finding in findings {
        through.push((finding.day, finding.found - adjusted));
        adjusted += finding.left - finding.found;
    }
    let fit = line(&through)?;
    let spread = student_quantile(0.5 + confidence / 2.0, count(n - 2)) * fit.residual_deviation;
    Some(Band { fit, adjusted, spread, checks: count(n), through })
}

/// Follows a gauge over its checks.
#[must_use]
pub fn follow(history: &History) -> Answer {
    let n = history.findings.len();
    if n < FEWEST_CHECKS {
        return Answer::TooFew { more: FEWEST_CHECKS - n };
    }
    let Some(band) = band(history) else { return Answer::OneDay };
    let (fit, through, adjusted) = (&band.fit, &band.through, band.adjusted);
    let slope_standard_uncertainty = fit.residual_deviation / fit.sum_xx.sqrt();
    let t = student_quantile(0.5 + history.confidence / 2.0, count(n - 2));
    let last = through.iter().map(|(day, _)| *day).fold(f64::NEG_INFINITY, f64::max);
    let points = history.findings.iter().zip(through).map(|(finding, (day, through))| Point {
        day: *day,
        found: finding.found,
        drifted: through + adjusted,
        expected: band.middle(*day),
    });
    Answer::Line(Drift {
        slope: fit.slope,
        slope_standard_uncertainty,
        significant: fit.slope.abs() > t * slope_standard_uncertainty,
        residual_standard_deviation: fit.residual_deviation,
        adjusted,
        points: points.collect(),
        at_due: history.due.map(|day| band.on(day)),
        reaches: band.reaches(last, history.lower_limit, history.upper_limit),
    })
}

/// The line with its interval.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    fit: Line,
    adjusted: f64,
    /// Student's t times the scatter.
    spread: f64,
    checks: f64,
    /// Day and height of each check less the adjustments before it.
    through: Vec<(f64, f64)>,
}

impl Band {
    fn middle(&self, day: f64) -> f64 {
        self.fit.mean_y + self.fit.slope * (day - self.fit.mean_x) + self.adjusted
    }

    /// What is to be found on a day, in days since the first check.
    #[must_use]
    pub fn on(&self, day: f64) -> Expected {
        let (expected, half) = (self.middle(day), self.spread * self.root(day - self.fit.mean_x));
        Expected { day, expected, lower: expected - half, upper: expected + half }
    }

    fn root(&self, past_mean: f64) -> f64 {
        (1.0 + 1.0 / self.checks + past_mean * past_mean / self.fit.sum_xx).sqrt()
    }

    /// The first day from the last check on at which the interval touches a limit.
    fn reaches(&self, last: f64, lower: f64, upper: f64) -> Option<Reach> {
        let sides = [(Limit::Lower, lower, -1.0), (Limit::Upper, upper, 1.0)];
        let reached = sides.into_iter().filter_map(|(limit, at, way)| {
            // How far the interval lies beyond the limit, and how that grows with the days. It is convex, so that once
            // below zero it passes zero at most once from there on.
            let beyond = |day: f64| {
                let u = day - self.fit.mean_x;
                let root = self.root(u);
                (
                    way * (self.middle(day) - at) + self.spread * root,
                    way * self.fit.slope + self.spread * u / (self.fit.sum_xx * root),
                )
            };
            let end = last + DAYS_AHEAD;
            let day = if beyond(last).0 >= 0.0 {
                last
            } else if beyond(end).0 < 0.0 {
                return None;
            } else {
                rising(last, end, last, beyond)
            };
            Some(Reach { limit, day })
        });
        reached.min_by(|one, other| one.day.total_cmp(&other.day))
    }
}

/// Days from the first check to an instant.
#[must_use]
pub fn days_since(first: DateTime<Utc>, at: DateTime<Utc>) -> f64 {
    (at - first).as_seconds_f64() / SECONDS_A_DAY
}

/// The calendar day (UTC) so many days after the first check.
#[must_use]
pub fn day_after(first: DateTime<Utc>, days: f64) -> Option<NaiveDate> {
    #[expect(clippy::cast_possible_truncation, reason = "a hundred years of seconds lie far below 2^63")]
    let seconds = (days * SECONDS_A_DAY).floor() as i64;
    first.checked_add_signed(TimeDelta::try_seconds(seconds)?).map(|at| at.date_naive())
}

/// The day proposed for the next check: the last one before the drift's interval reaches a limit, never before the day
/// after the check, and never after the plan.
#[must_use]
pub fn propose(performed: NaiveDate, planned: NaiveDate, reaches: Option<NaiveDate>) -> NaiveDate {
    let by_drift = reaches.map(|day| {
        let before = day.checked_sub_days(Days::new(1)).unwrap_or(day);
        before.max(performed.checked_add_days(Days::new(1)).unwrap_or(performed))
    });
    by_drift.map_or(planned, |day| day.min(planned))
}

#[cfg(test)]
mod tests;
