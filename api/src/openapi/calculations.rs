//! One documented operation for each calculation, with the schemas of the very types that read and answer.
//!
//! One route serves them all; the document has the trade's names, so that a client is generated with them.

use dovetally_core::calc::{self, Entry};
use serde_json::{Map, Value, json};

/// The path of the one route.
const GENERIC: &str = "/v1/calculations/{name}";

/// Puts an operation for each calculation in the place of the route's own.
pub(super) fn expand(document: &mut Value) {
    let Some(generic) =
        document.pointer_mut("/paths").and_then(Value::as_object_mut).and_then(|paths| paths.remove(GENERIC))
    else {
        return;
    };
    for entry in calc::ALL {
        let request = hoist(document, (entry.request_schema)());
        let answer = hoist(document, (entry.answer_schema)());
        document["paths"][format!("/v1/calculations/{}", entry.name)] = operation(&generic, entry, &request, &answer);
    }
}

fn operation(generic: &Value, entry: &Entry, request: &str, answer: &str) -> Value {
    let mut item = generic.clone();
    let operation = &mut item["post"];
    operation["operationId"] = json!(format!("calculate_{}", entry.name.replace('-', "_")));
    operation["summary"] = json!(entry.answers.trim_end_matches('.'));
    operation["description"] = json!(format!(
        "Nothing is stored, and the same request gives the same bytes. Formula, signs, sources and a worked example: \
         `/docs/calculations/{}`.",
        entry.name
    ));
    if let Some(operation) = operation.as_object_mut() {
        operation.remove("parameters");
    }
    let media = |schema: &str, example: Value| json!({"schema": {"$ref": format!("#/components/schemas/{schema}")}, "example": example});
    // Examples that do not read would be found by the calculation's own tests.
    let example: Value = serde_json::from_str(entry.example).unwrap_or_default();
    let answered = (entry.calculate)(entry.example.as_bytes()).unwrap_or_default();
    let answered: Value = serde_json::from_str(&answered).unwrap_or_default();
    operation["requestBody"]["content"]["application/json"] = media(request, example);
    operation["responses"]["200"]["content"]["application/json"] = media(answer, answered);
    if let Some(responses) = operation["responses"].as_object_mut() {
        responses.remove("404");
    }
    item
}

/// Moves a schema and what it is made of into the document's common parts; its name there.
fn hoist(document: &mut Value, mut schema: Value) -> String {
    let parts = schema.as_object_mut().and_then(|schema| {
        schema.remove("$schema");
        schema.remove("$defs")
    });
    let name = schema["title"].as_str().unwrap_or_default().to_owned();
    let mut all = match parts {
        Some(Value::Object(parts)) => parts,
        _ => Map::new(),
    };
    all.insert(name.clone(), schema);
    for (name, mut part) in all {
        adapt(&mut part);
        // The name stands above it.
        part.as_object_mut().and_then(|fields| fields.remove("title"));
        document["components"]["schemas"][&name] = part;
    }
    name
}

fn adapt(value: &mut Value) {
    match value {
        Value::Object(fields) => {
            if let Some(Value::String(reference)) = fields.get_mut("$ref") {
                *reference = reference.replace("#/$defs/", "#/components/schemas/");
            }
            // The document's own types know no `const`; a list of one says the same.
            if let Some(only) = fields.remove("const") {
                fields.insert("enum".to_owned(), json!([only]));
            }
            fields.values_mut().for_each(adapt);
        }
        Value::Array(items) => items.iter_mut().for_each(adapt),
        // 10000.0 and 10000 are one number; the document writes the shorter one.
        Value::Number(number) => {
            if let Some(whole) = number.as_f64().filter(|number| number.fract() == 0.0 && number.abs() <= 1e15) {
                #[expect(clippy::cast_possible_truncation, reason = "a whole number, at most 10^15")]
                let whole = whole as i64;
                *number = whole.into();
            }
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::{GENERIC, hoist};
    use crate::{openapi::document, server};
    use dovetally_core::calc;
    use serde_json::Value;

    /// What the document says of a calculation is what the calculation's own schema says, to the last keyword.
    #[test]
    fn every_calculation_is_an_operation_with_its_own_schemas() {
        let document = serde_json::to_value(document(server::operations, server::TAGS)).unwrap();
        assert!(document["paths"][GENERIC].is_null());
        for entry in calc::ALL {
            let operation = &document["paths"][format!("/v1/calculations/{}", entry.name)]["post"];
            let body = &operation["requestBody"]["content"]["application/json"];
            assert_eq!(body["example"], serde_json::from_str::<Value>(entry.example).unwrap());
            let mut alone = serde_json::json!({});
            let request = hoist(&mut alone, (entry.request_schema)());
            let answer = hoist(&mut alone, (entry.answer_schema)());
            assert_eq!(body["schema"]["$ref"], format!("#/components/schemas/{request}"));
            let answered = &operation["responses"]["200"]["content"]["application/json"]["schema"]["$ref"];
            assert_eq!(*answered, format!("#/components/schemas/{answer}"));
            for (name, schema) in alone["components"]["schemas"].as_object().unwrap() {
                assert_eq!(document["components"]["schemas"][name], *schema, "{name}");
            }
        }
    }
}
