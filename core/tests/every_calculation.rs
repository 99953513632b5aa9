//! What holds for every calculation alike: the same request gives the same bytes, a change of unit changes nothing but
//! the unit, whatever is accepted gives finite numbers, and whatever is refused names its field.
#![expect(clippy::unwrap_used, clippy::panic, reason = "a test may panic")]

mod requests;

use dovetally_core::{
    calc::{ALL, CalculationError, find},
    length::{Length, LengthUnit},
};
use proptest::prelude::*;
use requests::requests;
use serde_json::{Value, json};

/// The fields that hold lengths, whichever calculation they belong to.
const LENGTHS: &[&str] = &[
    "travel_per_turn",
    "shop_height_limit",
    "arm",
    "backlash",
    "pitch",
    "bar_diameter",
    "bar_tolerance",
    "runout",
    "smallest_diameter",
    "rise",
    "wanted_gap",
    "bar_length",
    "remnant",
    "part_length",
    "cutoff",
    "facing",
    "lower_limit",
    "upper_limit",
    "readings",
    "mean",
    "standard_deviation",
    "height",
    "diameter",
    "lower",
    "upper",
    "tool_radius",
    "face_below_center",
    "feed_per_revolution",
    "radial_depth",
    "approach",
    "target_depth",
    "mouth_diameter",
    "pilot_diameter",
    "pilot_length",
    "z",
    "target_diameter",
    "measured_diameter",
    "diameter_standard_uncertainty",
    "pivot_z",
    "pivot_x",
    "measured",
    "standard_uncertainty",
    "target_length",
    "measured_length",
    "minimum_height",
    "wear_land",
    "clean_up",
    "stock_per_grind",
    "target",
    "applied",
    "process_standard_deviation",
    "measured_diameters",
    "near_diameter",
    "far_diameter",
    "distance",
    "value",
];

fn calculate(name: &str, request: &Value) -> Result<String, CalculationError> {
    (find(name).unwrap().calculate)(request.to_string().as_bytes())
}

fn answered(name: &str, request: &Value) -> Value {
    serde_json::from_str(&calculate(name, request).unwrap_or_else(|error| panic!("{name} {request}: {error}"))).unwrap()
}

/// A request in millimetres: exactly the same lengths.
fn in_millimetres(value: &Value, is_length: bool) -> Value {
    match value {
        Value::Number(number) if is_length => {
            Length::new(number.as_f64().unwrap(), LengthUnit::Inch).unwrap().value_in(LengthUnit::Millimetre).into()
        }
        Value::Array(items) => items.iter().map(|item| in_millimetres(item, is_length)).collect(),
        Value::Object(fields) => fields
            .iter()
            .map(|(name, field)| {
                let field =
                    if name == "unit" { json!("mm") } else { in_millimetres(field, LENGTHS.contains(&name.as_str())) };
                (name.clone(), field)
            })
            .collect(),
        other => other.clone(),
    }
}

/// Every number of a value, with its pointer.
fn numbers(value: &Value, pointer: &str, into: &mut Vec<(String, f64)>) {
    match value {
        Value::Number(number) => into.push((pointer.to_owned(), number.as_f64().unwrap())),
        Value::Array(items) => {
            items.iter().enumerate().for_each(|(i, item)| numbers(item, &format!("{pointer}/{i}"), into));
        }
        Value::Object(fields) => {
            fields.iter().for_each(|(name, field)| numbers(field, &format!("{pointer}/{name}"), into))
        }
        _ => {}
    }
}

fn has_null(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(items) => items.iter().any(has_null),
        Value::Object(fields) => fields.values().any(has_null),
        _ => false,
    }
}

#[test]
fn every_calculation_is_here() {
    let asked = requests();
    for entry in ALL {
        assert!(asked.iter().any(|(name, _)| *name == entry.name), "{} has a request", entry.name);
        assert!(entry.answers.ends_with('.') && entry.version >= 1);
    }
    assert!(ALL.windows(2).all(|pair| pair[0].name < pair[1].name), "in the order of names, each once");
    assert!(find("guess").is_none());
}

#[test]
fn answers_show_their_work() {
    for (name, request) in requests() {
        let first = calculate(name, &request).unwrap();
        assert_eq!(first, calculate(name, &request).unwrap(), "{name}: the same bytes");
        let answer: Value = serde_json::from_str(&first).unwrap();
        assert_eq!(answer["calculation"], name);
        for list in ["steps", "corrections", "cautions", "sources"] {
            assert!(answer[list].is_array(), "{name}: {list}");
        }
        assert!(!answer["steps"].as_array().unwrap().is_empty(), "{name} shows steps");
        assert!(!answer["sources"].as_array().unwrap().is_empty(), "{name} names sources");
        assert!(!answer["sentence"].as_str().unwrap().is_empty());
        assert_eq!(answer["unit"], request.get("unit").cloned().unwrap_or(Value::Null), "{name}");
        // The request as understood is itself a request with the same answer.
        assert_eq!(answered(name, &answer["inputs"])["result"], answer["result"], "{name}");
    }
}

#[test]
fn millimetres_say_what_inches_say() {
    for (name, request) in requests().into_iter().filter(|(_, request)| request.get("unit").is_some()) {
        let inch = answered(name, &request);
        let metric = answered(name, &in_millimetres(&request, false));
        for part in ["result", "corrections"] {
            let (mut a, mut b) = (Vec::new(), Vec::new());
            numbers(&inch[part], "", &mut a);
            numbers(&metric[part], "", &mut b);
            assert_eq!(a.len(), b.len(), "{name}");
            for ((pointer, inches), (_, millimetres)) in a.iter().zip(&b) {
                // An error of size is a small difference of sizes and has their last digits: hence the floor.
                // A count or an angle is the same; a length is 25.4 times, a squared one 645.16 times as much, and feet a
                // minute are 0.3048 metres.
                let same = [1.0, 25.4, 645.16, 0.3048].iter().any(|factor| {
                    let expected = inches * factor;
                    (millimetres - expected).abs() <= 1e-12 * expected.abs().max(1e-1)
                });
                assert!(same, "{name} {part}{pointer}: {inches} in, {millimetres} mm");
            }
        }
    }
}

#[test]
fn what_is_not_a_request_is_refused() {
    for (name, request) in requests() {
        let mut unknown = request.clone();
        unknown["favourite_colour"] = json!(1);
        let error = calculate(name, &unknown).unwrap_err();
        assert_eq!(error.fields()[0].pointer, "/favourite_colour", "{name}");
        if request.get("unit").is_some() {
            let mut unitless = request.clone();
            unitless.as_object_mut().unwrap().remove("unit");
            assert_eq!(calculate(name, &unitless).unwrap_err().fields()[0].pointer, "/unit", "{name}");
        }
        for text in ["", "{", "NaN", "[1]", "7", "{\"unit\": NaN}", &format!("{request} {request}")] {
            assert!((find(name).unwrap().calculate)(text.as_bytes()).is_err(), "{name}: {text}");
        }
        let mut wide = Vec::new();
        numbers(&request, "", &mut wide);
        for (pointer, _) in wide {
            let mut wrong = request.clone();
            *wrong.pointer_mut(&pointer).unwrap() = json!("seven");
            let error = calculate(name, &wrong).unwrap_err();
            assert_eq!(error.fields()[0].pointer, pointer, "{name}: {error}");
        }
    }
}

/// Numbers that calculations stumble over.
fn strange() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => prop::sample::select(vec![
            0.0, -0.0, 1.0, -1.0, 2.0, 0.5, 1e-12, -1e-12, 1e-300, 5e-324, 1e300, -1e300, f64::MAX, 10_000.0, 9_999.999,
            90.0, 89.999_999, 180.0, 360.0, 0.999_999_999, 1e6, 1e9, 1e15,
        ]),
        2 => -10.0..10.0_f64,
        1 => -1e4..1e4_f64,
        1 => (-12.0..6.0_f64).prop_map(|power| 10.0_f64.powf(power)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(1500) })]

    /// Whatever is accepted gives finite numbers, twice the same; whatever is refused names a field and says why.
    #[test]
    fn strange_numbers_do_no_harm(
        which in any::<prop::sample::Index>(),
        changes in prop::collection::vec((any::<prop::sample::Index>(), strange()), 1..4),
    ) {
        let all = requests();
        let (name, mut request) = all[which.index(all.len())].clone();
        let mut places = Vec::new();
        numbers(&request, "", &mut places);
        for (place, number) in changes {
            let (pointer, before) = &places[place.index(places.len())];
            let place = request.pointer_mut(pointer).unwrap();
            // Whole fields stay whole, or the type alone would refuse them.
            *place = if before.fract() == 0.0 && (0.0..1e15).contains(&number) && number.fract() == 0.0 {
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole, and checked")]
                let whole = number as u64;
                json!(whole)
            } else {
                json!(number)
            };
        }
        match calculate(name, &request) {
            Ok(text) => {
                let answer: Value = serde_json::from_str(&text).unwrap();
                for part in ["result", "corrections", "steps"] {
                    prop_assert!(!has_null(&answer[part]), "{name} {request}: {text}");
                }
                prop_assert!(!text.contains("NaN") && !text.contains("inf "), "{name} {request}: {text}");
                prop_assert_eq!(text, calculate(name, &request).unwrap());
            }
            Err(error) => {
                prop_assert!(!error.fields().is_empty(), "{name} {request}: {error}");
                prop_assert!(error.fields().iter().all(|field| !field.detail.is_empty()));
            }
        }
    }
}
