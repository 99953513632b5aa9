//! Forms with more than a box or two: what was typed, and what is wrong with it.

use super::{
    frame::Frame,
    numbers::{MeasuredFault, read_length, read_measured, read_signed, read_signed_length},
    visit::Faults,
    wording::{Phrase, ToldRefusal, section},
};
use crate::problem::{Place, Problem, ProblemCode};
use chrono::NaiveDate;
use dovetally_core::length::{Length, LengthUnit};
use serde::Deserialize;
use std::collections::BTreeMap;

section! {
    /// Forms.
    FormWords {
        fault_of, whole_number, day, choose_one, needs_words, not_taken, read_back_title, read_back_lead, keep
    }
}

/// What was typed and chosen, field by field. A box that is not ticked is not there.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(transparent)]
pub struct Typed(BTreeMap<String, String>);

impl Typed {
    /// A field as it was typed; empty where it is not there.
    #[must_use]
    pub fn of(&self, name: &str) -> &str {
        self.0.get(name).map_or("", String::as_str)
    }

    /// A field's text, if there is any.
    #[must_use]
    pub fn text(&self, name: &str) -> Option<String> {
        Some(self.of(name).trim().to_owned()).filter(|text| !text.is_empty())
    }

    /// Whether a box is ticked.
    #[must_use]
    pub fn ticked(&self, name: &str) -> bool {
        !self.of(name).is_empty()
    }

    /// The same with another field.
    #[must_use]
    pub fn with(mut self, name: &str, value: impl Into<String>) -> Self {
        self.0.insert(name.to_owned(), value.into());
        self
    }

    /// Every field but the step.
    pub fn fields(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0.iter().filter(|(name, _)| *name != STEP).map(|(name, value)| (name.as_str(), value.as_str()))
    }

    /// Refuses what is no field of the form.
    ///
    /// # Errors
    /// 422 for such a field.
    pub fn only(&self, known: impl Fn(&str) -> bool) -> Result<(), Problem> {
        match self.fields().find(|(name, _)| !known(name)) {
            None => Ok(()),
            Some(_) => Err(Problem::field("", "the form is not this page's: load the page again")),
        }
    }

    /// What the sending asks for.
    #[must_use]
    pub fn step(&self) -> Step {
        match self.of(STEP) {
            "keep" => Step::Keep,
            "change" => Step::Change,
            _ => Step::ReadBack,
        }
    }
}

const STEP: &str = "step";

/// What a form was sent for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// To be read back.
    ReadBack,
    /// To be kept.
    Keep,
    /// To be typed again.
    Change,
}

/// Reads a form's fields, noting what is wrong with each.
pub struct Reading<'r> {
    frame: &'r Frame,
    typed: &'r Typed,
    /// What is wrong so far.
    pub faults: Faults,
}

impl<'r> Reading<'r> {
    /// Begins.
    #[must_use]
    pub fn of(frame: &'r Frame, typed: &'r Typed) -> Self {
        Self { frame, typed, faults: Faults::default() }
    }

    /// Whether nothing was typed.
    #[must_use]
    pub fn is_empty(&self, field: &str) -> bool {
        self.typed.text(field).is_none()
    }

    /// Notes what the trade says of a field.
    pub fn refuse(&mut self, field: &'static str, why: &str) {
        self.faults.add(field, self.frame.told(why));
    }

    /// A length without a sign that has to be there.
    pub fn length(&mut self, field: &'static str, unit: LengthUnit) -> Option<Length> {
        let read = read_length(self.typed.of(field), unit);
        self.faults.read(field, read, |fault| self.frame.number_fault(fault))
    }

    /// A length that may be left out.
    pub fn length_if_any(&mut self, field: &'static str, unit: LengthUnit) -> Option<Length> {
        self.typed.text(field)?;
        self.length(field, unit)
    }

    /// A length with its sign, which may be left out.
    pub fn signed_length_if_any(&mut self, field: &'static str, sign: &str, unit: LengthUnit) -> Option<Length> {
        self.typed.text(field)?;
        let read = read_signed_length(self.typed.of(field), unit, self.typed.of(sign));
        self.faults.read(field, read, |fault| self.frame.number_fault(fault))
    }

    /// A number without a sign that has to be there.
    pub fn number(&mut self, field: &'static str) -> Option<f64> {
        let read = read_measured(self.typed.of(field));
        self.faults.read(field, read, |fault| self.frame.number_fault(fault))
    }

    /// A number with its sign, which may be left out.
    pub fn signed_if_any(&mut self, field: &'static str, sign: &str) -> Option<f64> {
        self.typed.text(field)?;
        let read = read_signed(self.typed.of(field), self.typed.of(sign));
        self.faults.read(field, read, |fault| self.frame.number_fault(fault))
    }

    /// A whole number of things.
    pub fn whole(&mut self, field: &'static str) -> Option<i64> {
        let text = self.typed.of(field).trim();
        if text.is_empty() {
            self.faults.add(field, self.frame.number_fault(MeasuredFault::Empty));
            return None;
        }
        let digits = text.chars().all(|c| c.is_ascii_digit());
        let value = text.parse().ok().filter(|_| digits);
        if value.is_none() {
            self.faults.add(field, &self.frame.words.forms.whole_number);
        }
        value
    }

    /// A day.
    pub fn day(&mut self, field: &'static str) -> Option<NaiveDate> {
        let day = self.typed.of(field).trim().parse().ok();
        if day.is_none() {
            self.faults.add(field, &self.frame.words.forms.day);
        }
        day
    }

    /// One of a few choices.
    pub fn choice<T>(&mut self, field: &'static str, from_name: impl Fn(&str) -> Option<T>) -> Option<T> {
        let chosen = from_name(self.typed.of(field));
        if chosen.is_none() {
            self.faults.add(field, &self.frame.words.forms.choose_one);
        }
        chosen
    }

    /// Words that have to be there.
    pub fn words(&mut self, field: &'static str) -> Option<String> {
        let text = self.typed.text(field);
        if text.is_none() {
            self.faults.add(field, &self.frame.words.forms.needs_words);
        }
        text
    }
}

/// A field as a use case names it, the id of its box, and its label.
pub type FormField<'p> = (&'static str, &'static str, &'p Phrase);

/// Why a form was not taken: what is wrong with its fields, or the rules that refuse it.
#[derive(Debug, Default)]
pub struct NotTaken {
    /// Field by field.
    pub faults: Faults,
    /// By rules.
    pub refusals: Vec<ToldRefusal>,
}

impl From<Faults> for NotTaken {
    fn from(faults: Faults) -> Self {
        Self { faults, refusals: Vec::new() }
    }
}

impl NotTaken {
    /// Of what the use case said. `fields` are the use case's, each with its box and label in the form.
    ///
    /// # Errors
    /// What is no word about this form: it may be sent again.
    pub fn of(frame: &Frame, problem: Problem, fields: &[FormField<'_>]) -> Result<Self, Problem> {
        match problem.code() {
            ProblemCode::Refused => {
                Ok(Self { faults: Faults::default(), refusals: frame.refusals(problem.refused_by()) })
            }
            ProblemCode::InvalidField => {
                let mut faults = Faults::default();
                for fault in problem.faults() {
                    let pointer = match &fault.place {
                        Place::Pointer(pointer) => pointer.trim_start_matches('/'),
                        Place::Parameter(_) | Place::Header(_) => "",
                    };
                    let told = frame.told(&fault.detail);
                    let named = pointer.split('/').next().unwrap_or_default();
                    match fields.iter().find(|(field, ..)| *field == named) {
                        Some((_, id, label)) => {
                            faults.add(*id, frame.words.forms.fault_of.with("field", label).with("fault", told));
                        }
                        None => faults.add("main", told),
                    }
                }
                Ok(faults.into())
            }
            _ => Err(problem),
        }
    }

    /// Whether nothing is wrong.
    #[must_use]
    pub const fn is_nothing(&self) -> bool {
        self.faults.is_empty() && self.refusals.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::{Step, Typed};

    fn typed(pairs: &[(&str, &str)]) -> Typed {
        pairs.iter().fold(Typed::default(), |typed, (name, value)| typed.with(name, *value))
    }

    #[test]
    fn a_form_is_read_back_unless_it_says_otherwise() {
        assert_eq!(typed(&[("note", "x")]).step(), Step::ReadBack);
        assert_eq!(typed(&[("step", "keep")]).step(), Step::Keep);
        assert_eq!(typed(&[("step", "change")]).step(), Step::Change);
        let sent = typed(&[("step", "keep"), ("note", " said "), ("burn", "on")]);
        assert_eq!(sent.fields().collect::<Vec<_>>(), [("burn", "on"), ("note", " said ")]);
        assert_eq!(sent.text("note").as_deref(), Some("said"));
        assert!(sent.ticked("burn") && !sent.ticked("dressed"));
        assert!(sent.only(|name| ["note", "burn"].contains(&name)).is_ok());
        assert!(sent.only(|name| name == "note").is_err());
    }

    #[test]
    fn any_form_reads() {
        let sent: Typed = serde_urlencoded::from_str("a=1&b=two+words&c=").unwrap();
        assert_eq!((sent.of("a"), sent.of("b"), sent.text("c"), sent.of("d")), ("1", "two words", None, ""));
    }
}
