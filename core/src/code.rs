//! Codes: what people scan and type.
//!
//! A code is unique over everything scannable in the shop and never used again. It is upper-cased on entry, so that a
//! scanner's and a hand's spelling meet, and it can never be mistaken for an id or for a word in a path.

use serde::{Deserialize, Serialize};
use std::{fmt, str::FromStr};

/// Words that stand in paths where a code could stand too.
const RESERVED: &[&str] = &["BY-KEY", "CURRENT", "VERIFY", "NEW"];

/// A code: `[A-Z0-9][A-Z0-9._-]{0,31}`, upper case.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Code(String);

/// Why a text is not a code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CodeError {
    /// Nothing was given.
    #[error("a code cannot be empty")]
    Empty,
    /// More than 32 characters.
    #[error("a code has at most 32 characters")]
    TooLong,
    /// A character outside the alphabet, or a leading dot, dash or underscore.
    #[error("a code starts with a letter or digit and holds only A-Z, 0-9, dot, dash and underscore")]
    Characters,
    /// It reads as a UUID.
    #[error("a code cannot look like an id (8-4-4-4-12 hexadecimal digits)")]
    LooksLikeId,
    /// It is a word that paths use.
    #[error("this word is used in paths and cannot be a code")]
    Reserved,
}

impl Code {
    /// Reads a code as scanned or typed: surrounding white space is dropped, letters are upper-cased.
    ///
    /// # Errors
    /// A [`CodeError`] that says what is wrong.
    pub fn parse(text: &str) -> Result<Self, CodeError> {
        let code = text.trim().to_ascii_uppercase();
        if code.is_empty() {
            return Err(CodeError::Empty);
        }
        let tail = |c: char| c.is_ascii_uppercase() || c.is_ascii_digit() || matches!(c, '.' | '_' | '-');
        if code.starts_with(['.', '_', '-']) || !code.chars().all(tail) {
            return Err(CodeError::Characters);
        }
        if uuid::Uuid::try_parse(&code).is_ok() {
            return Err(CodeError::LooksLikeId);
        }
        if code.len() > 32 {
            return Err(CodeError::TooLong);
        }
        if RESERVED.contains(&code.as_str()) {
            return Err(CodeError::Reserved);
        }
        Ok(Self(code))
    }

    /// The code's text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl FromStr for Code {
    type Err = CodeError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::parse(text)
    }
}

impl TryFrom<String> for Code {
    type Error = CodeError;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        Self::parse(&text)
    }
}

impl From<Code> for String {
    fn from(code: Code) -> Self {
        code.0
    }
}

#[cfg(test)]
mod tests {
    use super::{Code, CodeError};

    #[test]
    fn scanned_and_typed_spellings_meet() {
        assert_eq!(Code::parse(" cg-101.a ").unwrap(), Code::parse("CG-101.A").unwrap());
    }

    #[test]
    fn what_is_not_a_code_says_why() {
        for (text, error) in [
            ("", CodeError::Empty),
            ("-A", CodeError::Characters),
            ("A B", CodeError::Characters),
            ("É1", CodeError::Characters),
            ("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456", CodeError::TooLong),
            ("01890a5d-ac96-774b-bcce-b302099a8057", CodeError::LooksLikeId),
            ("01890a5dac96774bbcceb302099a8057", CodeError::LooksLikeId),
            ("verify", CodeError::Reserved),
        ] {
            assert_eq!(Code::parse(text), Err(error), "{text}");
        }
        assert!(Code::parse("ABCDEFGHIJKLMNOPQRSTUVWXYZ012345").is_ok());
    }
}
