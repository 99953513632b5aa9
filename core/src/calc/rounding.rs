//! The one rounding rule, and the way in and out of millimetres.
//!
//! Every number in an answer is rounded to [`SIGNIFICANT_DIGITS`] significant decimal digits, half to even. That is
//! finer than any reading by many orders, coarse enough to hide the last bits that a change of unit disturbs, and
//! relative, so that it treats inches and millimetres alike.

use crate::length::{Length, LengthUnit};

/// How many significant decimal digits leave a calculation.
pub const SIGNIFICANT_DIGITS: i32 = 14;

const MILLIMETRES_PER_INCH: f64 = 25.4;

/// Rounds to [`SIGNIFICANT_DIGITS`]; negative zero becomes zero.
#[must_use]
pub fn rounded(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return if value == 0.0 { 0.0 } else { value };
    }
    #[expect(clippy::cast_possible_truncation, reason = "the exponent of a double lies within ±324")]
    let decimals = SIGNIFICANT_DIGITS - 1 - value.abs().log10().floor() as i32;
    // Powers of ten up to 10^22 are exact doubles, so the quotient is the double nearest to the rounded decimal.
    if (0..=22).contains(&decimals) {
        let scale = 10_f64.powi(decimals);
        (value * scale).round_ties_even() / scale
    } else {
        let digits = usize::try_from(SIGNIFICANT_DIGITS - 1).unwrap_or(0);
        format!("{value:.digits$e}").parse().unwrap_or(value)
    }
}

/// Converts a request's lengths to millimetres and an answer's back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unit(pub LengthUnit);

impl Unit {
    const fn millimetres(self) -> f64 {
        match self.0 {
            LengthUnit::Inch => MILLIMETRES_PER_INCH,
            LengthUnit::Millimetre => 1.0,
        }
    }

    /// A request's length in millimetres.
    #[must_use]
    pub fn inward(self, value: f64) -> f64 {
        value * self.millimetres()
    }

    /// Millimetres in the request's unit, rounded.
    #[must_use]
    pub fn outward(self, millimetres: f64) -> f64 {
        rounded(millimetres / self.millimetres())
    }

    /// `minuend - subtrahend` of two of the request's lengths, in millimetres. Entries that are whole picometres are
    /// subtracted exactly, so that 0.3752 in less 0.375 in is 0.0002 in and not a few last bits beside it.
    #[must_use]
    pub fn difference(self, minuend: f64, subtrahend: f64) -> f64 {
        let exact = |value: f64| Length::new(value, self.0).ok().filter(|length| length.value() == value);
        match (exact(minuend), exact(subtrahend)) {
            (Some(a), Some(b)) => a.minus(b).millimetres(),
            _ => self.inward(minuend - subtrahend),
        }
    }

    /// A length for a sentence: as many decimals as a person can use, a tenth of a thousandth of an inch or a
    /// thousandth of a millimetre; twice as fine where that would read as zero.
    #[must_use]
    pub fn words(self, millimetres: f64) -> String {
        let value = self.outward(millimetres);
        let decimals: usize = match self.0 {
            LengthUnit::Inch => 4,
            LengthUnit::Millimetre => 3,
        };
        let coarse = format!("{value:.decimals$}");
        let text = if value != 0.0 && coarse.parse::<f64>().is_ok_and(|read| read == 0.0) {
            format!("{value:.*}", decimals + 2)
        } else {
            coarse
        };
        format!("{text} {}", self.0.sign())
    }

    /// The unit's sign on the wire.
    #[must_use]
    pub const fn sign(self) -> &'static str {
        self.0.sign()
    }
}

#[cfg(test)]
mod tests {
    use super::{Unit, rounded};
    use crate::length::LengthUnit;
    use proptest::prelude::*;

    #[test]
    fn the_last_bits_go_and_the_value_stays() {
        assert_eq!(rounded(0.1 + 0.2), 0.3);
        assert_eq!(rounded(9.525 / 25.4), 0.375);
        assert_eq!(rounded(-0.0).to_bits(), 0.0_f64.to_bits());
        assert_eq!(rounded(1.234_567_890_123_456e-40), 1.234_567_890_123_5e-40);
        assert_eq!(rounded(1.234_567_890_123_456e40), 1.234_567_890_123_5e40);
    }

    #[test]
    fn differences_of_entries_are_exact() {
        assert_eq!(Unit(LengthUnit::Inch).outward(Unit(LengthUnit::Inch).difference(0.3752, 0.375)), 0.0002);
        assert_eq!(Unit(LengthUnit::Millimetre).difference(9.53, 9.525), 0.005);
    }

    #[test]
    fn words_show_small_lengths_too() {
        assert_eq!(Unit(LengthUnit::Inch).words(25.4 * 0.375), "0.3750 in");
        assert_eq!(Unit(LengthUnit::Inch).words(25.4 * 0.000_02), "0.000020 in");
        assert_eq!(Unit(LengthUnit::Millimetre).words(0.0), "0.000 mm");
    }

    proptest! {
        /// The fast path gives what decimal formatting gives.
        #[test]
        fn rounding_is_decimal_rounding(value in proptest::num::f64::NORMAL) {
            let expected: f64 = format!("{value:.13e}").parse().unwrap();
            let got = rounded(value);
            prop_assert!(got == expected || ((got - expected) / expected).abs() < 1.1e-13, "{value:e}: {got:e} {expected:e}");
            prop_assert_eq!(rounded(got), got);
        }
    }
}
