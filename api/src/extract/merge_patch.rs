//! JSON Merge Patch (RFC 7396).
//!
//! Our lengths are objects with a value and a unit. A patch gives a length whole: merging a bare value into a stored
//! one would keep the old unit, and a change from 0.75 in to 19 could become 19 in.

use super::{
    body::{MAX_BODY, is_media_type, read},
    fault, json,
};
use crate::problem::Problem;
use actix_web::{FromRequest, HttpRequest, dev::Payload, web::Bytes};
use serde::{
    Deserialize, Deserializer, Serialize,
    de::{DeserializeOwned, Error as _, MapAccess, SeqAccess, Visitor},
};
use serde_json::{Map, Value};
use std::{fmt, future::Future, pin::Pin};

/// The media type of a merge patch.
pub const MERGE_PATCH: &str = "application/merge-patch+json";

/// A merge patch as it came: an object.
#[derive(Clone, Debug)]
pub struct MergePatch {
    fields: Map<String, Value>,
    bytes: Bytes,
}

impl MergePatch {
    fn parse(bytes: Bytes) -> Result<Self, Problem> {
        match json::parse::<Strict>(&bytes)? {
            Strict(Value::Object(fields)) => Ok(Self { fields, bytes }),
            Strict(_) => Err(Problem::field("", "a patch is an object")),
        }
    }

    /// A patch of these fields that no request brought.
    pub(crate) fn of(fields: Map<String, Value>) -> Result<Self, Problem> {
        let bytes = serde_json::to_vec(&fields).map_err(Problem::internal)?.into();
        Ok(Self { fields, bytes })
    }

    /// The patched fields.
    #[must_use]
    pub fn fields(&self) -> &Map<String, Value> {
        &self.fields
    }

    /// The body exactly as it came.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Refuses fields that follow from records.
    ///
    /// # Errors
    /// 422 that names every one of them that the patch has.
    pub fn refuse_read_only(&self, names: &[&str]) -> Result<(), Problem> {
        let mut found = names.iter().filter(|name| self.fields.contains_key(**name)).map(fault::step);
        let Some(first) = found.next() else { return Ok(()) };
        Err(found.fold(Problem::read_only_field(first), |problem, pointer| {
            problem.and_field(pointer, "it follows from records and cannot be set")
        }))
    }

    /// The resource as the patch leaves it: `current` shown as what clients may write, patched, and read again.
    ///
    /// # Errors
    /// 422 with the pointer of what does not fit; 500 when `current` cannot be shown as JSON.
    pub fn applied_to<T: Serialize + DeserializeOwned>(&self, current: &T) -> Result<T, Problem> {
        let mut value = serde_json::to_value(current).map_err(Problem::internal)?;
        apply(&mut value, &Value::Object(self.fields.clone()));
        fault::from_value(value)
    }
}

/// Applies a patch to a document: RFC 7396, section 2, except that a length in the document is replaced whole.
pub fn apply(target: &mut Value, patch: &Value) {
    let Value::Object(fields) = patch else {
        *target = patch.clone();
        return;
    };
    if !target.is_object() || is_length(target) {
        *target = Value::Object(Map::new());
    }
    let Value::Object(document) = target else { return };
    for (name, value) in fields {
        if value.is_null() {
            document.remove(name);
        } else {
            apply(document.entry(name.clone()).or_insert(Value::Null), value);
        }
    }
}

fn is_length(value: &Value) -> bool {
    value.as_object().is_some_and(|fields| {
        fields.len() == 2
            && fields.get("value").is_some_and(Value::is_number)
            && fields.get("unit").is_some_and(Value::is_string)
    })
}

/// A JSON value in which no object has a key twice: with two, which of them counts is anybody's guess.
struct Strict(Value);

struct StrictVisitor;

impl<'de> Visitor<'de> for StrictVisitor {
    type Value = Strict;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E>(self) -> Result<Strict, E> {
        Ok(Strict(Value::Null))
    }

    fn visit_bool<E>(self, value: bool) -> Result<Strict, E> {
        Ok(Strict(value.into()))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Strict, E> {
        Ok(Strict(value.into()))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Strict, E> {
        Ok(Strict(value.into()))
    }

    fn visit_f64<E>(self, value: f64) -> Result<Strict, E> {
        Ok(Strict(value.into()))
    }

    fn visit_str<E>(self, value: &str) -> Result<Strict, E> {
        Ok(Strict(value.into()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut access: A) -> Result<Strict, A::Error> {
        let mut items = Vec::new();
        while let Some(Strict(item)) = access.next_element()? {
            items.push(item);
        }
        Ok(Strict(items.into()))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> Result<Strict, A::Error> {
        let mut fields = Map::new();
        while let Some(name) = access.next_key::<String>()? {
            if fields.contains_key(&name) {
                return Err(A::Error::custom(format_args!("duplicate field `{name}`")));
            }
            let Strict(value) = access.next_value()?;
            fields.insert(name, value);
        }
        Ok(Strict(fields.into()))
    }
}

impl<'de> Deserialize<'de> for Strict {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(StrictVisitor)
    }
}

impl FromRequest for MergePatch {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let (request, payload) = (request.clone(), payload.take());
        Box::pin(async move {
            if !is_media_type(&request, MERGE_PATCH)? {
                return Err(Problem::unsupported_patch_type(MERGE_PATCH));
            }
            Self::parse(read(request, payload, MAX_BODY).await?)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::{MERGE_PATCH, MergePatch, apply};
    use crate::problem::{Place, Problem};
    use actix_web::{FromRequest, test::TestRequest, web::Bytes};
    use dovetally_core::length::Length;
    use serde::{Deserialize, Serialize};
    use serde_json::{Value, json};

    #[test]
    fn the_rfcs_own_table() {
        // RFC 7396, appendix A (recalled): original, patch, result.
        let table = r#"[
            [{"a":"b"}, {"a":"c"}, {"a":"c"}],
            [{"a":"b"}, {"b":"c"}, {"a":"b","b":"c"}],
            [{"a":"b"}, {"a":null}, {}],
            [{"a":"b","b":"c"}, {"a":null}, {"b":"c"}],
            [{"a":["b"]}, {"a":"c"}, {"a":"c"}],
            [{"a":"c"}, {"a":["b"]}, {"a":["b"]}],
            [{"a":{"b":"c"}}, {"a":{"b":"d","c":null}}, {"a":{"b":"d"}}],
            [{"a":[{"b":"c"}]}, {"a":[1]}, {"a":[1]}],
            [["a","b"], ["c","d"], ["c","d"]],
            [{"a":"b"}, ["c"], ["c"]],
            [{"a":"foo"}, null, null],
            [{"a":"foo"}, "bar", "bar"],
            [{"e":null}, {"a":1}, {"e":null,"a":1}],
            [[1,2], {"a":"b","c":null}, {"a":"b"}],
            [{}, {"a":{"bb":{"ccc":null}}}, {"a":{"bb":{}}}]
        ]"#;
        let table: Vec<[Value; 3]> = serde_json::from_str(table).unwrap();
        assert_eq!(table.len(), 15);
        for [mut target, patch, result] in table {
            let shown = format!("{target} patched with {patch}");
            apply(&mut target, &patch);
            assert_eq!(target, result, "{shown}");
        }
    }

    #[derive(Debug, Serialize, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Holder {
        style: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        height: Option<Length>,
    }

    fn patched(patch: &str) -> Result<Holder, Problem> {
        let patch = MergePatch::parse(Bytes::copy_from_slice(patch.as_bytes()))?;
        patch.refuse_read_only(&["condition", "where"])?;
        let height = serde_json::from_value(json!({"value": 0.75, "unit": "in"})).unwrap();
        patch.applied_to(&Holder { style: "A".to_owned(), height })
    }

    fn refused(patch: &str) -> (&'static str, String) {
        let problem = patched(patch).unwrap_err();
        let pointer = |place: &Place| match place {
            Place::Pointer(pointer) => pointer.clone(),
            other => panic!("{other:?}"),
        };
        let pointers: Vec<_> = problem.faults().iter().map(|fault| pointer(&fault.place)).collect();
        (problem.code().code(), pointers.join(" "))
    }

    #[test]
    fn a_length_is_patched_whole_or_not_at_all() {
        let holder = patched(r#"{"height":{"value":19,"unit":"mm"}}"#).unwrap();
        assert_eq!((holder.height.unwrap().picometres(), holder.style.as_str()), (19_000_000_000, "A"));
        let holder = patched(r#"{"height":null,"style":"B"}"#).unwrap();
        assert_eq!((holder.height, holder.style.as_str()), (None, "B"));
        assert_eq!(refused(r#"{"height":{"value":19}}"#), ("invalid-field", "/height/unit".to_owned()));
        assert_eq!(refused(r#"{"height":{"unit":"mm"}}"#), ("invalid-field", "/height/value".to_owned()));
    }

    #[test]
    fn unknown_read_only_and_doubled_fields_are_refused() {
        for (patch, code, at) in [
            (r#"{"colour":"red"}"#, "unknown-field", "/colour"),
            (r#"{"where":1,"condition":"usable"}"#, "read-only-field", "/condition /where"),
            (r#"{"style":"A","style":"B"}"#, "invalid-field", "/style"),
            (r#"{"style":null}"#, "invalid-field", "/style"),
            ("[]", "invalid-field", ""),
            ("{", "malformed-json", ""),
        ] {
            assert_eq!(refused(patch), (code, at.to_owned()), "{patch}");
        }
    }

    #[actix_web::test]
    async fn only_the_media_type_of_patches_is_taken() {
        for (media_type, fits) in
            [(MERGE_PATCH, true), ("application/json", false), ("application/json-patch+json", false)]
        {
            let request = TestRequest::patch().insert_header(("content-type", media_type)).set_payload("{}");
            let (request, mut payload) = request.to_http_parts();
            let status =
                MergePatch::from_request(&request, &mut payload).await.map(|_| ()).map_err(|p| p.code().status());
            assert_eq!(status, if fits { Ok(()) } else { Err(415) }, "{media_type}");
        }
    }
}
