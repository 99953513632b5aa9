//! Values from outside, each with its source and how it was checked beside it in `values.json`: "text seen",
//! "transcription", "recalled" or "derived". Every one is run, or stands in a list that says why not; none is skipped in
//! silence.
#![expect(clippy::unwrap_used, clippy::panic, reason = "a test may panic")]

mod production;
mod setting;
mod statistics;

use dovetally_core::calc::find;
use serde_json::Value;

/// What a check compares.
enum Check {
    /// A number of `expected`.
    Near(&'static str, f64),
    /// Something that must hold.
    Holds(&'static str, bool),
}
use Check::{Holds, Near};

/// Values of tables that the calculations take as given, or of rules that they do not contain.
const NOT_CALCULATED: &[(&str, &str)] = &[
    ("T6-SIZE-5", "a drill's dimensions are entered, not computed"),
    ("T6-SIZE-6", "a drill's dimensions are entered, not computed"),
    ("T6-SIZE-8", "a drill's dimensions are entered, not computed"),
    ("T7-ALLOW-2.5", "a rule of thumb for extra stock; scrap is a fraction that is entered"),
    ("T7-ALLOW-4.5", "a rule of thumb for extra stock; scrap is a fraction that is entered"),
    ("T9-IT14-100", "limits come from the drawing, not from tolerance grades"),
    ("T9-IT20", "limits come from the drawing, not from tolerance grades"),
    ("T9-IT7-18-30", "limits come from the drawing, not from tolerance grades"),
    ("T9-IT9-18-30", "limits come from the drawing, not from tolerance grades"),
    ("T9-IT10-18-30", "limits come from the drawing, not from tolerance grades"),
    ("T10-N-MEAN", "no calculation plans sample sizes"),
    ("T11-NV-UNIF", "demand is normal or Poisson, never uniform"),
];

/// Values that `tests/least_squares.rs` checks, through the solver itself.
const CHECKED_BY_THE_SOLVER: &[&str] = &["T10-MISRA1A", "T10-RAT42"];

#[test]
fn every_value_from_outside() {
    let entries: Vec<Value> = serde_json::from_str(include_str!("values.json")).unwrap();
    let (mut run, mut elsewhere, mut wrong) = (0, 0, Vec::new());
    for entry in &entries {
        let id = entry["id"].as_str().unwrap();
        assert!(
            ["text seen", "transcription", "recalled", "derived"].contains(&entry["status"].as_str().unwrap()),
            "{id} says how it was checked"
        );
        assert!(!entry["source"].as_str().unwrap().is_empty());
        if NOT_CALCULATED.iter().any(|(name, _)| *name == id) || CHECKED_BY_THE_SOLVER.contains(&id) {
            elsewhere += 1;
            continue;
        }
        run += 1;
        let checks = checks(id, &entry["inputs"], &entry["expected"]);
        let mut named: Vec<&str> = Vec::new();
        for check in &checks {
            match check {
                Near(name, got) => {
                    named.push(name);
                    let expected = number(&entry["expected"], name);
                    let tolerance = entry["tolerance"].as_f64().unwrap_or_else(|| number(&entry["tolerance"], name));
                    // A tolerance of half a last digit, and the last bits of that half.
                    if (got - expected).abs() > tolerance * (1.0 + 1e-9) || got.is_nan() {
                        wrong.push(format!("{id} {name}: {got}, {expected} ± {tolerance} by {}", entry["source"]));
                    }
                }
                Holds(name, holds) => {
                    named.push(name);
                    if !holds {
                        wrong.push(format!("{id} {name}: {} by {}", entry["expected"], entry["source"]));
                    }
                }
            }
        }
        for name in entry["expected"].as_object().unwrap().keys() {
            assert!(named.contains(&name.as_str()), "{id}: {name} is compared");
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert_eq!(elsewhere, NOT_CALCULATED.len() + CHECKED_BY_THE_SOLVER.len());
    assert_eq!(run + elsewhere, 107, "every value was seen");
}

fn number(of: &Value, name: &str) -> f64 {
    of[name].as_f64().unwrap_or_else(|| panic!("{name} in {of}"))
}

fn ask(name: &str, request: &Value) -> Value {
    let text = (find(name).unwrap().calculate)(request.to_string().as_bytes());
    serde_json::from_str(&text.unwrap_or_else(|error| panic!("{name} {request}: {error}"))).unwrap()
}

fn at(answer: &Value, pointer: &str) -> f64 {
    answer.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer} in {answer}"))
}

fn checks(id: &str, given: &Value, expected: &Value) -> Vec<Check> {
    match id.split('-').next().unwrap() {
        "T1" | "T2" | "T3" => setting::form_tools(id, given),
        "T4" | "T5" | "T6" => setting::setting(id, given, expected),
        "T7" | "T8" => production::production(id, given, expected),
        "T9" => production::measurement(id, given, expected),
        "T10" => statistics::statistics(id, given),
        "T11" | "T12" => statistics::stock_and_lives(id, given),
        _ => panic!("{id} has no check"),
    }
}
