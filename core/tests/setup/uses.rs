//! What the events tell of runs and of gauges used.

use crate::shop::*;
use dovetally_core::setup::{
    command::Command,
    decide::tag_out as decide_tag_out,
    runs::{GaugeUse, RunPieces, RunRecord, Uses},
};

fn uses(bench: &Bench) -> Uses {
    Uses::of(&bench.setup.plan, &bench.events)
}

#[test]
fn a_run_is_from_release_to_stop_with_what_was_in_it() {
    let mut bench = Bench::released();
    let released_at = bench.now;
    let sequence = bench.setup.last_sequence;
    let items: Vec<_> = [("E2", 0x702), ("S1", 0x601), ("S1", 0x701), ("S3", 0x603), ("S3", 0x703)]
        .map(|(s, i)| (code(s), item(i)))
        .into();
    let mut expected = RunRecord {
        number: 1,
        released_sequence: sequence,
        released_at,
        ended_at: None,
        pieces: None,
        pieces_are: RunPieces::Free,
        items,
    };
    assert_eq!(uses(&bench).runs, [expected.clone()]);
    bench.record(&stop(480));
    expected.ended_at = Some(bench.now);
    expected.pieces = Some(480);
    assert_eq!(uses(&bench).runs, [expected.clone()]);
    bench.record(&Command::ReleaseRun);
    let second = RunRecord {
        number: 2,
        released_sequence: bench.setup.last_sequence,
        released_at: bench.now,
        ended_at: None,
        pieces: None,
        ..expected.clone()
    };
    assert_eq!(uses(&bench).runs, [expected, second]);
}

#[test]
fn a_withdrawn_release_ends_there_and_its_pieces_come_later() {
    let mut bench = Bench::released();
    let decision = decide_tag_out(&bench.setup, tag_out().tag_out);
    bench.store(&setter(), &decision);
    let withdrawn = bench.now;
    assert_eq!((uses(&bench).runs[0].ended_at, uses(&bench).runs[0].pieces), (Some(withdrawn), None));
    bench.record(&stop(17));
    assert_eq!((uses(&bench).runs[0].ended_at, uses(&bench).runs[0].pieces), (Some(withdrawn), Some(17)));
}

#[test]
fn a_gauge_use_is_from_placing_to_removal_with_the_tool_read_on_it() {
    let bench = Bench::ready_for_stock();
    let gauges = uses(&bench).gauges;
    let told: Vec<_> = gauges.iter().map(|using| (using.station.to_string(), using.gauge, using.tool)).collect();
    let expected = [("S1", 0x701), ("S3", 0x703)];
    assert_eq!(told, expected.map(|(station, tool)| (station.to_owned(), item(GAUGE), Some(item(tool)))));
    for GaugeUse { placed_at, removed_at, .. } in gauges {
        assert!(removed_at.is_some_and(|removed_at| removed_at > placed_at));
    }
}

#[test]
fn a_gauge_that_nothing_was_read_on_set_no_tool() {
    let mut bench = Bench::new(plan());
    bench.record(&seat("S1"));
    bench.record(&insert("S1"));
    bench.record(&place(GAUGE, "S1", &setter()));
    assert_eq!((uses(&bench).gauges[0].tool, uses(&bench).gauges[0].removed_at), (None, None));
}

/// What a provisional release made is held until an inspector's word, whenever that comes.
#[test]
fn pieces_are_free_held_or_rejected() {
    let at_night = || {
        let mut bench = Bench::in_trial_with(night_plan());
        bench.record(&depth(1));
        bench.record_by(&second_setter(), &judge(true, on_target()));
        bench.record(&Command::ReleaseRun);
        bench
    };
    let are = |bench: &Bench| uses(bench).runs.iter().map(|run| run.pieces_are).collect::<Vec<_>>();
    let mut booked = at_night();
    assert_eq!(are(&booked), [RunPieces::Held]);
    booked.record(&stop(100));
    assert_eq!(are(&booked), [RunPieces::Held]);
    for (accepted, readings, expected) in [(true, on_target(), RunPieces::Free), (false, vec![], RunPieces::Rejected)] {
        let mut judged = booked.clone();
        let decision = judged.record_by(&inspector(), &judge_held(accepted, readings.clone()));
        assert!(decision.events.iter().all(Uses::concern));
        assert_eq!(are(&judged), [expected]);
        // While it still runs, too.
        let mut running = at_night();
        running.record_by(&inspector(), &judge_held(accepted, readings));
        assert_eq!(are(&running), [expected]);
        running.record(&stop(7));
        assert_eq!(are(&running), [expected]);
    }
    assert_eq!(are(&Bench::released()), [RunPieces::Free]);
}
