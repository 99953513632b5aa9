//! Wear while running: one trend a spindle, and when it meets a limit.

use crate::shop::*;
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::setup::{
    command::Command,
    event::{Event, Recorded, SizeReading},
    wear::{FeatureWear, PaceBasis, PastRuns, Question, Wear, wear},
};

fn at(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

fn size(piece: u64, spindle: Option<u8>, value: f64) -> Command {
    let readings = vec![SizeReading { feature: code("D-S1"), value: mm(value) }];
    Command::ReadSizes { station: code("S1"), piece, spindle, readings, correction: None }
}

/// Released at noon; then sizes at their times, each with its piece.
fn run(measured: &[(&str, u64, Option<u8>, f64)]) -> Bench {
    let mut bench = Bench::ready_for_release();
    bench.now = at("2026-03-02T11:59:59Z");
    bench.record(&Command::ReleaseRun);
    for (time, piece, spindle, value) in measured {
        bench.now = at(&format!("2026-03-02T{time}Z")) - TimeDelta::seconds(1);
        bench.record(&size(*piece, *spindle, *value));
    }
    bench
}

fn ask(bench: &Bench, question: Question) -> Wear {
    wear(&bench.setup, &bench.events, question)
}

fn s1(wear: &Wear) -> &FeatureWear {
    &wear.stations[0].features[0]
}

/// A diameter of spindle 1 that grows by 1 µm in 100 pieces, 600 pieces an hour, and of spindle 2, 5 µm further.
const STEADY: [(&str, u64, Option<u8>, f64); 6] = [
    ("13:00:00", 600, Some(1), 10.000),
    ("13:10:00", 700, Some(2), 10.006),
    ("14:00:00", 1200, Some(1), 10.006),
    ("14:10:00", 1300, Some(2), 10.012),
    ("15:00:00", 1800, Some(1), 10.012),
    ("15:10:00", 1900, Some(2), 10.018),
];

/// By hand: spindle 1 meets 10.02 after (10.02 − 10.012)/1e-5 = 800 pieces more, at 600 an hour 80 minutes after 15:00;
/// spindle 2 after 200, 20 minutes after 15:10. Both lie on their lines, so that the lower bound is the line.
#[test]
fn each_spindle_has_a_trend_of_its_own() {
    let until = Some(at("2026-03-02T15:28:00Z"));
    let wear = ask(&run(&STEADY), Question { until, ..Question::default() });
    let pace = wear.pace.unwrap();
    assert_eq!(pace.basis, PaceBasis::ThisRun);
    assert!((pace.pieces_per_hour - 600.0).abs() < 1e-9, "{pace:?}");
    let feature = s1(&wear);
    let [one, two] = &feature.spindles[..] else { panic!("{feature:?}") };
    assert!((one.pieces_to_limit.unwrap() - 800.0).abs() < 1e-6 && (two.pieces_to_limit.unwrap() - 200.0).abs() < 1e-6);
    let near = |time: Option<DateTime<Utc>>, wanted: &str| (time.unwrap() - at(wanted)).num_minutes().abs() <= 1;
    assert!(near(one.about, "2026-03-02T16:20:00Z"), "{one:?}");
    assert!(near(two.about, "2026-03-02T15:30:00Z") && near(two.earliest, "2026-03-02T15:30:00Z"), "{two:?}");
    assert_eq!((feature.first, feature.holds_until), (Some(2), Some(true)));
    assert!(feature.sentence.contains("spindle 2") && feature.sentence.contains("15:"), "{}", feature.sentence);
    assert!(wear.sentence.starts_with("Station S1: D-S1, spindle 2"), "{}", wear.sentence);
    assert_eq!(feature.limits, (mm(9.98), mm(10.02)));
    // In one trend they would say something else: mixed, the six readings scatter.
    let late = ask(&run(&STEADY), Question { until: Some(at("2026-03-02T16:00:00Z")), ..Question::default() });
    assert_eq!(s1(&late).holds_until, Some(false));
    assert!(s1(&late).sentence.contains("before 2026-03-02 16:00 UTC"), "{}", s1(&late).sentence);
}

#[test]
fn scatter_brings_the_lower_bound_forward_and_puts_the_upper_one_off() {
    let noisy = [
        ("13:00:00", 600, Some(1), 10.000),
        ("13:30:00", 900, Some(1), 10.004),
        ("14:00:00", 1200, Some(1), 10.005),
        ("14:30:00", 1500, Some(1), 10.010),
        ("15:00:00", 1800, Some(1), 10.012),
    ];
    let wear = ask(&run(&noisy), Question::default());
    let one = &s1(&wear).spindles[0];
    assert!(one.significant && one.pieces_to_limit_low.unwrap() < one.pieces_to_limit.unwrap());
    assert!(one.earliest.unwrap() < one.about.unwrap());
    assert!(
        one.pieces_to_limit_high.unwrap() > one.pieces_to_limit.unwrap() && one.latest.unwrap() > one.about.unwrap()
    );
    let (earliest, latest) = (one.earliest.unwrap(), one.latest.unwrap());
    let between = format!(", between {} and {};", earliest.format("%F %H:%M UTC"), latest.format("%F %H:%M UTC"));
    assert!(s1(&wear).sentence.contains(&between), "{}", s1(&wear).sentence);
    assert_eq!(s1(&wear).holds_until, None, "nobody asked until when");
}

#[test]
fn too_few_readings_say_how_many_more() {
    let wear = ask(&run(&STEADY[..3]), Question::default());
    let more: Vec<_> = s1(&wear).spindles.iter().map(|spindle| (spindle.spindle, spindle.more_readings)).collect();
    assert_eq!(more, [(1, 1), (2, 2)]);
    assert!(s1(&wear).sentence.contains("one more size"), "{}", s1(&wear).sentence);
    assert_eq!(wear.sentence, "No drift is told yet.");
    // Three of one and the same piece are no three.
    let same = [("13:00:00", 600, Some(1), 10.0); 3];
    assert_eq!(s1(&ask(&run(&same), Question::default())).spindles[0].more_readings, 1);
}

#[test]
fn sizes_of_no_spindle_are_left_out_unless_only_one_runs() {
    let unnamed: Vec<_> = STEADY.iter().map(|(time, piece, _, value)| (*time, *piece, None, *value)).collect();
    let bench = run(&unnamed);
    let told = ask(&bench, Question::default());
    assert_eq!((s1(&told).without_spindle, s1(&told).spindles.len()), (6, 0));
    assert!(s1(&told).sentence.contains("name the spindle"), "{}", s1(&told).sentence);
    let mut plan = (*bench.setup.plan).clone();
    plan.running_spindles = vec![3];
    let mut single = dovetally_core::setup::state::Setup::new(plan);
    single.apply_all(&bench.events);
    let told = wear(&single, &bench.events, Question::default());
    assert_eq!((s1(&told).without_spindle, s1(&told).spindles[0].spindle), (0, 3));
}

/// What was formed before the slide was turned says nothing of the drift since.
#[test]
fn a_trend_begins_anew_with_each_setting() {
    let mut bench = run(&STEADY);
    bench.record(&adjust("S1", "SLIDE", None));
    assert_eq!(ask(&bench, Question::default()).stations[0].features, []);
    bench.record(&size(1_906, Some(1), 10.0));
    assert_eq!(s1(&ask(&bench, Question::default())).spindles[0].readings, 1);
    // A slip of the unit is none either.
    bench.record(&size(1_907, Some(1), 0.3937));
    assert_eq!(s1(&ask(&bench, Question::default())).spindles[0].readings, 1);
}

#[test]
fn the_pace_comes_from_the_best_that_is_known() {
    let pace = |bench: &Bench, past| {
        let wear = ask(bench, Question { past, until: None });
        (wear.pace.map(|pace| (pace.basis, pace.pieces_per_hour.round())), wear.notes.len())
    };
    let past = PastRuns { pieces: 9_000, minutes: 600, runs: 2 };
    let none = PastRuns::default();
    assert_eq!(pace(&run(&[]), none), (None, 1));
    assert_eq!(pace(&run(&[]), past), (Some((PaceBasis::EarlierRuns, 900.0)), 1));
    // The trial's piece is number 1, and 600 more in an hour.
    assert_eq!(pace(&run(&STEADY[..1]), past), (Some((PaceBasis::SinceRelease, 599.0)), 1));
    assert_eq!(pace(&run(&STEADY[..2]), past), (Some((PaceBasis::ThisRun, 600.0)), 0));
    // Nine minutes tell no pace, neither between two pieces nor since the release.
    let hasty = [("12:05:00", 50, Some(1), 10.0), ("12:09:00", 90, Some(1), 10.0)];
    assert_eq!(pace(&run(&hasty), none), (None, 1));
    // Stopped, the pieces still count, and the clock does not.
    let mut stopped = run(&STEADY);
    stopped.now = at("2026-03-02T15:59:59Z");
    stopped.record(&stop(2_400));
    let told = ask(&stopped, Question::default());
    assert!(s1(&told).spindles[0].pieces_to_limit.is_some() && s1(&told).spindles[0].about.is_none());
    assert_eq!(told.notes.len(), 1);
    stopped.record(&Command::ReleaseRun);
    // The run that is over made 2400 pieces in four hours.
    assert_eq!(pace(&stopped, past), (Some((PaceBasis::EarlierRuns, 600.0)), 1));
}

/// When somebody says that they measured earlier than they record it, the pace goes by what they say.
#[test]
fn times_are_those_of_measuring() {
    let mut bench = run(&STEADY);
    for recorded in &mut bench.events {
        if let Recorded { event: Event::SizesRead { piece: 1_900, .. }, occurred_at, .. } = recorded {
            *occurred_at = at("2026-03-02T15:00:00Z");
        }
    }
    let pace = ask(&bench, Question::default()).pace.unwrap();
    assert!((pace.pieces_per_hour - 650.0).abs() < 1e-9, "{pace:?}");
}
