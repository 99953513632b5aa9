//! Exact lengths.
//!
//! A length is an integer count of picometres: 0.1 microinch (2,540 pm) and 1 nanometre (1,000 pm) are both exact, so
//! sums never drift and a value comes back as it was entered. The unit in which it was entered goes with it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::{cmp::Ordering, fmt};

const PICOMETRES_PER_MILLIMETRE: f64 = 1e9;
const PICOMETRES_PER_INCH: f64 = 25.4e9;

/// The largest magnitude a length may have on the wire, in its own unit.
pub const LARGEST_VALUE: f64 = 10_000.0;
/// The same bound in picometres, for the larger unit; the database holds it as a check too.
pub const LARGEST_PICOMETRES: i64 = 254_000_000_000_000;

/// A unit of length: UCUM `[in_i]` or `mm`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
pub enum LengthUnit {
    /// International inch, exactly 25.4 mm.
    #[serde(rename = "in")]
    Inch,
    /// Millimetre.
    #[serde(rename = "mm")]
    Millimetre,
}

impl LengthUnit {
    /// The unit's sign on the wire: `in` or `mm`.
    #[must_use]
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Inch => "in",
            Self::Millimetre => "mm",
        }
    }

    /// The other unit.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::Inch => Self::Millimetre,
            Self::Millimetre => Self::Inch,
        }
    }

    /// Reads the sign; `None` for anything else.
    #[must_use]
    pub fn from_sign(sign: &str) -> Option<Self> {
        match sign {
            "in" => Some(Self::Inch),
            "mm" => Some(Self::Millimetre),
            _ => None,
        }
    }

    /// Picometres in one of this unit.
    #[must_use]
    pub const fn picometres(self) -> f64 {
        match self {
            Self::Inch => PICOMETRES_PER_INCH,
            Self::Millimetre => PICOMETRES_PER_MILLIMETRE,
        }
    }

    /// The decimals that a shop reads at the most: a ten-thousandth of a millimetre, a hundred-thousandth of an inch.
    #[must_use]
    pub const fn decimals(self) -> usize {
        match self {
            Self::Inch => 5,
            Self::Millimetre => 4,
        }
    }
}

/// Why a number is not a length.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LengthError {
    /// NaN or infinite.
    #[error("a length must be a finite number")]
    NotFinite,
    /// Beyond ±10,000 of its unit.
    #[error("a length must lie between -10000 and 10000 in its unit")]
    OutOfRange,
}

/// An exact length with the unit in which it was entered. Order and equality are those of the length alone, so that
/// 1 in equals 25.4 mm.
#[derive(Clone, Copy, Debug)]
pub struct Length {
    picometres: i64,
    unit: LengthUnit,
}

impl Length {
    /// Reads a value in a unit, rounded half to even to the picometre.
    ///
    /// # Errors
    /// [`LengthError`] when not finite or out of range.
    pub fn new(value: f64, unit: LengthUnit) -> Result<Self, LengthError> {
        if !value.is_finite() {
            return Err(LengthError::NotFinite);
        }
        if value.abs() > LARGEST_VALUE {
            return Err(LengthError::OutOfRange);
        }
        #[expect(clippy::cast_possible_truncation, reason = "bounded by LARGEST_VALUE: below 2^53")]
        let picometres = (value * unit.picometres()).round_ties_even() as i64;
        Ok(Self { picometres, unit })
    }

    /// A length from its stored parts.
    #[must_use]
    pub const fn from_picometres(picometres: i64, unit: LengthUnit) -> Self {
        Self { picometres, unit }
    }

    /// The exact count of picometres.
    #[must_use]
    pub const fn picometres(self) -> i64 {
        self.picometres
    }

    /// The unit in which it was entered.
    #[must_use]
    pub const fn unit(self) -> LengthUnit {
        self.unit
    }

    /// The value in the unit in which it was entered: the nearest double.
    #[must_use]
    pub fn value(self) -> f64 {
        self.value_in(self.unit)
    }

    /// The value in another unit: the nearest double.
    #[must_use]
    pub fn value_in(self, unit: LengthUnit) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "bounded by LARGEST_PICOMETRES: below 2^53")]
        let picometres = self.picometres as f64;
        picometres / unit.picometres()
    }

    /// Millimetres, for calculations.
    #[must_use]
    pub fn millimetres(self) -> f64 {
        self.value_in(LengthUnit::Millimetre)
    }

    /// In words, in a unit: a ten-thousandth of a millimetre or a hundred-thousandth of an inch at the finest, beyond
    /// what a shop measures.
    #[must_use]
    pub fn words_in(self, unit: LengthUnit) -> String {
        let decimals = unit.decimals();
        let text = format!("{:.decimals$}", self.value_in(unit));
        let text = text.trim_end_matches('0').trim_end_matches('.');
        format!("{} {}", if text == "-0" { "0" } else { text }, unit.sign())
    }

    /// The sum, in this length's unit.
    #[must_use]
    pub const fn plus(self, other: Self) -> Self {
        Self { picometres: self.picometres + other.picometres, unit: self.unit }
    }

    /// The difference `self - other`, in this length's unit.
    #[must_use]
    pub const fn minus(self, other: Self) -> Self {
        Self { picometres: self.picometres - other.picometres, unit: self.unit }
    }

    /// It for a sentence, as a shop reads it: to a ten-thousandth of a millimetre, or a hundred-thousandth of an inch.
    #[must_use]
    pub fn read_off(self) -> String {
        self.words_in(self.unit)
    }

    /// The magnitude.
    #[must_use]
    pub const fn abs(self) -> Self {
        Self { picometres: self.picometres.abs(), unit: self.unit }
    }
}

impl PartialEq for Length {
    fn eq(&self, other: &Self) -> bool {
        self.picometres == other.picometres
    }
}

impl Eq for Length {}

impl PartialOrd for Length {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Length {
    fn cmp(&self, other: &Self) -> Ordering {
        self.picometres.cmp(&other.picometres)
    }
}

impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.value(), self.unit.sign())
    }
}

/// On the wire: `{"value": 0.75, "unit": "in"}`.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Wire {
    value: f64,
    unit: LengthUnit,
}

impl Serialize for Length {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        Wire { value: self.value(), unit: self.unit }.serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Length {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let wire = Wire::deserialize(deserializer)?;
        Self::new(wire.value, wire.unit).map_err(serde::de::Error::custom)
    }
}

/// Signed deviations from a nominal, lower ≤ upper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "DeviationsWire", into = "DeviationsWire")]
pub struct Deviations {
    lower: Length,
    upper: Length,
}

/// The lower deviation is above the upper one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the lower deviation must not be above the upper one")]
pub struct DeviationsError;

impl Deviations {
    /// Reads a pair of deviations.
    ///
    /// # Errors
    /// [`DeviationsError`] when lower is above upper.
    pub fn new(lower: Length, upper: Length) -> Result<Self, DeviationsError> {
        if lower > upper { Err(DeviationsError) } else { Ok(Self { lower, upper }) }
    }

    /// The lower deviation.
    #[must_use]
    pub const fn lower(self) -> Length {
        self.lower
    }

    /// The upper deviation.
    #[must_use]
    pub const fn upper(self) -> Length {
        self.upper
    }

    /// Whether `measured` lies within the deviations around `target`, limits included. Exact.
    #[must_use]
    pub fn admit(self, target: Length, measured: Length) -> bool {
        let deviation = measured.minus(target);
        self.lower <= deviation && deviation <= self.upper
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct DeviationsWire {
    lower: Length,
    upper: Length,
}

impl TryFrom<DeviationsWire> for Deviations {
    type Error = DeviationsError;

    fn try_from(wire: DeviationsWire) -> Result<Self, Self::Error> {
        Self::new(wire.lower, wire.upper)
    }
}

impl From<Deviations> for DeviationsWire {
    fn from(deviations: Deviations) -> Self {
        Self { lower: deviations.lower, upper: deviations.upper }
    }
}

#[cfg(test)]
mod tests {
    use super::{Deviations, Length, LengthError, LengthUnit};
    use proptest::prelude::*;

    fn inch(value: f64) -> Length {
        Length::new(value, LengthUnit::Inch).unwrap()
    }

    fn mm(value: f64) -> Length {
        Length::new(value, LengthUnit::Millimetre).unwrap()
    }

    /// The international inch is exactly 25.4 mm (international yard and pound agreement of 1959; also ISO 80000-3
    /// and NIST SP 811 B.8; recalled).
    #[test]
    fn an_inch_is_exactly_25_4_millimetres() {
        assert_eq!(inch(1.0), mm(25.4));
        assert_eq!(inch(0.000_000_1).picometres(), 2540);
        assert_eq!(mm(0.000_001).picometres(), 1000);
    }

    #[test]
    fn nonsense_is_refused() {
        assert_eq!(Length::new(f64::NAN, LengthUnit::Inch), Err(LengthError::NotFinite));
        assert_eq!(Length::new(f64::INFINITY, LengthUnit::Inch), Err(LengthError::NotFinite));
        assert_eq!(Length::new(10_000.1, LengthUnit::Millimetre), Err(LengthError::OutOfRange));
        assert!(Length::new(-10_000.0, LengthUnit::Inch).is_ok());
    }

    #[test]
    fn limits_are_included() {
        let tolerance = Deviations::new(inch(-0.001), inch(0.0)).unwrap();
        assert!(tolerance.admit(inch(0.375), inch(0.374)));
        assert!(tolerance.admit(inch(0.375), inch(0.375)));
        assert!(!tolerance.admit(inch(0.375), inch(0.3739)));
        assert!(Deviations::new(inch(0.001), inch(0.0)).is_err());
    }

    proptest! {
        /// What was entered with up to nine (mm) or eight (in) decimals comes back as the same double.
        #[test]
        fn entered_decimals_come_back(whole in 0_i64..10_000, fraction in 0_i64..100_000_000, negative: bool) {
            let text = format!("{}{whole}.{fraction:08}", if negative { "-" } else { "" });
            let value: f64 = text.parse().unwrap();
            for unit in [LengthUnit::Inch, LengthUnit::Millimetre] {
                let length = Length::new(value, unit).unwrap();
                prop_assert_eq!(length.value(), value, "{} {:?}", text, unit);
                let json = serde_json::to_string(&length).unwrap();
                let back: Length = serde_json::from_str(&json).unwrap();
                prop_assert_eq!(back.picometres(), length.picometres());
                prop_assert_eq!(back.unit(), unit);
            }
        }
    }
}
