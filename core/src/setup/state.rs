//! A setup as its events leave it.

use super::{
    event::{HeightReading, HolderMove, SeatAnswers, Stock},
    held::HeldPieces,
    plan::{DesignRef, Plan, StationPlan},
    sizes::LastSize,
};
use crate::{
    adjuster::{Adjuster, Turn},
    code::Code,
    ids::{ItemId, PersonId},
    length::Length,
    machine::MachineMode,
    names::named,
    refusal::{Subject, SubjectKind},
};
use chrono::{DateTime, Utc};
use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

named! {
    /// Where a setup stands.
    SetupState {
        /// Being set.
        Setting = "setting",
        /// A release is in force.
        Released = "released",
        /// A run was stopped, or its release withdrawn, and nothing was re-opened since.
        Stopped = "stopped",
        /// Done.
        Closed = "closed",
        /// Given up.
        Abandoned = "abandoned",
    }
}

/// A holder on its slide.
#[derive(Clone, Debug, PartialEq)]
pub struct SeatedHolder {
    /// Its item id.
    pub item: ItemId,
    /// Its code.
    pub code: Code,
    /// Its screws.
    pub adjusters: Arc<[Adjuster]>,
    /// What was answered about its seat.
    pub seat: SeatAnswers,
    /// What was answered after it was last moved by its taper or side screw.
    pub moved: Option<HolderMove>,
}

impl SeatedHolder {
    /// Whether everything asked about its seat was confirmed.
    #[must_use]
    pub fn is_confirmed(&self) -> bool {
        self.seat.all() && self.moved.is_none_or(HolderMove::all)
    }
}

/// A tool in its station.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InsertedTool {
    /// Its item id.
    pub item: ItemId,
    /// Its code.
    pub code: Code,
    /// Its design, where it has one.
    pub design: Option<DesignRef>,
}

/// A centre gauge in the machine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlacedGauge {
    /// Its item id.
    pub item: ItemId,
    /// Its code.
    pub code: Code,
    /// When it was placed.
    pub placed_at: DateTime<Utc>,
}

/// A height that was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HeightTaken {
    /// What the gauge showed.
    pub reading: HeightReading,
    /// Whether it lay within the limit.
    pub within_limit: bool,
    /// The limit of that day, either way; below zero where the spindles' spread leaves nothing.
    pub limit: Length,
    /// The spindles' spread, half of which is taken off that limit.
    pub spread: Option<Length>,
    /// The gauge it was read on.
    pub gauge: ItemId,
    /// When it was read.
    pub at: DateTime<Utc>,
}

impl HeightTaken {
    /// Whether it still tells something: the spindle centres have not moved since.
    #[must_use]
    pub fn holds(self, centers_may_have_moved_at: Option<DateTime<Utc>>) -> bool {
        centers_may_have_moved_at.is_none_or(|moved_at| moved_at < self.at)
    }
}

/// Where a station's depth stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum DepthStep {
    /// None is asked for.
    NotAsked,
    /// To be read.
    Open,
    /// Read.
    Read,
}

/// A screw that was turned.
#[derive(Clone, Debug, PartialEq)]
pub struct AdjustmentTaken {
    /// Its code.
    pub adjuster: Code,
    /// So many turns.
    pub turns: f64,
    /// Which way.
    pub direction: Turn,
    /// By whom.
    pub by: PersonId,
    /// The server's time.
    pub at: DateTime<Utc>,
}

/// One station as the events leave it.
#[derive(Clone, Debug, PartialEq)]
pub struct StationState {
    /// The holder on its slide.
    pub holder: Option<SeatedHolder>,
    /// The tool in it.
    pub tool: Option<InsertedTool>,
    /// The gauge placed at it.
    pub gauge: Option<PlacedGauge>,
    /// The height read before clamping, for the tool as it is now.
    pub height_before: Option<HeightTaken>,
    /// Whether the tool is tight.
    pub clamped: bool,
    /// The height read since it was tightened.
    pub height_after: Option<HeightTaken>,
    /// Whether the holder moved since that reading, where the shop only advises a recheck.
    pub recheck_advised: bool,
    /// The gap before the cut, as the slide stands now.
    pub approach: Option<Length>,
    /// Where the depth stands.
    pub depth: DepthStep,
    /// The first piece that this station formed as it is set now.
    pub first_good_piece: u64,
    /// The last size of each feature from each spindle, since anything was changed here.
    pub sizes: Vec<LastSize>,
    /// Every screw turned here, oldest first.
    pub adjustments: Vec<AdjustmentTaken>,
    /// What was advised on the last reading, until something is changed here.
    pub advice: Option<serde_json::Value>,
    /// Whether a crash put it out of use.
    pub crashed: bool,
}

impl StationState {
    /// A station at which nothing was done.
    #[must_use]
    pub fn untouched(plan: &StationPlan) -> Self {
        Self {
            holder: None,
            tool: None,
            gauge: None,
            height_before: None,
            clamped: false,
            height_after: None,
            recheck_advised: false,
            approach: None,
            depth: if plan.asks_for_depth() { DepthStep::Open } else { DepthStep::NotAsked },
            first_good_piece: 1,
            sizes: Vec::new(),
            adjustments: Vec::new(),
            advice: None,
            crashed: false,
        }
    }
}

/// How a first piece was judged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FirstPiece {
    /// The verdict.
    pub accepted: bool,
    /// By whom.
    pub by: PersonId,
    /// Whether they had recorded nothing before in this setup.
    pub independent: bool,
    /// Whether it carries a provisional release only.
    pub provisional: bool,
    /// The server's time.
    pub at: DateTime<Utc>,
}

/// Where the run stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Run {
    /// None.
    None,
    /// A release is in force, for these tools.
    InForce {
        /// The tools that the pieces count for.
        tools: Vec<ItemId>,
    },
    /// The release was withdrawn; the pieces are still to be booked.
    ToBook {
        /// The tools that the pieces count for.
        tools: Vec<ItemId>,
        /// Whether an inspector rejected them already.
        rejected: bool,
    },
}

/// A setup: what it was opened with, and what its events made of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Setup {
    /// What it was opened with.
    pub plan: Arc<Plan>,
    /// Where it stands.
    pub state: SetupState,
    /// Its stations, in the plan's order.
    pub stations: Vec<StationState>,
    /// The codes of the gauges that were ever placed in it, as they were then.
    pub gauge_codes: BTreeMap<ItemId, Code>,
    /// The bar in the spindles.
    pub stock: Option<Stock>,
    /// Whether the index was proven clear as everything stands now.
    pub index_clear: bool,
    /// Whether the machine may turn for a trial: begun, and nothing since took it back.
    pub trial: bool,
    /// Whether a trial ever began: from then on formed pieces are in the machine.
    pub pieces_formed: bool,
    /// The highest number of a piece that was surely formed: measured, or booked by a run.
    pub highest_piece: u64,
    /// That number when the last run was released.
    pub highest_before_run: u64,
    /// When the last run was released, as whoever released it said.
    pub released_at: Option<DateTime<Utc>>,
    /// The last judgement of a first piece, as everything stands now.
    pub first_piece: Option<FirstPiece>,
    /// Where the run stands.
    pub run: Run,
    /// Pieces booked in this setup.
    pub pieces: u64,
    /// What a provisional release makes, or made, until an inspector judged it.
    pub held: Option<HeldPieces>,
    /// Of the pieces booked, those that an inspector rejected.
    pub pieces_rejected: u64,
    /// Who recorded work in it. Judging a first piece is not work on the setup.
    pub recorders: BTreeSet<PersonId>,
    /// Whose setup it is: who opened it, or was handed it.
    pub in_charge: PersonId,
    /// The number of the last event.
    pub last_sequence: i64,
}

impl Setup {
    /// A setup just opened.
    #[must_use]
    pub fn new(plan: Plan) -> Self {
        Self {
            state: SetupState::Setting,
            stations: plan.stations.iter().map(StationState::untouched).collect(),
            gauge_codes: BTreeMap::new(),
            stock: None,
            index_clear: false,
            trial: false,
            pieces_formed: false,
            highest_piece: 0,
            highest_before_run: 0,
            released_at: None,
            first_piece: None,
            run: Run::None,
            pieces: 0,
            held: None,
            pieces_rejected: 0,
            recorders: BTreeSet::from([plan.opened_by]),
            in_charge: plan.opened_by,
            last_sequence: 0,
            plan: Arc::new(plan),
        }
    }

    /// Whether nothing more can be recorded.
    #[must_use]
    pub const fn is_closed(&self) -> bool {
        matches!(self.state, SetupState::Closed | SetupState::Abandoned)
    }

    /// Whether a release is in force.
    #[must_use]
    pub const fn is_released(&self) -> bool {
        matches!(self.run, Run::InForce { .. })
    }

    /// The machine guard's mode as this setup's events leave it.
    #[must_use]
    pub fn mode(&self) -> MachineMode {
        if self.is_released() {
            MachineMode::Running
        } else if self.stations.iter().any(|station| station.gauge.is_some()) {
            MachineMode::Gauge
        } else {
            MachineMode::Idle
        }
    }

    /// The holders and tools in it, each with its station. A closed setup holds nothing any more.
    #[must_use]
    pub fn items(&self) -> Vec<(ItemId, &Code)> {
        if self.is_closed() {
            return Vec::new();
        }
        let mut items = Vec::new();
        for (plan, state) in self.plan.stations.iter().zip(&self.stations) {
            items.extend(state.holder.as_ref().map(|holder| (holder.item, &plan.code)));
            items.extend(state.tool.as_ref().map(|tool| (tool.item, &plan.code)));
        }
        items
    }

    /// The holders seated in it, in station order. A closed setup holds nothing any more.
    #[must_use]
    pub fn holders(&self) -> Vec<ItemId> {
        if self.is_closed() {
            return Vec::new();
        }
        self.stations.iter().filter_map(|station| station.holder.as_ref().map(|holder| holder.item)).collect()
    }

    /// Whether what a refusal is about is the holder that is seated at a station.
    #[must_use]
    pub(crate) fn is_seated(&self, station: usize, subject: &Subject) -> bool {
        let seated = self.stations.get(station).and_then(|state| state.holder.as_ref());
        subject.kind == SubjectKind::Holder && seated.is_some_and(|holder| holder.code.as_str() == subject.code)
    }

    /// The gauges on which it relies, in the order of their ids: those in the machine, and those on which heights were
    /// read that still count, each with the first such instant. A closed setup relies on nothing any more.
    #[must_use]
    pub fn gauges_relied_on(&self) -> BTreeMap<ItemId, DateTime<Utc>> {
        let mut gauges = BTreeMap::new();
        if self.is_closed() {
            return gauges;
        }
        for station in &self.stations {
            let placed = station.gauge.iter().map(|gauge| (gauge.item, gauge.placed_at));
            let read = station.height_before.iter().chain(&station.height_after).map(|taken| (taken.gauge, taken.at));
            for (gauge, at) in placed.chain(read) {
                let first = gauges.entry(gauge).or_insert(at);
                *first = at.min(*first);
            }
        }
        gauges
    }

    /// Pieces that the numbers read since the last release tell of. Trial pieces that nobody measured count too.
    #[must_use]
    pub const fn pieces_told_by_numbers(&self) -> u64 {
        self.highest_piece.saturating_sub(self.highest_before_run)
    }

    /// The tools in it, in station order.
    #[must_use]
    pub fn tools(&self) -> Vec<ItemId> {
        self.stations.iter().filter_map(|station| station.tool.as_ref().map(|tool| tool.item)).collect()
    }
}
