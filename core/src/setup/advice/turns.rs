//! The screws of an advice that was kept with its reading, found again among the station's and its holder's own.

use super::{Advice, screw};
use crate::{
    adjuster::{Adjuster, AdjusterKind, Motion, Turn},
    code::Code,
    length::Length,
    setup::state::Setup,
};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// A size to expect.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Expected {
    /// Of this feature.
    pub feature: Code,
    /// The size: over several spindles, the mean.
    pub size: Length,
}

/// A screw to turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AdvisedTurn<'a> {
    /// The screw on record.
    pub screw: &'a Adjuster,
    /// What it moves, and which way.
    pub moves: Motion,
    /// Which way it is turned, seen from where the screw says.
    pub direction: Turn,
    /// So many turns.
    pub turns: f64,
    /// The nearest count of flats of its hexagon.
    pub flats: f64,
    /// Turns lost when the sense changes, where the screw has backlash.
    pub backlash_turns: Option<f64>,
}

/// A correction as a calculation's answer has it.
#[derive(Deserialize)]
struct Stored {
    moves: Motion,
    direction: Turn,
    turns: f64,
    flats: f64,
    #[serde(default)]
    backlash_turns: Option<f64>,
}

impl Advice {
    /// Advice as an event keeps it, read again.
    #[must_use]
    pub fn of_stored(stored: &Value) -> Option<Self> {
        Advice::deserialize(stored).ok()
    }

    /// The screws to turn, in working order.
    #[must_use]
    pub fn turns<'a>(&self, setup: &'a Setup, station: usize) -> Vec<AdvisedTurn<'a>> {
        let corrections = self.answers.iter().filter_map(|answer| answer["corrections"].as_array()).flatten();
        let stored = corrections.filter_map(|correction| Stored::deserialize(correction).ok());
        let turns = stored.filter_map(|stored| {
            Some(AdvisedTurn {
                screw: setup.screw_for(station, stored.moves.kind())?,
                moves: stored.moves,
                direction: stored.direction,
                turns: stored.turns,
                flats: stored.flats,
                backlash_turns: stored.backlash_turns,
            })
        });
        turns.filter(|turn| turn.turns > 0.0).collect()
    }
}

impl Setup {
    /// The screw that corrects a kind of error at a station: of the slide for infeed and depth, else of the holder.
    #[must_use]
    pub fn screw_for(&self, station: usize, kind: AdjusterKind) -> Option<&Adjuster> {
        match kind {
            AdjusterKind::Infeed | AdjusterKind::Depth => screw(&self.plan.stations.get(station)?.adjusters, kind),
            AdjusterKind::Height | AdjusterKind::Taper | AdjusterKind::Lateral => {
                screw(&self.stations.get(station)?.holder.as_ref()?.adjusters, kind)
            }
        }
    }
}
