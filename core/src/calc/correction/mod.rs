//! Screws: an adjuster as a request names it, and a correction as an answer gives it. One type of each serves all
//! calculations.

#[cfg(test)]
mod tests;

mod height;

pub use height::height_screw;

use super::{
    error::Reader,
    rounding::{Unit, rounded},
    schema,
};
use crate::{
    adjuster::{Adjuster, AdjusterKind, Arrangement, Hand, Motion, Thread, Travel, Turn},
    code::Code,
    length::{Length, LengthError, LengthUnit},
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One thread of a screw, in the request's unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "ScrewThread")]
pub struct ThreadInput {
    /// Threads per inch, whatever the request's unit; or give `pitch`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive)]
    pub per_inch: Option<f64>,
    /// Advance in one turn; or give `per_inch`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub pitch: Option<f64>,
    /// Its hand.
    pub hand: Hand,
}

impl ThreadInput {
    /// The pitch in millimetres.
    fn read(self, reader: &mut Reader, pointer: &str) -> f64 {
        match (self.per_inch, self.pitch) {
            (Some(per_inch), None) => 25.4 / reader.positive(&format!("{pointer}/per_inch"), per_inch),
            (None, Some(pitch)) => reader.positive_length(&format!("{pointer}/pitch"), pitch),
            _ => reader.refuse(pointer, "give per_inch or pitch, one of the two"),
        }
    }
}

/// Travel in one turn, in millimetres, of threads that work together: `p`, `p₁ + p₂` of opposite hands, `|p₁ − p₂|` of
/// the same hand.
pub(crate) fn thread_travel(
    reader: &mut Reader,
    pointer: &str,
    threads: &[ThreadInput],
    arrangement: Arrangement,
) -> f64 {
    let pitches: Vec<f64> =
        threads.iter().enumerate().map(|(i, thread)| thread.read(reader, &format!("{pointer}/{i}"))).collect();
    let same_hand = threads.windows(2).all(|pair| pair[0].hand == pair[1].hand);
    match (arrangement, pitches.as_slice()) {
        (Arrangement::Single, [pitch]) => *pitch,
        (Arrangement::Single, _) => reader.refuse(pointer, "a single screw has one thread"),
        (Arrangement::Turnbuckle, [first, second]) if !same_hand => first + second,
        (Arrangement::Turnbuckle, [_, _]) => reader.refuse(pointer, "a turnbuckle has threads of opposite hands"),
        (Arrangement::Turnbuckle, _) => reader.refuse(pointer, "a turnbuckle has two threads"),
        (Arrangement::Differential, [first, second]) if same_hand => {
            let travel = (first - second).abs();
            // Equal pitches of one hand cancel; what is left of them is rounding, not travel.
            if travel <= 1e-12 * first.max(*second) {
                return reader.refuse(pointer, "equal pitches of the same hand move nothing");
            }
            travel
        }
        (Arrangement::Differential, [_, _]) => {
            reader.refuse(pointer, "a differential screw has threads of the same hand")
        }
        (Arrangement::Differential, _) => reader.refuse(pointer, "a differential screw has two threads"),
    }
}

/// An adjusting screw as a request names it. A stored [`Adjuster`] converts with [`AdjusterInput::from_stored`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "AdjustingScrew", description = "An adjusting screw: what a turn of it moves, and which way.")]
pub struct AdjusterInput {
    /// A name for sentences; a usual one when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Screw travel in one turn; or give `threads`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub travel_per_turn: Option<f64>,
    /// One or two threads; or give `travel_per_turn`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 2))]
    pub threads: Option<Vec<ThreadInput>>,
    /// How the threads work together: single when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub arrangement: Option<Arrangement>,
    /// Tool travel over screw travel, above zero.
    #[serde(default = "one")]
    #[schemars(transform = schema::positive)]
    pub ratio: f64,
    /// What a clockwise turn does.
    pub clockwise_moves: Motion,
    /// From where the turn is seen; the screw's head when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seen_from: Option<String>,
    /// A taper screw's distance from the holder's pivot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive_length)]
    pub arm: Option<f64>,
    /// Whether a positive stop has to be backed off first.
    #[serde(default)]
    pub has_stop: bool,
    /// Lost motion when the sense of turning changes, as screw travel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::not_negative_length)]
    pub backlash: Option<f64>,
}

const fn one() -> f64 {
    1.0
}

impl AdjusterInput {
    /// A stored adjuster in a calculation's unit.
    #[must_use]
    pub fn from_stored(stored: &Adjuster, unit: LengthUnit) -> Self {
        let (travel_per_turn, threads, arrangement) = match &stored.travel {
            Travel::PerTurn(length) => (Some(length.value_in(unit)), None, None),
            Travel::Threads { threads, arrangement } => {
                let threads = threads
                    .iter()
                    .map(|t| ThreadInput { per_inch: None, pitch: Some(t.pitch.value_in(unit)), hand: t.hand })
                    .collect();
                (None, Some(threads), Some(*arrangement))
            }
        };
        Self {
            name: Some(stored.name.clone()),
            travel_per_turn,
            threads,
            arrangement,
            ratio: stored.ratio,
            clockwise_moves: stored.clockwise_moves,
            seen_from: Some(stored.seen_from.clone()),
            arm: stored.arm.map(|arm| arm.value_in(unit)),
            has_stop: stored.has_stop,
            backlash: stored.backlash.map(|backlash| backlash.value_in(unit)),
        }
    }

    /// The adjuster as it would be put on record, lengths rounded to the picometre.
    ///
    /// # Errors
    /// [`LengthError`] when a length is not one.
    pub fn to_stored(&self, code: Code, unit: LengthUnit) -> Result<Adjuster, LengthError> {
        let threads = |threads: &[ThreadInput]| {
            threads
                .iter()
                .map(|thread| {
                    let pitch = match (thread.per_inch, thread.pitch) {
                        (Some(per_inch), _) => Length::new(1.0 / per_inch, LengthUnit::Inch)?,
                        (None, pitch) => Length::new(pitch.unwrap_or(f64::NAN), unit)?,
                    };
                    Ok(Thread { pitch, hand: thread.hand })
                })
                .collect::<Result<Vec<_>, LengthError>>()
        };
        let travel = match (&self.threads, self.travel_per_turn) {
            (Some(list), _) => Travel::Threads {
                threads: threads(list)?,
                arrangement: self.arrangement.unwrap_or(Arrangement::Single),
            },
            (None, travel) => Travel::PerTurn(Length::new(travel.unwrap_or(f64::NAN), unit)?),
        };
        Ok(Adjuster {
            code,
            name: self.name.clone().unwrap_or_else(|| usual_name(self.clockwise_moves.kind()).to_owned()),
            travel,
            ratio: self.ratio,
            clockwise_moves: self.clockwise_moves,
            seen_from: self.seen_from.clone().unwrap_or_else(|| SCREW_HEAD.to_owned()),
            arm: self.arm.map(|arm| Length::new(arm, unit)).transpose()?,
            has_stop: self.has_stop,
            backlash: self.backlash.map(|backlash| Length::new(backlash, unit)).transpose()?,
            affects: Vec::new(),
        })
    }

    /// Checks it and reads it as a screw that corrects `kind`.
    pub(crate) fn read(&self, reader: &mut Reader, pointer: &str, kind: AdjusterKind) -> Screw {
        let travel_per_turn = match (self.travel_per_turn, &self.threads) {
            (Some(travel), None) => {
                reader.refuse_if(
                    self.arrangement.is_some(),
                    &format!("{pointer}/arrangement"),
                    "an arrangement belongs to threads",
                );
                reader.positive_length(&format!("{pointer}/travel_per_turn"), travel)
            }
            (None, Some(threads)) => thread_travel(
                reader,
                &format!("{pointer}/threads"),
                threads,
                self.arrangement.unwrap_or(Arrangement::Single),
            ),
            _ => reader.refuse(pointer, "give travel_per_turn or threads, one of the two"),
        };
        let ratio = reader.positive(&format!("{pointer}/ratio"), self.ratio);
        reader.refuse_if(
            self.clockwise_moves.kind() != kind,
            &format!("{pointer}/clockwise_moves"),
            format!("this correction needs an adjuster that moves {}", motions(kind)),
        );
        let arm = match (kind, self.arm) {
            (AdjusterKind::Taper, None) => {
                reader.refuse(format!("{pointer}/arm"), "a taper screw needs its distance from the holder's pivot")
            }
            (_, Some(arm)) => reader.positive_length(&format!("{pointer}/arm"), arm),
            (_, None) => f64::NAN,
        };
        let backlash = self.backlash.map_or(0.0, |b| reader.not_negative_length(&format!("{pointer}/backlash"), b));
        Screw {
            name: self.name.clone().unwrap_or_else(|| usual_name(kind).to_owned()),
            travel_per_turn,
            ratio,
            clockwise_moves: self.clockwise_moves,
            seen_from: self.seen_from.clone().unwrap_or_else(|| SCREW_HEAD.to_owned()),
            arm,
            has_stop: self.has_stop,
            backlash,
        }
    }
}

const SCREW_HEAD: &str = "the screw's head";

const fn usual_name(kind: AdjusterKind) -> &'static str {
    match kind {
        AdjusterKind::Infeed => "slide turnbuckle",
        AdjusterKind::Height => "height screw",
        AdjusterKind::Taper => "taper screw",
        AdjusterKind::Lateral => "side screw",
        AdjusterKind::Depth => "depth turnbuckle",
    }
}

const fn motions(kind: AdjusterKind) -> &'static str {
    match kind {
        AdjusterKind::Infeed => "tool_in or tool_out",
        AdjusterKind::Height => "edge_up or edge_down",
        AdjusterKind::Taper => "far_diameter_up or far_diameter_down",
        AdjusterKind::Lateral => "toward_collet or away_from_collet",
        AdjusterKind::Depth => "deeper or shallower",
    }
}

const fn moves_words(motion: Motion) -> &'static str {
    match motion {
        Motion::ToolIn => "the tool moves in",
        Motion::ToolOut => "the tool moves out",
        Motion::EdgeUp => "the edge is lifted",
        Motion::EdgeDown => "the edge is lowered",
        Motion::FarDiameterUp => "the far diameter grows",
        Motion::FarDiameterDown => "the far diameter shrinks",
        Motion::TowardCollet => "the form moves toward the collet",
        Motion::AwayFromCollet => "the form moves away from the collet",
        Motion::Deeper => "the drill goes deeper",
        Motion::Shallower => "the drill goes less deep",
    }
}

/// A checked screw; lengths in millimetres.
#[derive(Clone, Debug)]
pub(crate) struct Screw {
    name: String,
    pub(crate) travel_per_turn: f64,
    pub(crate) ratio: f64,
    clockwise_moves: Motion,
    seen_from: String,
    /// NaN unless given; a taper screw always has it.
    pub(crate) arm: f64,
    has_stop: bool,
    backlash: f64,
}

impl Screw {
    /// The turns that move the tool by `tool_travel` millimetres (a magnitude). `effect` continues the sentence after
    /// what moves: "by 0.0010 in"; `expect` is what to see afterwards.
    pub(crate) fn correct(
        &self,
        unit: Unit,
        motion: Motion,
        tool_travel: f64,
        effect: &str,
        expect: Option<&str>,
    ) -> Correction {
        let screw_travel = tool_travel / self.ratio;
        let turns = screw_travel / self.travel_per_turn;
        let direction = if motion == self.clockwise_moves { Turn::Clockwise } else { Turn::Counterclockwise };
        let flats = (turns * 6.0).round();
        let mut sentence = if self.has_stop { "Back the stop off. ".to_owned() } else { String::new() };
        sentence.push_str(&format!(
            "Turn the {} {} {} turn ({}), seen from {}: {} {effect}.",
            self.name,
            direction.name(),
            number_words(turns),
            flats_words(turns, flats),
            self.seen_from,
            moves_words(motion),
        ));
        let backlash_turns = (self.backlash > 0.0).then_some(self.backlash / self.travel_per_turn);
        if let Some(lost) = backlash_turns {
            let lost = number_words(lost);
            sentence.push_str(&if motion.is_against_cut() {
                format!(
                    " Go at least {lost} turn farther and come back by as much, to finish in the cutting direction."
                )
            } else {
                format!(" If the last turn went the other way, take up {lost} turn of lost motion first, then count.")
            });
        }
        if self.has_stop {
            sentence.push_str(" Size a piece, then reset the stop.");
        }
        if let Some(expect) = expect {
            sentence.push_str(&format!(" Expect {expect}."));
        }
        Correction {
            adjuster: self.name.clone(),
            moves: motion,
            travel: unit.outward(screw_travel),
            turns: rounded(turns),
            direction,
            seen_from: self.seen_from.clone(),
            flats,
            backlash_turns: backlash_turns.map(rounded),
            sentence,
        }
    }
}

/// A screw to turn.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "ScrewCorrection")]
pub struct Correction {
    /// The screw's name.
    pub adjuster: String,
    /// What it moves, and which way.
    pub moves: Motion,
    /// Screw travel, a magnitude, in the answer's unit.
    pub travel: f64,
    /// Turns, a magnitude.
    pub turns: f64,
    /// The sense of the turn.
    pub direction: Turn,
    /// From where the sense is seen.
    pub seen_from: String,
    /// The nearest count of hex flats, sixths of a turn.
    pub flats: f64,
    /// Turns lost when the sense of turning changes, where the screw has backlash.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub backlash_turns: Option<f64>,
    /// What to do, in words.
    pub sentence: String,
}

/// Turns for a sentence: three decimals, more where that reads as zero.
fn number_words(turns: f64) -> String {
    if turns >= 0.0005 { format!("{turns:.3}") } else { format!("{turns:.6}") }
}

fn flats_words(turns: f64, flats: f64) -> String {
    if flats < 1.0 {
        "less than half a flat".to_owned()
    } else {
        let about = if (turns * 6.0 - flats).abs() < 1e-9 { "" } else { "about " };
        format!("{about}{flats} {}", if flats == 1.0 { "flat" } else { "flats" })
    }
}

/// The sentence of an answer that moves nothing.
pub(crate) fn leave_it_alone(reason: &str) -> String {
    format!("Leave it alone: {reason}.")
}
