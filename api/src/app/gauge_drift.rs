//! The drift of a gauge over its checks, and the day that it proposes for the next.

use super::registry::{CenterGauges, find};
use crate::{
    conditional::answer_fresh,
    extract::Reference,
    principal::{Guarded, Read},
    problem::Problem,
    transport::gauge_drift::{DriftExpectedView, DriftJumpView, DriftLineView, DriftPointView, GaugeDriftView},
};
use actix_web::HttpResponse;
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    calc::rounding::{Unit, rounded},
    gauge::{
        check::GaugeProof,
        drift::{
            self, Answer, Drift, FEWEST_CHECKS, FEWEST_CHECKS_FOR_A_PROPOSAL, Finding, History, Limit, day_after,
            days_since, follow, jump::Jump,
        },
    },
    length::Length,
    registry::item::{CenterGauge, CenterGaugeFields, valid_until},
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

/// The checks as the line sees them: those since the gauge last moved at once, with that jump, and the instant of the
/// first of all, from which days are counted.
fn history(checks: &[&GaugeCheck], against: &CenterGaugeFields) -> Option<(DateTime<Utc>, History, Option<Jump>)> {
    let first = checks.first()?.fields.performed_at;
    let off = |height: Length| height.minus(against.nominal).millimetres();
    let findings = checks.iter().map(|check| Finding {
        day: days_since(first, check.fields.performed_at),
        found: off(check.fields.as_found),
        left: off(check.fields.as_left.unwrap_or(check.fields.as_found)),
        not_left_alone: check.fields.as_left.is_some() || rejected(check),
    });
    let history = History {
        findings: findings.collect(),
        lower_limit: against.limits.lower().millimetres(),
        upper_limit: against.limits.upper().millimetres(),
        due: None,
        confidence: CONFIDENCE,
    };
    let (history, jump) = history.since_last_jump();
    Some((first, history, jump))
}

fn rejected(check: &GaugeCheck) -> bool {
    check.decision.as_ref().is_some_and(|decision| decision.as_found.proof == GaugeProof::Reject)
}

/// The day proposed for the next check after `last`, which followed `earlier`.
pub(super) fn propose(
    earlier: &[GaugeCheck],
    last: &GaugeCheck,
    against: &CenterGaugeFields,
    interval_days: Option<u32>,
) -> NaiveDate {
    let performed = last.fields.performed_at.date_naive();
    let by_interval = valid_until(None, performed, interval_days);
    let planned = by_interval.map_or(last.fields.next_check, |day| day.min(last.fields.next_check));
    let all: Vec<&GaugeCheck> = earlier.iter().chain([last]).collect();
    let told = history(&all, against).filter(|(_, history, _)| history.findings.len() >= FEWEST_CHECKS_FOR_A_PROPOSAL);
    let reaches = told.and_then(|(first, history, _)| match follow(&history) {
        Answer::Line(drift) => drift.reaches.and_then(|reach| day_after(first, reach.day)),
        Answer::TooFew { .. } | Answer::OneDay => None,
    });
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
            drift_of(connection, &gauge)
        })
        .await?;
    Ok(answer_fresh(&view))
}

/// How a gauge drifts.
///
/// # Errors
/// A database error.
pub(crate) fn drift_of(connection: &mut Connection, gauge: &CenterGauge) -> Result<GaugeDriftView, Problem> {
    let checks = checks(connection, gauge)?;
    Ok(view(gauge, &checks))
}

fn view(gauge: &CenterGauge, checks: &[GaugeCheck]) -> GaugeDriftView {
    let unit = Unit(gauge.nominal.unit());
    let against = CenterGaugeFields { nominal: gauge.nominal, limits: gauge.limits };
    let all: Vec<&GaugeCheck> = checks.iter().collect();
    let outward = |length: Length| unit.outward(length.millimetres());
    let off = |height: Length| outward(height.minus(gauge.nominal));
    let known = history(&all, &against).map(|(first, mut history, jump)| {
        history.due = gauge.next_check.map(|day| days_since(first, day.and_time(chrono::NaiveTime::MIN).and_utc()));
        (first, follow(&history), jump)
    });
    let jump = known.as_ref().and_then(|(_, _, jump)| *jump);
    let jump = jump.and_then(|jump| checks.get(jump.at).map(|check| (jump, check)));
    let begins = jump.map_or(0, |(jump, _)| jump.at);
    let (line, more, sentence) = match &known {
        None => (None, Some(FEWEST_CHECKS), too_few(FEWEST_CHECKS)),
        Some((_, Answer::TooFew { more }, _)) => (None, Some(*more), too_few(*more)),
        Some((_, Answer::OneDay, _)) => {
            (None, Some(1), "All checks are of one instant: a check on another day is needed.".to_owned())
        }
        Some((first, Answer::Line(drift), _)) => (Some((*first, drift)), None, sentence(unit, *first, drift)),
    };
    let points = checks.iter().enumerate().map(|(index, check)| {
        let point = line.zip(index.checked_sub(begins)).and_then(|((_, drift), index)| drift.points.get(index));
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
        jump: jump.map(|(jump, check)| DriftJumpView {
            check: check.id.uuid(),
            performed_at: check.fields.performed_at,
            by: unit.outward(jump.by),
        }),
        more_checks_needed: more,
        points: points.collect(),
        line: line.map(|(first, drift)| line_view(unit, gauge.next_check, first, drift)),
        next_check: gauge.next_check,
        proposed_next_check: checks
            .split_last()
            .map(|(last, earlier)| propose(earlier, last, &against, gauge.check_interval_days)),
        sentence: match jump {
            Some((jump, check)) => format!("{} {sentence}", moved(unit, jump, check)),
            None => sentence,
        },
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

fn moved(unit: Unit, jump: Jump, check: &GaugeCheck) -> String {
    format!(
        "On {} it had moved by {} at once: what was before tells nothing of what comes.",
        check.fields.performed_at.date_naive(),
        unit.words(jump.by.abs())
    )
}

fn too_few(more: usize) -> String {
    format!("A drift and its scatter need {FEWEST_CHECKS} checks: {more} more, later on.")
}

fn sentence(unit: Unit, first: DateTime<Utc>, drift: &Drift) -> String {
    let reached = drift.reaches.and_then(|reach| day_after(first, reach.day));
    if !drift.significant {
        let still = "These checks show no drift that stands out from their scatter.";
        return reached.map_or(still.to_owned(), |day| {
            format!("{still} Their scatter alone may take a finding outside the limits from {day} on.")
        });
    }
    let way = if drift.slope < 0.0 { "falls" } else { "rises" };
    let moves = format!("It {way} by {} a year.", unit.words(drift.slope.abs() * DAYS_A_YEAR));
    match reached {
        Some(day) => format!("{moves} From {day} on a finding may lie outside the limits."),
        None => moves,
    }
}
