//! What a scanned code turned out to be. The caller looks codes up; rules never take an unknown one for a good one.

use crate::code::Code;

/// A scanned or typed code with what the records know of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Scanned<T> {
    /// On record, and of the kind that was asked for.
    Known(T),
    /// On record, as something else: a holder where a gauge was asked for.
    OtherKind {
        /// Its code.
        code: Code,
        /// What it is, in words: "a holder".
        what: String,
    },
    /// Not on record, or not even shaped like a code.
    Unknown {
        /// The text as it was scanned.
        text: String,
    },
}

impl<T> Scanned<T> {
    /// What is known of it; nothing for an unknown code or another kind of thing.
    #[must_use]
    pub const fn known(&self) -> Option<&T> {
        match self {
            Self::Known(facts) => Some(facts),
            Self::OtherKind { .. } | Self::Unknown { .. } => None,
        }
    }

    /// For a code that is not what was asked for: the code and what is wrong with it, in words.
    #[must_use]
    pub fn mismatch(&self) -> Option<(&str, String)> {
        match self {
            Self::Known(_) => None,
            Self::OtherKind { code, what } => Some((code.as_str(), format!("{code} is {what}"))),
            Self::Unknown { text } => Some((text, format!("{text} is not on record"))),
        }
    }
}
