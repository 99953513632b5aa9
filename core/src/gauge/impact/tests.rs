//! Boundaries of what a gauge has touched, and a random year against a plain reading of the definition.

use super::{Entry, RunFacts, SetupFacts, Touched, Window, touched};
use crate::{
    code::Code,
    ids::{ItemId, JobId, PersonId, RunId, SetupId},
    length::{Length, LengthUnit},
    setup::{
        event::{Event, EventKind, HeightPhase, HeightReading, Recorded},
        runs::GaugeUse,
    },
};
use chrono::{DateTime, TimeDelta, Utc};
use proptest::prelude::*;
use uuid::Uuid;

const GAUGE: ItemId = ItemId::from_uuid(Uuid::from_u128(1));
const OTHER: ItemId = ItemId::from_uuid(Uuid::from_u128(2));

fn at(minute: i64) -> DateTime<Utc> {
    "2026-01-01T00:00:00Z".parse::<DateTime<Utc>>().unwrap() + TimeDelta::minutes(minute)
}

fn tool(number: u128) -> ItemId {
    ItemId::from_uuid(Uuid::from_u128(0x100 + number))
}

fn job() -> JobId {
    JobId::from_uuid(Uuid::from_u128(0x500))
}

/// A setup that is written down step by step; every step is an event of its minute.
struct Writer {
    facts: SetupFacts,
    sequence: i64,
}

impl Writer {
    fn new(number: u128) -> Self {
        let setup = SetupId::from_uuid(Uuid::from_u128(0x1000 + number));
        let facts = SetupFacts { setup, job: Some(job()), stays: vec![], events: vec![], runs: vec![] };
        Self { facts, sequence: 0 }
    }

    fn event(&mut self, minute: i64, event: Event) {
        self.sequence += 1;
        let by = PersonId::from_uuid(Uuid::nil());
        let recorded =
            Recorded { sequence: self.sequence, by, recorded_at: at(minute), occurred_at: at(minute), event };
        self.facts.events.push(recorded);
    }

    fn insert(&mut self, minute: i64, station: &str, number: u128) {
        let (station, code) = (Code::parse(station).unwrap(), Code::parse("T").unwrap());
        self.event(minute, Event::ToolInserted { station, tool: tool(number), code, design: None, height: None });
    }

    /// The gauge's stay from a minute to another, or on and on.
    fn stay(&mut self, station: &str, placed: i64, removed: Option<i64>) {
        self.sequence += 1;
        self.facts.stays.push(GaugeUse {
            placed_sequence: self.sequence,
            station: Code::parse(station).unwrap(),
            gauge: GAUGE,
            placed_at: at(placed),
            removed_at: removed.map(at),
            tool: None,
        });
    }

    fn read(&mut self, minute: i64, station: &str, gauge: ItemId) {
        let limit = Length::new(0.05, LengthUnit::Millimetre).unwrap();
        self.event(
            minute,
            Event::HeightRead {
                station: Code::parse(station).unwrap(),
                gauge,
                phase: HeightPhase::AfterClamping,
                reading: HeightReading::OnGauge,
                limit,
                spread: None,
                within_limit: true,
                correction: None,
            },
        );
    }

    fn release(&mut self, minute: i64, pieces: Option<i64>) -> RunId {
        self.sequence += 1;
        let run =
            RunId::from_uuid(Uuid::from_u128(self.facts.setup.uuid().as_u128() * 1000 + self.facts.runs.len() as u128));
        let (released_sequence, released_at) = (self.sequence, at(minute));
        self.facts.runs.push(RunFacts { run, released_sequence, released_at, job: Some(job()), pieces });
        run
    }

    fn setup(&self) -> Touched {
        Touched::Setup(self.facts.setup)
    }
}

/// In doubt from minute 100 on.
const SINCE: i64 = 100;

fn found(writer: &Writer, until: Option<i64>) -> Vec<Entry> {
    let window = Window { since: Some(at(SINCE)), until: until.map(at) };
    touched(GAUGE, window, std::slice::from_ref(&writer.facts))
}

fn names(entries: &[Entry]) -> Vec<Touched> {
    entries.iter().map(|entry| entry.touched).collect()
}

#[test]
fn a_setup_after_the_check_is_touched_with_all_that_hangs_on_it() {
    let mut setup = Writer::new(1);
    setup.insert(101, "S1", 7);
    setup.stay("S1", 102, Some(105));
    setup.read(103, "S1", GAUGE);
    let run = setup.release(110, Some(400));
    let entries = found(&setup, None);
    assert_eq!(names(&entries), [setup.setup(), Touched::Run(run), Touched::Job(job()), Touched::Tool(tool(7))]);
    assert_eq!(entries.iter().map(|entry| entry.pieces).collect::<Vec<_>>(), [Some(400), Some(400), Some(400), None]);
    let why = |entry: &Entry| entry.evidence.iter().map(|event| (event.sequence, event.kind)).collect::<Vec<_>>();
    assert_eq!(
        why(&entries[0]),
        [(2, EventKind::GaugePlaced), (3, EventKind::HeightRead), (4, EventKind::RunReleased)]
    );
    assert_eq!(why(&entries[1]), [(3, EventKind::HeightRead), (4, EventKind::RunReleased)]);
    assert_eq!(why(&entries[3]), [(3, EventKind::HeightRead)]);
    assert_eq!(entries[1].evidence[0].at, at(103));
}

#[test]
fn what_ended_before_the_check_is_not_touched_and_what_met_its_instant_is() {
    let mut setup = Writer::new(1);
    setup.stay("S1", 90, Some(99));
    setup.read(95, "S1", GAUGE);
    setup.release(120, Some(10));
    assert!(found(&setup, None).is_empty());

    // Taken out at the very instant of the check: the order is not known. Its height was read before, so no run is.
    let mut setup = Writer::new(2);
    setup.stay("S1", 90, Some(SINCE));
    setup.read(95, "S1", GAUGE);
    setup.release(120, Some(10));
    assert_eq!(names(&found(&setup, None)), [setup.setup(), Touched::Job(job())]);

    // Read at the very instant.
    let mut setup = Writer::new(3);
    setup.stay("S1", 90, Some(SINCE));
    setup.read(SINCE, "S1", GAUGE);
    let run = setup.release(120, Some(10));
    assert!(names(&found(&setup, None)).contains(&Touched::Run(run)));
}

#[test]
fn a_stay_over_the_check_is_touched_by_what_was_read_after_it() {
    let mut setup = Writer::new(1);
    setup.stay("S1", 90, None);
    setup.read(95, "S1", GAUGE);
    let before = setup.release(98, Some(10));
    assert_eq!(names(&found(&setup, None)), [setup.setup(), Touched::Job(job())]);
    setup.read(101, "S1", GAUGE);
    let after = setup.release(102, None);
    let touched = found(&setup, None);
    assert!(names(&touched).contains(&Touched::Run(after)) && !names(&touched).contains(&Touched::Run(before)));
    // Its pieces are not booked yet: none for the run, and nothing to add for the setup.
    assert_eq!(touched[0].pieces, Some(0));
    assert_eq!(touched[1].pieces, None);
}

#[test]
fn a_height_read_again_on_another_gauge_owes_nothing_to_this_one() {
    let mut setup = Writer::new(1);
    setup.stay("S1", 101, Some(103));
    setup.read(102, "S1", GAUGE);
    let first = setup.release(104, Some(5));
    setup.read(106, "S1", OTHER);
    let second = setup.release(108, Some(6));
    let touched = names(&found(&setup, None));
    assert!(touched.contains(&Touched::Run(first)) && !touched.contains(&Touched::Run(second)));
    // At a second station it still stands on this gauge.
    setup.stay("S2", 109, Some(111));
    setup.read(110, "S2", GAUGE);
    setup.read(112, "S1", OTHER);
    let third = setup.release(113, Some(7));
    let entries = found(&setup, None);
    assert!(names(&entries).contains(&Touched::Run(third)));
    // Only the other gauge was read here, though this one was placed.
    let mut other = Writer::new(2);
    other.stay("S1", 101, Some(103));
    other.read(102, "S1", OTHER);
    other.release(104, Some(5));
    assert_eq!(names(&found(&other, None)), [other.setup(), Touched::Job(job())]);
}

#[test]
fn a_check_that_set_the_gauge_right_ends_the_doubt() {
    let mut setup = Writer::new(1);
    setup.stay("S1", 150, Some(155));
    setup.read(151, "S1", GAUGE);
    let run = setup.release(160, Some(9));
    assert!(found(&setup, Some(149)).is_empty());
    assert!(names(&found(&setup, Some(150))).contains(&setup.setup()));
    assert!(!names(&found(&setup, Some(150))).contains(&Touched::Run(run)));
    // A release after the end of the doubt still stands on a height from within it.
    assert!(names(&found(&setup, Some(151))).contains(&Touched::Run(run)));
    let always = touched(GAUGE, Window::default(), std::slice::from_ref(&setup.facts));
    assert!(names(&always).contains(&Touched::Run(run)));
}

/// One step of a random setup: 0 read on this gauge, 1 on another, 2 release; at one of two stations.
type Step = (u8, bool, i64);

proptest! {
    /// A run is touched exactly when, at some station, going back from its release the first height met is of this gauge
    /// and lies in the time in doubt.
    #[test]
    fn runs_are_touched_exactly_by_definition(
        steps in prop::collection::vec((0_u8..3, any::<bool>(), 0_i64..30), 1..40), until in prop::option::of(100_i64..260),
    ) {
        let mut setup = Writer::new(9);
        setup.stay("S1", 0, None);
        let mut minute = 0;
        let mut done: Vec<(Step, i64, Option<RunId>)> = Vec::new();
        for step in steps {
            minute += step.2;
            let station = if step.1 { "S1" } else { "S2" };
            let run = match step.0 {
                0 => { setup.read(minute, station, GAUGE); None }
                1 => { setup.read(minute, station, OTHER); None }
                _ => Some(setup.release(minute, Some(1))),
            };
            done.push((step, minute, run));
        }
        let touched = names(&found(&setup, until));
        for (index, (_, _, run)) in done.iter().enumerate() {
            let Some(run) = run else { continue };
            let stands_on_it = [true, false].into_iter().any(|station| {
                let last = done[..index].iter().rev().find(|((kind, at, _), ..)| *kind < 2 && *at == station);
                last.is_some_and(|((kind, ..), minute, _)| {
                    *kind == 0 && *minute >= SINCE && until.is_none_or(|until| *minute <= until)
                })
            });
            prop_assert_eq!(touched.contains(&Touched::Run(*run)), stands_on_it);
        }
    }
}
