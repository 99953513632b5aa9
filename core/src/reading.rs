//! What a reading is expected to be, and the question after one that is not: a slip of the unit or of a digit is far more
//! often the reason than the thing that was measured.

use crate::{
    length::Length,
    refusal::{Refusal, Rule},
};

/// What a reading is expected to lie between, both ends included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Expected {
    least: Length,
    most: Length,
}

/// Why a reading is asked after.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doubt {
    /// The same number in the other unit, this length, would be as expected, and in its own unit it is not.
    OtherUnit(Length),
    /// It is far from what is expected.
    Far,
}

impl Expected {
    /// From one length to another.
    #[must_use]
    pub const fn between(least: Length, most: Length) -> Self {
        Self { least, most }
    }

    /// So far from a target, either way.
    #[must_use]
    pub const fn about(target: Length, apart: Length) -> Self {
        Self { least: target.minus(apart), most: target.plus(apart) }
    }

    /// Whether a reading is as expected.
    #[must_use]
    pub fn holds(self, read: Length) -> bool {
        (self.least..=self.most).contains(&read)
    }

    /// Why a reading is asked after; none where it is as expected.
    #[must_use]
    pub fn doubt(self, read: Length) -> Option<Doubt> {
        if self.holds(read) {
            return None;
        }
        let taken = Length::new(read.value(), read.unit().other()).ok();
        Some(taken.filter(|taken| self.holds(*taken)).map_or(Doubt::Far, Doubt::OtherUnit))
    }

    /// The question after a reading that is not as expected: a sentence with the reading in both units, and what was
    /// perhaps meant.
    #[must_use]
    pub fn question(self, read: Length, sentence: impl FnOnce(&str) -> String) -> Option<Refusal> {
        let doubt = self.doubt(read)?;
        let other = read.unit().other();
        let both = format!("{read} ({:.5} {})", read.value_in(other), other.sign());
        let mut asked = sentence(&both);
        if let Doubt::OtherUnit(meant) = doubt {
            asked.push_str(&format!(" Was {meant} meant?"));
        }
        Some(Refusal::new(Rule::ReadingNotConfirmed, asked).saw(both))
    }
}

#[cfg(test)]
mod tests {
    use super::{Doubt, Expected};
    use crate::length::{Length, LengthUnit};

    fn inch(value: f64) -> Length {
        Length::new(value, LengthUnit::Inch).unwrap()
    }

    fn mm(value: f64) -> Length {
        Length::new(value, LengthUnit::Millimetre).unwrap()
    }

    #[test]
    fn what_is_not_as_expected_is_asked_after_with_what_was_meant() {
        let expected = Expected::about(inch(3.749), inch(0.006));
        for (read, doubt) in [
            (inch(3.755), None),
            (inch(3.743), None),
            (mm(95.2246), None),
            (inch(3.755_001), Some(Doubt::Far)),
            (mm(3.749), Some(Doubt::OtherUnit(inch(3.749)))),
            (inch(95.2246), Some(Doubt::OtherUnit(mm(95.2246)))),
            (inch(3.794), Some(Doubt::Far)),
            // The largest number there is, in either unit.
            (mm(10_000.0), Some(Doubt::Far)),
        ] {
            assert_eq!(expected.doubt(read), doubt, "{read}");
        }
        let told = |read| expected.question(read, |both| format!("It would be {both}.")).map(|asked| asked.sentence);
        assert_eq!(told(mm(3.749)).unwrap(), "It would be 3.749 mm (0.14760 in). Was 3.749 in meant?");
        assert_eq!(told(inch(3.794)).unwrap(), "It would be 3.794 in (96.36760 mm).");
        assert_eq!(told(inch(3.749)), None);
    }
}
