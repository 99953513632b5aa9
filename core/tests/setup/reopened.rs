//! What a change re-opens. The table is compared whole: what it does not name stays done.

use crate::shop::*;
use dovetally_core::{
    item::Purpose,
    refusal::Rule,
    setup::{
        command::Command,
        decide::take_out,
        event::{Event, HeightPhase, HeightReading, Stock},
        plan::HolderMoveRecheck,
        state::SetupState,
    },
};

fn open(pairs: &[(Rule, &str)]) -> Vec<(Rule, String)> {
    let mut open: Vec<_> = pairs.iter().map(|(rule, code)| (*rule, (*code).to_owned())).collect();
    open.sort();
    open
}

/// What blocks a release after a change to a setup that nothing blocked.
fn after(change: impl FnOnce(&mut Bench)) -> Vec<(Rule, String)> {
    after_in(Bench::ready_for_release(), change)
}

fn after_in(mut bench: Bench, change: impl FnOnce(&mut Bench)) -> Vec<(Rule, String)> {
    assert_eq!(bench.blocked(), []);
    change(&mut bench);
    let mut blocked = bench.blocked();
    blocked.sort();
    blocked
}

const FIRST: (Rule, &str) = (Rule::FirstPieceNotAccepted, "M-1");
const TRIAL: (Rule, &str) = (Rule::TrialNotBegun, "M-1");
const INDEX: (Rule, &str) = (Rule::IndexClearanceNotConfirmed, "M-1");

#[test]
fn unclamping() {
    let expected = open(&[
        (Rule::NotClamped, "S1"),
        (Rule::HeightNotRechecked, "S1"),
        (Rule::ApproachNotRead, "S1"),
        FIRST,
        TRIAL,
    ]);
    assert_eq!(after(|bench| drop(bench.record(&unclamp("S1")))), expected);
}

/// Clamping moves the tool, the second time too.
#[test]
fn clamping_once_more() {
    let expected = open(&[(Rule::HeightNotRechecked, "S1"), (Rule::ApproachNotRead, "S1"), FIRST, TRIAL]);
    assert_eq!(after(|bench| drop(bench.record(&clamp("S1")))), expected);
}

/// The edge is moved, so that it is read on the gauge again before it is clamped.
#[test]
fn the_height_screw() {
    let expected = open(&[
        (Rule::HeightNotRead, "S1"),
        (Rule::NotClamped, "S1"),
        (Rule::HeightNotRechecked, "S1"),
        (Rule::ApproachNotRead, "S1"),
        FIRST,
        TRIAL,
    ]);
    let turned = after(|bench| {
        bench.record(&unclamp("S1"));
        bench.record(&adjust("S1", "HEIGHT", None));
    });
    assert_eq!(turned, expected);
}

#[test]
fn the_height_screw_alone_re_opens_what_unclamping_does() {
    let mut bench = Bench::ready_for_stock();
    bench.record(&unclamp("S1"));
    bench.record(&Command::HandOver { to: setter().person });
    let before = bench.setup.clone();
    bench.record(&adjust("S1", "HEIGHT", None));
    assert_eq!(before.stations[0].clamped, bench.setup.stations[0].clamped);
    assert!(bench.setup.stations[0].height_before.is_none() && before.stations[0].height_before.is_some());
}

#[test]
fn taper_and_lateral_screws_where_a_recheck_is_advised() {
    for adjuster in ["TAPER", "SIDE"] {
        let mut shown = false;
        let moved = after(|bench| {
            bench.record(&adjust("S1", adjuster, Some(good_move())));
            shown = bench.setup.stations[0].recheck_advised;
        });
        assert_eq!(moved, open(&[(Rule::ApproachNotRead, "S1"), FIRST]), "{adjuster}");
        assert!(shown, "the recheck is shown, and does not block");
    }
}

#[test]
fn taper_and_lateral_screws_where_a_recheck_is_required() {
    let mut strict = plan();
    strict.settings.recheck_after_holder_move = HolderMoveRecheck::Required;
    let mut bench = Bench::in_trial_with(strict);
    bench.record(&depth(1));
    bench.record_by(&inspector(), &judge(true, on_target()));
    for adjuster in ["TAPER", "SIDE"] {
        let moved = after_in(bench.clone(), |bench| drop(bench.record(&adjust("S1", adjuster, Some(good_move())))));
        let expected = [(Rule::HeightNotRechecked, "S1"), (Rule::ApproachNotRead, "S1"), FIRST, TRIAL];
        assert_eq!(moved, open(&expected), "{adjuster}");
    }
}

#[test]
fn a_recheck_clears_the_advice_and_so_does_unclamping() {
    let mut bench = Bench::ready_for_release();
    bench.record(&adjust("S1", "TAPER", Some(good_move())));
    let mut loosened = bench.clone();
    loosened.record(&unclamp("S1"));
    assert!(!loosened.setup.stations[0].recheck_advised);
    bench.record(&place(GAUGE, "S1", &setter()));
    bench.record(&read("S1", HeightPhase::AfterClamping, HeightReading::OnGauge));
    assert!(!bench.setup.stations[0].recheck_advised);
}

#[test]
fn the_slide() {
    let expected = open(&[(Rule::ApproachNotRead, "S3"), FIRST]);
    assert_eq!(after(|bench| drop(bench.record(&adjust("S3", "SLIDE", None)))), expected);
}

/// The turnbuckle of E2 moves S3 too; S9 is not in use.
#[test]
fn an_end_slides_turnbuckle() {
    let expected = open(&[(Rule::DepthNotRead, "E2"), (Rule::DepthNotRead, "S3"), FIRST]);
    let mut events = Vec::new();
    assert_eq!(after(|bench| events = bench.record(&adjust("E2", "DEPTH", None)).events), expected);
    let [Event::Adjusted { affected, .. }] = &events[..] else { panic!("{events:?}") };
    assert_eq!(*affected, [code("E2"), code("S3")], "each station in use, once");
}

const STATION_OPEN: [(Rule, &str); 4] = [
    (Rule::HeightNotRead, "S1"),
    (Rule::NotClamped, "S1"),
    (Rule::HeightNotRechecked, "S1"),
    (Rule::ApproachNotRead, "S1"),
];

#[test]
fn another_tool_a_tool_handed_out_and_another_holder() {
    let machine = [INDEX, FIRST, TRIAL];
    let changed = after(|bench| drop(bench.record(&insert("S1"))));
    assert_eq!(changed, open(&[&STATION_OPEN[..], &machine[..]].concat()));

    let no_tool = [(Rule::ToolNotInserted, "S1")];
    let out = after(|bench| {
        let taken = take_out(&bench.setup, item(0x701), Purpose::Grind).unwrap();
        bench.store(&inspector(), &taken);
    });
    assert_eq!(out, open(&[&STATION_OPEN[..], &machine[..], &no_tool[..]].concat()));

    let reseated = after(|bench| drop(bench.record(&seat("S1"))));
    assert_eq!(reseated, open(&[&STATION_OPEN[..], &machine[..], &no_tool[..]].concat()));

    let no_holder = [(Rule::HolderNotSeated, "S1")];
    let out = after(|bench| {
        let taken = take_out(&bench.setup, item(0x601), Purpose::Check).unwrap();
        bench.store(&inspector(), &taken);
    });
    assert_eq!(out, open(&[&STATION_OPEN[..], &machine[..], &no_tool[..], &no_holder[..]].concat()));
}

#[test]
fn another_drill_re_opens_its_depth() {
    let changed = after(|bench| drop(bench.record(&insert("E2"))));
    assert_eq!(changed, open(&[(Rule::NotClamped, "E2"), (Rule::DepthNotRead, "E2"), INDEX, FIRST, TRIAL]));
}

#[test]
fn new_stock() {
    let same = stock("A");
    let changed = [
        Stock { heat: Some("B".to_owned()), ..same.clone() },
        Stock { heat: None, ..same.clone() },
        Stock { bar_shape: "hexagon".to_owned(), ..same.clone() },
        Stock { bar_diameter: mm(12.5), ..same.clone() },
    ];
    let expected = open(&[INDEX, (Rule::ApproachNotRead, "S1"), (Rule::ApproachNotRead, "S3"), FIRST, TRIAL]);
    for stock in changed {
        let command = Command::FeedStock { stock };
        assert_eq!(after(|bench| drop(bench.record(&command))), expected, "{command:?}");
    }
    let again = Command::FeedStock { stock: same };
    assert_eq!(after(|bench| drop(bench.record(&again))), [], "more of the same bar");
}

#[test]
fn a_gauge_ends_trial_cutting_at_any_station() {
    let expected = open(&[(Rule::GaugeStillInMachine, "CG-1281"), TRIAL]);
    assert_eq!(after(|bench| drop(bench.record(&place(GAUGE, "S3", &setter())))), expected);
    let out_again = after(|bench| {
        bench.record(&place(GAUGE, "S3", &setter()));
        bench.record(&remove(GAUGE, "S3"));
    });
    assert_eq!(out_again, open(&[TRIAL]));
}

#[test]
fn a_crash_re_opens_everything_there_and_at_its_neighbours() {
    let struck = after(|bench| drop(bench.record(&Command::ReportCrash { station: code("S3") })));
    let at_s3 = STATION_OPEN.map(|(rule, _)| (rule, "S3"));
    let rest = [
        (Rule::CrashNotCleared, "S3"),
        (Rule::HolderNotSeated, "S3"),
        (Rule::ToolNotInserted, "S3"),
        (Rule::CrashNotCleared, "E2"),
        (Rule::ToolNotInserted, "E2"),
        (Rule::NotClamped, "E2"),
        (Rule::DepthNotRead, "E2"),
        INDEX,
        FIRST,
        TRIAL,
    ];
    assert_eq!(struck, open(&[&at_s3[..], &rest[..]].concat()));
}

#[test]
fn a_crash_that_a_taken_out_tool_does_not_clear() {
    let mut bench = Bench::ready_for_release();
    bench.record(&Command::ReportCrash { station: code("S1") });
    assert_eq!(bench.against(&setter(), &insert("S1")), [Rule::HolderNotSeated]);
    assert!(bench.setup.stations[0].crashed && bench.setup.stations[1].crashed && !bench.setup.stations[2].crashed);
}

#[test]
fn a_stopped_run_stays_stopped_until_something_is_re_opened() {
    let mut bench = Bench::released();
    bench.record(&stop(1));
    bench.record(&sizes("S1", 2));
    assert_eq!(bench.setup.state, SetupState::Stopped);
    let mut turned = bench.clone();
    turned.record(&adjust("S1", "SLIDE", None));
    assert_eq!(turned.setup.state, SetupState::Setting);
    bench.record(&place(GAUGE, "S1", &setter()));
    assert_eq!(bench.setup.state, SetupState::Setting);
}

/// Which piece is the first after a change: those already measured, those still on the way to the cut-off, and one.
#[test]
fn the_first_piece_after_a_change() {
    let first_good = |bench: &Bench| bench.setup.stations.iter().map(|s| s.first_good_piece).collect::<Vec<_>>();
    let mut bench = Bench::ready_for_trial();
    bench.record(&adjust("S1", "SLIDE", None));
    assert_eq!(first_good(&bench), [1, 1, 1], "nothing was formed yet");
    bench.record(&Command::BeginTrialCut);
    bench.record(&sizes("S1", 10));
    bench.record(&adjust("S1", "SLIDE", None));
    assert_eq!(first_good(&bench), [16, 1, 1]);
    bench.record(&depth(3));
    bench.record(&adjust("E2", "DEPTH", None));
    assert_eq!(first_good(&bench), [16, 15, 14], "E2 and what its turnbuckle moves, by their own positions");
    assert_eq!(bench.against(&setter(), &sizes("S3", 13)), [Rule::PieceBeforeAdjustment]);
    bench.record(&sizes("S3", 14));
    bench.record(&unclamp("S3"));
    assert_eq!(first_good(&bench), [16, 15, 18]);
    bench.record(&insert("S1"));
    assert_eq!(first_good(&bench), [20, 15, 18]);
}

/// What a run booked was formed before a screw that is turned after it, whether it was measured or not.
#[test]
fn pieces_of_a_run_count_as_formed() {
    let mut bench = Bench::released();
    bench.record(&stop(500));
    bench.record(&adjust("S1", "SLIDE", None));
    let measured = bench.setup.highest_piece - 500;
    assert_eq!(bench.setup.stations[0].first_good_piece, measured + 500 + 5 + 1, "5 are on the way from S1");
    let in_the_run = sizes("S1", measured + 300);
    assert_eq!(bench.against(&setter(), &in_the_run), [Rule::PieceBeforeAdjustment]);
}

/// The height screw opens the approach again too, even of a tool that was not clamped when the approach was read.
#[test]
fn the_height_screw_re_opens_the_approach() {
    let mut bench = Bench::ready_for_trial();
    bench.record(&unclamp("S1"));
    bench.record(&approach("S1"));
    bench.record(&adjust("S1", "HEIGHT", None));
    assert!(bench.blocked().iter().any(|(rule, code)| *rule == Rule::ApproachNotRead && code == "S1"));
}

/// A piece counts as measured however it was: by its sizes, by its depth, or as a first piece.
#[test]
fn every_measured_piece_counts() {
    let judged = Command::JudgeFirstPiece { accepted: true, piece: Some(4), readings: on_target() };
    for (who, command) in [(setter(), sizes("S1", 4)), (setter(), depth(4)), (inspector(), judged)] {
        let mut bench = Bench::in_trial();
        bench.record_by(&who, &command);
        bench.record(&adjust("S1", "SLIDE", None));
        assert_eq!(bench.setup.stations[0].first_good_piece, 10, "{command:?}: 4 measured, 5 on the way");
    }
}
