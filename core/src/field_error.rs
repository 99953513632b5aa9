//! What is wrong with what was written, field by field.

use serde::Serialize;

/// One field that cannot be.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FieldError {
    /// A JSON pointer (RFC 6901) into the body: `/stations/2/position`.
    pub pointer: String,
    /// One sentence that says what is wrong and, where it helps, what to do.
    pub detail: String,
}

/// Collects every fault of a body before anything is done with it.
#[derive(Clone, Debug, Default)]
pub struct FieldErrors(Vec<FieldError>);

impl FieldErrors {
    /// Notes a fault.
    pub fn add(&mut self, pointer: impl Into<String>, detail: impl Into<String>) {
        self.0.push(FieldError { pointer: pointer.into(), detail: detail.into() });
    }

    /// Notes a fault when something does not hold.
    pub fn require(&mut self, holds: bool, pointer: impl Into<String>, detail: impl Into<String>) {
        if !holds {
            self.add(pointer, detail);
        }
    }

    /// A text that people read: not blank, and not longer than so many characters.
    pub fn require_text(&mut self, text: &str, longest: usize, pointer: &str) {
        self.require(!text.trim().is_empty(), pointer, "must not be blank");
        self.require(text.chars().count() <= longest, pointer, format!("must have at most {longest} characters"));
        self.require(!text.chars().any(char::is_control), pointer, "must hold no control characters");
    }

    /// Notes faults that were found elsewhere.
    pub fn extend(&mut self, faults: Vec<FieldError>) {
        self.0.extend(faults);
    }

    /// The faults, in the order in which they were found.
    #[must_use]
    pub fn into_vec(self) -> Vec<FieldError> {
        self.0
    }
}
