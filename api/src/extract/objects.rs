//! Objects are objects: a JSON array in the place of one is refused, though serde would take its fields by position.

use super::fault;
use crate::problem::Problem;
use serde::{
    Deserializer,
    de::{
        DeserializeOwned, Error as _, IntoDeserializer, Unexpected, Visitor,
        value::{MapDeserializer, SeqDeserializer},
    },
    forward_to_deserialize_any,
};
use serde_json::{Error, Value};

/// Reads a document that is known to fit `T` once more, and takes no array for an object, and no text with U+0000.
///
/// # Errors
/// 422 with the pointer of the array or the text.
pub(super) fn refuse_positional<T: DeserializeOwned>(document: Value) -> Result<(), Problem> {
    if document.is_array() {
        return Err(Problem::field("", "must be an object with named fields"));
    }
    if let Some(pointer) = null_character(&document) {
        return Err(Problem::field(pointer, "holds the character U+0000, which no text here has"));
    }
    serde_path_to_error::deserialize::<_, T>(Named(document))
        .map(drop)
        .map_err(|error| fault::unfit(&fault::pointer(error.path()), &error.inner().to_string()))
}

/// Where a text holds the one character that databases do not take.
fn null_character(value: &Value) -> Option<String> {
    match value {
        Value::String(text) => text.contains('\0').then(String::new),
        Value::Array(items) => items
            .iter()
            .enumerate()
            .find_map(|(index, item)| null_character(item).map(|rest| format!("{}{rest}", fault::step(index)))),
        Value::Object(fields) => fields
            .iter()
            .find_map(|(name, field)| null_character(field).map(|rest| format!("{}{rest}", fault::step(name)))),
        _ => None,
    }
}

/// A value whose structs are read from objects only.
struct Named(Value);

impl<'de> Deserializer<'de> for Named {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.0 {
            Value::Array(items) => {
                let mut items = SeqDeserializer::new(items.into_iter().map(Self));
                let value = visitor.visit_seq(&mut items)?;
                items.end().map(|()| value)
            }
            Value::Object(fields) => {
                let mut fields = MapDeserializer::new(fields.into_iter().map(|(name, value)| (name, Self(value))));
                let value = visitor.visit_map(&mut fields)?;
                fields.end().map(|()| value)
            }
            scalar => scalar.deserialize_any(visitor),
        }
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        if self.0.is_array() {
            return Err(Error::invalid_type(Unexpected::Seq, &"an object with named fields"));
        }
        self.deserialize_any(visitor)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        if self.0.is_null() { visitor.visit_none() } else { visitor.visit_some(self) }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _: &'static str, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        name: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        self.0.deserialize_enum(name, variants, visitor)
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf unit unit_struct seq tuple
        tuple_struct map identifier ignored_any
    }
}

impl<'de> IntoDeserializer<'de, Error> for Named {
    type Deserializer = Self;

    fn into_deserializer(self) -> Self {
        self
    }
}
