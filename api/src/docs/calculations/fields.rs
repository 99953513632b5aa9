//! The fields of a request, read from its JSON Schema: names, what they mean, and whether they are needed.

use serde_json::Value;

/// One field.
pub(super) struct Field {
    /// Where it stands: `steps[].diameter`.
    pub(super) path: String,
    /// What it means, and the words it can be.
    pub(super) meaning: String,
    /// Whether a request without it is refused.
    pub(super) needed: bool,
}

/// All fields of a schema that is whole in itself, each followed by what is inside it; those that are needed come first.
pub(super) fn fields(schema: &Value) -> Vec<Field> {
    let mut found = Found { definitions: &schema["$defs"], opened: Vec::new(), fields: Vec::new() };
    found.object(schema, "");
    found.fields
}

struct Found<'a> {
    definitions: &'a Value,
    /// Definitions whose fields stand in the list already, and under what.
    opened: Vec<(&'a str, String)>,
    fields: Vec<Field>,
}

impl<'a> Found<'a> {
    fn object(&mut self, object: &'a Value, prefix: &str) {
        let Some(properties) = object["properties"].as_object() else { return };
        let needed = |name: &str| {
            object["required"].as_array().is_some_and(|names| names.iter().any(|known| known.as_str() == Some(name)))
        };
        let (first, then): (Vec<_>, Vec<_>) = properties.iter().partition(|(name, _)| needed(name));
        for (name, property) in first.into_iter().chain(then) {
            self.property(property, format!("{prefix}{name}"), needed(name));
        }
    }

    fn property(&mut self, property: &'a Value, path: String, needed: bool) {
        let referred = definition(property)
            .and_then(|(name, many)| self.definitions.get(name).map(|defined| (name, many, defined)));
        let defined = referred.map(|(_, _, defined)| defined);
        let described =
            [Some(property), defined].into_iter().flatten().find_map(|schema| schema["description"].as_str());
        // Descriptions are the types' own, with code in backquotes.
        let mut meaning = described.unwrap_or_default().replace('`', "");
        let choices: Vec<&str> = [Some(property), defined].into_iter().flatten().flat_map(words).collect();
        if !choices.is_empty() {
            meaning.push_str(&format!(" One of {}.", choices.join(", ")));
        }
        let inside = referred.filter(|(_, _, defined)| defined["properties"].is_object());
        let before = inside.and_then(|(name, ..)| self.opened.iter().find(|(opened, _)| *opened == name));
        if let Some((_, place)) = before {
            meaning.push_str(&format!(" Its fields are those of {place}."));
        }
        let open = inside.filter(|_| before.is_none());
        self.fields.push(Field { path: path.clone(), meaning, needed });
        if let Some((name, many, defined)) = open {
            self.opened.push((name, path.clone()));
            self.object(defined, &format!("{path}{many}."));
        }
    }
}

/// The definition that a property, or each of its elements, refers to; with `[]` for elements.
fn definition(property: &Value) -> Option<(&str, &'static str)> {
    if let Some(reference) = property["$ref"].as_str() {
        return reference.rsplit('/').next().map(|name| (name, ""));
    }
    if property["items"].is_object() {
        return definition(&property["items"]).map(|(name, _)| (name, "[]"));
    }
    property["anyOf"].as_array()?.iter().find_map(definition)
}

/// The words that a text can be.
fn words(schema: &Value) -> Vec<&str> {
    let mut found: Vec<&Value> = schema["enum"].as_array().into_iter().flatten().collect();
    for choice in schema["oneOf"].as_array().into_iter().flatten() {
        found.extend(choice.get("const"));
        found.extend(choice["enum"].as_array().into_iter().flatten());
    }
    found.into_iter().filter_map(Value::as_str).collect()
}

#[cfg(test)]
mod tests {
    use super::fields;
    use serde_json::json;

    #[test]
    fn fields_come_with_what_is_inside_them() {
        let schema = json!({
            "properties": {
                "adjuster": {"anyOf": [{"$ref": "#/$defs/Screw"}, {"type": "null"}], "description": "The screw."},
                "second": {"$ref": "#/$defs/Screw", "description": "Another."},
                "unit": {"$ref": "#/$defs/Unit", "description": "The `unit`."},
                "steps": {"type": "array", "items": {"$ref": "#/$defs/Step"}, "description": "The steps."},
            },
            "required": ["unit", "steps"],
            "$defs": {
                "Screw": {"properties": {"hand": {"oneOf": [{"const": "left"}, {"const": "right"}], "description": "Its hand."}},
                    "required": ["hand"]},
                "Step": {"properties": {"diameter": {"type": "number", "description": "Its diameter."}}},
                "Unit": {"type": "string", "enum": ["in", "mm"]},
            },
        });
        let told: Vec<(String, String, bool)> =
            fields(&schema).into_iter().map(|field| (field.path, field.meaning, field.needed)).collect();
        let expected = [
            ("steps", "The steps.", true),
            ("steps[].diameter", "Its diameter.", false),
            ("unit", "The unit. One of in, mm.", true),
            ("adjuster", "The screw.", false),
            ("adjuster.hand", "Its hand. One of left, right.", true),
            ("second", "Another. Its fields are those of adjuster.", false),
        ]
        .map(|(path, meaning, needed)| (path.to_owned(), meaning.to_owned(), needed));
        assert_eq!(told, expected);
    }
}
