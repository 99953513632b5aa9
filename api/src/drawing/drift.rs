//! How a gauge drifts: its checks over time, with limits, guard bands and the line through them.

use super::{
    Drawing, Format, Setting, Table,
    axis::{Counts, Range, seconds},
    format::{end_of, midnight},
    frame::{Axis, Frame, Mark, Upright},
    svg::Stroke,
    words::{Words, fill},
};
use crate::transport::{
    gauge_check::GaugeCheckView,
    gauge_drift::{DriftPointView, GaugeDriftView},
};
use dovetally_core::{
    gauge::drift::{self, Finding, History, days_since},
    length::LengthUnit,
};

/// Expanded uncertainty over standard uncertainty.
pub const COVERAGE_FACTOR: f64 = 2.0;

/// How many places the line and its interval are drawn at.
const STEPS: u8 = 48;

/// Heights nearer than this, millimetres or inches, are one height: lengths are kept in whole picometres, and what is left
/// of a sum of adjustments that cancel is its rounding.
const SAME_HEIGHT: f64 = 1e-11;

/// A check with what the picture needs of it.
struct Check<'a> {
    point: &'a DriftPointView,
    /// Seconds since 1970.
    at: f64,
    expanded: Option<f64>,
}

impl Check<'_> {
    fn adjusted(&self) -> bool {
        self.point.left != self.point.found
    }

    /// Where the line sees it, where that is elsewhere.
    fn drifted(&self) -> Option<f64> {
        self.point.drifted.filter(|drifted| (drifted - self.point.found).abs() > SAME_HEIGHT)
    }
}

/// The line at one instant.
#[derive(Clone, Copy)]
struct Told {
    at: f64,
    expected: f64,
    lower: f64,
    upper: f64,
}

/// What is left of the limits when the guard bands of the newest check are taken off.
fn acceptance(checks: &[GaugeCheckView], unit: LengthUnit) -> Option<(f64, f64)> {
    let newest = checks.iter().max_by_key(|check| (check.performed_at, check.recorded_at))?;
    let decision = newest.decision.as_ref()?;
    let decided = decision.as_left.as_ref().unwrap_or(&decision.as_found);
    let off = |height: dovetally_core::length::Length| height.minus(decided.nominal).value_in(unit);
    Some((off(decided.acceptance_lower?), off(decided.acceptance_upper?)))
}

/// The line and its interval from the first check that it goes through to an instant.
fn line(drift: &GaugeDriftView, until: f64) -> Vec<Told> {
    let through = || drift.points.iter().filter_map(|point| point.drifted.map(|drifted| (point.performed_at, drifted)));
    let (Some(line), Some((first, _))) = (&drift.line, through().next()) else { return Vec::new() };
    // Adjustments are taken off already.
    let finding =
        |(at, drifted)| Finding { day: days_since(first, at), found: drifted, left: drifted, not_left_alone: false };
    // A line through lengths of any one unit is told in that unit.
    let history = History {
        findings: through().map(finding).collect(),
        lower_limit: drift.lower_limit,
        upper_limit: drift.upper_limit,
        due: None,
        confidence: line.confidence,
    };
    let Some(band) = drift::band(&history) else { return Vec::new() };
    let from = seconds(first);
    let places = (0..=STEPS).map(|step| from + (until - from) * f64::from(step) / f64::from(STEPS));
    places
        .map(|at| {
            let told = band.on((at - from) / 86_400.0);
            Told { at, expected: told.expected, lower: told.lower, upper: told.upper }
        })
        .collect()
}

/// Draws the drift of a gauge. `checks` are its checks on record, in any order: those that the drift goes through give their
/// uncertainty, and the newest its guard bands.
#[must_use]
pub fn draw(drift: &GaugeDriftView, checks: &[GaugeCheckView], words: &Words, setting: &Setting<'_>) -> Drawing {
    let (said, format, unit) = (&words.drift, setting.format, drift.unit);
    let sign = unit.sign();
    let read: Vec<Check<'_>> = drift
        .points
        .iter()
        .map(|point| {
            let check = checks.iter().find(|check| check.id == point.check);
            let expanded = check.map(|check| COVERAGE_FACTOR * check.standard_uncertainty.value_in(unit));
            Check { point, at: seconds(point.performed_at), expanded }
        })
        .collect();
    let accepted = acceptance(checks, unit);
    let next = drift.next_check.map(|day| (day, seconds(end_of(format, day))));
    // The proposal is told beside the plan only where it is another day.
    let proposed = drift.proposed_next_check.filter(|day| drift.next_check != Some(*day));
    let proposed = proposed.map(|day| (day, seconds(midnight(format, day))));

    let days = [next, proposed].into_iter().flatten().map(|(_, at)| at);
    let across = Range::over(read.iter().map(|check| check.at).chain(days), 30.0 * 86_400.0);
    // As far as the answer tells what is to be expected.
    let told_for = drift.line.as_ref().and_then(|line| line.at_next_check.as_ref());
    let told_for = told_for.map(|told| seconds(told.day.and_time(chrono::NaiveTime::MIN).and_utc()));
    let last = read.iter().map(|check| check.at).chain(told_for).fold(f64::NEG_INFINITY, f64::max);
    let told = line(drift, last);
    // The interval of few checks is many limits wide: it is drawn as far as it lies near them.
    let span = drift.upper_limit - drift.lower_limit;
    let near = |value: f64| value.clamp(drift.lower_limit - span / 2.0, drift.upper_limit + span / 2.0);
    let heights = read.iter().flat_map(|check| {
        let (point, reach) = (check.point, check.expanded.unwrap_or(0.0));
        [point.found - reach, point.found + reach, point.left].into_iter().chain(point.drifted)
    });
    let bounds = told.iter().flat_map(|told| [near(told.lower), near(told.upper)]);
    let limits = [drift.lower_limit, drift.upper_limit];
    let upward = Range::over(heights.chain(bounds).chain(limits), 1e-6);

    let factor = format.exact(COVERAGE_FACTOR);
    let uncertainty = fill(&said.uncertainty, &[("factor", &factor)]);
    let percent = drift.line.as_ref().map(|line| format.fixed(100.0 * line.confidence, 0)).unwrap_or_default();
    let interval = fill(&said.interval, &[("percent", &percent)]);
    let mut key = vec![(Mark::Stroke(Stroke::LONG), said.limits.as_str())];
    if accepted.is_some() {
        key.push((Mark::Stroke(Stroke::DOTTED), said.acceptance.as_str()));
    }
    let mut add = |wanted: bool, mark: Mark, words| {
        if wanted {
            key.push((mark, words));
        }
    };
    add(!read.is_empty(), Mark::Dot, &said.found);
    add(read.iter().any(|check| check.expanded.is_some()), Mark::Stroke(Stroke::THIN), &uncertainty);
    add(read.iter().any(Check::adjusted), Mark::Ring, &said.left);
    add(read.iter().any(|check| check.drifted().is_some()), Mark::Cross, &said.drifted);
    add(!told.is_empty(), Mark::Stroke(Stroke::STRONG), &said.line);
    add(!told.is_empty(), Mark::Stroke(Stroke::DASHED), &interval);

    let x = Axis { counts: Counts::Time, range: across, title: words.when.to_owned() };
    let y = Axis { counts: Counts::Numbers, range: upward, title: fill(&said.axis, &[("unit", sign)]) };
    let mut frame = Frame::new(setting, x, y, &key, 2);
    for limit in limits {
        frame.level("chart-limit", Stroke::LONG, limit);
    }
    for bound in accepted.iter().flat_map(|(lower, upper)| [*lower, *upper]).filter(|bound| upward.holds(*bound)) {
        frame.level("chart-guard", Stroke::DOTTED, bound);
    }
    let through = |value: fn(&Told) -> f64| told.iter().map(|told| (told.at, value(told))).collect::<Vec<_>>();
    frame.curve("chart-line", Stroke::STRONG, &through(|told| told.expected));
    frame.curve("chart-band", Stroke::DASHED, &through(|told| told.lower));
    frame.curve("chart-band", Stroke::DASHED, &through(|told| told.upper));
    let dated = |template: &str, day| fill(template, &[("day", &format.day(day))]);
    let upright = |stroke, template: &str, (day, value)| Upright { stroke, value, words: dated(template, day) };
    let next = next.map(|next| upright(Stroke::LONG, &said.next_check, next));
    let proposed = proposed.map(|proposed| upright(Stroke::DASHED, &said.proposed, proposed));
    frame.uprights(&next.into_iter().chain(proposed).collect::<Vec<_>>());
    draw_checks(&mut frame, &read);

    let (lower, upper) = (format.length(drift.lower_limit), format.length(drift.upper_limit));
    let title = fill(&said.title, &[("gauge", drift.gauge.as_str()), ("machine", drift.machine.as_str())]);
    let found = read.last().map(|check| format.length(check.point.found));
    let (template, found) = found.map_or((&said.no_checks, String::new()), |found| (&said.summary, found));
    let count = drift.checks.to_string();
    let summary =
        fill(template, &[("count", &count), ("found", &found), ("lower", &lower), ("upper", &upper), ("unit", sign)]);

    let listed = Listed { drift, checks: &read, accepted, interval: &interval, words, format, title: &title };
    let (table, in_other_unit) = (listed.table(unit), Some(listed.table(unit.other())));
    Drawing { svg: frame.finish(setting, &title, &summary), title, summary, table, in_other_unit }
}

/// What the table lists.
struct Listed<'a> {
    drift: &'a GaugeDriftView,
    checks: &'a [Check<'a>],
    accepted: Option<(f64, f64)>,
    interval: &'a str,
    words: &'a Words,
    format: &'a dyn Format,
    title: &'a str,
}

impl Listed<'_> {
    fn table(&self, unit: LengthUnit) -> Table {
        let Self { drift, checks, accepted, interval, words, format, title } = *self;
        let said = &words.drift;
        let height = fill(&said.height, &[("unit", unit.sign())]);
        let mut table = Table::new(title, [&words.when, &words.what, &height, &said.from, &said.to]);
        let mut row = |when: String, what: &str, value: Option<f64>, bounds: Option<(f64, f64)>| {
            let number =
                |value: Option<f64>| value.map(|value| format.length_in(value, drift.unit, unit)).unwrap_or_default();
            let (from, to) = bounds.unzip();
            table.rows.push(vec![when, what.to_owned(), number(value), number(from), number(to)]);
        };
        for check in checks {
            let (point, when) = (check.point, format.instant(check.point.performed_at));
            let bounds = check.expanded.map(|reach| (point.found - reach, point.found + reach));
            row(when.clone(), &said.found, Some(point.found), bounds);
            if check.adjusted() {
                row(when.clone(), &said.left, Some(point.left), None);
            }
            if let Some(drifted) = check.drifted() {
                row(when.clone(), &said.drifted, Some(drifted), None);
            }
            if let Some(expected) = point.expected {
                row(when, &said.line, Some(expected), None);
            }
        }
        if let Some(at_next) = drift.line.as_ref().and_then(|line| line.at_next_check.as_ref()) {
            row(format.day(at_next.day), interval, Some(at_next.expected), Some((at_next.lower, at_next.upper)));
        }
        row(String::new(), &said.limits, None, Some((drift.lower_limit, drift.upper_limit)));
        if let Some(accepted) = accepted {
            row(String::new(), &said.acceptance, None, Some(accepted));
        }
        for (day, template) in [(drift.next_check, &said.next_check), (drift.proposed_next_check, &said.proposed)] {
            if let Some(day) = day {
                row(format.day(day), &fill(template, &[("day", &format.day(day))]), None, None);
            }
        }
        table
    }
}

fn draw_checks(frame: &mut Frame, checks: &[Check<'_>]) {
    for check in checks {
        let (at, point) = (check.at, check.point);
        if let Some(reach) = check.expanded {
            let (low, high) = (frame.at(at, point.found - reach), frame.at(at, point.found + reach));
            frame.svg.line("chart-error", Stroke::THIN, low, high);
            for (x, y) in [low, high] {
                frame.svg.line("chart-cap", Stroke::THIN, (x - 4.0, y), (x + 4.0, y));
            }
        }
        if let Some(drifted) = check.drifted() {
            let place = frame.at(at, drifted);
            frame.svg.cross("chart-cross", place, 4.0);
        }
        if check.adjusted() {
            let place = frame.at(at, point.left);
            frame.svg.circle("chart-open", place, 4.5, true);
        }
        let place = frame.at(at, point.found);
        frame.svg.circle("chart-point", place, 3.5, false);
    }
}

#[cfg(test)]
mod tests;
