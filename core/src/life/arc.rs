//! Arc and angle of circular form tools. The arc is what is stored, exact; the angle is what people grind by.

use crate::length::{Length, LengthError};

/// The arc of an angle at a radius, in the radius's unit, rounded to the picometre.
///
/// # Errors
/// [`LengthError`] for an angle that is no number, or an arc beyond every length.
pub fn arc_of(angle_deg: f64, radius: Length) -> Result<Length, LengthError> {
    Length::new(radius.value() * angle_deg.to_radians(), radius.unit())
}

/// The angle of an arc at a radius above zero, in degrees, to as many decimals as a picometre of arc can tell apart: the
/// quotient of two exact counts, without the noise behind it. An angle of that many decimals whose arc was stored comes back
/// as it was.
#[must_use]
pub fn angle_of(arc: Length, radius: Length) -> f64 {
    let (arc, radius) = (picometres(arc), picometres(radius));
    let decimals = 10_f64.powf((radius * 1_f64.to_radians()).log10().floor());
    ((arc / radius).to_degrees() * decimals).round() / decimals
}

/// The angle that is left to grind away: of the arc left beyond the least; zero when nothing is.
#[must_use]
pub fn usable_angle_deg(left: Length, least: Length, radius: Length) -> f64 {
    angle_of(left.minus(least), radius).max(0.0)
}

#[expect(clippy::cast_precision_loss, reason = "lengths lie below 2^53 picometres")]
const fn picometres(length: Length) -> f64 {
    length.picometres() as f64
}

#[cfg(test)]
mod tests {
    use super::{angle_of, arc_of, usable_angle_deg};
    use crate::length::{Length, LengthUnit};
    use proptest::prelude::*;

    #[test]
    fn a_turn_is_a_circumference() {
        let radius = Length::new(30.0, LengthUnit::Millimetre).unwrap();
        assert_eq!(arc_of(360.0, radius).unwrap().picometres(), 188_495_559_215);
        assert!(arc_of(f64::NAN, radius).is_err());
        let least = Length::new(20.0, LengthUnit::Millimetre).unwrap();
        assert_eq!(usable_angle_deg(least.minus(radius), least, radius), 0.0);
    }

    /// A picometre of arc at 30 mm is 1.9e-9 degrees: eight decimals are told, and none of what a division leaves behind.
    #[test]
    fn half_a_turn_is_told_as_half_a_turn() {
        let radius = Length::new(30.0, LengthUnit::Millimetre).unwrap();
        let least = Length::new(20.0, LengthUnit::Millimetre).unwrap();
        for (angle, told) in
            [(180.0, "180"), (178.0, "178"), (176.5, "176.5"), (0.1, "0.1"), (12.345_678_91, "12.34567891")]
        {
            let left = least.plus(arc_of(angle, radius).unwrap());
            assert_eq!(usable_angle_deg(left, least, radius).to_string(), told);
        }
    }

    proptest! {
        #[test]
        fn an_angle_comes_back(angle in 0..36_000_000_i64, radius in 0.2..10.0_f64) {
            #[expect(clippy::cast_precision_loss, reason = "far below 2^53")]
            let angle = angle as f64 / 100_000.0;
            let radius = Length::new(radius, LengthUnit::Inch).unwrap();
            prop_assert_eq!(angle_of(arc_of(angle, radius).unwrap(), radius), angle);
        }
    }
}
