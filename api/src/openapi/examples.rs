//! An example for every JSON body, built from its schema where nobody wrote one; the schemas of merge patches, which ask
//! for no field; and no schema that nothing refers to.
//!
//! It works on the document as JSON: what is added follows from what the document already says.

use serde_json::{Map, Value, json};
use std::collections::BTreeSet;

const PREFIX: &str = "#/components/schemas/";
const MERGE_PATCH: &str = "application/merge-patch+json";
const METHODS: [&str; 5] = ["get", "post", "put", "patch", "delete"];
/// Schemas nest less deep than this.
const DEEPEST: usize = 16;

/// Completes a document.
pub(super) fn complete(document: &mut Value) {
    let mut schemas = document["components"]["schemas"].take();
    if let Some(paths) = document["paths"].as_object_mut() {
        for item in paths.values_mut() {
            for method in METHODS {
                let Some(operation) = item.get_mut(method) else { continue };
                complete_content(operation.pointer_mut("/requestBody/content"), &mut schemas);
                if let Some(responses) = operation["responses"].as_object_mut() {
                    for response in responses.values_mut() {
                        complete_content(response.get_mut("content"), &mut schemas);
                    }
                }
            }
        }
    }
    document["components"]["schemas"] = schemas;
    drop_unused_schemas(document);
}

fn complete_content(content: Option<&mut Value>, schemas: &mut Value) {
    let Some(content) = content.and_then(Value::as_object_mut) else { return };
    for (media_type, body) in content {
        if !media_type.ends_with("json") {
            continue;
        }
        if body.get("example").is_none() && body.get("examples").is_none() {
            let example = example(&body["schema"], schemas, 0);
            body["example"] = example;
        }
        if media_type == MERGE_PATCH {
            to_patch(&mut body["schema"], schemas);
        }
    }
}

/// A merge patch has the fields of what it changes, and none of them has to be there.
fn to_patch(schema: &mut Value, schemas: &mut Value) {
    let Some(name) = schema["$ref"].as_str().and_then(|at| at.strip_prefix(PREFIX)) else { return };
    let mut patch = schemas[name].clone();
    if let Some(members) = patch.as_object_mut() {
        members.remove("required");
    }
    let name = format!("{name}Patch");
    schemas[&name] = patch;
    *schema = json!({ "$ref": format!("{PREFIX}{name}") });
}

/// A value that fits a schema, with the examples that stand in it.
fn example(schema: &Value, schemas: &Value, depth: usize) -> Value {
    if depth > DEEPEST {
        return Value::Null;
    }
    if let Some(name) = schema["$ref"].as_str().and_then(|at| at.strip_prefix(PREFIX)) {
        return example(&schemas[name], schemas, depth + 1);
    }
    let written = [&schema["example"], &schema["examples"][0], &schema["const"], &schema["enum"][0]];
    if let Some(written) = written.into_iter().find(|value| !value.is_null()) {
        return written.clone();
    }
    if let Some(parts) = schema["allOf"].as_array() {
        let mut whole = Map::new();
        for part in parts {
            if let Value::Object(members) = example(part, schemas, depth + 1) {
                whole.extend(members);
            }
        }
        return Value::Object(whole);
    }
    for choice in ["oneOf", "anyOf"] {
        if let Some(first) = schema[choice].as_array().and_then(|all| all.iter().find(|one| one["type"] != "null")) {
            return example(first, schemas, depth + 1);
        }
    }
    let kind = match &schema["type"] {
        Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).find(|kind| *kind != "null"),
        kind => kind.as_str(),
    };
    match kind {
        Some("object") => {
            let properties = schema["properties"].as_object();
            let members = properties.into_iter().flatten();
            members.map(|(name, inner)| (name.clone(), example(inner, schemas, depth + 1))).collect()
        }
        Some("array") => json!([example(&schema["items"], schemas, depth + 1)]),
        Some("string") => json!(match schema["format"].as_str() {
            Some("date-time") => "2026-11-25T08:00:00Z",
            Some("date") => "2026-11-25",
            Some("uuid") => "01a212e3-7776-742d-b743-0b01305c5f59",
            _ => "text",
        }),
        Some("integer") => json!(schema["minimum"].as_i64().unwrap_or(1).max(1)),
        Some("number") => {
            json!(schema["exclusiveMinimum"].as_f64().or(schema["minimum"].as_f64()).map_or(1.0, |m| m.max(1.0)))
        }
        Some("boolean") => json!(true),
        _ => json!({}),
    }
}

fn drop_unused_schemas(document: &mut Value) {
    loop {
        let mut named = BTreeSet::new();
        references(document, &mut named);
        let Some(schemas) = document["components"]["schemas"].as_object_mut() else { return };
        let before = schemas.len();
        schemas.retain(|name, _| named.contains(name));
        if schemas.len() == before {
            return;
        }
    }
}

fn references(value: &Value, named: &mut BTreeSet<String>) {
    match value {
        Value::String(text) => {
            named.extend(text.strip_prefix(PREFIX).map(str::to_owned));
        }
        Value::Array(items) => items.iter().for_each(|item| references(item, named)),
        Value::Object(members) => members.values().for_each(|member| references(member, named)),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::complete;
    use serde_json::json;

    #[test]
    fn bodies_get_examples_patches_lose_required_and_unused_schemas_go() {
        let mut document = json!({
            "paths": {"/v1/bins/{code}": {"patch": {
                "requestBody": {"content": {"application/merge-patch+json": {"schema": {"$ref": "#/components/schemas/Bin"}}}},
                "responses": {"200": {"content": {"application/json": {"schema": {"$ref": "#/components/schemas/Bin"}}}}},
            }}},
            "components": {"schemas": {
                "Bin": {"type": "object", "required": ["name"], "properties": {
                    "name": {"type": "string", "example": "Drawer"},
                    "since": {"type": ["string", "null"], "format": "date"},
                    "kind": {"$ref": "#/components/schemas/Kind"},
                }},
                "Kind": {"type": "string", "enum": ["bin", "shelf"]},
                "Loose": {"type": "string"},
            }},
        });
        complete(&mut document);
        let patch = &document["paths"]["/v1/bins/{code}"]["patch"];
        let body = &patch["responses"]["200"]["content"]["application/json"];
        assert_eq!(body["example"], json!({"name": "Drawer", "since": "2026-11-25", "kind": "bin"}));
        let changed = &patch["requestBody"]["content"]["application/merge-patch+json"]["schema"];
        assert_eq!(changed["$ref"], "#/components/schemas/BinPatch");
        let schemas = &document["components"]["schemas"];
        assert!(schemas["BinPatch"]["required"].is_null() && schemas["Bin"]["required"].is_array());
        assert!(schemas["Loose"].is_null() && schemas["Kind"].is_object());
    }
}
