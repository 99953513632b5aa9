//! What was measured, read back before it is kept.
//!
//! A form that measures something is sent twice: first it is read back, with its doubts; then it is kept. Both go to the
//! same address; the second carries what was typed and `step=keep`.

use super::{
    forms::Typed,
    frame::Frame,
    numbers::{ShownLength, near},
    wording::Phrase,
};
use askama::Template;
use dovetally_core::{length::Length, reading::Expected};

/// A length that is read back.
#[derive(Clone, Debug)]
pub struct ReadLength {
    /// What it is.
    pub label: String,
    /// As it was typed, and in the other unit.
    pub shown: ShownLength,
    /// Why it deserves a second look.
    pub doubt: Option<String>,
}

impl ReadLength {
    /// A length beside its target. `width` as of [`near`].
    #[must_use]
    pub fn near(frame: &Frame, label: &Phrase, length: Length, (target, width): (Length, Length)) -> Self {
        Self::beside(frame, label, length, (target, near(target, width)))
    }

    /// A length beside its target, and what a rule expects of it.
    #[must_use]
    pub fn beside(frame: &Frame, label: &Phrase, length: Length, (target, expected): (Length, Expected)) -> Self {
        Self {
            label: label.to_string(),
            shown: frame.length(&length),
            doubt: expected.doubt(length).map(|doubt| frame.doubt(doubt, &length, &target)),
        }
    }
}

/// A form, read back: what was measured, what else was said, and the two ways out.
#[derive(Template)]
#[template(path = "pages/read_back.html")]
pub struct ReadBack<'p> {
    /// The frame.
    pub frame: &'p Frame,
    /// What is recorded.
    pub title: String,
    /// Where the form is sent.
    pub address: &'p str,
    /// What was measured.
    pub lengths: Vec<ReadLength>,
    /// What else was said.
    pub said: Vec<String>,
    /// What was typed.
    pub typed: Typed,
    /// Whether it is read at the machine: then what is doubted is changed by the main action, and kept by another.
    pub floor: bool,
}

impl ReadBack<'_> {
    fn is_doubted(&self) -> bool {
        self.lengths.iter().any(|length| length.doubt.is_some())
    }

    /// The same, where a doubt that is kept counts as a confirmation.
    #[must_use]
    pub fn confirming(mut self) -> Self {
        if self.is_doubted() {
            self.typed = self.typed.with("confirmed", "on");
        }
        self
    }
}
