//! JSON Schemas of requests and answers, taken from the very types that read and write them, and the bounds that a
//! [`Reader`](super::error::Reader) holds each number to. Draft 2020-12, the dialect of OpenAPI 3.1.
//!
//! Every document is whole in itself: what it refers to stands in its own `$defs`. A name stands for the same schema in
//! all of them, so that the definitions of all calculations may be gathered in one place.

use super::{answer::Answer, answer::Calculation, error::SMALLEST_POSITIVE};
use crate::length::LARGEST_VALUE;
use schemars::{
    JsonSchema, Schema, SchemaGenerator,
    generate::SchemaSettings,
    transform::{RecursiveTransform, transform_subschemas},
};
use serde_json::{Map, Value, json};

const DEFINITIONS: &str = "$defs";

/// What a calculation's request may be: what the program reads, no more and hardly less.
pub(crate) fn request_schema<C: Calculation>() -> Value {
    let mut document = SchemaSettings::draft2020_12().into_generator().into_root_schema_for::<C::Request>();
    name_all(&mut document);
    document.to_value()
}

/// What a calculation's answer is. The request in it, with its defaults filled in, is a request.
pub(crate) fn answer_schema<C: Calculation>() -> Value {
    let generator =
        SchemaSettings::draft2020_12().for_serialize().with_transform(RecursiveTransform(never_null)).into_generator();
    let mut document = generator.into_root_schema_for::<Answer<Asked, C::Result>>();
    let title = C::Result::schema_name().trim_end_matches("Result").to_owned() + "Answer";
    document.insert("title".to_owned(), title.into());
    document.insert("description".to_owned(), C::ANSWERS.into());

    let mut requests = SchemaSettings::draft2020_12().into_generator();
    let asked = requests.subschema_for::<C::Request>();
    let definitions = requests.take_definitions(true);
    let has_unit = definitions
        .get(C::Request::schema_name().as_ref())
        .is_some_and(|request| request.pointer("/properties/unit").is_some());
    fields_mut(&mut document, DEFINITIONS).extend(definitions);
    let properties = fields_mut(&mut document, "properties");
    let mut fix = |name: &str, part: Value| {
        if let (Some(Value::Object(property)), Value::Object(part)) = (properties.get_mut(name), part) {
            property.remove("type");
            property.extend(part);
        }
    };
    fix("inputs", asked.to_value());
    fix("calculation", json!({"type": "string", "const": C::NAME}));
    fix("version", json!({"type": "integer", "const": C::VERSION}));
    if !has_unit {
        properties.remove("unit");
    } else if let Some(Value::Array(required)) = document.get_mut("required") {
        required.push("unit".into());
    }
    name_all(&mut document);
    document.to_value()
}

/// Stands for the request while the rest of an answer is described, for the two follow different rules: a request may
/// leave out what has a default, an answer holds it.
struct Asked;

impl JsonSchema for Asked {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Asked".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        schemars::json_schema!({"type": "object"})
    }
}

/// An object within a schema, made where it is missing.
fn fields_mut<'a>(schema: &'a mut Schema, name: &str) -> &'a mut Map<String, Value> {
    let held = schema.ensure_object().entry(name).or_insert_with(|| Value::Object(Map::new()));
    if !held.is_object() {
        *held = Value::Object(Map::new());
    }
    match held {
        Value::Object(fields) => fields,
        _ => unreachable!("it was just made an object"),
    }
}

/// Gives every definition its name as its title, as the document itself has one.
fn name_all(document: &mut Schema) {
    for (name, definition) in fields_mut(document, DEFINITIONS) {
        if let Value::Object(definition) = definition {
            definition.insert("title".to_owned(), name.as_str().into());
        }
    }
}

/// Answers leave out what is not there; they never say null.
fn never_null(schema: &mut Schema) {
    let Some(fields) = schema.as_object_mut() else { return };
    if let Some(Value::Array(types)) = fields.get_mut("type") {
        types.retain(|kind| kind != "null");
        if let [only] = types.as_slice() {
            let only = only.clone();
            fields.insert("type".to_owned(), only);
        }
    }
    if let Some(Value::Array(choices)) = fields.get_mut("anyOf") {
        choices.retain(|choice| choice.get("type").is_none_or(|kind| kind != "null"));
        if let [Value::Object(only)] = choices.as_slice() {
            let only = only.clone();
            fields.remove("anyOf");
            fields.extend(only);
        }
    }
}

/// Puts a bound on a number, or on every number of a list, however deep.
fn bound(schema: &mut Schema, keyword: &str, value: f64) {
    if schema.get("items").is_some() {
        transform_subschemas(&mut |inner: &mut Schema| bound(inner, keyword, value), schema);
    } else {
        schema.insert(keyword.to_owned(), value.into());
    }
}

fn say(schema: &mut Schema, more: &str) {
    if let Some(Value::String(text)) = schema.get_mut("description") {
        text.push(' ');
        text.push_str(more);
    }
}

/// A length of either sign.
pub(crate) fn length(schema: &mut Schema) {
    between(schema, -LARGEST_VALUE, LARGEST_VALUE);
    say(schema, "In the request's unit.");
}

/// A length above zero, and large enough to be measured.
pub(crate) fn positive_length(schema: &mut Schema) {
    between(schema, SMALLEST_POSITIVE, LARGEST_VALUE);
    say(schema, "In the request's unit.");
}

/// A length of zero or more.
pub(crate) fn not_negative_length(schema: &mut Schema) {
    between(schema, 0.0, LARGEST_VALUE);
    say(schema, "In the request's unit.");
}

/// Above zero.
pub(crate) fn positive(schema: &mut Schema) {
    bound(schema, "exclusiveMinimum", 0.0);
}

/// Zero or more.
pub(crate) fn not_negative(schema: &mut Schema) {
    bound(schema, "minimum", 0.0);
}

/// Above 0 and up to 1.
pub(crate) fn fraction(schema: &mut Schema) {
    positive(schema);
    bound(schema, "maximum", 1.0);
}

/// Between 0 and 1, both excluded.
pub(crate) fn probability(schema: &mut Schema) {
    positive(schema);
    bound(schema, "exclusiveMaximum", 1.0);
}

/// A probability from a half up to, but not with, certainty.
pub(crate) fn likely(schema: &mut Schema) {
    bound(schema, "minimum", 0.5);
    bound(schema, "exclusiveMaximum", 1.0);
}

/// A form tool's clearance in degrees.
pub(crate) fn clearance(schema: &mut Schema) {
    not_negative(schema);
    bound(schema, "exclusiveMaximum", 90.0);
}

/// A rake or a half angle in degrees.
pub(crate) fn acute(schema: &mut Schema) {
    bound(schema, "exclusiveMinimum", -90.0);
    bound(schema, "exclusiveMaximum", 90.0);
}

/// From one bound to another, both included.
pub(crate) fn between(schema: &mut Schema, least: f64, most: f64) {
    bound(schema, "minimum", least);
    bound(schema, "maximum", most);
}
