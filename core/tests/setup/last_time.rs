//! What a finished setup tells the next one.

use crate::shop::*;
use dovetally_core::{
    adjuster::{AdjusterKind, Turn},
    setup::{
        command::{Command, Turns},
        decide::tag_out as decide_tag_out,
        event::{EventKind, HeightPhase, HeightReading, SeatAnswers},
        last_time::LastTime,
        state::SetupState,
    },
};

fn turn(name: &str, adjuster: &str, turns: f64, direction: Turn) -> Command {
    Command::Adjust {
        station: code(name),
        adjuster: code(adjuster),
        turns: Turns::new(turns).unwrap(),
        direction,
        holder_move: Some(good_move()),
    }
}

#[test]
fn a_smooth_setup_tells_what_was_done_and_no_trouble() {
    let mut bench = Bench::in_trial();
    bench.record(&sizes("S1", 1));
    bench.record(&turn("S1", "SLIDE", 0.5, Turn::Clockwise));
    bench.record(&turn("S1", "SLIDE", 0.75, Turn::Counterclockwise));
    bench.record(&turn("S3", "TAPER", 0.25, Turn::Clockwise));
    bench.record(&approach("S1"));
    bench.record(&approach("S3"));
    bench.record(&sizes("S1", 20));
    bench.record(&depth(21));
    let good = Command::JudgeFirstPiece { accepted: true, piece: Some(30), readings: on_target() };
    bench.record_by(&inspector(), &good);
    bench.now += chrono::TimeDelta::minutes(90);
    bench.record(&Command::ReleaseRun);
    bench.record(&turn("S1", "SLIDE", 0.125, Turn::Clockwise));
    let opened_at = bench.setup.plan.opened_at;
    let last = LastTime::of(&bench.setup.plan, &bench.events);
    assert_eq!(last.released_at, Some(bench.events[bench.events.len() - 2].recorded_at));
    assert_eq!(last.minutes_to_release, Some((last.released_at.unwrap() - opened_at).num_minutes()));
    assert!(last.minutes_to_release.unwrap() >= 90 && last.trial_at.unwrap() < last.released_at.unwrap());
    assert_eq!((last.state, last.people), (SetupState::Released, vec![setter().person, inspector().person]));
    assert_eq!((last.trouble, last.stops), (vec![], vec![]));
    let [s1, e2, s3] = &last.stations[..] else { panic!("three stations") };
    assert_eq!((s1.tool.clone(), s1.holder.clone()), (Some(code("T-1793")), Some(code("H-1537"))));
    // Before the release half a turn in and three quarters back: a quarter back in two steps. In the run it is told apart.
    let [net] = &s1.net_turns[..] else { panic!("{:?}", s1.net_turns) };
    assert_eq!((net.turns, net.direction, net.steps), (0.25, Turn::Counterclockwise, 2));
    let in_run: Vec<_> = s1.turned.iter().map(|turned| (turned.turns, turned.in_run)).collect();
    assert_eq!(in_run, [(0.5, false), (0.75, false), (0.125, true)]);
    assert_eq!(s3.turned[0].adjusts, AdjusterKind::Taper);
    let phases: Vec<_> = s1.heights.iter().map(|height| height.phase).collect();
    assert_eq!(phases, [HeightPhase::BeforeClamping, HeightPhase::AfterClamping]);
    assert_eq!((s1.gaps.len(), s3.gaps.len(), e2.gaps.len()), (2, 2, 0));
    let [size] = &s1.first_sizes[..] else { panic!("{:?}", s1.first_sizes) };
    assert_eq!((size.piece, size.spindle, size.value), (1, Some(1), mm(10.05)), "as it came out, before a turn");
    assert_eq!((e2.first_sizes[0].piece, e2.first_sizes[0].value), (21, mm(12.0)));
    let [judged] = &last.first_pieces[..] else { panic!("one judgement") };
    assert!(judged.accepted && !judged.provisional && judged.by == inspector().person && judged.readings.len() == 3);
}

#[test]
fn trouble_is_told_in_order_with_its_reasons() {
    let mut bench = Bench::new(plan());
    bench.record(&seat_with("S1", SeatAnswers { seat_clean: false, ..good_seat() }));
    bench.record(&insert("S1"));
    bench.record(&place(GAUGE, "S1", &setter()));
    bench.record(&read("S1", HeightPhase::BeforeClamping, HeightReading::Deviation(mm(0.06))));
    bench.record(&remove(GAUGE, "S1"));
    bench.set_cross_slide("S1");
    bench.set_cross_slide("S3");
    bench.record(&insert("E2"));
    bench.record(&clamp("E2"));
    bench.record(&Command::FeedStock { stock: stock("A") });
    bench.record(&Command::ConfirmIndexClearance { confirmed: true });
    bench.record(&approach("S1"));
    bench.record(&approach("S3"));
    bench.record(&Command::BeginTrialCut);
    bench.record(&depth(1));
    bench.record_by(&inspector(), &judge(false, vec![]));
    bench.record_by(&inspector(), &judge(true, on_target()));
    bench.record(&Command::ReleaseRun);
    bench.store(&setter(), &decide_tag_out(&bench.setup, tag_out().tag_out));
    bench.record(&stop(12));
    bench.record(&Command::ReportCrash { station: code("S1") });
    bench.record(&Command::Abandon { reason: "no stock left".to_owned() });
    let last = LastTime::of(&bench.setup.plan, &bench.events);
    let told: Vec<_> = last.trouble.iter().map(|trouble| trouble.kind).collect();
    assert_eq!(
        told,
        [
            EventKind::HolderSeated,
            EventKind::HeightRead,
            EventKind::FirstPieceJudged,
            EventKind::ReleaseWithdrawn,
            EventKind::CrashReported,
            EventKind::Abandoned,
        ]
    );
    let words: Vec<_> = last.trouble.iter().map(|trouble| trouble.words.as_str()).collect();
    assert!(words[5].contains("no stock left"), "{words:?}");
    assert!(words[4].contains("S1, E2"), "a crash names its neighbours: {words:?}");
    let [stop] = &last.stops[..] else { panic!("one stop: {:?}", last.stops) };
    assert_eq!((stop.pieces, stop.reason.as_str(), stop.by), (12, "lot done", setter().person));
    assert_eq!(last.trouble[0].station, Some(code("S1")));
    assert_eq!((last.state, last.pieces), (SetupState::Abandoned, 12));
}

/// The end of a shift is no trouble: stops are told as stops.
#[test]
fn a_run_that_was_stopped_is_no_trouble() {
    let mut bench = Bench::released();
    bench.record(&stop(12));
    bench.record(&Command::ReleaseRun);
    bench.record(&stop(30));
    bench.record(&close());
    let last = LastTime::of(&bench.setup.plan, &bench.events);
    assert_eq!(last.trouble, []);
    let told: Vec<_> = last.stops.iter().map(|stop| (stop.pieces, stop.at)).collect();
    let stopped = bench.events.iter().filter(|recorded| recorded.event.kind() == EventKind::RunStopped);
    assert_eq!(told, [12, 30].into_iter().zip(stopped.map(|recorded| recorded.recorded_at)).collect::<Vec<_>>());
}

#[test]
fn a_setup_that_never_ran_took_no_time_to_a_release() {
    let mut bench = Bench::new(plan());
    bench.record(&close());
    let last = LastTime::of(&bench.setup.plan, &bench.events);
    assert_eq!((last.minutes_to_release, last.trial_at, last.first_pieces.len()), (None, None, 0));
}
