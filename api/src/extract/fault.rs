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
    let document = value.clone();
    let fits = serde_path_to_error::deserialize(value)
        .map_err(|error| unfit(&pointer(error.path()), &error.inner().to_string()))?;
    super::objects::refuse_positional::<T>(document)?;
    Ok(fits)
}

/// The 422 problem of a well-formed value that does not fit its type.
pub(crate) fn unfit(pointer: &str, words: &str) -> Problem {
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
        Kind::Invalid(words) => Problem::field(pointer, readable(words)),
    }
}

/// What the parser says, in words for whoever filled the field.
pub(super) fn readable(words: &str) -> String {
    if TIMES.contains(&words) {
        return "a day is written like 2026-11-25, an instant like 2026-11-25T10:00:00Z or 2026-11-25T11:00:00+01:00, \
            never without its offset"
            .to_owned();
    }
    if let Some((given, wanted)) = words.split_once(", expected ") {
        let wanted = match wanted {
            "u8" | "u16" | "u32" | "u64" | "usize" => Some("a whole number that is not negative"),
            "i8" | "i16" | "i32" | "i64" => Some("a whole number"),
            "f64" => Some("a number"),
            "a sequence" => Some("an array"),
            "a string" | "a borrowed string" => Some("a text"),
            "a boolean" => Some("true or false"),
            _ if wanted.starts_with("struct ") || wanted.starts_with("a map") => Some("an object with named fields"),
            _ => None,
        };
        if let Some(wanted) = wanted {
            let given = given.split_once(": ").map_or(given, |(_, given)| given).replace('`', "");
            return format!("must be {wanted}, not {given}");
        }
    }
    let Some((given, known)) = words.strip_prefix("unknown variant `").and_then(|rest| rest.split_once("`, expected "))
    else {
        return words.to_owned();
    };
    let known = known.strip_prefix("one of ").unwrap_or(known).replace('`', "");
    format!("\"{given}\" is none of: {}", known.replace(" or ", ", "))
}

/// What chrono says of a text that is no day or no instant.
const TIMES: [&str; 6] = [
    "trailing input",
    "premature end of input",
    "input contains invalid characters",
    "input is out of range",
    "no possible date and time matching input",
    "input is not enough for unique date and time",
];

/// The problem of a text that is not JSON, or not only JSON.
pub(super) fn malformed(error: &serde_json::Error) -> Problem {
    let words = error.to_string();
    let words = words.rsplit_once(" at line ").map_or(words.as_str(), |(words, _)| words);
    let detail = format!("{words}, line {} column {}", error.line(), error.column());
    Problem::new(ProblemCode::MalformedJson, detail)
}

#[cfg(test)]
mod tests {
    use super::{Kind, kind, readable};
    use serde::Deserialize;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct One {
        #[expect(dead_code, reason = "only its parsing is looked at")]
        one: u8,
    }

    #[test]
    fn times_and_names_are_told_in_words_of_the_field() {
        let words = |text: &str| {
            let error = serde_json::from_str::<chrono::DateTime<chrono::Utc>>(text).unwrap_err().to_string();
            readable(error.split(" at line ").next().unwrap())
        };
        for text in [r#""yesterday""#, r#""2026-11-25T10:00:00""#, r#""2026-11-25""#, r#""2026-13-25T10:00:00Z""#] {
            assert!(words(text).contains("never without its offset"), "{text}: {}", words(text));
        }
        let day = serde_json::from_str::<chrono::NaiveDate>(r#""2026-11-25T10:00:00Z""#).unwrap_err().to_string();
        assert!(readable(day.split(" at line ").next().unwrap()).contains("a day is written like"));
        let negative = serde_json::from_str::<u64>("-1").unwrap_err().to_string();
        let negative = readable(negative.split(" at line ").next().unwrap());
        assert_eq!(negative, "must be a whole number that is not negative, not integer -1");
        let named = serde_json::from_str::<dovetally_core::item::Purpose>(r#""steal""#).unwrap_err().to_string();
        assert_eq!(readable(named.split(" at line ").next().unwrap()), r#""steal" is none of: use, grind, check"#);
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
