//! What is left of a form tool, told as it is measured at the bench: the height of a flat one, the usable angle of a
//! circular one, as an index plate or a dividing head shows it. Nobody measures an arc round a disc.

use super::arc::angle_of;
use crate::{
    length::Length,
    registry::tool_design::{ToolDesignFields, ToolDesignKind},
};

/// In what the tools of a design are measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measure {
    kind: ToolDesignKind,
    least: Length,
    radius: Option<Length>,
}

impl Measure {
    /// The design's.
    #[must_use]
    pub const fn of(design: &ToolDesignFields) -> Self {
        Self { kind: design.kind, least: design.minimum_height, radius: design.tool_radius }
    }

    /// Whether it is an angle: of circular tools whose radius is known.
    #[must_use]
    pub const fn is_angle(self) -> bool {
        self.radius.is_some()
    }

    /// What is measured, in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match (self.kind, self.radius) {
            (ToolDesignKind::Flat, _) => "height",
            (ToolDesignKind::Circular, None) => "arc",
            (ToolDesignKind::Circular, Some(_)) => "usable angle",
        }
    }

    /// What is left of a tool of so much height: less than nothing where the angle is used up.
    #[must_use]
    pub fn left(self, height: Length) -> String {
        self.radius.map_or_else(|| height.read_off(), |radius| degrees(angle_of(height.minus(self.least), radius)))
    }

    /// What so much of the height is.
    #[must_use]
    pub fn part(self, height: Length) -> String {
        self.radius.map_or_else(|| height.read_off(), |radius| degrees(angle_of(height, radius)))
    }

    /// What is left of two heights, each to as many digits as tell them apart.
    #[must_use]
    pub fn beside(self, one: Length, other: Length) -> [String; 2] {
        let heights = [one, other];
        let told = heights.map(|height| self.left(height));
        if one == other || told[0] != told[1] {
            return told;
        }
        let exact = |radius, height: Length| format!("{}°", angle_of(height.minus(self.least), radius));
        heights.map(|height| self.radius.map_or_else(|| height.to_string(), |radius| exact(radius, height)))
    }
}

/// An angle as it is read off: to a hundredth of a degree.
fn degrees(angle_deg: f64) -> String {
    let text = format!("{angle_deg:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{}°", if text == "-0" { "0" } else { text })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        length::LengthUnit,
        life::{
            arc::arc_of,
            example::{circular, flat, mm},
        },
    };

    /// R = 30 mm, of which 12 mm of arc stay (derived): a radian, 57.2958°, is 30 mm of arc; 0.4 mm are 0.7639°.
    #[test]
    fn an_arc_is_told_as_the_angle_that_is_left() {
        let measure = Measure::of(&circular());
        assert!(measure.is_angle() && measure.name() == "usable angle");
        assert_eq!(measure.left(mm(42.0)), "57.3°");
        assert_eq!(measure.part(mm(0.4)), "0.76°");
        assert_eq!((measure.left(mm(12.0)), measure.left(mm(11.6))), ("0°".to_owned(), "-0.76°".to_owned()));
        // A picometre less than nothing has no sign.
        assert_eq!(measure.left(Length::from_picometres(11_999_999_999, LengthUnit::Millimetre)), "0°");
        // 268° are 268/180 of π · 30 mm: 140.324471860 mm beyond the 12.
        let arc = arc_of(268.0, mm(30.0)).unwrap();
        assert_eq!(arc, mm(140.324_471_860));
        assert_eq!(measure.left(mm(12.0).plus(arc)), "268°");
    }

    #[test]
    fn a_height_is_told_to_what_a_shop_reads() {
        let measure = Measure::of(&flat());
        assert!(!measure.is_angle() && measure.name() == "height");
        assert_eq!(measure.left(mm(161.895_268_187)), "161.8953 mm");
        assert_eq!(measure.part(Length::new(1.0 / 3.0, LengthUnit::Inch).unwrap()), "0.33333 in");
        let unknown = ToolDesignFields { tool_radius: None, ..circular() };
        assert_eq!((Measure::of(&unknown).name(), Measure::of(&unknown).left(mm(42.0))), ("arc", "42 mm".to_owned()));
    }

    /// One degree at 30 mm is 0.5236 mm: a micrometre is 0.0019°, which a hundredth does not show.
    #[test]
    fn what_differs_never_reads_alike() {
        let measure = Measure::of(&circular());
        assert_eq!(measure.beside(mm(42.0), mm(41.0)), ["57.3°", "55.39°"]);
        let [one, other] = measure.beside(mm(42.0), mm(42.001));
        assert!(one.starts_with("57.2957") && other.starts_with("57.2976"), "{one} {other}");
        let flat = Measure::of(&flat());
        assert_eq!(flat.beside(mm(20.0), mm(19.999_999)), ["20 mm", "19.999999 mm"]);
        assert_eq!(flat.beside(mm(20.0), mm(20.0)), ["20 mm", "20 mm"]);
    }
}
