//! Drifts by hand, a published regression, and what adjustments do.

use super::{Answer, Drift, Finding, History, Limit, day_after, days_since, follow, propose};
use chrono::NaiveDate;
use proptest::prelude::*;

fn history(findings: &[(f64, f64, f64)]) -> History {
    let findings = findings.iter().map(|(day, found, left)| Finding {
        day: *day,
        found: *found,
        left: *left,
        not_left_alone: false,
    });
    History { findings: findings.collect(), lower_limit: -0.008, upper_limit: 0.008, due: None, confidence: 0.95 }
}

fn drift(history: &History) -> Drift {
    match follow(history) {
        Answer::Line(drift) => drift,
        other => panic!("no line: {other:?}"),
    }
}

#[test]
fn too_few_checks_are_said() {
    assert_eq!(follow(&history(&[])), Answer::TooFew { more: 3 });
    assert_eq!(follow(&history(&[(0.0, 0.0, 0.0), (9.0, 0.0, 0.0)])), Answer::TooFew { more: 1 });
    let one_day = [(5.0, 0.0, 0.0), (5.0, 0.001, 0.001), (5.0, 0.002, 0.002)];
    assert_eq!(follow(&history(&one_day)), Answer::OneDay);
    assert_eq!(history(&[(f64::NAN, 0.0, 0.0)]).check()[0].pointer, "/findings");
    let turned = History { upper_limit: -0.01, confidence: 1.0, ..history(&[]) };
    assert_eq!(turned.check().len(), 2);
}

/// Without scatter by hand: 0.001 mm in 100 days, so 0.008 mm after 800 days from zero.
#[test]
fn a_steady_drift_reaches_its_limit_on_the_day() {
    let steady = history(&[(0.0, 0.0, 0.0), (100.0, 0.001, 0.001), (200.0, 0.002, 0.002), (300.0, 0.003, 0.003)]);
    let found = drift(&History { due: Some(400.0), ..steady });
    assert!((found.slope - 1e-5).abs() < 1e-15 && found.significant);
    let reaches = found.reaches.unwrap();
    assert!(reaches.limit == Limit::Upper && (reaches.day - 800.0).abs() < 1e-6, "{reaches:?}");
    assert!((found.at_due.unwrap().expected - 0.004).abs() < 1e-12);
}

/// The same drift, set back by 0.003 mm at the third check: the line is the same, told from where the gauge is now.
#[test]
fn an_adjustment_shifts_the_line_and_not_its_slope() {
    let adjusted = history(&[(0.0, 0.0, 0.0), (100.0, 0.001, 0.001), (200.0, 0.002, -0.001), (300.0, 0.0, 0.0)]);
    let found = drift(&History { due: Some(400.0), ..adjusted });
    assert!((found.slope - 1e-5).abs() < 1e-15);
    assert!((found.adjusted + 0.003).abs() < 1e-15);
    assert!((found.at_due.unwrap().expected - 0.001).abs() < 1e-12);
    // 0.008 = 0.001 + 1e-5 · (x − 400).
    assert!((found.reaches.unwrap().day - 1100.0).abs() < 1e-6);
    let points: Vec<f64> = found.points.iter().map(|point| (point.drifted * 1e6).round()).collect();
    assert_eq!(points, [-3000.0, -2000.0, -1000.0, 0.0]);
}

#[test]
fn what_does_not_move_reaches_nothing_and_what_is_outside_has_reached_it() {
    let still = drift(&history(&[(0.0, 0.001, 0.001), (90.0, 0.001, 0.001), (180.0, 0.001, 0.001)]));
    assert!(still.reaches.is_none() && !still.significant);
    let outside = drift(&history(&[(0.0, 0.009, 0.009), (90.0, 0.009, 0.009), (180.0, 0.009, 0.009)]));
    assert_eq!(outside.reaches.map(|reach| reach.day), Some(180.0));
}

/// NIST StRD, linear least squares, Norris: certified slope, its standard deviation and the residual one
/// (transcription, as in several public test suites). Responses stand for heights, predictors for days.
#[test]
fn a_published_regression_comes_out() {
    const NORRIS: [(f64, f64); 36] = [
        (0.2, 0.1),
        (337.4, 338.8),
        (118.2, 118.1),
        (884.6, 888.0),
        (10.1, 9.2),
        (226.5, 228.1),
        (666.3, 668.5),
        (996.3, 998.5),
        (448.6, 449.1),
        (777.0, 778.9),
        (558.2, 559.2),
        (0.4, 0.3),
        (0.6, 0.1),
        (775.5, 778.1),
        (666.9, 668.8),
        (338.0, 339.3),
        (447.5, 448.9),
        (11.6, 10.8),
        (556.0, 557.7),
        (228.1, 228.3),
        (995.8, 998.0),
        (887.6, 888.8),
        (120.2, 119.6),
        (0.3, 0.3),
        (0.3, 0.6),
        (556.8, 557.6),
        (339.1, 339.3),
        (887.2, 888.0),
        (999.0, 998.5),
        (779.0, 778.9),
        (11.1, 10.2),
        (118.3, 117.6),
        (229.2, 228.9),
        (669.1, 668.4),
        (448.9, 449.2),
        (0.5, 0.2),
    ];
    let findings: Vec<_> = NORRIS.iter().map(|(x, y)| (*x, *y, *y)).collect();
    let found = drift(&History { lower_limit: -1e4, upper_limit: 1e4, ..history(&findings) });
    for (got, certified) in [
        (found.slope, 1.002_116_818_020_45),
        (found.slope_standard_uncertainty, 0.429_796_848_199_937e-3),
        (found.residual_standard_deviation, 0.884_796_396_144_373),
    ] {
        assert!(((got - certified) / certified).abs() < 1e-9, "{got} {certified}");
    }
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

#[test]
fn the_proposal_never_passes_the_plan() {
    let (performed, planned) = (day("2026-06-01"), day("2026-12-01"));
    assert_eq!(propose(performed, planned, None), planned);
    assert_eq!(propose(performed, planned, Some(day("2027-06-01"))), planned);
    assert_eq!(propose(performed, planned, Some(day("2026-09-01"))), day("2026-08-31"));
    assert_eq!(propose(performed, planned, Some(performed)), day("2026-06-02"));
    assert_eq!(propose(performed, performed, Some(performed)), performed);
}

#[test]
fn days_are_counted_from_the_first_check() {
    let first = "2026-06-01T06:00:00Z".parse().unwrap();
    assert!((days_since(first, "2026-06-03T18:00:00Z".parse().unwrap()) - 2.5).abs() < 1e-12);
    assert_eq!(day_after(first, 2.5), Some(day("2026-06-03")));
    assert_eq!(day_after(first, 1e300), None);
}

proptest! {
    /// Adjustments known exactly change neither slope nor scatter; the interval's reach is never before the last check.
    #[test]
    fn adjustments_leave_the_slope(
        noise in prop::collection::vec(-1e-4..1e-4_f64, 5..15), slope in -5e-6..5e-6_f64,
        adjust in prop::collection::vec(-2e-3..2e-3_f64, 15),
    ) {
        let mut offset = 0.0;
        let (mut plain, mut adjusted) = (Vec::new(), Vec::new());
        for (i, noise) in noise.iter().enumerate() {
            let day = 30.0 * crate::calc::summary::count(i);
            let height = slope * day + noise;
            plain.push((day, height, height));
            adjusted.push((day, height + offset, height + offset + adjust[i]));
            offset += adjust[i];
        }
        let (plain, adjusted) = (drift(&history(&plain)), drift(&history(&adjusted)));
        prop_assert!((plain.slope - adjusted.slope).abs() < 1e-15);
        prop_assert!((plain.residual_standard_deviation - adjusted.residual_standard_deviation).abs() < 1e-13);
        let last = adjusted.points.last().map_or(0.0, |point| point.day);
        prop_assert!(adjusted.reaches.is_none_or(|reach| reach.day >= last));
    }
}
