//! How fast pieces are made: by this run, or for want of it by runs that are over.

use super::count;
use crate::setup::{
    event::{Event, Recorded},
    runs::Uses,
    state::Setup,
};
use chrono::{DateTime, TimeDelta, Utc};

/// The least time between two readings that tells a pace (common practice, no published source): below it a moment's
/// delay in reading or writing is most of it.
const LEAST_TIME: TimeDelta = TimeDelta::minutes(10);
/// What a pace rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PaceBasis {
    /// Pieces measured in this run.
    ThisRun,
    /// The release, and a piece measured since.
    SinceRelease,
    /// Runs that are over: of this setup, or earlier ones of the part on the machine.
    EarlierRuns,
}

/// Pieces and time of runs that are over.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PastRuns {
    /// Pieces booked.
    pub pieces: u64,
    /// From release to end, breaks included.
    pub minutes: i64,
    /// In so many runs.
    pub runs: u32,
}

/// How fast pieces are made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pace {
    /// Pieces of all spindles in an hour.
    pub pieces_per_hour: f64,
    /// What it rests on.
    pub basis: PaceBasis,
}

/// The best pace that is known; what it rests on is noted where it is not this run's own.
pub(super) fn pace(setup: &Setup, events: &[Recorded], past: PastRuns, notes: &mut Vec<String>) -> Option<Pace> {
    let of = |pieces: u64, time: TimeDelta, basis: PaceBasis| {
        let minutes = count(u64::try_from(time.num_seconds()).ok()?) / 60.0;
        (pieces > 0 && minutes > 0.0).then(|| Pace { pieces_per_hour: 60.0 * count(pieces) / minutes, basis })
    };
    let measured: Vec<(u64, DateTime<Utc>)> = since_release(events);
    let released = events.iter().rev().find(|recorded| matches!(recorded.event, Event::RunReleased { .. }));
    let last = measured.iter().max_by_key(|(piece, at)| (*piece, *at));
    if let (Some((last_piece, last_at)), Some(released)) = (last, released) {
        if let Some((piece, at)) = measured.iter().min_by_key(|(piece, at)| (*piece, *at))
            && *last_at - *at >= LEAST_TIME
            && let Some(pace) = of(last_piece - piece, *last_at - *at, PaceBasis::ThisRun)
        {
            return Some(pace);
        }
        let time = *last_at - released.recorded_at;
        if time >= LEAST_TIME
            && let Some(pace) = of(last_piece.saturating_sub(setup.highest_before_run), time, PaceBasis::SinceRelease)
        {
            notes.push("The pace is taken from the release to the last piece measured.".to_owned());
            return Some(pace);
        }
    }
    let here = PastRuns::of(&Uses::of(&setup.plan, events));
    for (past, whose) in [(here, "this setup"), (past, "earlier setups of the part on this machine")] {
        if let Some(pace) = of(past.pieces, TimeDelta::minutes(past.minutes), PaceBasis::EarlierRuns) {
            let runs = if past.runs == 1 { "one run".to_owned() } else { format!("{} runs", past.runs) };
            notes.push(format!("The pace is that of {runs} of {whose}, breaks included."));
            return Some(pace);
        }
    }
    None
}

/// Numbers and times of all pieces measured since the last release.
fn since_release(events: &[Recorded]) -> Vec<(u64, DateTime<Utc>)> {
    let mut measured = Vec::new();
    for recorded in events {
        match &recorded.event {
            Event::RunReleased { .. } => measured.clear(),
            Event::SizesRead { piece, .. } | Event::DepthRead { piece, .. } => {
                measured.push((*piece, recorded.occurred_at));
            }
            _ => {}
        }
    }
    measured
}

impl PastRuns {
    /// The runs of a setup that are over and booked.
    #[must_use]
    pub fn of(uses: &Uses) -> Self {
        let mut past = Self::default();
        for run in &uses.runs {
            if let (Some(ended), Some(pieces)) = (run.ended_at, run.pieces) {
                past.add(pieces, ended - run.released_at);
            }
        }
        past
    }

    /// Adds a run.
    pub fn add(&mut self, pieces: u64, time: TimeDelta) {
        self.pieces = self.pieces.saturating_add(pieces);
        self.minutes = self.minutes.saturating_add(time.num_minutes());
        self.runs += 1;
    }
}
