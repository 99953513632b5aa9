//! Measured pieces, the screws turned on them, and the first piece.

use super::{Case, Decision, at};
use crate::{
    adjuster::{AdjusterKind, Turn},
    code::Code,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    setup::{
        command::Turns,
        event::{DepthReading, Event, FirstPieceReading, HolderMove, SizeReading},
        state::StationState,
    },
};
use serde_json::Value;

/// More pieces than a machine makes between two that are measured: a number beyond is a slip, and would make every true
/// piece one from before the next change.
const FAR_AHEAD: u64 = 100_000;

impl Case<'_> {
    pub(super) fn read_sizes(
        &mut self,
        station: &Code,
        piece: u64,
        spindle: Option<u8>,
        readings: &[SizeReading],
        correction: Option<&Value>,
    ) -> Option<Decision> {
        let (_, _, state) = self.station(station)?;
        self.piece_is_telling(station, state, piece, spindle);
        for reading in readings {
            self.feature_is_known(station, &reading.feature);
        }
        Some(Decision::of(Event::SizesRead {
            station: station.clone(),
            piece,
            spindle,
            readings: readings.to_vec(),
            correction: correction.cloned(),
        }))
    }

    pub(super) fn read_depth(
        &mut self,
        station: &Code,
        piece: u64,
        spindle: Option<u8>,
        reading: DepthReading,
        correction: Option<&Value>,
    ) -> Option<Decision> {
        let (_, plan, state) = self.station(station)?;
        self.findings.add_if(!plan.asks_for_depth(), || {
            Refusal::new(Rule::FeatureUnknown, format!("The part asks for no depth at station {station}."))
                .clears("Record what was measured as sizes, or name the station that makes the depth.")
                .about(at(station))
        });
        self.piece_is_telling(station, state, piece, spindle);
        let correction = correction.cloned();
        Some(Decision::of(Event::DepthRead { station: station.clone(), piece, spindle, reading, correction }))
    }

    /// A piece tells of a station when it was formed in a trial or a run, after the last change there.
    fn piece_is_telling(&mut self, station: &Code, state: &StationState, piece: u64, spindle: Option<u8>) {
        self.turning();
        self.formed_after_change(station, state, piece);
        if let Some(spindle) = spindle {
            self.spindle_runs(spindle);
        }
    }

    fn turning(&mut self) {
        let begun = self.setup.trial || self.setup.is_released();
        let machine = self.machine();
        self.findings.add_if(!begun, || {
            Refusal::new(Rule::TrialNotBegun, "Trial cutting has not begun as everything stands now.").about(machine)
        });
    }

    fn formed_after_change(&mut self, station: &Code, state: &StationState, piece: u64) {
        let most = self.setup.highest_piece.saturating_add(FAR_AHEAD);
        self.findings.add_if(piece > most, || {
            let sentence = format!("Piece {piece} is far beyond the last one known, {}.", self.setup.highest_piece);
            Refusal::new(Rule::PieceFarAhead, sentence)
                .saw(format!("piece {piece}"))
                .clears("Check the number of the piece, and record it again.")
                .about(at(station))
        });
        let first = state.first_good_piece;
        self.findings.add_if(piece < first, || {
            let sentence = format!("Piece {piece} was formed before the last change at station {station}.");
            Refusal::new(Rule::PieceBeforeAdjustment, sentence)
                .saw(format!("piece {piece}"))
                .clears(format!("Measure piece {first} or a later one."))
                .about(at(station))
        });
    }

    pub(super) fn readings_are_known(&mut self, readings: &[FirstPieceReading]) {
        for reading in readings {
            self.feature_is_known(&reading.station, &reading.feature);
            if let Some(spindle) = reading.spindle {
                self.spindle_runs(spindle);
            }
        }
    }

    fn spindle_runs(&mut self, spindle: u8) {
        let runs = self.setup.plan.running_spindles.contains(&spindle);
        let machine = self.machine();
        self.findings.add_if(!runs, || {
            Refusal::new(Rule::SpindleUnknown, format!("Spindle {spindle} does not run in this setup.")).about(machine)
        });
    }

    fn feature_is_known(&mut self, station: &Code, feature: &Code) {
        let Some((_, plan, _)) = self.station(station) else { return };
        self.findings.add_if(plan.feature(feature).is_none(), || {
            let sentence = format!("The part has no feature {feature} at station {station}.");
            Refusal::new(Rule::FeatureUnknown, sentence).about(at(station))
        });
    }

    /// Whatever was turned is recorded, with what was answered about the holder: a screw left tight is a blocker, and
    /// the record of the turn is not lost for it.
    pub(super) fn adjust(
        &mut self,
        station: &Code,
        adjuster: &Code,
        turns: Turns,
        direction: Turn,
        holder_move: Option<HolderMove>,
    ) -> Option<Decision> {
        let (index, _, state) = self.station(station)?;
        let screw = self.setup.adjuster(index, adjuster);
        self.findings.add_if(screw.is_none(), || {
            let sentence = format!("Neither station {station} nor its holder has an adjuster {adjuster}.");
            Refusal::new(Rule::AdjusterUnknown, sentence).about(at(station))
        });
        let screw = screw?;
        let own = self.setup.plan.stations[index].adjusters.iter();
        let holders = state.holder.iter().flat_map(|holder| holder.adjusters.iter());
        let of_that_code = own.chain(holders).filter(|screw| screw.code == *adjuster).count();
        self.findings.add_if(of_that_code > 1, || {
            let sentence = format!("Station {station} and its holder both have an adjuster {adjuster}.");
            Refusal::new(Rule::AdjusterUnknown, sentence)
                .clears("Give one of the two another code in the registry, and seat the holder anew.")
                .about(at(station))
        });
        let kind = screw.kind();
        let moves_holder = matches!(kind, AdjusterKind::Taper | AdjusterKind::Lateral);
        self.findings.add_if(kind == AdjusterKind::Height && state.clamped, || {
            Refusal::new(Rule::StillClamped, format!("The tool at station {station} is clamped.")).about(at(station))
        });
        self.findings.add_if(moves_holder && holder_move.is_none(), || {
            let sentence = format!("{} at station {station} moves the holder: say how it was left.", screw.name);
            Refusal::new(Rule::SeatNotConfirmed, sentence)
                .clears("Retighten the holder, free the side screw, and answer both.")
                .about(at(station))
        });
        let mut affected = vec![station.clone()];
        for other in &screw.affects {
            if self.setup.plan.index_of(other).is_some() && !affected.contains(other) {
                affected.push(other.clone());
            }
        }
        Some(Decision::of(Event::Adjusted {
            station: station.clone(),
            adjuster: screw.code.clone(),
            adjusts: kind,
            turns: turns.count(),
            direction,
            holder_move: holder_move.filter(|_| moves_holder),
            recheck: moves_holder.then_some(self.setup.plan.settings.recheck_after_holder_move),
            affected,
        }))
    }

    /// `accepted: false` is recorded whatever was read; `accepted: true` needs every feature read and inside its limits.
    pub(super) fn judge_first_piece(
        &mut self,
        accepted: bool,
        piece: Option<u64>,
        readings: &[FirstPieceReading],
    ) -> Option<Decision> {
        self.turning();
        let changed = self.setup.stations.iter().map(|state| state.first_good_piece).max().unwrap_or(1);
        let machine = self.machine();
        self.findings.add_if(accepted && piece.is_none() && changed > 1, || {
            Refusal::new(
                Rule::PieceBeforeAdjustment,
                "Something was changed since trial cutting began: name the piece that was judged.",
            )
            .clears(format!("Name the piece that was judged: {changed} or a later one."))
            .about(machine)
        });
        if let Some(piece) = piece {
            for (plan, state) in self.setup.plan.stations.iter().zip(&self.setup.stations) {
                self.formed_after_change(&plan.code, state, piece);
            }
        }
        self.readings_are_known(readings);
        let independent = !self.setup.recorders.contains(&self.who.person);
        let in_full = self.judges_in_full();
        // A provisional judgement is always another person's: it is all that stands between one setter and a run.
        let by_another = self.setup.plan.settings.first_piece_by_another_person || !in_full;
        self.findings.add_if(by_another && !independent, || {
            Refusal::new(
                Rule::FirstPieceSamePerson,
                "You recorded work in this setup; somebody else judges its first piece.",
            )
            .about(Subject::new(SubjectKind::Person, self.who.person.to_string()))
        });
        if accepted {
            self.good_enough(readings);
        }
        let (readings, provisional) = (readings.to_vec(), accepted && !in_full);
        Some(Decision::of(Event::FirstPieceJudged { accepted, piece, readings, independent, provisional }))
    }

    /// What is accepted was read in full, from every spindle where the shop asks for it, and is inside its limits.
    pub(super) fn good_enough(&mut self, readings: &[FirstPieceReading]) {
        self.all_inside_limits(readings);
        if self.setup.plan.settings.first_piece_from_every_spindle {
            self.every_spindle(readings);
        }
    }

    fn all_inside_limits(&mut self, readings: &[FirstPieceReading]) {
        for plan in &self.setup.plan.stations {
            for feature in &plan.operation.features {
                let mut of_feature =
                    readings.iter().filter(|r| r.station == plan.code && r.feature == feature.code).peekable();
                let named = format!("Feature {} ({}) at station {}", feature.code, feature.name, plan.code);
                if of_feature.peek().is_none() {
                    self.findings.add(
                        Refusal::new(Rule::ReadingOutsideLimits, format!("{named} was not read."))
                            .clears("Read it too.")
                            .about(at(&plan.code)),
                    );
                }
                for reading in of_feature.filter(|reading| !feature.tolerance.admit(feature.target, reading.value)) {
                    self.findings.add(
                        Refusal::new(Rule::ReadingOutsideLimits, format!("{named} is outside its limits."))
                            .saw(reading.value.to_string())
                            .about(at(&plan.code)),
                    );
                }
            }
        }
    }

    fn every_spindle(&mut self, readings: &[FirstPieceReading]) {
        for spindle in &self.setup.plan.running_spindles {
            let read_from = |station: &Code, feature: &Code| {
                readings.iter().any(|r| r.spindle == Some(*spindle) && r.station == *station && r.feature == *feature)
            };
            for plan in &self.setup.plan.stations {
                for feature in plan.operation.features.iter().filter(|feature| !read_from(&plan.code, &feature.code)) {
                    let sentence = format!(
                        "Feature {} at station {} was not read from spindle {spindle}.",
                        feature.code, plan.code
                    );
                    self.findings.add(Refusal::new(Rule::FirstPieceSpindleMissing, sentence).about(at(&plan.code)));
                }
            }
        }
    }
}
