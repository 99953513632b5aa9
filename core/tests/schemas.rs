//! The schemas of requests and answers say what the program does: what it reads they allow, what it answers they
//! describe, and what they call required or unknown it refuses.
#![expect(clippy::unwrap_used, clippy::panic, reason = "a test may panic")]

mod requests;

use dovetally_core::calc::{ALL, CalculationError, Entry, find};
use jsonschema::Validator;
use proptest::prelude::*;
use serde_json::{Map, Value, json};
use std::{collections::BTreeMap, sync::LazyLock};

/// A compiled request schema for each calculation.
static REQUESTS: LazyLock<BTreeMap<&str, Validator>> =
    LazyLock::new(|| ALL.iter().map(|entry| (entry.name, compiled(&(entry.request_schema)()))).collect());

/// The bodies that every test starts from: the examples, and the requests that other tests share.
static BODIES: LazyLock<Vec<(&str, Value)>> = LazyLock::new(|| {
    let examples = ALL.iter().map(|entry| (entry.name, serde_json::from_str(entry.example).unwrap()));
    examples.chain(requests::requests()).collect()
});

fn compiled(schema: &Value) -> Validator {
    jsonschema::draft202012::meta::validate(schema).unwrap_or_else(|error| panic!("{error}: {schema}"));
    jsonschema::validator_for(schema).unwrap_or_else(|error| panic!("{error}: {schema}"))
}

fn calculate(name: &str, request: &Value) -> Result<String, CalculationError> {
    (find(name).unwrap().calculate)(request.to_string().as_bytes())
}

/// What a validator has against a value, in words; nothing when it is valid.
fn complaints(validator: &Validator, value: &Value) -> String {
    let lines: Vec<String> =
        validator.iter_errors(value).map(|error| format!("{}: {error}", error.instance_path())).collect();
    lines.join("; ")
}

/// The same schema, but no object may hold what it does not describe.
fn closed(schema: &Value) -> Value {
    match schema {
        Value::Object(fields) => {
            let mut fields: Map<String, Value> =
                fields.iter().map(|(name, field)| (name.clone(), closed(field))).collect();
            if fields.get("properties").is_some_and(Value::is_object) && fields.contains_key("type") {
                fields.insert("additionalProperties".to_owned(), json!(false));
            }
            Value::Object(fields)
        }
        Value::Array(items) => items.iter().map(closed).collect(),
        other => other.clone(),
    }
}

/// Visits every part of a value, with its pointer.
fn walk(value: &Value, pointer: &str, visit: &mut impl FnMut(&str, &Value)) {
    visit(pointer, value);
    match value {
        Value::Array(items) => items.iter().enumerate().for_each(|(i, v)| walk(v, &format!("{pointer}/{i}"), visit)),
        Value::Object(fields) => fields.iter().for_each(|(name, v)| walk(v, &format!("{pointer}/{name}"), visit)),
        _ => {}
    }
}

/// Every part of a value that `wanted` holds for.
fn parts(value: &Value, wanted: impl Fn(&Value) -> bool) -> Vec<String> {
    let mut found = Vec::new();
    walk(value, "", &mut |pointer, part| {
        if wanted(part) {
            found.push(pointer.to_owned());
        }
    });
    found
}

#[test]
fn requests_and_their_answers_are_what_the_schemas_say() {
    let answers: BTreeMap<&str, Validator> =
        ALL.iter().map(|entry| (entry.name, compiled(&closed(&(entry.answer_schema)())))).collect();
    for (name, request) in BODIES.iter() {
        assert_eq!(complaints(&REQUESTS[name], request), "", "{name} {request}");
        let answer = calculate(name, request).unwrap_or_else(|error| panic!("{name} {request}: {error}"));
        let answer: Value = serde_json::from_str(&answer).unwrap();
        assert_eq!(complaints(&answers[name], &answer), "", "{name} {answer}");
        // And what an answer always has, its schema requires.
        for part in ["calculation", "version", "inputs", "result", "sentence", "steps", "corrections"] {
            let mut less = answer.clone();
            less.as_object_mut().unwrap().remove(part);
            assert!(!answers[name].is_valid(&less), "{name}: {part} is required");
        }
        assert_eq!(request.get("unit").is_some(), answer.get("unit").is_some());
    }
}

#[test]
fn what_a_schema_does_not_know_the_program_does_not_read() {
    for (name, request) in BODIES.iter() {
        for object in parts(request, Value::is_object) {
            let mut more = request.clone();
            more.pointer_mut(&object).unwrap()["favourite_colour"] = json!(1);
            assert!(!REQUESTS[name].is_valid(&more), "{name} {more}");
            let error = calculate(name, &more).unwrap_err();
            assert!(error.to_string().contains("favourite_colour"), "{name} {more}: {error}");
        }
    }
}

#[test]
fn what_a_schema_requires_the_program_misses() {
    for (name, request) in BODIES.iter() {
        let required = (find(name).unwrap().request_schema)()["required"].clone();
        assert_eq!(
            required.is_null(),
            name == &"tool-life",
            "{name}: only tool-life may be asked in more than one way"
        );
        for field in required.as_array().into_iter().flatten() {
            let pointer = format!("/{}", field.as_str().unwrap());
            assert_eq!(missed(name, request, &pointer), Some(true), "{name} requires {pointer}");
        }
        // Deeper, and the other way round: what the program misses, the schema requires.
        for pointer in parts(request, |_| true) {
            missed(name, request, &pointer);
        }
    }
}

/// Takes a field away. Says whether the program misses it, after a look at whether the schema agrees; nothing for what
/// is no field of an object.
fn missed(name: &str, request: &Value, pointer: &str) -> Option<bool> {
    let (parent, field) = pointer.rsplit_once('/')?;
    let mut less = request.clone();
    less.pointer_mut(parent)?.as_object_mut()?.remove(field)?;
    let missed = calculate(name, &less).is_err_and(|error| error.to_string().contains("missing field"));
    assert_eq!(missed, !REQUESTS[name].is_valid(&less), "{name} {less}: {:?}", calculate(name, &less));
    Some(missed)
}

#[test]
fn schemas_speak_for_themselves() {
    for Entry { name, request_schema, answer_schema, .. } in ALL {
        let pascal: String = name.split('-').map(|word| word[..1].to_uppercase() + &word[1..]).collect();
        for (schema, kind) in [(request_schema(), "Request"), (answer_schema(), "Answer")] {
            assert_eq!(schema["title"], format!("{pascal}{kind}"));
            assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
            walk(&schema, "", &mut |pointer, part| {
                if let Some(reference) = part.get("$ref") {
                    let inside = reference.as_str().unwrap().strip_prefix('#').unwrap();
                    assert!(schema.pointer(inside).is_some(), "{name}{pointer}: {reference} is in the document");
                }
                if let Some(Value::String(text)) = part.get("description") {
                    assert!(!text.contains("[`") && !text.contains("::"), "{name}{pointer} speaks of code: {text}");
                }
                // An object of fields, and not a field that happens to be called so.
                let Some(Value::Object(fields)) = part.get("properties") else { return };
                for (field, described) in fields {
                    let text = described.get("description").and_then(Value::as_str).unwrap_or_default();
                    assert!(text.len() > 5, "{name} {kind}{pointer}/{field} is described: {described}");
                }
            });
        }
        assert_eq!(request_schema()["additionalProperties"], false, "{name}");
    }
}

#[test]
fn one_name_stands_for_one_schema() {
    let mut gathered: BTreeMap<String, (Value, String)> = BTreeMap::new();
    for entry in ALL {
        for mut schema in [(entry.request_schema)(), (entry.answer_schema)()] {
            let fields = schema.as_object_mut().unwrap();
            fields.remove("$schema");
            let mut definitions = fields.remove("$defs").and_then(|d| d.as_object().cloned()).unwrap_or_default();
            definitions.insert(schema["title"].as_str().unwrap().to_owned(), schema);
            for (name, definition) in definitions {
                assert_eq!(definition["title"], name);
                let held = gathered.entry(name.clone()).or_insert((definition.clone(), entry.name.to_owned()));
                assert_eq!(held.0, definition, "{name} of {} and of {}", held.1, entry.name);
            }
        }
    }
    assert!(gathered.len() > 3 * ALL.len());
}

/// Values of every kind that a field might be given.
fn values() -> impl Strategy<Value = Value> {
    let plain = prop::sample::select(vec![
        json!(null),
        json!(true),
        json!(false),
        json!(0),
        json!(-0.0),
        json!(1),
        json!(2),
        json!(-1),
        json!(0.5),
        json!(-0.5),
        json!(0.95),
        json!(1e-10),
        json!(1e-9),
        json!(89.9),
        json!(90),
        json!(-90),
        json!(180),
        json!(360),
        json!(10_000),
        json!(10_001),
        json!(1e12),
        json!(1e300),
        json!(u64::MAX),
        json!(""),
        json!("in"),
        json!("mm"),
        json!("flat"),
        json!("single"),
        json!("right"),
        json!("tool_in"),
        json!("least_cost"),
        json!("hexagon"),
        json!([]),
        json!({}),
        json!([0.5]),
        json!([1, 2, 3]),
        json!(["taper"]),
        json!([[1, 2], [2, 3]]),
        json!({"lower": -0.001, "upper": 0.002}),
        json!({"lower": 0}),
    ]);
    prop_oneof![3 => plain, 1 => (-20.0..20.0_f64).prop_map(Value::from), 1 => (0..40_u32).prop_map(Value::from)]
}

#[derive(Clone, Debug)]
enum Change {
    Replace(Value),
    Drop,
    /// Another field of any request, under its name, or what `values` gives.
    Add(prop::sample::Index, Option<Value>),
}

fn changes() -> impl Strategy<Value = Change> {
    prop_oneof![
        4 => values().prop_map(Change::Replace),
        2 => Just(Change::Drop),
        3 => (any::<prop::sample::Index>(), prop::option::of(values())).prop_map(|(which, value)| Change::Add(which, value)),
    ]
}

/// Every field of every request, and those that only the schemas name.
static FIELDS: LazyLock<Vec<(String, Value)>> = LazyLock::new(|| {
    let mut fields = Vec::new();
    for (_, request) in BODIES.iter() {
        walk(request, "", &mut |pointer, value| {
            let name = pointer.rsplit('/').next().unwrap();
            if !name.is_empty() && name.parse::<usize>().is_err() {
                fields.push((name.to_owned(), value.clone()));
            }
        });
    }
    for entry in ALL {
        walk(&(entry.request_schema)(), "", &mut |_, part| {
            if let Some(Value::Object(properties)) = part.get("properties") {
                fields.extend(properties.keys().map(|name| (name.clone(), json!(0.25))));
            }
        });
    }
    fields.sort_by_key(|(name, value)| (name.clone(), value.to_string()));
    fields.dedup();
    fields
});

/// Whether the program took a list for an object's fields in their order, or an object for a name: the library that
/// reads JSON does both. The schemas describe neither, for nobody should write so.
fn read_from_a_list(written: &Value, understood: &Value) -> bool {
    match (written, understood) {
        (Value::Array(_), Value::Object(_)) | (Value::Object(_), Value::String(_)) => true,
        (Value::Array(a), Value::Array(b)) => a.iter().zip(b).any(|(a, b)| read_from_a_list(a, b)),
        (Value::Object(a), Value::Object(b)) => {
            a.iter().any(|(name, a)| b.get(name).is_some_and(|b| read_from_a_list(a, b)))
        }
        _ => false,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(6000) })]

    /// However a request is changed: what the program reads, the schema allows.
    #[test]
    fn what_the_program_reads_the_schema_allows(
        which in any::<prop::sample::Index>(),
        changes in prop::collection::vec((any::<prop::sample::Index>(), changes()), 1..4),
    ) {
        let (name, mut request) = BODIES[which.index(BODIES.len())].clone();
        for (place, change) in changes {
            let places = parts(&request, |part| !matches!(change, Change::Add(..)) || part.is_object());
            let Some(pointer) = places.get(place.index(places.len().max(1))) else { continue };
            match change {
                Change::Replace(value) => *request.pointer_mut(pointer).unwrap() = value,
                Change::Drop => {
                    let Some((parent, last)) = pointer.rsplit_once('/') else { continue };
                    match request.pointer_mut(parent).unwrap() {
                        Value::Object(fields) => drop(fields.remove(last)),
                        Value::Array(items) => drop(items.remove(last.parse().unwrap())),
                        _ => {}
                    }
                }
                Change::Add(which, value) => {
                    let (field, usual) = &FIELDS[which.index(FIELDS.len())];
                    request.pointer_mut(pointer).unwrap()[field.as_str()] = value.unwrap_or_else(|| usual.clone());
                }
            }
        }
        if let Ok(answer) = calculate(name, &request) {
            let answer: Value = serde_json::from_str(&answer).unwrap();
            let complaint = complaints(&REQUESTS[name], &request);
            prop_assert!(
                complaint.is_empty() || read_from_a_list(&request, &answer["inputs"]),
                "{} reads {}, but: {}", name, request, complaint
            );
        }
    }
}
