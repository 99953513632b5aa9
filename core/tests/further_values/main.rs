//! Further values, none of them by the formulas under test: published ones with their source, and others by another
//! route that each names. `generate.py` writes `values.json`.

use dovetally_core::calc::find;
use serde_json::Value;

#[test]
fn every_further_value() {
    let entries: Vec<Value> = serde_json::from_str(include_str!("values.json")).unwrap();
    let mut wrong = Vec::new();
    let mut compared = 0;
    for entry in &entries {
        let text = |name: &str| entry[name].as_str().unwrap();
        assert!(["text seen", "transcription", "recalled", "derived"].contains(&text("status")), "{}", text("id"));
        let calculation = find(text("calculation")).unwrap();
        let answer = (calculation.calculate)(entry["request"].to_string().as_bytes())
            .unwrap_or_else(|error| panic!("{}: {error}", text("id")));
        let answer: Value = serde_json::from_str(&answer).unwrap();
        let tolerance = entry["tolerance"].as_f64().unwrap();
        for (pointer, expected) in entry["expected"].as_object().unwrap() {
            compared += 1;
            let got = answer.pointer(pointer).and_then(Value::as_f64);
            let near = got.is_some_and(|got| (got - expected.as_f64().unwrap()).abs() <= tolerance);
            if !near {
                wrong.push(format!(
                    "{} {pointer}: {got:?}, {expected} ± {tolerance} by {}",
                    text("id"),
                    text("source")
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert_eq!(entries.len(), ENTRIES);
    assert!(compared > ENTRIES);
}

/// How many `generate.py` writes.
const ENTRIES: usize = 49;
