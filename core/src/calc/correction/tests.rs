use super::{AdjusterInput, Screw};
use crate::{
    adjuster::{AdjusterKind, Motion, Turn},
    calc::{error::Reader, rounding::Unit},
    code::Code,
    length::LengthUnit,
};

fn read(json: &str, kind: AdjusterKind) -> Result<Screw, String> {
    let input: AdjusterInput = serde_json::from_str(json).map_err(|error| error.to_string())?;
    let mut reader = Reader::new(LengthUnit::Inch);
    let screw = input.read(&mut reader, "/adjuster", kind);
    reader.finish().map_err(|error| error.to_string())?;
    Ok(screw)
}

#[test]
fn half_a_flat_more_than_one_turn_says_so() {
    let screw = read(
        r#"{"travel_per_turn": 0.05, "clockwise_moves": "tool_in", "seen_from": "the operator's side",
            "has_stop": true, "backlash": 0.005}"#,
        AdjusterKind::Infeed,
    )
    .unwrap();
    let unit = Unit(LengthUnit::Inch);
    let correction = screw.correct(unit, Motion::ToolOut, 0.055 * 25.4, "by 0.0550 in", Some("0.3750 in"));
    assert_eq!((correction.turns, correction.flats, correction.direction), (1.1, 7.0, Turn::Counterclockwise));
    assert_eq!(
        correction.sentence,
        "Back the stop off. Turn the slide turnbuckle counterclockwise 1.100 turn (about 7 flats), seen from the \
         operator's side: the tool moves out by 0.0550 in. Go at least 0.100 turn farther and come back by as much, \
         to finish in the cutting direction. Size a piece, then reset the stop. Expect 0.3750 in."
    );
}

#[test]
fn an_adjuster_that_cannot_be_is_refused() {
    let infeed = AdjusterKind::Infeed;
    for (json, kind, wrong) in [
        (r#"{"clockwise_moves": "tool_in"}"#, infeed, "/adjuster: give travel_per_turn or threads"),
        (r#"{"travel_per_turn": 0, "clockwise_moves": "tool_in"}"#, infeed, "/adjuster/travel_per_turn: must be above"),
        (
            r#"{"travel_per_turn": 1, "ratio": -1, "clockwise_moves": "tool_in"}"#,
            infeed,
            "/adjuster/ratio: must be above",
        ),
        (
            r#"{"travel_per_turn": 1, "clockwise_moves": "deeper"}"#,
            infeed,
            "/adjuster/clockwise_moves: this correction",
        ),
        (
            r#"{"travel_per_turn": 1, "clockwise_moves": "far_diameter_up"}"#,
            AdjusterKind::Taper,
            "/adjuster/arm: a taper",
        ),
        (
            r#"{"travel_per_turn": 1, "backlash": -1, "clockwise_moves": "tool_in"}"#,
            infeed,
            "/adjuster/backlash: must not",
        ),
        (
            r#"{"threads": [{"per_inch": 20, "hand": "right"}], "arrangement": "turnbuckle", "clockwise_moves": "tool_in"}"#,
            infeed,
            "/adjuster/threads: a turnbuckle has two threads",
        ),
        (
            r#"{"threads": [{"per_inch": 20, "pitch": 1, "hand": "right"}], "clockwise_moves": "tool_in"}"#,
            infeed,
            "/adjuster/threads/0: give per_inch or pitch",
        ),
        (r#"{"travel_per_turn": 1, "clockwise_moves": "tool_in", "speed": 1}"#, infeed, "unknown field `speed`"),
    ] {
        let error = read(json, kind).unwrap_err();
        assert!(error.starts_with(wrong), "{json}: {error}");
    }
}

#[test]
fn a_stored_adjuster_comes_back() {
    let input: AdjusterInput = serde_json::from_str(
        r#"{"name": "slide turnbuckle", "threads": [{"pitch": 1.25, "hand": "right"}, {"pitch": 1.25, "hand": "left"}],
            "arrangement": "turnbuckle", "ratio": 0.5, "clockwise_moves": "tool_in", "seen_from": "the rear",
            "has_stop": true, "backlash": 0.05}"#,
    )
    .unwrap();
    let stored = input.to_stored(Code::parse("SLIDE").unwrap(), LengthUnit::Millimetre).unwrap();
    assert!(stored.is_sound());
    assert_eq!(AdjusterInput::from_stored(&stored, LengthUnit::Millimetre), input);
}
