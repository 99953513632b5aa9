//! `screw-travel`: travel of single, turnbuckle and differential screws.

use super::{
    answer::{Answer, Calculation, Source, Work},
    correction::{ThreadInput, thread_travel},
    error::{CalculationError, Reader},
};
use crate::{adjuster::Arrangement, length::LengthUnit};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The calculation.
#[derive(Debug)]
pub struct ScrewTravel;

/// The screw and its turns.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "ScrewTravelRequest")]
pub struct Request {
    /// The unit of all lengths.
    pub unit: LengthUnit,
    /// One thread, or two for a turnbuckle or a differential screw.
    #[schemars(length(min = 1, max = 2))]
    pub threads: Vec<ThreadInput>,
    /// How they work together.
    pub arrangement: Arrangement,
    /// How far it is turned; the sign is carried through.
    #[schemars(range(min = -1e6, max = 1e6))]
    pub turns: f64,
}

/// How far it moves.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "ScrewTravelResult")]
pub struct Moved {
    /// Travel of those turns.
    pub travel: f64,
    /// Travel of one turn.
    pub travel_per_turn: f64,
}

impl Calculation for ScrewTravel {
    const NAME: &'static str = "screw-travel";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "Travel of single, turnbuckle (opposite hands) and differential (same hand) screws.";
    const EXAMPLE: &'static str = r#"{"unit": "in", "threads": [{"per_inch": 20, "hand": "right"}, {"per_inch": 24, "hand": "right"}],
        "arrangement": "differential", "turns": 1.5}"#;
    type Request = Request;
    type Result = Moved;

    fn calculate(request: &Request) -> Result<Answer<Request, Moved>, CalculationError> {
        let mut reader = Reader::new(request.unit);
        let per_turn = thread_travel(&mut reader, "/threads", &request.threads, request.arrangement);
        let turns = reader.number("/turns", request.turns);
        reader.refuse_if(turns.abs() > 1e6, "/turns", "no screw turns a million times");
        reader.finish()?;
        let unit = reader.unit;
        let mut work = Work::new(unit);
        work.length("p", "travel in one turn", per_turn);
        let sentence = format!("{turns} turn moves {}, {} a turn.", unit.words(per_turn * turns), unit.words(per_turn));
        let moved = Moved { travel: unit.outward(per_turn * turns), travel_per_turn: unit.outward(per_turn) };
        Ok(work.answer::<Self>(request.clone(), moved, sentence, &[Source::GEOMETRY]))
    }
}

#[cfg(test)]
mod tests {
    use crate::calc::testing::{answer, at, refused};

    const BASE: &str =
        r#"{"unit": "in", "threads": [{"per_inch": 28, "hand": "right"}], "arrangement": "single", "turns": 1}"#;

    #[test]
    fn impossible_screws_are_refused() {
        refused(
            BASE,
            "screw-travel",
            &[
                (r#"{"unit": null}"#, "/unit"),
                (r#"{"threads": []}"#, "/threads"),
                (r#"{"threads": [{"per_inch": 0, "hand": "right"}]}"#, "/threads/0/per_inch"),
                (r#"{"threads": [{"pitch": -1, "hand": "right"}]}"#, "/threads/0/pitch"),
                (r#"{"threads": [{"hand": "right"}]}"#, "/threads/0"),
                (r#"{"threads": [{"per_inch": 20}]}"#, "/threads/0/hand"),
                (r#"{"threads": [{"per_inch": 20, "hand": "both"}]}"#, "/threads/0/hand"),
                (r#"{"arrangement": "turnbuckle"}"#, "/threads"),
                (r#"{"arrangement": "differential"}"#, "/threads"),
                (r#"{"threads": [{"per_inch": 20, "hand": "right"}, {"per_inch": 20, "hand": "left"}]}"#, "/threads"),
                (
                    r#"{"threads": [{"per_inch": 20, "hand": "right"}, {"per_inch": 20, "hand": "right"}], "arrangement": "turnbuckle"}"#,
                    "/threads",
                ),
                (
                    r#"{"threads": [{"per_inch": 20, "hand": "right"}, {"per_inch": 24, "hand": "left"}], "arrangement": "differential"}"#,
                    "/threads",
                ),
                (
                    r#"{"threads": [{"per_inch": 20, "hand": "right"}, {"pitch": 0.05, "hand": "right"}], "arrangement": "differential"}"#,
                    "/threads",
                ),
                (r#"{"turns": 1e7}"#, "/turns"),
                (r#"{"pitch": 1}"#, "/pitch"),
            ],
        );
    }

    /// A 28-per-inch height screw lifts 1/28 in in a turn (common practice, no published source).
    #[test]
    fn a_turn_of_28_threads_an_inch() {
        assert!((at(&answer(BASE, "screw-travel", "{}"), "/result/travel") - 1.0 / 28.0).abs() < 1e-14);
        assert!(
            (at(&answer(BASE, "screw-travel", r#"{"unit": "mm", "turns": -0.5}"#), "/result/travel") + 12.7 / 28.0)
                .abs()
                < 1e-13
        );
    }
}
