//! The cutting face of a form tool as it was ground, beside its design: rake, and a circular tool's face offset.
//!
//! A circular tool's face stands `R sin(α + γ)` from the tool's centre. Its offset is the sum of clearance and rake in another
//! measure, so that the tolerance of the rake, in degrees, is the tolerance of both.

use crate::{
    field_error::FieldErrors,
    length::Length,
    registry::tool_design::{ToolDesignFields, ToolDesignKind},
};

/// Angles within so many degrees of a limit lie on it: what decimal fractions lose as doubles.
const ON_THE_LIMIT_DEG: f64 = 1e-9;

/// What can be measured of a face.
pub(super) fn check_measured(
    rake_deg: Option<f64>,
    face_offset: Option<Length>,
    design: &ToolDesignFields,
    errors: &mut FieldErrors,
) {
    errors.require(
        rake_deg.is_none_or(|rake| rake.is_finite() && rake.abs() < 45.0),
        "/rake_deg",
        "must lie between -45 and 45 degrees",
    );
    if let Some(offset) = face_offset {
        errors.require(design.kind == ToolDesignKind::Circular, "/face_offset", "belongs to circular tools");
        let within = design.tool_radius.is_none_or(|radius| offset.abs() < radius);
        errors.require(within, "/face_offset/value", "must be less than the tool's radius");
    }
}

/// Where a circular tool's face stands by its design, `R sin(α + γ)` from the tool's centre; none without a radius.
#[must_use]
pub fn face_offset(design: &ToolDesignFields) -> Option<Length> {
    offset_at(design, 0.0)
}

/// The least and the largest face offset that the design's tolerance of the rake leaves.
#[must_use]
pub fn face_offset_limits(design: &ToolDesignFields) -> Option<(Length, Length)> {
    let tolerance = design.rake_tolerance_deg;
    Some((offset_at(design, -tolerance)?, offset_at(design, tolerance)?))
}

/// Whether a rake is the design's, within its tolerance.
#[must_use]
pub fn rake_holds(design: &ToolDesignFields, rake_deg: f64) -> bool {
    (rake_deg - design.rake_deg).abs() <= design.rake_tolerance_deg + ON_THE_LIMIT_DEG
}

/// Whether a face offset is the design's, within its tolerance; where the design has no radius nothing can be said against
/// one.
#[must_use]
pub fn face_offset_holds(design: &ToolDesignFields, offset: Length) -> bool {
    face_offset_limits(design).is_none_or(|(least, most)| (least..=most).contains(&offset))
}

fn offset_at(design: &ToolDesignFields, beyond_deg: f64) -> Option<Length> {
    let radius = design.tool_radius?;
    let angle = (design.clearance_deg + design.rake_deg + beyond_deg).clamp(-90.0, 90.0);
    Length::new(radius.value() * angle.to_radians().sin(), radius.unit()).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::life::example::{circular, flat, mm};
    use proptest::prelude::*;

    /// R = 30, α + γ = 30° ± 0.5°: 15 less 0.227 and more 0.226 (derived: 30 sin 29.5°, 30 sin 30.5°).
    #[test]
    fn the_offset_is_the_angle_in_another_measure() {
        let design = circular();
        assert_eq!(face_offset(&design), Some(mm(15.0)));
        let (least, most) = face_offset_limits(&design).unwrap();
        assert!((least.millimetres() - 14.772_706_803).abs() < 1e-9, "{least}");
        assert!((most.millimetres() - 15.226_150_889).abs() < 1e-9, "{most}");
        for (offset, holds) in [(14.77, false), (14.78, true), (15.22, true), (15.23, false), (-15.0, false)] {
            assert_eq!(face_offset_holds(&design, mm(offset)), holds, "{offset}");
        }
        let unknown = ToolDesignFields { tool_radius: None, ..design };
        assert!(face_offset_limits(&unknown).is_none() && face_offset_holds(&unknown, mm(3.0)));
    }

    #[test]
    fn a_rake_on_its_limit_holds() {
        let design = ToolDesignFields { rake_deg: 8.0, rake_tolerance_deg: 0.3, ..flat() };
        for (rake, holds) in [(8.3, true), (7.7, true), (8.31, false), (7.69, false)] {
            assert_eq!(rake_holds(&design, rake), holds, "{rake}");
        }
    }

    proptest! {
        /// Whatever the angles: a face ground to a rake within the tolerance has an offset within its limits, and one beyond
        /// has not.
        #[test]
        fn rake_and_offset_are_judged_alike(
            rake in -10.0..30.0_f64, clearance in 5.0..30.0_f64, tolerance in 0.05..3.0_f64, off in -6.0..6.0_f64,
        ) {
            let design = ToolDesignFields {
                rake_deg: rake, clearance_deg: clearance, rake_tolerance_deg: tolerance, ..circular()
            };
            prop_assume!((off.abs() - tolerance).abs() > 1e-6);
            let offset = offset_at(&design, off).unwrap();
            prop_assert_eq!(face_offset_holds(&design, offset), rake_holds(&design, rake + off));
        }
    }
}
