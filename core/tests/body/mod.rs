//! What must hold for any bytes at all that are sent as a calculation's request. One assertion, for the mutations of the
//! ordinary tests and for the fuzz targets.

use dovetally_core::calc::{CalculationError, find};
use serde_json::Value;

/// Sends a body. It may be refused, with reasons; an answer is JSON without a null, and it is the same a second time.
/// Returns whether it was answered.
///
/// # Panics
/// When any of this does not hold.
pub(crate) fn check(name: &str, body: &[u8]) -> bool {
    let entry = find(name).unwrap_or_else(|| panic!("no calculation is called {name}"));
    let shown = || String::from_utf8_lossy(body).into_owned();
    match (entry.calculate)(body) {
        Ok(text) => {
            let answer: Value =
                serde_json::from_str(&text).unwrap_or_else(|error| panic!("{name} {}: {text}: {error}", shown()));
            // What is not a number can only be written as null.
            assert!(!has_null(&answer), "{name} {}: {text}", shown());
            assert_eq!(answer["calculation"], name);
            for prose in ["sentence", "cautions"] {
                let prose = answer[prose].to_string();
                assert!(!prose.contains("NaN") && !prose.contains("inf "), "{name} {}: {prose}", shown());
            }
            assert_eq!((entry.calculate)(body).as_ref(), Ok(&text), "{name} {}: the same bytes", shown());
            true
        }
        Err(CalculationError::Malformed(detail)) => {
            assert!(!detail.is_empty(), "{name} {}", shown());
            false
        }
        Err(CalculationError::Refused(fields)) => {
            assert!(!fields.is_empty(), "{name} {}", shown());
            for field in fields {
                assert!(!field.detail.is_empty(), "{name} {}: {}", shown(), field.pointer);
                assert!(field.pointer.is_empty() || field.pointer.starts_with('/'), "{name} {}", field.pointer);
            }
            false
        }
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
