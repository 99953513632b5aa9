//! The drift of a gauge over its checks, and the day that it proposes for the next.

use super::registry::{CenterGauges, find};
use crate::{
    conditional::answer_fresh,
    extract::Reference,
    principal::{Guarded, Read},
    problem::Problem,
    transport::gauge_drift::{DriftExpectedView, DriftLineView, DriftPointView, GaugeDriftView},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Days, NaiveDate, Utc};
use dovetally_core::{
    calc::rounding::{Unit, rounded},
    gauge::drift::{
        self, Answer, Drift, FEWEST_CHECKS, FEWEST_CHECKS_FOR_A_PROPOSAL, Finding, History, Limit, day_after,
        days_since, follow,
    },
    length::Length,
    registry::item::{CenterGauge, CenterGaugeFields},
};
use dovetally_db::{
    Connection,
    center_gauges::{self, GaugeCheck},
};

/// How likely the interval is to hold one finding, two-sided.
const CONFIDENCE: f64 = 0.95;
/// The most checks that a line goes through, the newest of them: many more than a gauge gets in its life.
const MOST_CHECKS: i64 = 500;
const DAYS_A_YEAR: f64 = 365.25;
const SOURCE: &str = "Straight-line regression with a prediction interval: NIST/SEMATECH e-Handbook of Statistical Methods, \
                      4.1.4.1 and 4.5.1.2 (recalled)";

/// The checks of a gauge against its machine, oldest first.
pub(super) fn checks(connection: &mut Connection, gauge: &CenterGauge) -> Result<Vec<GaugeCheck>, Problem> {
    let since = center_gauges::bound_since(connection, gauge.item.id)?;
    Ok(center_gauges::checks_of_binding(connection, gauge.item.id, since, MOST_CHECKS)?)
}

/// The checks as the line sees them, with the instant of the first.
fn history(checks: &[&GaugeCheck], against: &CenterGaugeFields) -> Option<(DateTime<Utc>, History)> {
    let first = checks.first()?.fields.performed_at;
    let off = |height: Length| height.minus(against.nominal).millimetres();
    let findings = checks.iter().map(|check| Finding {
        day: days_since(first, check.fields.performed_at),
        found: off(check.fields.as_found),
        left: off(check.fields.as_left.unwrap_or(check.fields.as_found)),
    });
    let history = History {
        findings: findings.collect(),
        lower_limit: against.limits.lower().millimetres(),
        upper_limit: against.limits.upper().millimetres(),
        due: None,
        confidence: CONFIDENCE,
    };
    Some((first, history))
}

/// The day proposed for the next check after `last`, which followed `earlier`.
pub(super) fn propose(
    earlier: &[GaugeCheck],
    last: &GaugeCheck,
    against: &CenterGaugeFields,
    interval_days: Option<u32>,
) -> NaiveDate {
    let performed = last.fields.performed_at.date_naive();
    let by_interval = interval_days.and_then(|days| performed.checked_add_days(Days::new(days.into())));
    let planned = by_interval.map_or(last.fields.next_check, |day| day.min(last.fields.next_check));
    let all: Vec<&GaugeCheck> = earlier.iter().chain([last]).collect();
    let reaches = if all.len() < FEWEST_CHECKS_FOR_A_PROPOSAL {
        None
    } else {
        history(&all, against).and_then(|(first, history)| match follow(&history) {
            Answer::Line(drift) => drift.reaches.and_then(|reach| day_after(first, reach.day)),
            Answer::TooFew { .. } | Answer::OneDay => None,
        })
    };
    drift::propose(performed, planned, reaches)
}

/// Answers how a gauge drifts.
///
/// # Errors
/// 404 for what is no centre gauge.
pub async fn get(guarded: &Guarded<Read>, gauge: Reference) -> Result<HttpResponse, Problem> {
    let view = guarded
        .database()
        .read(move |connection| {
            let gauge = find::<CenterGauges>(connection, &gauge)?;
            let checks = checks(connection, &gauge)?;
            Ok::<_, Problem>(view(&gauge, &checks))
        })
        .await?;
    Ok(answer_fresh(&view))
}

fn view(gauge: &CenterGauge, checks: &[GaugeCheck]) -> GaugeDriftView {
    let unit = Unit(gauge.nominal.unit());
    let against = CenterGaugeFields { nominal: gauge.nominal, limits: gauge.limits };
    let all: Vec<&GaugeCheck> = checks.iter().collect();
    let outward = |length: Length| unit.outward(length.millimetres());
    let off = |height: Length| outward(height.minus(gauge.nominal));
    let known = history(&all, &against).map(|(first, mut history)| {
        history.due = gauge.next_check.map(|day| days_since(first, day.and_time(chrono::NaiveTime::MIN).and_utc()));
        (first, follow(&history))
    });
    let (line, more, sentence) = match &known {
        None => (None, Some(FEWEST_CHECKS), too_few(FEWEST_CHECKS)),
        Some((_, Answer::TooFew { more })) => (None, Some(*more), too_few(*more)),
        Some((_, Answer::OneDay)) => {
            (None, Some(1), "All checks are of one instant: a check on another day is needed.".to_owned())
        }
        Some((first, Answer::Line(drift))) => (Some((*first, drift)), None, sentence(unit, *first, drift)),
    };
    let points = checks.iter().enumerate().map(|(index, check)| {
        let point = line.and_then(|(_, drift)| drift.points.get(index));
        DriftPointView {
            check: check.id.uuid(),
            performed_at: check.fields.performed_at,
            found: off(check.fields.as_found),
            left: off(check.fields.as_left.unwrap_or(check.fields.as_found)),
            drifted: point.map(|point| unit.outward(point.drifted)),
            expected: point.map(|point| unit.outward(point.expected)),
        }
    });
    GaugeDriftView {
        gauge: gauge.item.code.clone(),
        machine: gauge.machine_code.clone(),
        unit: unit.0,
        lower_limit: outward(gauge.limits.lower()),
        upper_limit: outward(gauge.limits.upper()),
        checks: checks.len(),
        more_checks_needed: more,
        points: points.collect(),
        line: line.map(|(first, drift)| line_view(unit, gauge.next_check, first, drift)),
        next_check: gauge.next_check,
        proposed_next_check: checks
            .split_last()
            .map(|(last, earlier)| propose(earlier, last, &against, gauge.check_interval_days)),
        sentence,
        source: SOURCE,
    }
}

fn line_view(unit: Unit, due: Option<NaiveDate>, first: DateTime<Utc>, drift: &Drift) -> DriftLineView {
    let at_next_check = drift.at_due.zip(due).map(|(expected, day)| DriftExpectedView {
        day,
        expected: unit.outward(expected.expected),
        lower: unit.outward(expected.lower),
        upper: unit.outward(expected.upper),
    });
    DriftLineView {
        slope_per_year: unit.outward(drift.slope * DAYS_A_YEAR),
        slope_standard_uncertainty: unit.outward(drift.slope_standard_uncertainty * DAYS_A_YEAR),
        significant: drift.significant,
        residual_standard_deviation: unit.outward(drift.residual_standard_deviation),
        adjusted: unit.outward(drift.adjusted),
        confidence: rounded(CONFIDENCE),
        at_next_check,
        reaches_limit_on: drift.reaches.and_then(|reach| day_after(first, reach.day)),
        reaches_limit: drift.reaches.map(|reach| match reach.limit {
            Limit::Lower => "lower",
            Limit::Upper => "upper",
        }),
    }
}

fn too_few(more: usize) -> String {
    format!("A drift and its scatter need {FEWEST_CHECKS} checks: {more} more, later on.")
}

fn sentence(unit: Unit, first: DateTime<Utc>, drift: &Drift) -> String {
    let way = if drift.slope < 0.0 { "falls" } else { "rises" };
    let moves = if drift.significant {
        format!("It {way} by {} a year.", unit.words(drift.slope.abs() * DAYS_A_YEAR))
    } else {
        "These checks show no drift that stands out from their scatter.".to_owned()
    };
    match drift.reaches.and_then(|reach| day_after(first, reach.day)) {
        Some(day) => format!("{moves} From {day} on a finding may lie outside the limits."),
        None => moves,
    }
}
