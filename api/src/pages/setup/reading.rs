//! A measured value on its way into the record: typed, read back, and then kept.

use crate::pages::{
    frame::Frame,
    numbers::{self, ShownLength, near},
    visit::Faults,
};
use dovetally_core::length::{Length, LengthUnit};

/// What a box holds.
#[derive(Clone, Debug)]
pub(super) struct Typed {
    /// The digits, as they were typed.
    pub(super) value: String,
    /// "plus" or "minus", "open" where neither is chosen yet; empty for what has no sign.
    pub(super) sign: &'static str,
    /// The unit that stands beside the box.
    pub(super) unit: LengthUnit,
}

/// What a value is compared with before it is kept.
#[derive(Clone, Copy, Debug)]
pub(super) struct Expected {
    pub(super) target: Length,
    pub(super) width: Length,
}

/// A value that is told back.
pub(super) struct ReadBack {
    pub(super) shown: ShownLength,
    pub(super) doubt: Option<String>,
}

impl Typed {
    /// An empty box.
    pub(super) const fn empty(unit: LengthUnit, signed: bool) -> Self {
        Self { value: String::new(), sign: if signed { "open" } else { "" }, unit }
    }

    /// What a form sent.
    pub(super) fn of(value: &str, sign: &str, unit: &str, otherwise: LengthUnit, signed: bool) -> Self {
        let sign = if signed { numbers::sign_of(sign) } else { "" };
        Self { value: value.to_owned(), sign, unit: LengthUnit::from_sign(unit).unwrap_or(otherwise) }
    }

    /// The unit that a tap changes to.
    pub(super) const fn other_unit(&self) -> LengthUnit {
        self.unit.other()
    }

    /// The length, or what is wrong with it.
    pub(super) fn read(&self, frame: &Frame, faults: &mut Faults) -> Option<Length> {
        let read = match self.sign {
            "" => numbers::read_length(&self.value, self.unit),
            sign => numbers::read_signed_length(&self.value, self.unit, sign),
        };
        faults.read("value", read, |fault| frame.number_fault(fault))
    }
}

impl ReadBack {
    /// Tells a value back, with what is odd about it.
    pub(super) fn of(frame: &Frame, length: Length, expected: Option<Expected>) -> Self {
        let odd = expected.and_then(|expected| {
            let odd = near(expected.target, expected.width).doubt(length);
            odd.map(|odd| frame.doubt(odd, &length, &expected.target))
        });
        Self { shown: frame.length(&length), doubt: odd }
    }
}
