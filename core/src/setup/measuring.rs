//! What is measured next, and what is thrown away before it.
//!
//! A piece in hand is measured at every station before the next one is taken: so spindle after spindle is told of, and
//! where all of them are, the one that was measured longest ago comes next.

use super::{
    command::Command,
    decide::decide,
    event::{DepthReading, Event, Recorded},
    facts::{Actor, MachineFacts},
    plan::Feature,
    state::Setup,
};
use crate::{
    code::Code,
    length::{Length, LengthUnit},
    refusal::Refusal,
};
use chrono::{DateTime, Utc};

/// One feature of a piece from one spindle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spot {
    /// Where the station stands in the plan.
    pub station: usize,
    /// The feature.
    pub feature: Code,
    /// The spindle; none where the machine runs none.
    pub spindle: Option<u8>,
}

/// Pieces to throw away before one is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ThrowAway {
    /// So many that drop after the change were formed before it.
    pub pieces: u64,
    /// The piece to measure: the first of the spindle that tells of the setting as it is after the change.
    pub piece: u64,
}

impl Setup {
    /// The features that are read together with this one, of one piece, and recorded as one reading: a depth that is asked
    /// for by itself, all others of the station at once, since a form is judged by all of its diameters.
    #[must_use]
    pub fn read_together(&self, station: usize, feature: &Code) -> Vec<&Feature> {
        let Some(plan) = self.plan.stations.get(station) else { return Vec::new() };
        let depth = self.depth_asked_for(station);
        let alone = depth.as_ref() == Some(feature);
        let features = plan.operation.features.iter();
        features.filter(|other| (depth.as_ref() == Some(&other.code)) == alone).collect()
    }

    /// Whether a feature is recorded as the depth that the station is asked for.
    #[must_use]
    pub fn is_depth_asked_for(&self, station: usize, feature: &Code) -> bool {
        self.depth_asked_for(station).as_ref() == Some(feature)
    }

    fn depth_asked_for(&self, station: usize) -> Option<Code> {
        let asked = self.plan.stations.get(station)?.asks_for_depth();
        if asked { self.depth_feature(station) } else { None }
    }

    /// What to measure next, after a spot or to begin with: what is missing of that spindle, then what is missing of the
    /// next; nothing is missing, and it is what was measured longest ago. None where the part has no features.
    #[must_use]
    pub fn next_to_measure(&self, after: Option<&Spot>) -> Option<Spot> {
        self.next_of(after, |_| true)
    }

    /// The same at one station.
    #[must_use]
    pub fn next_to_measure_at(&self, station: usize) -> Option<Spot> {
        self.next_of(None, |spot| spot.station == station)
    }

    fn next_of(&self, after: Option<&Spot>, wanted: impl Fn(&Spot) -> bool) -> Option<Spot> {
        let spindles = &self.plan.running_spindles;
        let begin = after.and_then(|spot| spindles.iter().position(|spindle| Some(*spindle) == spot.spindle));
        let in_turn = spindles.iter().cycle().skip(begin.unwrap_or(0)).take(spindles.len());
        let spots = || {
            in_turn.clone().flat_map(|spindle| {
                let stations = self.plan.stations.iter().enumerate();
                stations.flat_map(move |(station, plan)| {
                    let features = plan.operation.features.iter();
                    features.map(move |feature| Spot {
                        station,
                        feature: feature.code.clone(),
                        spindle: Some(*spindle),
                    })
                })
            })
        };
        let wanted = |spot: &Spot| wanted(spot);
        let missing = spots().filter(wanted).find(|spot| self.last_measured(spot).is_none());
        missing.or_else(|| spots().filter(wanted).min_by_key(|spot| self.last_measured(spot)))
    }

    /// Whether of every feature a size is known from every running spindle, as everything stands now.
    #[must_use]
    pub fn is_measured_all_round(&self) -> bool {
        self.next_to_measure(None).is_none_or(|spot| self.last_measured(&spot).is_some())
    }

    fn last_measured(&self, spot: &Spot) -> Option<DateTime<Utc>> {
        let sizes = &self.stations.get(spot.station)?.sizes;
        let of_spot = sizes.iter().filter(|size| size.feature == spot.feature && size.spindle == spot.spindle);
        of_spot.map(|size| size.at).max()
    }

    /// What is to be thrown away at a station as it stands, before a piece of a spindle is measured. `events` are the
    /// setup's.
    #[must_use]
    pub fn throw_away(&self, events: &[Recorded], station: usize, spindle: Option<u8>) -> ThrowAway {
        let first = self.stations.get(station).map_or(1, |state| state.first_good_piece);
        self.until(events, first, spindle)
    }

    /// The same once so many pieces more have been made worthless by a turn.
    #[must_use]
    pub fn throw_away_after(&self, events: &[Recorded], discard: u64, spindle: Option<u8>) -> ThrowAway {
        self.until(events, self.highest_piece.saturating_add(discard).saturating_add(1), spindle)
    }

    /// Up to the first piece of the spindle that is `first` or a later one. Every full round of the running spindles the
    /// same one comes again: where a piece of it is known, its next ones are.
    fn until(&self, events: &[Recorded], first: u64, spindle: Option<u8>) -> ThrowAway {
        let pieces = first.saturating_sub(self.highest_piece.saturating_add(1));
        let round = u64::try_from(self.plan.running_spindles.len()).unwrap_or(1).max(1);
        let known = spindle.and_then(|spindle| known_piece(events, spindle));
        let after = |known: u64| match first.checked_sub(known) {
            Some(apart) => known.saturating_add(apart.div_ceil(round).saturating_mul(round)),
            None => first,
        };
        ThrowAway { pieces, piece: known.map_or(first, after) }
    }

    /// What stands in the way of measuring a piece at a station, for whoever asks; nothing where a reading is taken.
    #[must_use]
    pub fn hindrances_to_measuring(
        &self,
        facts: &MachineFacts,
        station: usize,
        who: &Actor,
        now: DateTime<Utc>,
    ) -> Vec<Refusal> {
        let (Some(plan), Some(state)) = (self.plan.stations.get(station), self.stations.get(station)) else {
            return Vec::new();
        };
        let piece = state.first_good_piece;
        let sizes = Command::ReadSizes {
            station: plan.code.clone(),
            piece,
            spindle: None,
            readings: Vec::new(),
            correction: None,
        };
        let depth = Command::ReadDepth {
            station: plan.code.clone(),
            piece,
            spindle: None,
            reading: DepthReading::Depth(Length::from_picometres(1, LengthUnit::Millimetre)),
            correction: None,
        };
        let command = if plan.asks_for_depth() { depth } else { sizes };
        decide(self, facts, &command, who, now).err().unwrap_or_default()
    }
}

/// The number of the last piece that is known to come from a spindle.
fn known_piece(events: &[Recorded], spindle: u8) -> Option<u64> {
    events.iter().rev().find_map(|recorded| match &recorded.event {
        Event::SizesRead { piece, spindle: Some(from), .. } | Event::DepthRead { piece, spindle: Some(from), .. } => {
            (*from == spindle).then_some(*piece)
        }
        _ => None,
    })
}
