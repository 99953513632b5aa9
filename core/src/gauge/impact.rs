//! What a gauge that was found wrong has touched since it was last known to be right.
//!
//! The gauge's stays in machines say in which setups it was; the heights read on it say which tools were set with it; and
//! a run is touched at a station when the last height read there before its release was read on this gauge in that time.
//! A height that was read again on another gauge before the release owes nothing to this one. All times are the server's:
//! what was recorded later counts as done later, and what happened at the instant of a check counts as in doubt, for
//! their order is not known.

use crate::{
    code::Code,
    ids::{ItemId, JobId, RunId, SetupId},
    names::named,
    setup::{
        event::{Event, EventKind, Recorded},
        runs::GaugeUse,
    },
};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// The time in doubt, both ends included.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Window {
    /// The last accepted check; none where there was none: then everything is in doubt.
    pub since: Option<DateTime<Utc>>,
    /// The check that set the gauge right again; none while it was not.
    pub until: Option<DateTime<Utc>>,
}

impl Window {
    /// Whether an instant lies in it.
    #[must_use]
    pub fn includes(self, at: DateTime<Utc>) -> bool {
        self.since.is_none_or(|since| at >= since) && self.until.is_none_or(|until| at <= until)
    }

    /// Whether a gauge that was placed then, and taken out then or not yet, was in a machine at any instant of it.
    #[must_use]
    pub fn meets(self, placed: DateTime<Utc>, removed: Option<DateTime<Utc>>) -> bool {
        self.until.is_none_or(|until| placed <= until)
            && self.since.is_none_or(|since| removed.is_none_or(|removed| removed >= since))
    }
}

/// A run as impact sees it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunFacts {
    /// Its id.
    pub run: RunId,
    /// The number of the event that released it.
    pub released_sequence: i64,
    /// When it was released.
    pub released_at: DateTime<Utc>,
    /// Its job.
    pub job: Option<JobId>,
    /// The pieces it made; none until they are booked.
    pub pieces: Option<i64>,
}

/// A setup in which the gauge was.
#[derive(Clone, Debug, PartialEq)]
pub struct SetupFacts {
    /// Its id.
    pub setup: SetupId,
    /// Its job.
    pub job: Option<JobId>,
    /// The gauge's stays in it.
    pub stays: Vec<GaugeUse>,
    /// Its heights read, on whatever gauge, and its tools inserted, in order.
    pub events: Vec<Recorded>,
    /// Its runs, oldest first.
    pub runs: Vec<RunFacts>,
}

named! {
    /// What kind of thing is touched.
    TouchedKind {
        /// A setup in which the gauge was placed.
        Setup = "setup",
        /// A run, with its pieces.
        Run = "run",
        /// A job to which such a setup or run belongs.
        Job = "job",
        /// A tool whose edge was set on the gauge.
        Tool = "tool",
    }
}

/// One thing that is touched.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Touched {
    /// A setup.
    Setup(SetupId),
    /// A run.
    Run(RunId),
    /// A job.
    Job(JobId),
    /// A tool.
    Tool(ItemId),
}

impl Touched {
    /// Of which kind.
    #[must_use]
    pub const fn kind(self) -> TouchedKind {
        match self {
            Self::Setup(_) => TouchedKind::Setup,
            Self::Run(_) => TouchedKind::Run,
            Self::Job(_) => TouchedKind::Job,
            Self::Tool(_) => TouchedKind::Tool,
        }
    }
}

/// An event that shows why something is touched.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Evidence {
    /// Of this setup.
    pub setup: SetupId,
    /// The event's number there.
    pub sequence: i64,
    /// What happened.
    pub kind: EventKind,
    /// At this station.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub station: Option<Code>,
    /// The server's time of it.
    pub at: DateTime<Utc>,
}

/// One thing that is touched, with its evidence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// What.
    pub touched: Touched,
    /// The pieces of touched runs: a run's own, or those of a setup's or a job's touched runs as far as they are booked;
    /// none for a tool, and for a run until its pieces are booked.
    pub pieces: Option<i64>,
    /// Why, in order.
    pub evidence: Vec<Evidence>,
}

/// Everything that a gauge touched in a time: setups, runs, jobs, tools, in this order, each once.
#[must_use]
pub fn touched(gauge: ItemId, window: Window, setups: &[SetupFacts]) -> Vec<Entry> {
    let mut found = Collected::default();
    for setup in setups {
        found.add_setup(gauge, window, setup);
    }
    found.into_entries()
}

/// A height read on the gauge in doubt.
struct Reading {
    sequence: i64,
    station: Code,
    tool: Option<ItemId>,
    evidence: Evidence,
}

#[derive(Default)]
struct Collected {
    entries: BTreeMap<Touched, (Option<i64>, BTreeSet<Evidence>)>,
}

impl Collected {
    fn add(&mut self, touched: Touched, pieces: Option<i64>, evidence: impl IntoIterator<Item = Evidence>) {
        let entry = self.entries.entry(touched).or_default();
        entry.0 = match (entry.0, pieces) {
            (Some(before), Some(more)) => Some(before.saturating_add(more)),
            (before, more) => before.or(more),
        };
        entry.1.extend(evidence);
    }

    fn add_setup(&mut self, gauge: ItemId, window: Window, setup: &SetupFacts) {
        let stays: Vec<_> = setup.stays.iter().filter(|stay| window.meets(stay.placed_at, stay.removed_at)).collect();
        if stays.is_empty() {
            return;
        }
        let placed: Vec<Evidence> = stays
            .iter()
            .map(|stay| Evidence {
                setup: setup.setup,
                sequence: stay.placed_sequence,
                kind: EventKind::GaugePlaced,
                station: Some(stay.station.clone()),
                at: stay.placed_at,
            })
            .collect();
        let (in_doubt, heights) = readings(gauge, window, setup);
        let read = in_doubt.iter().map(|reading| reading.evidence.clone());
        let whole: Vec<Evidence> = placed.into_iter().chain(read).collect();
        self.add(Touched::Setup(setup.setup), Some(0), whole.iter().cloned());
        if let Some(job) = setup.job {
            self.add(Touched::Job(job), Some(0), whole);
        }
        for reading in &in_doubt {
            if let Some(tool) = reading.tool {
                self.add(Touched::Tool(tool), None, [reading.evidence.clone()]);
            }
        }
        for run in &setup.runs {
            self.add_run(setup, run, &in_doubt, &heights);
        }
    }

    /// `heights` are the numbers of all heights read, by station.
    fn add_run(&mut self, setup: &SetupFacts, run: &RunFacts, in_doubt: &[Reading], heights: &[(Code, i64)]) {
        let rests_on = |reading: &&Reading| {
            let last = heights
                .iter()
                .filter(|(station, sequence)| *station == reading.station && *sequence < run.released_sequence)
                .map(|(_, sequence)| *sequence)
                .max();
            last == Some(reading.sequence)
        };
        let set_on_it: Vec<_> = in_doubt.iter().filter(rests_on).map(|reading| reading.evidence.clone()).collect();
        if set_on_it.is_empty() {
            return;
        }
        let released = Evidence {
            setup: setup.setup,
            sequence: run.released_sequence,
            kind: EventKind::RunReleased,
            station: None,
            at: run.released_at,
        };
        let evidence: Vec<_> = set_on_it.into_iter().chain([released.clone()]).collect();
        self.add(Touched::Run(run.run), run.pieces, evidence);
        self.add(Touched::Setup(setup.setup), run.pieces, [released.clone()]);
        if let Some(job) = run.job {
            self.add(Touched::Job(job), run.pieces, [released]);
        }
    }

    fn into_entries(self) -> Vec<Entry> {
        self.entries
            .into_iter()
            .map(|(touched, (pieces, evidence))| Entry { touched, pieces, evidence: evidence.into_iter().collect() })
            .collect()
    }
}

/// The heights read on the gauge in doubt, and the station and number of every height read.
fn readings(gauge: ItemId, window: Window, setup: &SetupFacts) -> (Vec<Reading>, Vec<(Code, i64)>) {
    let mut tools: BTreeMap<&Code, ItemId> = BTreeMap::new();
    let (mut in_doubt, mut heights) = (Vec::new(), Vec::new());
    for recorded in &setup.events {
        match &recorded.event {
            Event::ToolInserted { station, tool, .. } => {
                tools.insert(station, *tool);
            }
            Event::HeightRead { station, gauge: read_on, .. } => {
                heights.push((station.clone(), recorded.sequence));
                if *read_on == gauge && window.includes(recorded.recorded_at) {
                    in_doubt.push(Reading {
                        sequence: recorded.sequence,
                        station: station.clone(),
                        tool: tools.get(station).copied(),
                        evidence: Evidence {
                            setup: setup.setup,
                            sequence: recorded.sequence,
                            kind: EventKind::HeightRead,
                            station: Some(station.clone()),
                            at: recorded.recorded_at,
                        },
                    });
                }
            }
            _ => {}
        }
    }
    (in_doubt, heights)
}

#[cfg(test)]
mod tests;
