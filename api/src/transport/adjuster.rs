//! Adjusters on the wire: `travel_per_turn`, or `threads` with their `arrangement`.

use super::schema::{ArrangementSchema, CodeSchema, HandSchema, LengthSchema, MotionSchema};
use crate::problem::Problem;
use dovetally_core::{
    adjuster::{Adjuster, Arrangement, Hand, Motion, Thread, Travel},
    code::Code,
    length::{Length, LengthUnit},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// An adjusting screw: what a turn of it moves, and which way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = Adjuster)]
pub struct AdjusterBody {
    /// Its code within the machine or holder.
    #[schema(value_type = CodeSchema, example = "SLIDE")]
    pub code: Code,
    /// A name for sentences.
    #[schema(example = "slide turnbuckle")]
    pub name: String,
    /// Screw travel in one turn; either this, or `threads` and `arrangement`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<LengthSchema>)]
    pub travel_per_turn: Option<Length>,
    /// The screw's threads.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub threads: Option<Vec<ThreadBody>>,
    /// How the threads work together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<ArrangementSchema>)]
    pub arrangement: Option<Arrangement>,
    /// Tool travel over screw travel, above zero; 1 when left out.
    #[serde(default = "one")]
    #[schema(exclusive_minimum = 0, default = 1.0)]
    pub ratio: f64,
    /// What a clockwise turn does.
    #[schema(value_type = MotionSchema)]
    pub clockwise_moves: Motion,
    /// From where the turn is seen.
    #[schema(example = "operator's side")]
    pub seen_from: String,
    /// For a taper screw: the distance from the holder's pivot to the screw.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<LengthSchema>)]
    pub arm: Option<Length>,
    /// Whether a positive stop has to be backed off first.
    #[serde(default)]
    pub has_stop: bool,
    /// Lost motion when the sense of turning changes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<LengthSchema>)]
    pub backlash: Option<Length>,
    /// Codes of stations whose work this adjuster moves too.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<CodeSchema>)]
    pub affects: Vec<Code>,
}

const fn one() -> f64 {
    1.0
}

/// One thread, by its pitch or by threads per inch.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = Thread)]
pub struct ThreadBody {
    /// Advance in one turn; either this or `per_inch`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<LengthSchema>)]
    pub pitch: Option<Length>,
    /// Threads in an inch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(exclusive_minimum = 0, example = 20.0)]
    pub per_inch: Option<f64>,
    /// Its hand.
    #[schema(value_type = HandSchema)]
    pub hand: Hand,
}

impl AdjusterBody {
    /// The trade's adjuster; `at` is the pointer to this body, for what is wrong with it.
    ///
    /// # Errors
    /// 422 when travel is given twice or not at all, or a thread's pitch cannot be.
    pub fn parse(self, at: &str) -> Result<Adjuster, Problem> {
        let travel = match (self.travel_per_turn, self.threads, self.arrangement) {
            (Some(per_turn), None, None) => Travel::PerTurn(per_turn),
            (None, Some(threads), Some(arrangement)) => {
                let threads = threads.into_iter().enumerate();
                let threads = threads.map(|(index, thread)| thread.parse(&format!("{at}/threads/{index}")));
                Travel::Threads { threads: threads.collect::<Result<_, _>>()?, arrangement }
            }
            _ => {
                return Err(Problem::field(at, "give either travel_per_turn, or threads together with arrangement"));
            }
        };
        Ok(Adjuster {
            code: self.code,
            name: self.name,
            travel,
            ratio: self.ratio,
            clockwise_moves: self.clockwise_moves,
            seen_from: self.seen_from,
            arm: self.arm,
            has_stop: self.has_stop,
            backlash: self.backlash,
            affects: self.affects,
        })
    }

    /// Parses a list; `at` is the pointer to it.
    ///
    /// # Errors
    /// As [`AdjusterBody::parse`].
    pub fn parse_all(bodies: Vec<Self>, at: &str) -> Result<Vec<Adjuster>, Problem> {
        bodies.into_iter().enumerate().map(|(index, body)| body.parse(&format!("{at}/{index}"))).collect()
    }
}

impl ThreadBody {
    fn parse(self, at: &str) -> Result<Thread, Problem> {
        let pitch = match (self.pitch, self.per_inch) {
            (Some(pitch), None) => pitch,
            (None, Some(per_inch)) if per_inch > 0.0 => Length::new(1.0 / per_inch, LengthUnit::Inch)
                .map_err(|error| Problem::field(format!("{at}/per_inch"), error.to_string()))?,
            _ => return Err(Problem::field(at, "give either pitch or per_inch, above zero")),
        };
        Ok(Thread { pitch, hand: self.hand })
    }
}

impl From<&Adjuster> for AdjusterBody {
    fn from(adjuster: &Adjuster) -> Self {
        let (travel_per_turn, threads, arrangement) = match &adjuster.travel {
            Travel::PerTurn(length) => (Some(*length), None, None),
            Travel::Threads { threads, arrangement } => {
                let threads = threads.iter().map(|thread| ThreadBody {
                    pitch: Some(thread.pitch),
                    per_inch: None,
                    hand: thread.hand,
                });
                (None, Some(threads.collect()), Some(*arrangement))
            }
        };
        Self {
            code: adjuster.code.clone(),
            name: adjuster.name.clone(),
            travel_per_turn,
            threads,
            arrangement,
            ratio: adjuster.ratio,
            clockwise_moves: adjuster.clockwise_moves,
            seen_from: adjuster.seen_from.clone(),
            arm: adjuster.arm,
            has_stop: adjuster.has_stop,
            backlash: adjuster.backlash,
            affects: adjuster.affects.clone(),
        }
    }
}
