//! What has no answer is refused, at the field that is wrong and in words that help: no unit, a field that is not known, a
//! number that is none, geometry that cannot be, too few readings and how many more.
#![expect(clippy::unwrap_used, reason = "a test may panic")]

mod cases;

use cases::{GEOMETRY, LIMITS, Refusal, SCREWS, TOO_FEW};
use dovetally_core::{
    calc::{ALL, CalculationError, find},
    field_error::FieldError,
};
use serde_json::Value;

fn example(name: &str) -> Value {
    serde_json::from_str(find(name).unwrap().example).unwrap()
}

fn calculate(name: &str, body: &str) -> Result<String, CalculationError> {
    (find(name).unwrap().calculate)(body.as_bytes())
}

/// Everything that is wrong with a list of refusals: nothing, when all are as written.
fn wrong(refusals: &[Refusal]) -> Vec<String> {
    let mut wrong = Vec::new();
    for (name, change, pointer, words) in refusals {
        let mut request = example(name);
        let change: Value = serde_json::from_str(change).unwrap();
        for (field, value) in change.as_object().unwrap() {
            let fields = request.as_object_mut().unwrap();
            fields.insert(field.clone(), value.clone());
            fields.retain(|_, value| !value.is_null());
        }
        match calculate(name, &request.to_string()) {
            Ok(answer) => wrong.push(format!("{name} {change} is answered: {answer}")),
            Err(error) => {
                let said = |field: &FieldError| {
                    field.pointer == *pointer && words.iter().all(|word| field.detail.contains(word))
                };
                if !error.fields().iter().any(said) {
                    wrong.push(format!("{name} {change}: {pointer} {words:?} expected, {error}"));
                }
            }
        }
    }
    wrong
}

#[test]
fn what_cannot_be_is_refused_in_words() {
    let wrong: Vec<String> = [GEOMETRY, SCREWS, TOO_FEW, LIMITS].into_iter().flat_map(wrong).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    for entry in ALL {
        let refused = |list: &[Refusal]| list.iter().any(|(name, ..)| *name == entry.name);
        assert!([GEOMETRY, SCREWS, TOO_FEW, LIMITS].into_iter().any(refused), "{} refuses something", entry.name);
    }
}

#[test]
fn a_request_without_a_unit_is_refused_where_it_has_lengths() {
    let mut unitless = Vec::new();
    for entry in ALL {
        let mut request = example(entry.name);
        if request.as_object_mut().unwrap().remove("unit").is_none() {
            unitless.push(entry.name);
            continue;
        }
        let error = calculate(entry.name, &request.to_string()).unwrap_err();
        assert_eq!(error.fields().len(), 1, "{}: {error}", entry.name);
        assert_eq!(error.fields()[0].pointer, "/unit", "{}", entry.name);
        assert!(error.fields()[0].detail.contains("missing field"), "{error}");
        for wrong in ["cm", "IN", "inch", ""] {
            request["unit"] = wrong.into();
            let error = calculate(entry.name, &request.to_string()).unwrap_err();
            assert_eq!(error.fields()[0].pointer, "/unit", "{} {wrong}", entry.name);
            assert!(error.to_string().contains("`in` or `mm`"), "{error}");
        }
    }
    // None of these asks for a length.
    assert_eq!(
        unitless,
        ["control-limits", "intermittent-demand", "life-distribution", "mtbf", "reorder", "tool-life"]
    );
}

#[test]
fn a_number_that_is_none_is_refused_wherever_it_stands() {
    for entry in ALL {
        let request = example(entry.name);
        let mut pointers = Vec::new();
        numbers(&request, "", &mut pointers);
        assert!(!pointers.is_empty());
        for pointer in pointers {
            let mut holed = request.clone();
            *holed.pointer_mut(&pointer).unwrap() = "hole".into();
            let with = |number: &str| calculate(entry.name, &holed.to_string().replace("\"hole\"", number));
            // Beyond every number the program has.
            for infinite in ["1e999", "-1e999"] {
                let error = with(infinite).unwrap_err();
                let [field] = error.fields() else { panic!("{}{pointer}: {error:?}", entry.name) };
                assert!(pointer.starts_with(&field.pointer) && field.detail.contains("too large"), "{error}");
            }
            // Not JSON at all.
            for word in ["NaN", "-NaN", "Infinity", "-Infinity", "inf"] {
                let error = with(word).unwrap_err();
                assert!(matches!(error, CalculationError::Malformed(_)), "{}{pointer}: {error:?}", entry.name);
                assert!(error.to_string().starts_with("not JSON"), "{error}");
            }
        }
    }
}

fn numbers(value: &Value, pointer: &str, into: &mut Vec<String>) {
    match value {
        Value::Number(_) => into.push(pointer.to_owned()),
        Value::Array(items) => items.iter().enumerate().for_each(|(i, v)| numbers(v, &format!("{pointer}/{i}"), into)),
        Value::Object(fields) => fields.iter().for_each(|(name, v)| numbers(v, &format!("{pointer}/{name}"), into)),
        _ => {}
    }
}
