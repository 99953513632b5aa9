//! A year of one machine with two gauges, lived through the program's own use cases under a clock that the test sets, so
//! that exactly what is touched is known in advance.

mod shop;

use self::shop::{OTHER, OURS, Year, at, code_of, inspector, ready};
use super::{Doubt, raise, work};
use crate::{
    app::{gauge_checks, setups},
    problem::Problem,
};
use chrono::TimeDelta;
use dovetally_core::{
    gauge::impact::{Entry, Touched, TouchedKind},
    ids::SetupId,
};
use dovetally_db::{Tx, WriteMode, impacts, machines, setups::uses_of};
use serde_json::json;
use std::collections::BTreeSet;

fn setups_of(entries: &[Entry]) -> BTreeSet<SetupId> {
    let setup = |entry: &Entry| if let Touched::Setup(id) = entry.touched { Some(id) } else { None };
    entries.iter().filter_map(setup).collect()
}

/// What the constructed year knows in advance.
#[derive(Default)]
struct Known {
    setups: BTreeSet<SetupId>,
    runs: BTreeSet<(SetupId, i32)>,
    pieces: i64,
}

impl Known {
    /// A setup is touched, with these of its runs.
    fn add(&mut self, year: &Year, setup: SetupId, runs: &[i32]) {
        self.setups.insert(setup);
        let uses = year.database.read_blocking(move |connection| uses_of(connection, setup)).unwrap();
        for number in runs {
            self.runs.insert((setup, *number));
            let run = uses.runs.iter().find(|run| i64::from(run.number) == i64::from(*number)).unwrap();
            self.pieces += run.pieces.map_or(0, |pieces| i64::try_from(pieces).unwrap());
        }
    }

    #[track_caller]
    fn is(&self, year: &Year, entries: &[Entry]) {
        assert_eq!(setups_of(entries), self.setups);
        assert_eq!(year.runs(entries), self.runs);
        let runs = entries.iter().filter(|entry| entry.touched.kind() == TouchedKind::Run);
        assert_eq!(runs.filter_map(|run| run.pieces).sum::<i64>(), self.pieces);
    }
}

fn lived(on_postgres: bool) {
    let year = ready(on_postgres);
    let mut known = Known::default();
    let week = |number: i64| year.clock.set(at("2026-01-05T08:00:00Z") + TimeDelta::weeks(number));
    let by_turns = [[OURS, OTHER], [OTHER, OTHER], [OTHER, OURS], [OTHER, OTHER], [OURS, OURS]];
    // Before the last good check, and over it: set before it, released after it.
    for (number, gauges) in (1_i64..).zip(by_turns) {
        week(number);
        year.whole(gauges, 1000, false);
    }
    week(7);
    let over = year.open(false);
    year.set(over, "S1", OURS);
    year.set(over, "S2", OURS);
    week(8);
    year.check(OURS, 3.7501, None);
    let good = year.database.now();
    year.release(over);
    year.stop(over, 700);
    year.close(over);

    // Placed before another check of the kind and taken out after it; the last reading comes after.
    week(9);
    let stays = year.open(false);
    year.set(stays, "S2", OTHER);
    year.put_in(stays, "S1");
    year.place(stays, "S1", OURS);
    year.read(stays, "S1", "before_clamping");
    let before_clamping = year.database.now();
    year.event("setter", stays, json!({"kind": "tool_clamped", "station": "S1"}));
    year.read(stays, "S1", "after_clamping");
    let after_clamping = year.database.now();
    year.remove(stays, "S1", OURS);
    let removed = year.database.now();
    year.release(stays);
    year.stop(stays, 300);
    year.close(stays);
    for (since, setup_is, run_is) in [
        (before_clamping, true, true),
        (before_clamping + TimeDelta::microseconds(1), true, true),
        (after_clamping, true, true),
        (after_clamping + TimeDelta::microseconds(1), true, false),
        (removed, true, false),
        (removed + TimeDelta::microseconds(1), false, false),
    ] {
        let found = year.touched(since, None);
        let is = (setups_of(&found).contains(&stays), year.runs(&found).contains(&(stays, 1)));
        assert_eq!(is, (setup_is, run_is), "{since}");
    }
    known.add(&year, stays, &[1]);

    // The rest of the year by turns, every second time for a job.
    for (number, gauges) in (10_i64..45).zip(by_turns.into_iter().cycle()) {
        week(number);
        let setup = year.whole(gauges, 100 + number.unsigned_abs(), number % 2 == 0);
        if gauges.contains(&OURS) {
            known.add(&year, setup, &[1]);
        }
    }
    // Set with ours, run; read again on the other before the next release; then at the second station ours again.
    week(46);
    let again = year.open(false);
    year.set(again, "S1", OURS);
    year.set(again, "S2", OTHER);
    year.release(again);
    year.stop(again, 11);
    year.place(again, "S1", OTHER);
    year.read(again, "S1", "after_clamping");
    year.remove(again, "S1", OTHER);
    year.release(again);
    year.stop(again, 22);
    year.place(again, "S2", OURS);
    year.read(again, "S2", "after_clamping");
    year.remove(again, "S2", OURS);
    year.release(again);
    year.stop(again, 33);
    year.close(again);
    known.add(&year, again, &[1, 3]);
    // Given up before anything was read: the gauge was in it, no run and no tool.
    week(47);
    let given_up = year.open(false);
    year.put_in(given_up, "S1");
    year.place(given_up, "S1", OURS);
    year.remove(given_up, "S1", OURS);
    year.event("setter", given_up, json!({"kind": "abandoned", "reason": "order withdrawn"}));
    known.add(&year, given_up, &[]);
    let found = year.touched(good, None);
    known.is(&year, &found);
    let tools: BTreeSet<Touched> =
        found.iter().map(|entry| entry.touched).filter(|touched| touched.kind() == TouchedKind::Tool).collect();
    assert_eq!(tools, BTreeSet::from([Touched::Tool(year.item("FT-001")), Touched::Tool(year.item("FT-004"))]));
    let jobs = found.iter().filter(|entry| entry.touched.kind() == TouchedKind::Job);
    let for_job: i64 =
        (10..45).filter(|week| week % 2 == 0 && !matches!((week - 10) % 5, 1 | 3)).map(|week| 100 + week).sum();
    assert_eq!(jobs.map(|job| job.pieces).collect::<Vec<_>>(), [Some(for_job)]);
    worked_through(&year, known, &week);
}

/// The document: raised by the check, added to by what comes after it, closed only when all is judged.
fn worked_through(year: &Year, mut known: Known, week: &impl Fn(i64)) {
    week(48);
    let going = year.open(false);
    year.set(going, "S1", OURS);
    year.set(going, "S2", OTHER);
    year.release(going);
    year.check(OURS, 3.7511, None);
    let gauge = year.item(OURS);
    let document = year.database.read_blocking(move |connection| {
        impacts::page(connection, impacts::ImpactFilter { gauge: Some(gauge), open: Some(true) }, None, 10)
    });
    let [document] = document.unwrap().try_into().unwrap_or_else(|found| panic!("not one document: {found:?}"));
    let id = document.id;
    let entries = || -> Vec<impacts::ImpactEntry> {
        year.database.read_blocking(move |connection| impacts::entries(connection, id)).unwrap()
    };
    let held = |entries: &[impacts::ImpactEntry]| entries.iter().map(|held| held.entry.clone()).collect::<Vec<_>>();
    known.add(year, going, &[1]);
    known.is(year, &held(&entries()));

    // Found wrong again, the same doubt: one document.
    year.check(OURS, 3.7511, None);
    let window = document.window;
    year.by("inspector", move |tx, who| {
        let taken = gauge_checks::taken(tx, &code_of(OURS))?;
        let doubt = Doubt { check: None, reason: "again".to_owned(), window };
        raise(tx, who, &taken, doubt).map(|same| assert_eq!(same, id))
    });

    // The run stops, and its pieces come since; no other is released on a height that nobody vouches for.
    let judged = entries().iter().map(|entry| entry.number).collect::<Vec<_>>();
    let refused = year.database.write_blocking(WriteMode::Rehearse, {
        let outcome = json!({"entries": judged, "outcome": "cleared", "note": "measured"});
        move |tx| {
            let who = inspector(tx)?;
            let body = serde_json::from_value(outcome.clone()).map_err(Problem::internal)?;
            work::judge_in(tx, &who, id, &body).map(drop)
        }
    });
    assert!(format!("{:?}", refused.unwrap_err()).contains("ImpactRunGoing"));
    year.stop(going, 55);
    assert!(year.refused("setter", going, json!({"kind": "run_released"})).contains("HeightInDoubt"));
    year.close(going);
    known.pieces += 55;
    let close = move |tx: &mut Tx<'_>| {
        let who = inspector(tx)?;
        let body = serde_json::from_value(json!({"note": "all sorted"})).map_err(Problem::internal)?;
        work::close_in(tx, &who, id, &body).map(drop)
    };
    let refused = year.database.write_blocking(WriteMode::Keep, close);
    assert!(format!("{:?}", refused.unwrap_err()).contains("ImpactNotWorkedThrough"));
    year.by("inspector", move |tx, who| work::refresh_in(tx, who, id).map(drop));
    known.is(year, &held(&entries()));
    let numbers: Vec<i32> = entries().iter().map(|entry| entry.number).collect();
    for some in numbers.chunks(100) {
        let outcome = json!({"entries": some, "outcome": "reworked", "note": "measured and sorted"});
        year.by("inspector", move |tx, who| {
            let body = serde_json::from_value(outcome.clone()).map_err(Problem::internal)?;
            work::judge_in(tx, who, id, &body).map(drop)
        });
    }
    year.database.write_blocking(WriteMode::Keep, close).unwrap();
    // Set right and used again: a closed document and the time before its check stay as they are.
    year.check(OURS, 3.7511, Some(3.75));
    let refused = year.database.write_blocking(WriteMode::Keep, move |tx| {
        let who = inspector(tx)?;
        work::refresh_in(tx, &who, id).map(drop)
    });
    assert!(format!("{:?}", refused.unwrap_err()).contains("ImpactClosed"));
    known.is(year, &held(&entries()));
}

/// The clock of another process is an hour behind when a crash is reported: what was read before it tells nothing all the
/// same.
fn struck(on_postgres: bool) {
    let year = ready(on_postgres);
    let setup = year.open(false);
    year.set(setup, "S1", OURS);
    year.set(setup, "S2", OURS);
    year.clock.set(year.database.now() - TimeDelta::hours(1));
    year.event("setter", setup, json!({"kind": "crash_reported", "station": "S1"}));
    let loaded = year.database.read_blocking(move |connection| setups::load(connection, setup)).unwrap();
    let crash = loaded.events.last().unwrap().recorded_at;
    let read_at = loaded.events.iter().rev().nth(1).unwrap().recorded_at;
    assert!(crash > read_at && crash > year.database.now());
    let machine = loaded.row.machine;
    let moved = year.database.read_blocking(move |connection| machines::find(connection, machine)).unwrap();
    assert_eq!(moved.unwrap().centers_may_have_moved_at, Some(crash), "at the crash, by the records' own time");
}

#[test]
fn a_crash_undoes_what_was_read_before_it_whatever_the_clock_says_on_sqlite() {
    struck(false);
}

#[test]
fn a_crash_undoes_what_was_read_before_it_whatever_the_clock_says_on_postgresql() {
    struck(true);
}

#[test]
fn exactly_what_is_known_in_advance_is_touched_on_sqlite() {
    lived(false);
}

#[test]
fn exactly_what_is_known_in_advance_is_touched_on_postgresql() {
    lived(true);
}
