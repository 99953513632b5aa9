//! Where and how a value failed to deserialize, out of what serde tells.

use crate::problem::{Problem, ProblemCode};
use serde::de::DeserializeOwned;
use serde_path_to_error::{Path, Segment};
use std::fmt::Display;

/// How serde's words sort.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Kind<'w> {
    /// A field that the type does not have.
    Unknown(&'w str),
    /// A field that the type needs.
    Missing(&'w str),
    /// A field that is given twice.
    Duplicate(&'w str),
    /// A value of the wrong kind or range, in words.
    Invalid(&'w str),
}

/// Sorts serde's own message. The words are serde's; the test below notices when they change.
pub(super) fn kind(words: &str) -> Kind<'_> {
    let field = |prefix: &str| words.strip_prefix(prefix).and_then(|rest| rest.split('`').next());
    if let Some(name) = field("unknown field `") {
        Kind::Unknown(name)
    } else if let Some(name) = field("missing field `") {
        Kind::Missing(name)
    } else if let Some(name) = field("duplicate field `") {
        Kind::Duplicate(name)
    } else {
        Kind::Invalid(words)
    }
}

/// One step of a JSON pointer, escaped as RFC 6901 asks.
pub(super) fn step(name: impl Display) -> String {
    format!("/{}", name.to_string().replace('~', "~0").replace('/', "~1"))
}

/// The JSON pointer of a path, as far as the path is known.
pub(super) fn pointer(path: &Path) -> String {
    path.iter()
        .map_while(|segment| match segment {
            Segment::Seq { index } => Some(step(index)),
            Segment::Map { key } => Some(step(key)),
            Segment::Enum { variant } => Some(step(variant)),
            Segment::Unknown => None,
        })
        .collect()
}

/// Deserializes a JSON value that is already known to be well-formed.
///
/// # Errors
/// 422 with the pointer of the field that does not fit.
pub(crate) fn from_value<T: DeserializeOwned>(value: serde_json::Value) -> Result<T, Problem> {
    serde_path_to_error::deserialize(value).map_err(|error| unfit(&pointer(error.path()), &error.inner().to_string()))
}

/// The 422 problem of a well-formed value that does not fit its type.
pub(super) fn unfit(pointer: &str, words: &str) -> Problem {
    // serde_json appends the position; the pointer already says where.
    let words = words.rsplit_once(" at line ").map_or(words, |(words, _)| words);
    // For an unknown or doubled field the path may already end in its name.
    let at = |name: &str| {
        let step = step(name);
        if pointer.ends_with(&step) { pointer.to_owned() } else { format!("{pointer}{step}") }
    };
    match kind(words) {
        Kind::Unknown(name) => Problem::unknown_field(at(name), format!("there is no field \"{name}\" here")),
        Kind::Missing(name) => Problem::field(format!("{pointer}{}", step(name)), format!("\"{name}\" is required")),
        Kind::Duplicate(name) => Problem::field(at(name), format!("\"{name}\" is given twice")),
        Kind::Invalid(words) => Problem::field(pointer, words),
    }
}

/// The problem of a text that is not JSON, or not only JSON.
pub(super) fn malformed(error: &serde_json::Error) -> Problem {
    let words = error.to_string();
    let words = words.rsplit_once(" at line ").map_or(words.as_str(), |(words, _)| words);
    let detail = format!("{words}, line {} column {}", error.line(), error.column());
    Problem::new(ProblemCode::MalformedJson, detail)
}

#[cfg(test)]
mod tests {
    use super::{Kind, kind};
    use serde::Deserialize;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct One {
        #[expect(dead_code, reason = "only its parsing is looked at")]
        one: u8,
    }

    #[test]
    fn serdes_words_are_still_the_ones_we_sort_by() {
        let words = |text: &str| serde_json::from_str::<One>(text).unwrap_err().to_string();
        assert_eq!(kind(&words(r#"{"two":1}"#)), Kind::Unknown("two"));
        assert_eq!(kind(&words("{}")), Kind::Missing("one"));
        assert_eq!(kind(&words(r#"{"one":1,"one":2}"#)), Kind::Duplicate("one"));
        assert!(matches!(kind(&words(r#"{"one":300}"#)), Kind::Invalid(_)));
    }
}
