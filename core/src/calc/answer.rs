//! The envelope of every answer, and what a calculation is.

use super::{
    correction::Correction,
    error::CalculationError,
    rounding::{Unit, rounded},
};
use crate::length::LengthUnit;
use schemars::JsonSchema;
use serde::{Serialize, de::DeserializeOwned};

/// One calculation: a pure function from a request to an answer.
pub trait Calculation {
    /// Its name on the wire.
    const NAME: &'static str;
    /// Counts up when the same request may give another answer.
    const VERSION: u32;
    /// What it answers, in one sentence.
    const ANSWERS: &'static str;
    /// A request as a shop might make it, in JSON.
    const EXAMPLE: &'static str;
    /// What it is asked, in one named unit.
    type Request: DeserializeOwned + Serialize + JsonSchema + Clone;
    /// What it found, in the same unit.
    type Result: Serialize + JsonSchema;

    /// Computes the answer. The same request gives the same bytes.
    ///
    /// # Errors
    /// [`CalculationError::Refused`] with every field that cannot be.
    fn calculate(request: &Self::Request) -> Result<Answer<Self::Request, Self::Result>, CalculationError>;
}

/// An intermediate value.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "CalculationStep")]
pub struct Step {
    /// The symbol the formula uses.
    pub symbol: &'static str,
    /// What it means.
    pub meaning: String,
    /// Its value.
    pub value: f64,
    /// Its unit: `in`, `mm`, `deg`, `turn`, `1`, …
    pub unit: &'static str,
}

/// Where a formula or a number comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(rename = "CalculationSource")]
pub struct Source {
    /// The publication, or "plane geometry", or "common practice, no published source".
    pub title: &'static str,
    /// How it was checked: `text seen`, `transcription`, `recalled`, `derived`.
    #[schemars(extend("enum" = ["text seen", "transcription", "recalled", "derived"]))]
    pub status: &'static str,
}

impl Source {
    /// Follows from plane geometry alone.
    pub const GEOMETRY: Self = Self { title: "plane geometry", status: "derived" };

    /// A publication that was recalled, not opened.
    #[must_use]
    pub const fn recalled(title: &'static str) -> Self {
        Self { title, status: "recalled" }
    }

    /// A publication of which transcriptions were compared.
    #[must_use]
    pub const fn transcription(title: &'static str) -> Self {
        Self { title, status: "transcription" }
    }

    /// A publication whose text was read.
    #[must_use]
    pub const fn seen(title: &'static str) -> Self {
        Self { title, status: "text seen" }
    }
}

/// An answer.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Answer<Q, R> {
    /// The calculation's name.
    pub calculation: &'static str,
    /// The calculation's version.
    pub version: u32,
    /// The unit of every length in this answer; absent where there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<LengthUnit>,
    /// The request as understood, defaults filled in.
    pub inputs: Q,
    /// What was found.
    pub result: R,
    /// The answer in one or two sentences that a person can act on.
    pub sentence: String,
    /// Intermediate values.
    pub steps: Vec<Step>,
    /// Screws to turn, in working order; empty when everything is left alone.
    pub corrections: Vec<Correction>,
    /// What to be careful about.
    pub cautions: Vec<String>,
    /// Where the formulas come from.
    pub sources: Vec<Source>,
}

/// The work shown on the way to an answer.
#[derive(Debug)]
pub(crate) struct Work {
    unit: Option<Unit>,
    steps: Vec<Step>,
    pub(crate) corrections: Vec<Correction>,
    cautions: Vec<String>,
}

impl Work {
    pub(crate) const fn new(unit: Unit) -> Self {
        Self { unit: Some(unit), steps: Vec::new(), corrections: Vec::new(), cautions: Vec::new() }
    }

    /// For calculations whose answers carry no lengths, or carry them in a unit that the request only mentions.
    pub(crate) fn unitless(unit: Option<LengthUnit>) -> Self {
        Self { unit: unit.map(Unit), steps: Vec::new(), corrections: Vec::new(), cautions: Vec::new() }
    }

    /// Shows a length, given in millimetres.
    pub(crate) fn length(&mut self, symbol: &'static str, meaning: impl Into<String>, millimetres: f64) {
        let (value, unit) =
            self.unit.map_or((rounded(millimetres), "mm"), |unit| (unit.outward(millimetres), unit.sign()));
        self.steps.push(Step { symbol, meaning: meaning.into(), value, unit });
    }

    /// Shows an angle, given in radians, in degrees.
    pub(crate) fn angle(&mut self, symbol: &'static str, meaning: impl Into<String>, radians: f64) {
        self.value(symbol, meaning, radians.to_degrees(), "deg");
    }

    /// Shows a plain number.
    pub(crate) fn number(&mut self, symbol: &'static str, meaning: impl Into<String>, value: f64) {
        self.value(symbol, meaning, value, "1");
    }

    /// Shows a value of any other unit.
    pub(crate) fn value(&mut self, symbol: &'static str, meaning: impl Into<String>, value: f64, unit: &'static str) {
        self.steps.push(Step { symbol, meaning: meaning.into(), value: rounded(value), unit });
    }

    pub(crate) fn caution(&mut self, text: impl Into<String>) {
        self.cautions.push(text.into());
    }

    /// What every answer says that can lead a hand near a spindle, a slide or an edge.
    pub(crate) fn caution_hands(&mut self) {
        self.caution(
            "Stop the machine and follow the local lockout rules before a hand goes near a spindle, a slide or an edge. \
             This is advice, not a safety device: it replaces no guard, no interlock and no instruction of the machine's builder.",
        );
    }

    /// Closes the work into an answer.
    pub(crate) fn answer<C: Calculation>(
        self,
        inputs: C::Request,
        result: C::Result,
        sentence: impl Into<String>,
        sources: &[Source],
    ) -> Answer<C::Request, C::Result> {
        Answer {
            calculation: C::NAME,
            version: C::VERSION,
            unit: self.unit.map(|unit| unit.0),
            inputs,
            result,
            sentence: sentence.into(),
            steps: self.steps,
            corrections: self.corrections,
            cautions: self.cautions,
            sources: sources.to_vec(),
        }
    }
}
