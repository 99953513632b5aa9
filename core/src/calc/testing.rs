//! What the tests of all calculations share: a base request, changed field by field, sent as JSON text.

use super::registry::find;
use serde_json::Value;

/// `base` with the fields of `change` put over it; `null` takes a field away.
fn changed(base: &str, change: &str) -> String {
    let mut request: Value = serde_json::from_str(base).unwrap();
    let change: Value = serde_json::from_str(change).unwrap();
    let fields = request.as_object_mut().unwrap();
    for (name, value) in change.as_object().unwrap() {
        if value.is_null() {
            fields.remove(name);
        } else {
            fields.insert(name.clone(), value.clone());
        }
    }
    request.to_string()
}

/// The answer to a changed request; answering twice gives the same bytes.
pub(crate) fn answer(base: &str, name: &str, change: &str) -> Value {
    let request = changed(base, change);
    let calculate = find(name).unwrap().calculate;
    let text = calculate(request.as_bytes()).unwrap_or_else(|error| panic!("{name} {request}: {error}"));
    assert_eq!(calculate(request.as_bytes()).unwrap(), text);
    serde_json::from_str(&text).unwrap()
}

/// Each change is refused, and the refusal names the field.
pub(crate) fn refused(base: &str, name: &str, changes: &[(&str, &str)]) {
    answer(base, name, "{}");
    for (change, pointer) in changes {
        let request = changed(base, change);
        let error = (find(name).unwrap().calculate)(request.as_bytes()).expect_err(&request);
        let named: Vec<&str> = error.fields().iter().map(|field| field.pointer.as_str()).collect();
        assert!(named.contains(pointer), "{request}: {pointer} expected, {error}");
        assert!(error.fields().iter().all(|field| !field.detail.is_empty()));
    }
}

/// A number of an answer, by JSON pointer.
pub(crate) fn at(answer: &Value, pointer: &str) -> f64 {
    answer.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer} in {answer}"))
}
