//! A setup as an answer shows it: where it stands, each station, what may come next, what blocks a release.

use super::{
    blockers,
    discard::pieces_to_discard,
    event::{HeightReading, SeatAnswers, Stock},
    facts::MachineFacts,
    height_limit::HeightLimit,
    next::{NextStep, next},
    sizes::SizesOfFeature,
    state::{DepthStep, HeightTaken, Run, Setup, SetupState},
};
use crate::{
    adjuster::Turn,
    code::Code,
    ids::{PersonId, SetupId},
    length::Length,
    refusal::{Refusal, SubjectKind},
};
use chrono::{DateTime, Utc};
use serde::Serialize;

/// A height that was read.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HeightView {
    /// What the gauge showed.
    pub reading: HeightReading,
    /// Whether it lay within the limit.
    pub within_limit: bool,
    /// The gauge on which it was read, by its code when it was placed.
    pub gauge: Option<Code>,
}

/// How far a height may lie from the gauge.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct HeightLimitView {
    /// Either way; below zero where no height serves every spindle.
    pub limit: Length,
    /// The shop's limit.
    pub shop: Length,
    /// How far the spindles' centres lie apart; half of it is taken off the shop's limit.
    pub spread: Option<Length>,
}

/// What a provisional release makes, until an inspector judged it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct HeldView {
    /// Whether that release is in force.
    pub in_force: bool,
    /// When it ends.
    pub until: DateTime<Utc>,
    /// After how many pieces it ends.
    pub most_pieces: u64,
    /// Who accepted the first piece on which it rests.
    pub accepted_by: PersonId,
    /// When it was released.
    pub released_at: DateTime<Utc>,
    /// Pieces booked so far.
    pub pieces: u64,
}

/// A screw that was turned.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AdjustmentView {
    /// Its code.
    pub adjuster: Code,
    /// So many turns.
    pub turns: f64,
    /// Which way.
    pub direction: Turn,
    /// By whom.
    pub by: PersonId,
    /// When, by the server's time.
    pub at: DateTime<Utc>,
}

/// One station.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StationView {
    /// Its code.
    pub station: Code,
    /// The tool that was picked for it.
    pub planned_tool: Option<Code>,
    /// The holder that was picked for it.
    pub planned_holder: Option<Code>,
    /// The holder on its slide.
    pub holder: Option<Code>,
    /// What was answered about the holder's seat.
    pub seat: Option<SeatAnswers>,
    /// Whether everything asked about the seat, at seating and after moves, was confirmed.
    pub seat_confirmed: bool,
    /// The tool in it.
    pub tool: Option<Code>,
    /// The gauge placed at it.
    pub gauge: Option<Code>,
    /// The height read before clamping.
    pub height_before_clamping: Option<HeightView>,
    /// Whether the tool is tight.
    pub clamped: bool,
    /// The height read after clamping.
    pub height_after_clamping: Option<HeightView>,
    /// Whether the holder moved since, and the shop advises to read the height again.
    pub recheck_advised: bool,
    /// The gap before the cut.
    pub approach: Option<Length>,
    /// Whether the depth is read; nothing where none is asked for.
    pub depth_read: Option<bool>,
    /// The first piece that tells of this station as it is set now.
    pub first_good_piece: u64,
    /// How many pieces a change here makes worthless.
    pub pieces_to_discard: u64,
    /// Every screw turned here, oldest first.
    pub adjustments: Vec<AdjustmentView>,
    /// What was advised on the last reading, until something is changed here.
    pub advice: Option<serde_json::Value>,
    /// The last size of each feature from each spindle, since anything was changed here.
    pub sizes: Vec<SizesOfFeature>,
    /// How far a height may lie from the gauge, and what that is made of; none where the tool is not set on a gauge.
    pub height_limit: Option<HeightLimitView>,
    /// Whether a crash put it out of use.
    pub crashed: bool,
    /// What is open here, in words.
    pub open: Vec<String>,
}

/// The last judgement of a first piece.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FirstPieceView {
    /// The verdict.
    pub accepted: bool,
    /// By whom.
    pub by: PersonId,
    /// Whether they had recorded nothing before in this setup.
    pub independent: bool,
    /// Whether it carries a provisional release only.
    pub provisional: bool,
    /// When, by the server's time.
    pub at: DateTime<Utc>,
}

/// A setup.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SetupView {
    /// Its id.
    pub setup: SetupId,
    /// Its machine.
    pub machine: Code,
    /// The part that is set up.
    pub part: Code,
    /// Where it stands.
    pub state: SetupState,
    /// Whose it is.
    pub in_charge: PersonId,
    /// The bar in the spindles.
    pub stock: Option<Stock>,
    /// Whether the index was proven clear as everything stands now.
    pub index_clearance_confirmed: bool,
    /// Whether trial cutting began as everything stands now.
    pub trial_begun: bool,
    /// The highest piece number measured.
    pub highest_piece: u64,
    /// The last judgement of a first piece since the last change.
    pub first_piece: Option<FirstPieceView>,
    /// Pieces booked.
    pub pieces: u64,
    /// Whether a withdrawn release still has pieces to book.
    pub pieces_to_book: bool,
    /// What is held for an inspector.
    pub held: Option<HeldView>,
    /// Pieces that an inspector rejected.
    pub pieces_rejected: u64,
    /// Stations at which the part has an operation and that this setup leaves out.
    pub left_out: Vec<Code>,
    /// The stations in use.
    pub stations: Vec<StationView>,
    /// What may come next.
    pub next: Vec<NextStep>,
    /// Everything that blocks a release, at any station. While one is in force: the next one.
    pub blockers: Vec<Refusal>,
}

impl SetupView {
    /// The view of a setup at an instant, with what the machine's record shows then. A closed one has no next step and no
    /// blocker.
    #[must_use]
    pub fn of(setup: &Setup, facts: &MachineFacts, now: DateTime<Utc>) -> Self {
        let blockers = if setup.is_closed() { Vec::new() } else { blockers::blockers(setup, facts) };
        Self {
            setup: setup.plan.setup,
            machine: setup.plan.machine_code.clone(),
            part: setup.plan.part_code.clone(),
            state: setup.state,
            in_charge: setup.in_charge,
            stock: setup.stock.clone(),
            index_clearance_confirmed: setup.index_clear,
            trial_begun: setup.trial,
            highest_piece: setup.highest_piece,
            first_piece: setup.first_piece.as_ref().map(|judged| FirstPieceView {
                accepted: judged.accepted,
                by: judged.by,
                independent: judged.independent,
                provisional: judged.provisional,
                at: judged.at,
            }),
            pieces: setup.pieces,
            pieces_to_book: matches!(setup.run, Run::ToBook { .. }),
            held: setup.held.map(|held| HeldView {
                in_force: setup.is_released(),
                until: held.end.until,
                most_pieces: held.end.most_pieces,
                accepted_by: held.accepted_by,
                released_at: held.released_at,
                pieces: held.pieces,
            }),
            pieces_rejected: setup.pieces_rejected,
            left_out: setup.plan.left_out.clone(),
            stations: (0..setup.stations.len()).map(|index| station_view(setup, facts, index, &blockers)).collect(),
            next: next(setup, facts, now),
            blockers,
        }
    }
}

fn station_view(setup: &Setup, facts: &MachineFacts, index: usize, blockers: &[Refusal]) -> StationView {
    let (plan, state) = (&setup.plan.stations[index], &setup.stations[index]);
    let height = |taken: &HeightTaken| HeightView {
        reading: taken.reading,
        within_limit: taken.within_limit,
        gauge: setup.gauge_codes.get(&taken.gauge).cloned(),
    };
    let is_here = |refusal: &&Refusal| {
        let subject = refusal.subject.as_ref();
        subject.is_some_and(|subject| {
            subject.kind == SubjectKind::Station && subject.code == plan.code.as_str()
                || setup.is_seated(index, subject)
        })
    };
    StationView {
        station: plan.code.clone(),
        planned_tool: plan.planned_tool.clone(),
        planned_holder: plan.planned_holder.clone(),
        holder: state.holder.as_ref().map(|holder| holder.code.clone()),
        seat: state.holder.as_ref().map(|holder| holder.seat),
        seat_confirmed: state.holder.as_ref().is_some_and(super::state::SeatedHolder::is_confirmed),
        tool: state.tool.as_ref().map(|tool| tool.code.clone()),
        gauge: state.gauge.as_ref().map(|gauge| gauge.code.clone()),
        height_before_clamping: state.height_before.as_ref().map(height),
        clamped: state.clamped,
        height_after_clamping: state.height_after.as_ref().map(height),
        recheck_advised: state.recheck_advised,
        approach: state.approach,
        depth_read: match state.depth {
            DepthStep::NotAsked => None,
            DepthStep::Open => Some(false),
            DepthStep::Read => Some(true),
        },
        first_good_piece: state.first_good_piece,
        pieces_to_discard: pieces_to_discard(&setup.plan, index),
        adjustments: state
            .adjustments
            .iter()
            .map(|taken| AdjustmentView {
                adjuster: taken.adjuster.clone(),
                turns: taken.turns,
                direction: taken.direction,
                by: taken.by,
                at: taken.at,
            })
            .collect(),
        advice: state.advice.clone(),
        sizes: setup.sizes_by_spindle(index),
        height_limit: plan.is_set_on_gauge().then(|| {
            let HeightLimit { limit, shop, spread } = HeightLimit::at(setup, facts, &plan.code);
            HeightLimitView { limit, shop, spread }
        }),
        crashed: state.crashed,
        open: blockers.iter().filter(is_here).map(|refusal| refusal.sentence.clone()).collect(),
    }
}
