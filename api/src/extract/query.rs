//! Query fields: documented ones only, each once.

use super::fault::{self, Kind};
use crate::problem::Problem;
use actix_web::{FromRequest, HttpRequest, dev::Payload};
use serde::{Deserialize, de::DeserializeOwned};
use std::{
    future::{Ready, ready},
    ops::Deref,
};

/// The query of a plain read as `T`, whose fields are all that may be asked. `T` denies unknown fields, and the operation
/// documents it by `params(T)`.
#[derive(Debug)]
pub struct Query<T>(pub T);

impl<T> Query<T> {
    /// The fields.
    #[must_use]
    pub fn into_inner(self) -> T {
        self.0
    }
}

impl<T> Deref for Query<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.0
    }
}

/// For operations without query fields: any field is unknown.
#[derive(Clone, Copy, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoFields {}

/// The query as names and values, decoded, in order, each name once.
///
/// # Errors
/// 400 for broken percent-encoding, text that is not UTF-8 and a name that is given twice.
pub(crate) fn fields(query: &str) -> Result<Vec<(String, String)>, Problem> {
    let mut fields: Vec<(String, String)> = Vec::new();
    for part in query.split('&').filter(|part| !part.is_empty()) {
        let (name, value) = part.split_once('=').unwrap_or((part, ""));
        let name = decoded(name).ok_or_else(|| Problem::query(name, "the name is not percent-encoded UTF-8"))?;
        let value = decoded(value).ok_or_else(|| Problem::query(&name, "the value is not percent-encoded UTF-8"))?;
        if fields.iter().any(|(before, _)| *before == name) {
            return Err(Problem::query(&name, format!("\"{name}\" is given twice")));
        }
        fields.push((name, value));
    }
    Ok(fields)
}

/// Decodes `application/x-www-form-urlencoded` text strictly; the usual decoder lets broken sequences pass as text.
fn decoded(text: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        bytes.push(match byte {
            b'+' => b' ',
            b'%' => {
                let mut digit = || rest.next().and_then(|digit| char::from(digit).to_digit(16));
                let (high, low) = (digit()?, digit()?);
                u8::try_from(high * 16 + low).ok()?
            }
            other => other,
        });
    }
    String::from_utf8(bytes).ok()
}

/// Takes the field of this name out; `None` when it is not given.
pub(crate) fn claim(fields: &mut Vec<(String, String)>, name: &str) -> Option<String> {
    let at = fields.iter().position(|(given, _)| given == name)?;
    Some(fields.remove(at).1)
}

/// Reads what is left as `T`.
///
/// # Errors
/// 400 that names the field that is unknown, missing or malformed.
pub(crate) fn rest<T: DeserializeOwned>(fields: &[(String, String)]) -> Result<T, Problem> {
    if let Some((name, _)) = fields.iter().find(|(_, value)| value.contains('\0')) {
        return Err(Problem::query(name, format!("\"{name}\" holds the character U+0000, which no text here has")));
    }
    // Encoded again, because only the deserializer of encoded text lets numbers and words parse themselves.
    let text = serde_urlencoded::to_string(fields).map_err(Problem::internal)?;
    let deserializer = serde_urlencoded::Deserializer::new(form_urlencoded::parse(text.as_bytes()));
    serde_path_to_error::deserialize(deserializer).map_err(|error| {
        let words = error.inner().to_string();
        match fault::kind(&words) {
            Kind::Unknown(name) => Problem::unknown_query_field(name),
            Kind::Missing(name) => Problem::query(name, format!("the query field \"{name}\" is required")),
            Kind::Duplicate(name) => Problem::query(name, format!("\"{name}\" is given twice")),
            Kind::Invalid(words) => {
                let name = error.path().to_string();
                Problem::query(&name, format!("\"{name}\" cannot have this value: {}", fault::readable(words)))
            }
        }
    })
}

impl<T: DeserializeOwned> FromRequest for Query<T> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(fields(request.query_string()).and_then(|fields| rest(&fields)).map(Self))
    }
}

#[cfg(test)]
mod tests {
    use super::{NoFields, fields, rest};
    use crate::problem::{Fault, Place, Problem};
    use dovetally_core::code::Code;
    use serde::Deserialize;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Ask {
        gauge: Code,
        at: Option<u16>,
        purpose: Option<Purpose>,
    }

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(rename_all = "snake_case")]
    enum Purpose {
        Trial,
    }

    fn ask(query: &str) -> Result<Ask, Problem> {
        fields(query).and_then(|fields| rest(&fields))
    }

    #[test]
    fn documented_fields_are_read() {
        let ask = ask("gauge=cg%2D1&at=7&purpose=trial&").unwrap();
        assert_eq!((ask.gauge.as_str(), ask.at, ask.purpose), ("CG-1", Some(7), Some(Purpose::Trial)));
    }

    #[test]
    fn everything_else_is_refused_by_name() {
        for (query, code, name) in [
            ("gauge=A&colour=red", "unknown-query-field", "colour"),
            ("gauge=A&gauge=B", "malformed-query", "gauge"),
            ("gauge=A&validate_only=true", "unknown-query-field", "validate_only"),
            ("", "malformed-query", "gauge"),
            ("gauge=-", "malformed-query", "gauge"),
            ("gauge=A&at=x", "malformed-query", "at"),
            ("gauge=A&at=", "malformed-query", "at"),
            ("gauge=A&purpose=play", "malformed-query", "purpose"),
            ("gauge=%4", "malformed-query", "gauge"),
            ("gauge=%+1", "malformed-query", "gauge"),
            ("gauge=%FF", "malformed-query", "gauge"),
        ] {
            let problem = ask(query).unwrap_err();
            let [Fault { place: Place::Parameter(parameter), .. }] = problem.faults() else { panic!("{problem:?}") };
            assert_eq!((problem.code().code(), parameter.as_str()), (code, name), "{query}");
        }
        assert!(rest::<NoFields>(&fields("").unwrap()).is_ok());
        let problem = rest::<NoFields>(&fields("a=1").unwrap()).unwrap_err();
        assert_eq!(problem.code().code(), "unknown-query-field");
    }
}
