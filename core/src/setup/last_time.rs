//! Last time: what a finished setup of the same part on the same machine tells whoever sets it again. Read off the events
//! alone: what was turned at each station, heights, gaps, first sizes, what went wrong, who, and how long it took.

use super::{
    event::{DepthReading, Event, EventKind, FirstPieceReading, HeightPhase, HeightReading, Recorded, Withdrawal},
    plan::Plan,
    state::{Setup, SetupState},
};
use crate::{
    adjuster::{AdjusterKind, Turn},
    code::Code,
    ids::PersonId,
    length::Length,
};
use chrono::{DateTime, Utc};

/// A screw that was turned.
#[derive(Clone, Debug, PartialEq)]
pub struct Turned {
    /// Its code.
    pub adjuster: Code,
    /// What it adjusts.
    pub adjusts: AdjusterKind,
    /// So many turns.
    pub turns: f64,
    /// Which way.
    pub direction: Turn,
    /// Whether a release was in force.
    pub in_run: bool,
    /// By whom.
    pub by: PersonId,
    /// When, by the server's time.
    pub at: DateTime<Utc>,
}

/// All turns of one screw before the first release, taken together.
#[derive(Clone, Debug, PartialEq)]
pub struct NetTurns {
    /// Its code.
    pub adjuster: Code,
    /// So many turns; zero when they cancel out.
    pub turns: f64,
    /// Which way.
    pub direction: Turn,
    /// In so many steps.
    pub steps: usize,
}

/// A height that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct HeightThen {
    /// Before or after clamping.
    pub phase: HeightPhase,
    /// What the gauge showed.
    pub reading: HeightReading,
    /// Whether it lay within the limit.
    pub within_limit: bool,
    /// When, by the server's time.
    pub at: DateTime<Utc>,
}

/// A size or depth that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct SizeThen {
    /// The feature.
    pub feature: Code,
    /// The spindle, where it was said.
    pub spindle: Option<u8>,
    /// The piece's number.
    pub piece: u64,
    /// The size.
    pub value: Length,
}

/// A judgement of a first piece.
#[derive(Clone, Debug, PartialEq)]
pub struct JudgedThen {
    /// The verdict.
    pub accepted: bool,
    /// Whether it carried a provisional release only.
    pub provisional: bool,
    /// By whom.
    pub by: PersonId,
    /// When, by the server's time.
    pub at: DateTime<Utc>,
    /// What was read.
    pub readings: Vec<FirstPieceReading>,
}

/// A run that was stopped. Its reason is in the setter's own words: the end of a shift is no trouble, a worn edge may
/// be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StopThen {
    /// Pieces booked with it.
    pub pieces: u64,
    /// Why.
    pub reason: String,
    /// By whom it was recorded.
    pub by: PersonId,
    /// When, by the server's time.
    pub at: DateTime<Utc>,
}

/// Something that went wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// The kind of event that tells it.
    pub kind: EventKind,
    /// Where; none for the machine as a whole.
    pub station: Option<Code>,
    /// In words.
    pub words: String,
    /// By whom it was recorded.
    pub by: PersonId,
    /// When, by the server's time.
    pub at: DateTime<Utc>,
}

/// One station, last time.
#[derive(Clone, Debug, PartialEq)]
pub struct StationThen {
    /// Its code.
    pub station: Code,
    /// The tool that was in it last.
    pub tool: Option<Code>,
    /// The holder that was on it last.
    pub holder: Option<Code>,
    /// Every screw turned, oldest first.
    pub turned: Vec<Turned>,
    /// The turns up to the first release, screw by screw in the order in which they were first turned.
    pub net_turns: Vec<NetTurns>,
    /// Every height read, oldest first.
    pub heights: Vec<HeightThen>,
    /// Every gap read before the cut, oldest first.
    pub gaps: Vec<Length>,
    /// The first size of each feature after the first trial began: as it came out before anything was turned on it.
    pub first_sizes: Vec<SizeThen>,
}

/// A setup, as the next one wants to know it.
#[derive(Clone, Debug, PartialEq)]
pub struct LastTime {
    /// Where it ended.
    pub state: SetupState,
    /// Everybody who recorded or judged, in the order in which they came.
    pub people: Vec<PersonId>,
    /// When a trial first began.
    pub trial_at: Option<DateTime<Utc>>,
    /// When it was first released.
    pub released_at: Option<DateTime<Utc>>,
    /// Whole minutes from the opening to the first release; breaks and waiting included.
    pub minutes_to_release: Option<i64>,
    /// Pieces booked.
    pub pieces: u64,
    /// Pieces that an inspector rejected.
    pub pieces_rejected: u64,
    /// Every judgement of a first piece, oldest first.
    pub first_pieces: Vec<JudgedThen>,
    /// Its stations, in the plan's order.
    pub stations: Vec<StationThen>,
    /// Every stop of a run, oldest first.
    pub stops: Vec<StopThen>,
    /// What went wrong, oldest first.
    pub trouble: Vec<Trouble>,
}

impl LastTime {
    /// Reads it off the events.
    #[must_use]
    pub fn of(plan: &Plan, events: &[Recorded]) -> Self {
        let mut setup = Setup::new(plan.clone());
        let stations = plan.stations.iter().map(|station| StationThen {
            station: station.code.clone(),
            tool: None,
            holder: None,
            turned: Vec::new(),
            net_turns: Vec::new(),
            heights: Vec::new(),
            gaps: Vec::new(),
            first_sizes: Vec::new(),
        });
        let mut last = Self {
            state: SetupState::Setting,
            people: vec![plan.opened_by],
            trial_at: None,
            released_at: None,
            minutes_to_release: None,
            pieces: 0,
            pieces_rejected: 0,
            first_pieces: Vec::new(),
            stations: stations.collect(),
            stops: Vec::new(),
            trouble: Vec::new(),
        };
        for recorded in events {
            last.hear(&setup, recorded);
            setup.apply(recorded);
        }
        last.state = setup.state;
        last.pieces = setup.pieces;
        last.pieces_rejected = setup.pieces_rejected;
        last.minutes_to_release = last.released_at.map(|released| (released - plan.opened_at).num_minutes());
        last
    }

    /// `setup` is as it stood before the event.
    fn hear(&mut self, setup: &Setup, recorded: &Recorded) {
        if !self.people.contains(&recorded.by) {
            self.people.push(recorded.by);
        }
        let at = recorded.recorded_at;
        match &recorded.event {
            Event::TrialCutBegun => self.trial_at = self.trial_at.or(Some(at)),
            Event::RunReleased { .. } => self.released_at = self.released_at.or(Some(at)),
            Event::FirstPieceJudged { accepted, readings, provisional, .. } => self.first_pieces.push(JudgedThen {
                accepted: *accepted,
                provisional: *provisional,
                by: recorded.by,
                at,
                readings: readings.clone(),
            }),
            Event::RunStopped { pieces, reason } => {
                self.stops.push(StopThen { pieces: *pieces, reason: reason.clone(), by: recorded.by, at });
            }
            _ => {}
        }
        if let Some(station) = recorded.event.station().and_then(|code| setup.plan.index_of(code)) {
            let first_run = self.released_at.is_none();
            self.stations[station].hear(setup, station, recorded, first_run);
        }
        if let Some(words) = trouble(&recorded.event) {
            let (kind, station) = (recorded.event.kind(), recorded.event.station().cloned());
            self.trouble.push(Trouble { kind, station, words, by: recorded.by, at });
        }
    }
}

impl StationThen {
    fn hear(&mut self, setup: &Setup, index: usize, recorded: &Recorded, before_release: bool) {
        let at = recorded.recorded_at;
        match &recorded.event {
            Event::HolderSeated { code, .. } => self.holder = Some(code.clone()),
            Event::ToolInserted { code, .. } => self.tool = Some(code.clone()),
            Event::HeightRead { phase, reading, within_limit, .. } => {
                self.heights.push(HeightThen { phase: *phase, reading: *reading, within_limit: *within_limit, at })
            }
            Event::ApproachRead { gap, .. } => self.gaps.push(*gap),
            Event::SizesRead { piece, spindle, readings, .. } => {
                for reading in readings {
                    self.first_size(&reading.feature, *spindle, *piece, reading.value);
                }
            }
            Event::DepthRead { piece, spindle, reading: DepthReading::Depth(depth), .. } => {
                if let Some(feature) = setup.depth_feature(index) {
                    self.first_size(&feature, *spindle, *piece, *depth);
                }
            }
            Event::Adjusted { adjuster, adjusts, turns, direction, .. } => {
                if before_release {
                    self.add_turns(adjuster, *turns, *direction);
                }
                self.turned.push(Turned {
                    adjuster: adjuster.clone(),
                    adjusts: *adjusts,
                    turns: *turns,
                    direction: *direction,
                    in_run: setup.is_released(),
                    by: recorded.by,
                    at,
                });
            }
            _ => {}
        }
    }

    fn first_size(&mut self, feature: &Code, spindle: Option<u8>, piece: u64, value: Length) {
        if self.first_sizes.iter().all(|size| size.feature != *feature) {
            self.first_sizes.push(SizeThen { feature: feature.clone(), spindle, piece, value });
        }
    }

    fn add_turns(&mut self, adjuster: &Code, turns: f64, direction: Turn) {
        let signed = |turns: f64, direction: Turn| if direction == Turn::Clockwise { turns } else { -turns };
        let before = self.net_turns.iter_mut().find(|net| net.adjuster == *adjuster);
        let Some(net) = before else {
            return self.net_turns.push(NetTurns { adjuster: adjuster.clone(), turns, direction, steps: 1 });
        };
        let sum = signed(net.turns, net.direction) + signed(turns, direction);
        net.turns = sum.abs();
        net.direction = if sum < 0.0 { Turn::Counterclockwise } else { Turn::Clockwise };
        net.steps += 1;
    }
}

/// What went wrong, in words; nothing for an event that tells of no trouble.
fn trouble(event: &Event) -> Option<String> {
    Some(match event {
        Event::CrashReported { blocked, .. } => {
            let stations: Vec<&str> = blocked.iter().map(Code::as_str).collect();
            format!("A crash put {} out of use.", stations.join(", "))
        }
        Event::HolderSeated { seat, code, .. } if !seat.all() => {
            format!("The seat of holder {code} was not confirmed.")
        }
        Event::HeightRead { within_limit: false, limit, .. } => {
            format!("A height was outside its limit of ±{limit}.")
        }
        Event::FirstPieceJudged { accepted: false, .. } => "A first piece was not accepted.".to_owned(),
        Event::HeldPiecesJudged { accepted: false, .. } => {
            "What a provisional release had made was rejected.".to_owned()
        }
        Event::ReleaseWithdrawn { withdrawal } => match withdrawal {
            Withdrawal::TagOut { .. } => "A tag-out of the machine withdrew the release.".to_owned(),
            Withdrawal::Crash { station } => format!("A crash at {station} withdrew the release."),
            Withdrawal::HeldPiecesRejected => "The inspector's rejection withdrew the release.".to_owned(),
        },
        Event::TrialWithdrawn { .. } => "A tag-out of the machine ended the trial.".to_owned(),
        Event::ItemTakenOut { purpose, .. } => format!("A tool or holder was handed out: {}.", purpose.words()),
        Event::Abandoned { reason } => format!("Abandoned: {reason}"),
        _ => return None,
    })
}
