//! Pieces booked with a stop: what can hardly be is asked back, and taken when it is confirmed.

use crate::{Refused, night::at_night, shop::*};
use chrono::TimeDelta;
use dovetally_core::{
    refusal::Rule,
    setup::{
        command::Command,
        decide::{decide_without, tag_out as decide_tag_out},
        event::EventKind,
        held::HeldPieces,
        next::next,
        plan::Plan,
    },
};

fn unsure(pieces: u64) -> Command {
    stop_at(pieces, None, false)
}

/// So many seconds after a release.
fn released_since(plan: Plan, seconds: i64) -> Bench {
    let mut bench = Bench::in_trial_with(plan);
    bench.record(&depth(1));
    bench.record_by(&inspector(), &judge(true, on_target()));
    bench.record(&Command::ReleaseRun);
    bench.now += TimeDelta::seconds(seconds);
    bench
}

/// An hour after a release in which piece 120 was read; piece 1 was the highest number before.
fn read_up_to_120() -> Bench {
    let mut bench = Bench::released();
    bench.record(&sizes("S1", 120));
    bench.now += TimeDelta::hours(1);
    bench
}

fn asked(bench: &Bench, pieces: u64) -> String {
    let refusals = bench.ask(&setter(), &unsure(pieces)).unwrap_err();
    let [refusal] = &refusals[..] else { panic!("{refusals:#?}") };
    assert_eq!(refusal.saw.as_deref(), Some(&*format!("{pieces} pieces")));
    assert!(refusal.rule == Rule::ReadingNotConfirmed && refusal.clears.contains("confirmed: true"), "{refusal:?}");
    refusal.sentence.clone()
}

pub(crate) fn refused() -> Vec<Refused> {
    let soon = released_since(plan(), 26);
    let mut withdrawn = soon.clone();
    withdrawn.store(&setter(), &decide_tag_out(&soon.setup, tag_out().tag_out));
    let read = read_up_to_120();
    let asks = [Rule::ReadingNotConfirmed];
    vec![
        Refused::new("more than time allows", &asks, soon.against(&setter(), &unsure(900_000_000))),
        Refused::new("the same after a tag-out", &asks, withdrawn.against(&setter(), &unsure(900_000_000))),
        Refused::new("fewer than were read", &asks, read.against(&setter(), &unsure(50))),
    ]
}

/// One cycle a second, a tenth more, and a piece from each of six spindles (common practice, no published source).
#[test]
fn no_more_pieces_than_the_machine_can_have_made_since_its_release() {
    let bench = released_since(plan(), 26);
    let sentence =
        "Machine M-1 was released 26 seconds before this stop: it cannot have made more than 35 pieces since.";
    assert_eq!(asked(&bench, 36), sentence);
    assert_eq!(bench.against(&setter(), &unsure(35)), []);
    assert_eq!(bench.against(&setter(), &stop(900_000_000)), [], "confirmed");
    let without =
        |command| decide_without(Rule::ReadingNotConfirmed, &bench.setup, &bench.facts, command, &setter(), bench.now);
    assert!(without(&unsure(900_000_000)).is_ok());
    // Two pieces drop in each cycle.
    let pairs = released_since(Plan { pieces_per_cycle: 2, ..plan() }, 26);
    assert_eq!((pairs.against(&setter(), &unsure(64)).len(), pairs.against(&setter(), &unsure(65)).len()), (0, 1));
    // A whole shift.
    let shift = released_since(plan(), 8 * 3_600);
    assert_eq!(shift.against(&setter(), &unsure(31_686)), []);
    assert!(asked(&shift, 31_687).contains("8 hours"));
    assert!(asked(&released_since(plan(), 600), 5_000).contains("10 minutes"));
}

/// A stop may be recorded later than it was: the time until then counts, as it does for a release.
#[test]
fn the_time_counts_until_the_stop_happened() {
    let bench = released_since(plan(), 3_600);
    let after = |seconds: i64| bench.now - TimeDelta::seconds(3_600 - seconds);
    let told = |pieces, seconds| bench.against(&setter(), &stop_at(pieces, Some(after(seconds)), false)).len();
    assert_eq!([told(17, 10), told(18, 10), told(18, 3_600)], [0, 1, 0]);
    assert_eq!([told(6, -60), told(7, -60)], [0, 1], "before its release nothing but what was in the spindles");
}

#[test]
fn no_fewer_pieces_than_the_numbers_read_since_the_release_tell_of() {
    let bench = read_up_to_120();
    let sentence = "Piece 120 was read since machine M-1 was released, and 1 was the highest number before: that is \
                    more than 118 pieces.";
    assert_eq!(asked(&bench, 118), sentence);
    assert_eq!(bench.against(&setter(), &unsure(119)), []);
    assert_eq!(bench.against(&setter(), &stop(50)), [], "a number is misread now and then");
    assert!(
        next(&bench.setup, &bench.facts, bench.now).iter().any(|step| step.kind == EventKind::RunStopped),
        "it is offered"
    );
    // The next run's numbers begin where this one's end.
    let mut again = bench;
    again.record(&stop(119));
    again.record(&Command::ReleaseRun);
    assert_eq!(again.against(&setter(), &unsure(0)), []);
}

/// Fewer than were read are held as they are booked, and whoever judges them is told that there may be more.
#[test]
fn what_is_held_tells_of_a_piece_that_was_read_beyond_it() {
    let mut bench = at_night();
    bench.record(&sizes("S1", 120));
    assert_eq!(bench.against(&setter(), &unsure(5)), [Rule::ReadingNotConfirmed]);
    let mut few = bench.clone();
    few.record(&stop(50));
    let told = |bench: &Bench| bench.ask(&setter(), &close()).unwrap_err()[0].sentence.clone();
    assert_eq!(
        told(&few),
        "50 pieces of a provisional release of machine M-1 are held for an inspector; piece 120 was read in it, so \
         there may be more."
    );
    let held = |bench: &Bench| bench.setup.held.map(|HeldPieces { pieces, number_beyond, .. }| (pieces, number_beyond));
    assert_eq!(held(&few), Some((50, Some(120))));
    assert_eq!(few.setup.highest_piece, 120, "what comes next is numbered after it");
    bench.record(&stop(1_001));
    assert_eq!(held(&bench), Some((1_001, None)));
    assert!(told(&bench).ends_with("held for an inspector, 1 more than it allowed."), "{}", told(&bench));
}
