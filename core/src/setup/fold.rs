//! The fold: what each event makes of a setup, and what each change re-opens. Total, and free of rules: what is stored
//! happened.

use super::{
    discard::pieces_to_discard,
    event::{DepthReading, Event, HeightPhase, Recorded, TakenOut},
    held::HeldPieces,
    plan::HolderMoveRecheck,
    state::{
        AdjustmentTaken, DepthStep, FirstPiece, HeightTaken, InsertedTool, PlacedGauge, Run, SeatedHolder, Setup,
        SetupState, StationState,
    },
};
use crate::adjuster::AdjusterKind;

impl Setup {
    /// Folds a history onto a setup just opened.
    pub fn apply_all<'a>(&mut self, events: impl IntoIterator<Item = &'a Recorded>) {
        for event in events {
            self.apply(event);
        }
    }

    /// Folds one event. An event about a station that the plan does not have changes only the count of events.
    pub fn apply(&mut self, recorded: &Recorded) {
        self.last_sequence = recorded.sequence;
        let at = match recorded.event.station() {
            None => None,
            Some(code) => match self.plan.index_of(code) {
                None => return,
                index => index,
            },
        };
        self.remember_recorder(recorded);
        match at {
            Some(station) => self.apply_at(station, recorded),
            None => self.apply_to_machine(recorded),
        }
    }

    fn remember_recorder(&mut self, recorded: &Recorded) {
        // Judging is not setting, and withdrawals and hand-outs follow from what was done elsewhere.
        let works = !matches!(
            recorded.event,
            Event::FirstPieceJudged { .. }
                | Event::HeldPiecesJudged { .. }
                | Event::ReleaseWithdrawn { .. }
                | Event::TrialWithdrawn { .. }
                | Event::ItemTakenOut { .. }
        );
        if works {
            self.recorders.insert(recorded.by);
        }
    }

    fn apply_at(&mut self, station: usize, recorded: &Recorded) {
        match &recorded.event {
            Event::HolderSeated { holder, code, adjusters, seat, .. } => {
                self.clear_station(station);
                self.stations[station].holder = Some(SeatedHolder {
                    item: *holder,
                    code: code.clone(),
                    adjusters: adjusters.as_slice().into(),
                    seat: *seat,
                    moved: None,
                });
                self.stations[station].crashed = false;
            }
            Event::ToolInserted { tool, code, design, .. } => {
                let holder = self.stations[station].holder.take();
                self.clear_station(station);
                self.stations[station].holder = holder;
                self.stations[station].tool =
                    Some(InsertedTool { item: *tool, code: code.clone(), design: design.clone() });
                if !self.plan.stations[station].needs_holder() {
                    self.stations[station].crashed = false;
                }
            }
            Event::GaugePlaced { gauge, code, .. } => {
                self.gauge_codes.insert(*gauge, code.clone());
                self.stations[station].gauge =
                    Some(PlacedGauge { item: *gauge, code: code.clone(), placed_at: recorded.recorded_at });
                self.end_trial();
            }
            Event::GaugeRemoved { .. } => self.stations[station].gauge = None,
            Event::HeightRead { gauge, phase, reading, limit, spread, within_limit, correction, .. } => {
                self.stations[station].advice.clone_from(correction);
                let (at, gauge) = (recorded.recorded_at, *gauge);
                let (within_limit, limit, spread) = (*within_limit, *limit, *spread);
                let taken = Some(HeightTaken { reading: *reading, within_limit, limit, spread, gauge, at });
                match phase {
                    HeightPhase::BeforeClamping => self.stations[station].height_before = taken,
                    HeightPhase::AfterClamping => {
                        self.stations[station].height_after = taken;
                        self.stations[station].recheck_advised = false;
                    }
                }
            }
            Event::ToolClamped { .. } => {
                // Tightened once more, it has moved once more.
                if self.stations[station].clamped {
                    self.reopen_clamping(station);
                }
                self.stations[station].clamped = true;
            }
            Event::ToolUnclamped { .. } => self.reopen_clamping(station),
            Event::ApproachRead { gap, .. } => self.stations[station].approach = Some(*gap),
            Event::SizesRead { piece, spindle, readings, correction, .. } => {
                self.stations[station].advice.clone_from(correction);
                self.highest_piece = self.highest_piece.max(*piece);
                for reading in readings {
                    self.note_size(station, &reading.feature, *spindle, Some(*piece), reading.value, recorded);
                }
            }
            Event::DepthRead { piece, spindle, reading, correction, .. } => {
                if let (DepthReading::Depth(depth), Some(feature)) = (reading, self.depth_feature(station)) {
                    self.note_size(station, &feature, *spindle, Some(*piece), *depth, recorded);
                }
                self.stations[station].advice.clone_from(correction);
                self.highest_piece = self.highest_piece.max(*piece);
                self.stations[station].depth = DepthStep::Read;
            }
            Event::Adjusted { .. } => self.apply_adjustment(station, recorded),
            Event::CrashReported { blocked, .. } => {
                for index in blocked.iter().filter_map(|code| self.plan.index_of(code)).collect::<Vec<_>>() {
                    self.clear_station(index);
                    self.stations[index].crashed = true;
                }
            }
            Event::ItemTakenOut { what: TakenOut::Tool, .. } | Event::ToolRemoved { .. } => {
                let holder = self.stations[station].holder.take();
                self.clear_station(station);
                self.stations[station].holder = holder;
            }
            Event::ItemTakenOut { what: TakenOut::Holder, .. } | Event::HolderRemoved { .. } => {
                self.clear_station(station);
            }
            _ => {}
        }
    }

    fn apply_adjustment(&mut self, station: usize, recorded: &Recorded) {
        let Event::Adjusted { adjuster, adjusts, turns, direction, holder_move, recheck, affected, .. } =
            &recorded.event
        else {
            return;
        };
        self.stations[station].adjustments.push(AdjustmentTaken {
            adjuster: adjuster.clone(),
            turns: *turns,
            direction: *direction,
            by: recorded.by,
            at: recorded.recorded_at,
        });
        match adjusts {
            AdjusterKind::Height => {
                self.stations[station].height_before = None;
                self.reopen_clamping(station);
            }
            AdjusterKind::Taper | AdjusterKind::Lateral => {
                if let Some(holder) = &mut self.stations[station].holder {
                    holder.moved = *holder_move;
                    if !holder.is_confirmed() {
                        self.end_trial();
                    }
                }
                match recheck {
                    Some(HolderMoveRecheck::Required) => {
                        self.stations[station].height_after = None;
                        self.end_trial();
                    }
                    _ => self.stations[station].recheck_advised = self.stations[station].height_after.is_some(),
                }
                self.stations[station].approach = None;
            }
            AdjusterKind::Infeed => self.stations[station].approach = None,
            AdjusterKind::Depth => {}
        }
        for index in affected.iter().filter_map(|code| self.plan.index_of(code)).collect::<Vec<_>>() {
            if *adjusts == AdjusterKind::Depth && self.stations[index].depth == DepthStep::Read {
                self.stations[index].depth = DepthStep::Open;
            }
            self.formed_before(index);
        }
        self.reopen_first_piece();
    }

    fn apply_to_machine(&mut self, recorded: &Recorded) {
        match &recorded.event {
            Event::StockFed { stock } => {
                if self.stock.as_ref() != Some(stock) {
                    self.reopen_index();
                    for index in 0..self.stations.len() {
                        self.stations[index].approach = None;
                        self.formed_before(index);
                    }
                }
                self.stock = Some(stock.clone());
            }
            Event::IndexClearanceConfirmed => self.index_clear = true,
            Event::TrialCutBegun => {
                self.trial = true;
                self.pieces_formed = true;
            }
            Event::FirstPieceJudged { accepted, piece, independent, provisional, readings } => {
                self.highest_piece = self.highest_piece.max(piece.unwrap_or(0));
                for reading in readings {
                    if let Some(at) = self.plan.index_of(&reading.station) {
                        self.note_size(at, &reading.feature, reading.spindle, *piece, reading.value, recorded);
                    }
                }
                self.first_piece = Some(FirstPiece {
                    accepted: *accepted,
                    by: recorded.by,
                    independent: *independent,
                    provisional: *provisional,
                    at: recorded.recorded_at,
                });
            }
            Event::RunReleased { tools, provisional } => {
                self.run = Run::InForce { tools: tools.clone() };
                self.held = provisional.map(|end| HeldPieces {
                    end,
                    accepted_by: self.first_piece.as_ref().map_or(recorded.by, |judged| judged.by),
                    released_at: recorded.recorded_at,
                    pieces: 0,
                    number_beyond: None,
                });
                self.released_at = Some(recorded.occurred_at);
                self.highest_before_run = self.highest_piece;
                self.state = SetupState::Released;
            }
            Event::ReleaseWithdrawn { .. } => {
                if let Run::InForce { tools } = &self.run {
                    self.run = Run::ToBook { tools: tools.clone(), rejected: false };
                }
                self.trial = false;
                self.state = SetupState::Stopped;
            }
            Event::TrialWithdrawn { .. } => self.end_trial(),
            Event::HeldPiecesJudged { accepted, .. } => self.judge_held(*accepted, recorded),
            Event::RunStopped { pieces, .. } => {
                self.pieces = self.pieces.saturating_add(*pieces);
                let beyond = (self.pieces_told_by_numbers() > *pieces).then_some(self.highest_piece);
                match (&mut self.held, &self.run) {
                    (Some(held), _) => {
                        held.pieces = held.pieces.saturating_add(*pieces);
                        held.number_beyond = beyond;
                    }
                    (None, Run::ToBook { rejected: true, .. }) => {
                        self.pieces_rejected = self.pieces_rejected.saturating_add(*pieces);
                    }
                    _ => {}
                }
                // What the run made was formed too, measured or not.
                self.highest_piece = self.highest_piece.max(self.highest_before_run.saturating_add(*pieces));
                if self.is_released() {
                    self.state = SetupState::Stopped;
                }
                self.run = Run::None;
            }
            Event::HandedOver { to, .. } => self.in_charge = *to,
            Event::Closed { .. } => {
                self.trial = false;
                self.state = SetupState::Closed;
            }
            Event::Abandoned { .. } => {
                self.trial = false;
                self.state = SetupState::Abandoned;
            }
            _ => {}
        }
    }

    /// What an inspector said of held pieces. A first piece that was accepted provisionally is theirs from then on; after a
    /// rejection another is to be judged, and what a withdrawn run made is rejected with the rest.
    fn judge_held(&mut self, accepted: bool, recorded: &Recorded) {
        let Some(held) = self.held.take() else { return };
        if accepted {
            // Only the first piece that the held release rests on: one judged after it is of another setting.
            let rests_on = |judged: &&mut FirstPiece| judged.provisional && judged.at <= held.released_at;
            if let Some(judged) = self.first_piece.as_mut().filter(rests_on) {
                judged.provisional = false;
                judged.by = recorded.by;
                judged.at = recorded.recorded_at;
            }
            return;
        }
        self.pieces_rejected = self.pieces_rejected.saturating_add(held.pieces);
        let (by, at) = (recorded.by, recorded.recorded_at);
        self.first_piece = Some(FirstPiece { accepted: false, by, independent: true, provisional: false, at });
        if let Run::InForce { tools } | Run::ToBook { tools, .. } = &self.run {
            self.run = Run::ToBook { tools: tools.clone(), rejected: true };
        }
    }

    /// Everything of a station is to be done again: its tool or holder changed. The gauge stays where it is, and what
    /// was formed before says nothing any more.
    fn clear_station(&mut self, station: usize) {
        let before = &self.stations[station];
        let cleared = StationState {
            gauge: before.gauge.clone(),
            adjustments: before.adjustments.clone(),
            crashed: before.crashed,
            first_good_piece: before.first_good_piece,
            ..StationState::untouched(&self.plan.stations[station])
        };
        self.stations[station] = cleared;
        self.formed_before(station);
        self.reopen_index();
    }

    fn reopen_clamping(&mut self, station: usize) {
        let state = &mut self.stations[station];
        state.clamped = false;
        state.height_after = None;
        state.recheck_advised = false;
        state.approach = None;
        self.formed_before(station);
        self.end_trial();
        self.reopen_first_piece();
    }

    fn reopen_index(&mut self) {
        self.index_clear = false;
        self.end_trial();
        self.reopen_first_piece();
    }

    fn reopen_first_piece(&mut self) {
        self.first_piece = None;
        self.set_again();
    }

    fn end_trial(&mut self) {
        self.trial = false;
        self.set_again();
    }

    fn set_again(&mut self) {
        if self.state == SetupState::Stopped {
            self.state = SetupState::Setting;
        }
    }

    /// Pieces already measured, and those still travelling from this station to the cut-off, were formed before.
    fn formed_before(&mut self, station: usize) {
        // What was advised is done, or done otherwise.
        self.stations[station].advice = None;
        self.stations[station].sizes.clear();
        if self.pieces_formed {
            self.stations[station].first_good_piece =
                self.highest_piece.saturating_add(pieces_to_discard(&self.plan, station)).saturating_add(1);
        }
    }
}
