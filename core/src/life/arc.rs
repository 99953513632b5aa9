//! Arc and angle of circular form tools. The arc is what is stored, exact; the angle is what people grind by.

use crate::length::{Length, LengthError};

/// The arc of an angle at a radius, in the radius's unit, rounded to the picometre.
///
/// # Errors
/// [`LengthError`] for an angle that is no number, or an arc beyond every length.
pub fn arc_of(angle_deg: f64, radius: Length) -> Result<Length, LengthError> {
    Length::new(radius.value() * angle_deg.to_radians(), radius.unit())
}

/// The angle of an arc at a radius above zero, in degrees.
#[must_use]
pub fn angle_of(arc: Length, radius: Length) -> f64 {
    (arc.millimetres() / radius.millimetres()).to_degrees()
}

/// The angle that is left to grind away: of the arc left beyond the least; zero when nothing is.
#[must_use]
pub fn usable_angle_deg(left: Length, least: Length, radius: Length) -> f64 {
    angle_of(left.minus(least), radius).max(0.0)
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

    proptest! {
        #[test]
        fn an_angle_comes_back(angle in 0.0..360.0_f64, radius in 0.2..10.0_f64) {
            let radius = Length::new(radius, LengthUnit::Inch).unwrap();
            let back = angle_of(arc_of(angle, radius).unwrap(), radius);
            prop_assert!((back - angle).abs() < 1e-8, "{angle} {back}");
        }
    }
}
