//! What a setup's events tell of runs and of gauges used: the records that tool life, maintenance, planning and gauge
//! control read. Both follow from the events alone, so that they can be held against them at any time.

use super::{
    event::{Event, Recorded},
    plan::Plan,
    state::Setup,
};
use crate::{code::Code, ids::ItemId, names::named};
use chrono::{DateTime, Utc};

named! {
    /// What becomes of a run's pieces.
    RunPieces {
        /// They are free to go: made for the job.
        Free = "free",
        /// Held until an inspector judges them.
        Held = "held",
        /// An inspector rejected them.
        Rejected = "rejected",
    }
}

/// One run: from a release to the stop, or to whatever withdrew the release.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunRecord {
    /// Its number in the setup, from 1.
    pub number: u32,
    /// The number of the event that released it.
    pub released_sequence: i64,
    /// When it was released, by the server's time.
    pub released_at: DateTime<Utc>,
    /// When the release ended; none while it is in force.
    pub ended_at: Option<DateTime<Utc>>,
    /// The pieces it made; none until they are booked.
    pub pieces: Option<u64>,
    /// What becomes of them.
    pub pieces_are: RunPieces,
    /// The holders and tools that it ran with, by station and item.
    pub items: Vec<(Code, ItemId)>,
}

/// One stay of a gauge in the machine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GaugeUse {
    /// The number of the event that placed it.
    pub placed_sequence: i64,
    /// At this station.
    pub station: Code,
    /// The gauge.
    pub gauge: ItemId,
    /// When it was placed, by the server's time.
    pub placed_at: DateTime<Utc>,
    /// When it was taken out.
    pub removed_at: Option<DateTime<Utc>>,
    /// The tool whose edge was last read on it; none when nothing was read.
    pub tool: Option<ItemId>,
}

/// The runs and gauge uses of one setup, oldest first.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Uses {
    /// Its runs.
    pub runs: Vec<RunRecord>,
    /// Its gauge uses.
    pub gauges: Vec<GaugeUse>,
}

impl Uses {
    /// Reads them off the events.
    #[must_use]
    pub fn of(plan: &Plan, events: &[Recorded]) -> Self {
        let mut setup = Setup::new(plan.clone());
        let mut uses = Self::default();
        for recorded in events {
            uses.follow(&setup, recorded);
            setup.apply(recorded);
        }
        uses
    }

    /// Whether an event says anything about them.
    #[must_use]
    pub const fn concern(event: &Event) -> bool {
        matches!(
            event,
            Event::RunReleased { .. }
                | Event::ReleaseWithdrawn { .. }
                | Event::RunStopped { .. }
                | Event::HeldPiecesJudged { .. }
                | Event::GaugePlaced { .. }
                | Event::GaugeRemoved { .. }
                | Event::HeightRead { .. }
        )
    }

    /// `setup` is as it stood before the event.
    fn follow(&mut self, setup: &Setup, recorded: &Recorded) {
        let at = recorded.recorded_at;
        match &recorded.event {
            Event::RunReleased { provisional, .. } => self.runs.push(RunRecord {
                number: u32::try_from(self.runs.len() + 1).unwrap_or(u32::MAX),
                released_sequence: recorded.sequence,
                released_at: at,
                ended_at: None,
                pieces: None,
                pieces_are: if provisional.is_some() { RunPieces::Held } else { RunPieces::Free },
                items: items(setup),
            }),
            Event::HeldPiecesJudged { accepted, .. } => {
                if let Some(run) = self.runs.last_mut().filter(|run| run.pieces_are == RunPieces::Held) {
                    run.pieces_are = if *accepted { RunPieces::Free } else { RunPieces::Rejected };
                }
            }
            Event::ReleaseWithdrawn { .. } => {
                if let Some(run) = self.runs.last_mut() {
                    run.ended_at = run.ended_at.or(Some(at));
                }
            }
            Event::RunStopped { pieces, .. } => {
                if let Some(run) = self.runs.last_mut() {
                    run.ended_at = run.ended_at.or(Some(at));
                    run.pieces = Some(*pieces);
                }
            }
            Event::GaugePlaced { station, gauge, .. } => self.gauges.push(GaugeUse {
                placed_sequence: recorded.sequence,
                station: station.clone(),
                gauge: *gauge,
                placed_at: at,
                removed_at: None,
                tool: None,
            }),
            Event::HeightRead { station, gauge, .. } => {
                let tool = setup.plan.index_of(station).and_then(|index| setup.stations[index].tool.as_ref());
                if let Some(using) = self.in_machine(*gauge) {
                    using.tool = tool.map(|tool| tool.item);
                }
            }
            Event::GaugeRemoved { gauge, .. } => {
                if let Some(using) = self.in_machine(*gauge) {
                    using.removed_at = Some(at);
                }
            }
            _ => {}
        }
    }

    fn in_machine(&mut self, gauge: ItemId) -> Option<&mut GaugeUse> {
        self.gauges.iter_mut().rev().find(|using| using.gauge == gauge && using.removed_at.is_none())
    }
}

fn items(setup: &Setup) -> Vec<(Code, ItemId)> {
    let mut items: Vec<_> = setup.items().into_iter().map(|(item, station)| (station.clone(), item)).collect();
    items.sort();
    items
}
