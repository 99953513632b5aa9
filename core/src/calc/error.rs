//! Why a calculation was refused: every field that is wrong, each with a sentence. Also the reader that collects them.

use super::rounding::Unit;
use crate::{
    field_error::{FieldError, FieldErrors},
    length::{LARGEST_VALUE, LengthUnit},
};
use std::fmt;

/// A request that has no answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum CalculationError {
    /// Not JSON at all.
    Malformed(String),
    /// Well-formed, but impossible, incomplete or with fields that are not known.
    Refused(Vec<FieldError>),
}

impl CalculationError {
    /// A refusal of one field.
    #[must_use]
    pub fn field(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::Refused(vec![FieldError { pointer: pointer.into(), detail: detail.into() }])
    }

    /// The fields that are wrong; empty for what is not JSON.
    #[must_use]
    pub fn fields(&self) -> &[FieldError] {
        match self {
            Self::Malformed(_) => &[],
            Self::Refused(fields) => fields,
        }
    }
}

impl fmt::Display for CalculationError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Malformed(detail) => f.write_str(detail),
            Self::Refused(fields) => {
                for (index, field) in fields.iter().enumerate() {
                    let separator = if index == 0 { "" } else { "; " };
                    write!(f, "{separator}{}: {}", field.pointer, field.detail)?;
                }
                Ok(())
            }
        }
    }
}

impl std::error::Error for CalculationError {}

/// A billionth of an inch or of a millimetre: below any length that a shop sets or measures.
pub(crate) const SMALLEST_POSITIVE: f64 = 1e-9;

/// Reads a request's numbers, turns lengths into millimetres, and collects every refusal before anything is computed.
///
/// A refused number reads as NaN, so that what follows in the same reading neither panics nor adds misleading refusals;
/// [`Reader::finish`] ends the reading.
#[derive(Debug)]
pub(crate) struct Reader {
    pub(crate) unit: Unit,
    errors: FieldErrors,
}

impl Reader {
    pub(crate) fn new(unit: LengthUnit) -> Self {
        Self { unit: Unit(unit), errors: FieldErrors::default() }
    }

    /// For calculations without lengths.
    pub(crate) fn unitless() -> Self {
        Self::new(LengthUnit::Millimetre)
    }

    /// Notes a refusal.
    pub(crate) fn refuse(&mut self, pointer: impl Into<String>, detail: impl Into<String>) -> f64 {
        self.errors.add(pointer, detail);
        f64::NAN
    }

    /// Notes a refusal when `wrong`.
    pub(crate) fn refuse_if(&mut self, wrong: bool, pointer: &str, detail: impl Into<String>) {
        if wrong {
            self.refuse(pointer, detail);
        }
    }

    pub(crate) fn number(&mut self, pointer: &str, value: f64) -> f64 {
        if value.is_finite() { value } else { self.refuse(pointer, "must be a finite number") }
    }

    pub(crate) fn positive(&mut self, pointer: &str, value: f64) -> f64 {
        let value = self.number(pointer, value);
        if value <= 0.0 { self.refuse(pointer, "must be above zero") } else { value }
    }

    pub(crate) fn not_negative(&mut self, pointer: &str, value: f64) -> f64 {
        let value = self.number(pointer, value);
        if value < 0.0 { self.refuse(pointer, "must not be negative") } else { value }
    }

    /// A number strictly between two bounds.
    pub(crate) fn between(&mut self, pointer: &str, value: f64, low: f64, high: f64) -> f64 {
        let value = self.number(pointer, value);
        if value <= low || value >= high {
            self.refuse(pointer, format!("must lie between {low} and {high}, bounds excluded"))
        } else {
            value
        }
    }

    /// A number above 0 and up to 1.
    pub(crate) fn fraction(&mut self, pointer: &str, value: f64) -> f64 {
        let value = self.number(pointer, value);
        if value <= 0.0 || value > 1.0 { self.refuse(pointer, "must be above 0 and at most 1") } else { value }
    }

    /// A probability from a half up to, but not with, certainty.
    pub(crate) fn likely(&mut self, pointer: &str, value: f64) -> f64 {
        let value = self.number(pointer, value);
        if !value.is_nan() && !(0.5..1.0).contains(&value) {
            self.refuse(pointer, "must be at least 0.5 and below 1")
        } else {
            value
        }
    }

    /// A length of either sign, in millimetres.
    pub(crate) fn length(&mut self, pointer: &str, value: f64) -> f64 {
        let value = self.number(pointer, value);
        if value.abs() > LARGEST_VALUE {
            return self.refuse(pointer, "a length must lie between -10000 and 10000 in its unit");
        }
        self.unit.inward(value)
    }

    pub(crate) fn positive_length(&mut self, pointer: &str, value: f64) -> f64 {
        let value = self.positive(pointer, value);
        if value < SMALLEST_POSITIVE {
            return self.refuse(pointer, "is smaller than anything that can be measured");
        }
        self.length_after(pointer, value)
    }

    pub(crate) fn not_negative_length(&mut self, pointer: &str, value: f64) -> f64 {
        let value = self.not_negative(pointer, value);
        self.length_after(pointer, value)
    }

    /// The range of a length whose sign was already read; NaN was refused before and stays silent.
    fn length_after(&mut self, pointer: &str, value: f64) -> f64 {
        if value.is_nan() { value } else { self.length(pointer, value) }
    }

    /// Clearance and rake of a form tool, in radians.
    pub(crate) fn tool_angles(&mut self, clearance_deg: f64, rake_deg: f64) -> (f64, f64) {
        let mut clearance = self.number("/clearance_deg", clearance_deg);
        if !(0.0..90.0).contains(&clearance) && !clearance.is_nan() {
            clearance = self.refuse("/clearance_deg", "the clearance must be at least 0 and below 90 degrees");
        }
        let rake = self.rake(rake_deg);
        self.refuse_if(
            clearance + rake.to_degrees() >= 90.0,
            "/rake_deg",
            "clearance plus rake must stay below 90 degrees: nothing would be left of the edge",
        );
        (clearance.to_radians(), rake)
    }

    /// A rake angle, in radians.
    pub(crate) fn rake(&mut self, rake_deg: f64) -> f64 {
        self.between("/rake_deg", rake_deg, -90.0, 90.0).to_radians()
    }

    /// Ends the reading: refuses with everything collected, or goes on.
    pub(crate) fn finish(&mut self) -> Result<(), CalculationError> {
        let errors = std::mem::take(&mut self.errors).into_vec();
        if errors.is_empty() { Ok(()) } else { Err(CalculationError::Refused(errors)) }
    }
}

/// The last line of defence: an answer never carries NaN or infinity.
pub(crate) fn finite(value: f64, pointer: &str, what: &str) -> Result<f64, CalculationError> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(CalculationError::field(pointer, format!("these numbers give no finite {what}")))
    }
}
