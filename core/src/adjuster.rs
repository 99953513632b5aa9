//! Adjusters as data: a screw, what a turn of it moves, and which way.
//!
//! One type serves machines, stations, holders and stateless calculations, so that a correction on a stored setup never
//! asks for what the machine's record already holds.

use crate::{code::Code, length::Length, names::named};
use serde::{Deserialize, Serialize};

named! {
    /// What an adjuster corrects.
    AdjusterKind {
        /// The slide's turnbuckle or stop: infeed, hence diameter.
        Infeed = "infeed",
        /// The holder's height screw: the edge to centre.
        Height = "height",
        /// The holder's taper screw.
        Taper = "taper",
        /// The holder's side screw: where the form lies along the bar.
        Lateral = "lateral",
        /// An end slide's turnbuckle: drill depth.
        Depth = "depth",
    }
}

named! {
    /// What a clockwise turn does, seen from where the adjuster says.
    #[derive(schemars::JsonSchema)]
    #[schemars(rename = "ScrewMotion")]
    Motion {
        /// The tool comes nearer to the spindle axis.
        ToolIn = "tool_in",
        /// The tool moves away from the spindle axis.
        ToolOut = "tool_out",
        /// The edge is lifted (toward +y).
        EdgeUp = "edge_up",
        /// The edge is lowered.
        EdgeDown = "edge_down",
        /// The diameter away from the collet grows.
        FarDiameterUp = "far_diameter_up",
        /// The diameter away from the collet shrinks.
        FarDiameterDown = "far_diameter_down",
        /// The form moves toward the collet.
        TowardCollet = "toward_collet",
        /// The form moves away from the collet.
        AwayFromCollet = "away_from_collet",
        /// The drill goes deeper.
        Deeper = "deeper",
        /// The drill goes less deep.
        Shallower = "shallower",
    }
}

impl Motion {
    /// What an adjuster with this motion corrects.
    #[must_use]
    pub const fn kind(self) -> AdjusterKind {
        match self {
            Self::ToolIn | Self::ToolOut => AdjusterKind::Infeed,
            Self::EdgeUp | Self::EdgeDown => AdjusterKind::Height,
            Self::FarDiameterUp | Self::FarDiameterDown => AdjusterKind::Taper,
            Self::TowardCollet | Self::AwayFromCollet => AdjusterKind::Lateral,
            Self::Deeper | Self::Shallower => AdjusterKind::Depth,
        }
    }

    /// Whether it goes against the cut: the cut presses the play out where there is one, so that an adjustment finishes
    /// in the cutting direction.
    #[must_use]
    pub const fn is_against_cut(self) -> bool {
        matches!(self, Self::ToolOut | Self::Shallower)
    }

    /// The opposite motion.
    #[must_use]
    pub const fn reversed(self) -> Self {
        match self {
            Self::ToolIn => Self::ToolOut,
            Self::ToolOut => Self::ToolIn,
            Self::EdgeUp => Self::EdgeDown,
            Self::EdgeDown => Self::EdgeUp,
            Self::FarDiameterUp => Self::FarDiameterDown,
            Self::FarDiameterDown => Self::FarDiameterUp,
            Self::TowardCollet => Self::AwayFromCollet,
            Self::AwayFromCollet => Self::TowardCollet,
            Self::Deeper => Self::Shallower,
            Self::Shallower => Self::Deeper,
        }
    }
}

named! {
    /// The sense of a turn, seen from where the adjuster says.
    #[derive(schemars::JsonSchema)]
    #[schemars(rename = "TurnDirection")]
    Turn {
        /// Clockwise.
        Clockwise = "clockwise",
        /// Counterclockwise.
        Counterclockwise = "counterclockwise",
    }
}

named! {
    /// The hand of a thread.
    #[derive(schemars::JsonSchema)]
    #[schemars(rename = "ThreadHand")]
    Hand {
        /// Right-hand: clockwise drives it away from the viewer.
        Right = "right",
        /// Left-hand.
        Left = "left",
    }
}

named! {
    /// How an adjuster's threads work together.
    #[derive(schemars::JsonSchema)]
    #[schemars(rename = "ThreadArrangement")]
    Arrangement {
        /// One thread: travel per turn is its pitch.
        Single = "single",
        /// Opposite hands: the pitches add.
        Turnbuckle = "turnbuckle",
        /// The same hand: the pitches subtract.
        Differential = "differential",
    }
}

/// One thread of an adjuster.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Thread {
    /// Advance in one turn.
    pub pitch: Length,
    /// Its hand.
    pub hand: Hand,
}

/// How far one turn moves: given outright, or by the threads.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Travel {
    /// Screw travel in one turn.
    PerTurn(Length),
    /// By its threads.
    Threads {
        /// One or two threads.
        threads: Vec<Thread>,
        /// How they work together.
        arrangement: Arrangement,
    },
}

/// An adjusting screw.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Adjuster {
    /// Its code within the machine or holder, as setters call it: `SLIDE`, `HEIGHT`, `TAPER`, `SIDE`, `DEPTH`, …
    pub code: Code,
    /// A name for sentences: "slide turnbuckle".
    pub name: String,
    /// How far one turn moves the screw.
    pub travel: Travel,
    /// Tool travel over screw travel, above zero.
    pub ratio: f64,
    /// What a clockwise turn does; it also says what this adjuster corrects.
    pub clockwise_moves: Motion,
    /// From where the turn is seen: "operator's side".
    pub seen_from: String,
    /// For a taper screw: the distance from the holder's pivot to the screw.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub arm: Option<Length>,
    /// Whether a positive stop has to be backed off before it moves.
    #[serde(default)]
    pub has_stop: bool,
    /// Lost motion taken up when the sense of turning changes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub backlash: Option<Length>,
    /// Station codes whose work this adjuster moves too (an end slide's common turnbuckle).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub affects: Vec<Code>,
}

impl Adjuster {
    /// What it corrects.
    #[must_use]
    pub const fn kind(&self) -> AdjusterKind {
        self.clockwise_moves.kind()
    }

    /// Screw travel in one turn: zero or less only for records that [`Adjuster::is_sound`] refuses.
    #[must_use]
    pub fn travel_per_turn(&self) -> Length {
        match &self.travel {
            Travel::PerTurn(length) => *length,
            Travel::Threads { threads, arrangement } => {
                let first = threads
                    .first()
                    .map_or(Length::from_picometres(0, crate::length::LengthUnit::Millimetre), |t| t.pitch);
                match (arrangement, threads.get(1)) {
                    (Arrangement::Turnbuckle, Some(second)) => first.plus(second.pitch),
                    (Arrangement::Differential, Some(second)) => first.minus(second.pitch).abs(),
                    _ => first,
                }
            }
        }
    }

    /// Whether the record can move anything: a positive travel and ratio, one thread for a single screw and two, of
    /// hands that fit, for a turnbuckle or a differential screw.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        let threads_fit = match &self.travel {
            Travel::PerTurn(_) => true,
            Travel::Threads { threads, arrangement } => match (arrangement, threads.as_slice()) {
                (Arrangement::Single, [_]) => true,
                (Arrangement::Turnbuckle, [a, b]) => a.hand != b.hand,
                (Arrangement::Differential, [a, b]) => a.hand == b.hand,
                _ => false,
            },
        };
        threads_fit
            && self.travel_per_turn().picometres() > 0
            && self.ratio.is_finite()
            && self.ratio > 0.0
            && self.arm.is_none_or(|arm| arm.picometres() > 0)
            && self.backlash.is_none_or(|backlash| backlash.picometres() >= 0)
    }
}

#[cfg(test)]
mod tests {
    use super::{Motion, Turn};

    #[test]
    fn reversing_twice_changes_nothing_and_keeps_the_kind() {
        for motion in Motion::ALL {
            assert_eq!(motion.reversed().reversed(), *motion);
            assert_eq!(motion.reversed().kind(), motion.kind());
        }
        assert_eq!(Turn::ALL.len(), 2);
    }
}
