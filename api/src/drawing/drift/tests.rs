use super::{COVERAGE_FACTOR, draw};
use crate::{
    drawing::{
        Drawing,
        axis::seconds,
        testing::{DESK, PHONE, Ruler, by_class, crosses, picture, points, read, read_time},
        words::ENGLISH,
    },
    transport::{
        gauge_check::{CheckDecisionView, GaugeCheckView, GaugeDecisionView},
        gauge_drift::{DriftExpectedView, DriftJumpView, DriftLineView, DriftPointView, GaugeDriftView},
    },
};
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use dovetally_core::{
    code::Code,
    gauge::{
        check::GaugeProof,
        drift::{Answer, Finding, History, follow},
    },
    length::{Deviations, Length, LengthUnit},
};
use uuid::Uuid;

fn mm(value: f64) -> Length {
    Length::new(value, LengthUnit::Millimetre).unwrap()
}

fn at(day: i64) -> DateTime<Utc> {
    "2025-01-10T08:00:00Z".parse::<DateTime<Utc>>().unwrap() + TimeDelta::days(day)
}

fn decision(height: Length) -> GaugeDecisionView {
    GaugeDecisionView {
        verdict: GaugeProof::Accept,
        nominal: mm(95.0),
        limits: Deviations::new(mm(-0.01), mm(0.01)).unwrap(),
        acceptance_lower: Some(mm(94.994)),
        acceptance_upper: Some(mm(95.006)),
        conformance_probability: if height == mm(95.0) { 1.0 } else { 0.99 },
    }
}

/// A gauge of 95 mm with limits of 10 µm, checked on so many days, found and left so far from nominal.
fn gauge(findings: &[(i64, f64, f64)], next: Option<NaiveDate>) -> (GaugeDriftView, Vec<GaugeCheckView>) {
    let finding = |(day, found, left): &(i64, f64, f64)| Finding {
        day: *day as f64,
        found: *found,
        left: *left,
        not_left_alone: found != left,
    };
    let history = History {
        findings: findings.iter().map(finding).collect(),
        lower_limit: -0.01,
        upper_limit: 0.01,
        due: next.map(|day| (seconds(day.and_hms_opt(0, 0, 0).unwrap().and_utc()) - seconds(at(0))) / 86_400.0),
        confidence: 0.95,
    };
    let (history, jump) = history.since_last_jump();
    let begins = jump.map_or(0, |jump| jump.at);
    let line = match follow(&history) {
        Answer::Line(line) => Some(line),
        Answer::TooFew { .. } | Answer::OneDay => None,
    };
    let points = findings.iter().enumerate().map(|(index, (day, found, left))| {
        let point = line.as_ref().zip(index.checked_sub(begins)).map(|(line, index)| line.points[index]);
        DriftPointView {
            check: Uuid::from_u128(index as u128),
            performed_at: at(*day),
            found: *found,
            left: *left,
            drifted: point.map(|point| point.drifted),
            expected: point.map(|point| point.expected),
        }
    });
    let checks = findings.iter().enumerate().map(|(index, (day, found, left))| GaugeCheckView {
        id: Uuid::from_u128(index as u128),
        gauge: Code::parse("CG-101").unwrap(),
        machine: Code::parse("M-101").unwrap(),
        as_found: mm(95.0 + found),
        as_left: Some(mm(95.0 + left)),
        standard_uncertainty: mm(0.001),
        accepted: true,
        decision: Some(CheckDecisionView {
            conformance: Some(0.95),
            guard_factor: 1.65,
            as_found: decision(mm(95.0)),
            as_left: None,
        }),
        impact: None,
        certificate: None,
        next_check: next.unwrap_or(NaiveDate::MAX),
        proposed_next_check: None,
        performed_at: at(*day),
        recorded_by: "setter".to_owned(),
        recorded_at: at(*day),
    });
    let view = GaugeDriftView {
        gauge: Code::parse("CG-101").unwrap(),
        machine: Code::parse("M-101").unwrap(),
        unit: LengthUnit::Millimetre,
        lower_limit: -0.01,
        upper_limit: 0.01,
        checks: findings.len(),
        jump: jump.map(|jump| DriftJumpView {
            check: Uuid::from_u128(jump.at as u128),
            performed_at: at(findings[jump.at].0),
            by: jump.by,
        }),
        more_checks_needed: None,
        points: points.collect(),
        line: line.as_ref().map(|line| DriftLineView {
            slope_per_year: line.slope * 365.25,
            slope_standard_uncertainty: line.slope_standard_uncertainty * 365.25,
            significant: line.significant,
            residual_standard_deviation: line.residual_standard_deviation,
            adjusted: line.adjusted,
            confidence: 0.95,
            at_next_check: line.at_due.zip(next).map(|(expected, day)| DriftExpectedView {
                day,
                expected: expected.expected,
                lower: expected.lower,
                upper: expected.upper,
            }),
            reaches_limit_on: None,
            reaches_limit: None,
        }),
        next_check: next,
        proposed_next_check: next.map(|day| day - chrono::Days::new(20)),
        sentence: String::new(),
        source: "",
    };
    (view, checks.collect())
}

const YEARS: [(i64, f64, f64); 6] = [
    (0, 0.001, 0.001),
    (180, 0.0002, 0.0002),
    (365, -0.0011, -0.0011),
    (550, -0.0018, 0.002),
    (730, 0.0012, 0.0012),
    (915, 0.0001, 0.0001),
];

fn rows<'d>(drawing: &'d Drawing, what: &str) -> Vec<&'d Vec<String>> {
    drawing.table.rows.iter().filter(|row| row[1] == what).collect()
}

/// Every number of the table stands where the axes say.
#[test]
fn picture_and_table_tell_the_same() {
    let next = NaiveDate::from_ymd_opt(2028, 2, 1).unwrap();
    let (view, checks) = gauge(&YEARS, Some(next));
    for setting in [DESK, PHONE] {
        let drawing = draw(&view, &checks, &ENGLISH, &setting);
        let document = picture(&drawing, &setting);
        let (up, across) = (Ruler::upward(&document), Ruler::across(&document, read_time));
        let said = &ENGLISH.drift;

        let found = rows(&drawing, &said.found);
        let (xs, ys) = (by_class(&document, "chart-point", "cx"), by_class(&document, "chart-point", "cy"));
        assert_eq!((found.len(), xs.len()), (6, 6));
        for ((row, x), (y, finding)) in found.iter().zip(&xs).zip(ys.iter().zip(&YEARS)) {
            across.assert(*x, read_time(&row[0]));
            up.assert(*y, read(&row[2]));
            assert_eq!(read(&row[2]), finding.1);
        }
        let (low, high) = (by_class(&document, "chart-error", "y1"), by_class(&document, "chart-error", "y2"));
        for ((row, low), high) in found.iter().zip(&low).zip(&high) {
            up.assert(*low, read(&row[3]));
            up.assert(*high, read(&row[4]));
            assert!((read(&row[4]) - read(&row[3]) - 2.0 * COVERAGE_FACTOR * 0.001).abs() < 1e-9);
        }
        // One adjustment: its height as left, and the checks before it as the line sees them.
        let left = rows(&drawing, &said.left);
        assert_eq!(left.len(), 1);
        up.assert(by_class(&document, "chart-open", "cy")[0], read(&left[0][2]));
        let drifted = rows(&drawing, &said.drifted);
        let drawn = crosses(&document, "chart-cross");
        assert_eq!((drifted.len(), drawn.len()), (4, 4));
        for (row, (_, y)) in drifted.iter().zip(&drawn) {
            up.assert(*y, read(&row[2]));
        }
        let limits = by_class(&document, "chart-limit", "y1");
        let row = rows(&drawing, &said.limits)[0];
        up.assert(limits[0], read(&row[3]));
        up.assert(limits[1], read(&row[4]));
        let guards = by_class(&document, "chart-guard", "y1");
        let row = rows(&drawing, &said.acceptance)[0];
        assert_eq!((read(&row[3]), read(&row[4])), (-0.006, 0.006));
        up.assert(guards[0], -0.006);
        up.assert(guards[1], 0.006);
        // The line runs through what the table tells of it, to the day of the next check.
        let line = points(&document, "chart-line");
        let expected = rows(&drawing, &said.line);
        up.assert(line[0].1, read(&expected[0][2]));
        let (x, y) = *line.last().unwrap();
        across.assert(x, read_time("2028-02-01"));
        let told = rows(&drawing, "next finding, 95 %")[0];
        up.assert(y, read(&told[2]));
        let days = by_class(&document, "chart-day", "x1");
        across.assert(days[0], read_time("2028-02-02"));
        across.assert(days[1], read_time("2028-01-12"));
    }
}

#[test]
fn no_check_one_check_and_checks_that_are_all_alike() {
    let next = NaiveDate::from_ymd_opt(2026, 1, 31);
    let cases: [&[(i64, f64, f64)]; 4] = [
        &[],
        &[(0, 0.002, 0.002)],
        &[(0, 0.001, 0.001), (100, 0.001, 0.001), (200, 0.001, 0.001)],
        &[(0, 0.001, 0.001), (0, 0.002, 0.002), (0, 0.003, 0.003)],
    ];
    for findings in cases {
        for (setting, next) in [(DESK, next), (PHONE, next), (DESK, None), (PHONE, None)] {
            let (view, checks) = gauge(findings, next);
            let drawing = draw(&view, &checks, &ENGLISH, &setting);
            let document = picture(&drawing, &setting);
            assert_eq!(by_class(&document, "chart-point", "cx").len(), findings.len());
            Ruler::upward(&document);
            assert_eq!(draw(&view, &checks, &ENGLISH, &setting), drawing, "the same input gives the same bytes");
        }
    }
    let (view, checks) = gauge(&[], next);
    assert!(draw(&view, &checks, &ENGLISH, &DESK).summary.starts_with("It was never checked"));
}

/// A finding far off is drawn where it lies, and an interval far wider than the limits does not press the rest flat.
#[test]
fn far_outliers_and_wide_intervals() {
    let (view, checks) =
        gauge(&[(0, 0.0, 0.0), (100, 3.5, 0.0), (200, 0.0, 0.0)], NaiveDate::from_ymd_opt(2026, 1, 31));
    let drawing = draw(&view, &checks, &ENGLISH, &DESK);
    let document = picture(&drawing, &DESK);
    Ruler::upward(&document).assert(by_class(&document, "chart-point", "cy")[1], 3.5);

    let (view, checks) =
        gauge(&[(0, 0.005, 0.005), (10, -0.005, -0.005), (20, 0.005, 0.005)], NaiveDate::from_ymd_opt(2025, 6, 1));
    let drawing = draw(&view, &checks, &ENGLISH, &DESK);
    let document = picture(&drawing, &DESK);
    let limits = by_class(&document, "chart-limit", "y1");
    assert!(limits[0] - limits[1] > 60.0, "{limits:?}");
    for (_, y) in points(&document, "chart-band") {
        assert!((0.0..DESK.size.height).contains(&y));
    }
}

/// After a jump the line begins where the gauge was left, and says nothing of what was before.
#[test]
fn the_line_begins_anew_after_a_jump() {
    let steady = [(0, 0.0005, 0.0005), (60, 0.0001, 0.0001), (120, 0.0011, 0.0011), (180, 0.0004, 0.0004)];
    let jumped = [(240, 0.0008, 0.0008), (300, 0.0094, 0.0002), (360, 0.0004, 0.0004), (420, 0.0009, 0.0009)];
    let (view, checks) = gauge(&[steady, jumped].concat(), NaiveDate::from_ymd_opt(2026, 5, 1));
    assert_eq!(view.jump.as_ref().map(|jump| jump.performed_at), Some(at(300)));
    let drawing = draw(&view, &checks, &ENGLISH, &DESK);
    let document = picture(&drawing, &DESK);
    let (up, across) = (Ruler::upward(&document), Ruler::across(&document, read_time));
    let expected = rows(&drawing, &ENGLISH.drift.line);
    assert_eq!((expected.len(), by_class(&document, "chart-point", "cx").len()), (3, 8));
    let (x, y) = points(&document, "chart-line")[0];
    across.assert(x, read_time(&expected[0][0]));
    up.assert(y, read(&expected[0][2]));
    // The first of them as it was left: no adjustment of the jump shifts the line.
    assert!((read(&expected[0][2]) - 0.000_15).abs() < 6e-5, "{expected:?}");
    let left = rows(&drawing, &ENGLISH.drift.left);
    assert_eq!((left.len(), read(&left[0][2])), (1, 0.0002));
    let drifted = rows(&drawing, &ENGLISH.drift.drifted);
    assert_eq!((drifted.len(), read(&drifted[0][2])), (1, 0.0002), "the line sees it as it was left");
}

/// Checks that are not handed in have no error bar, and none is made up.
#[test]
fn an_unknown_uncertainty_stays_unknown() {
    let (view, _) = gauge(&YEARS, None);
    let drawing = draw(&view, &[], &ENGLISH, &DESK);
    let document = picture(&drawing, &DESK);
    assert!(by_class(&document, "chart-error", "y1").is_empty());
    assert!(rows(&drawing, &ENGLISH.drift.found).iter().all(|row| row[3].is_empty()));
    assert!(by_class(&document, "chart-guard", "y1").is_empty());
}
