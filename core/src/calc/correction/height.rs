//! The height screw alone, from a height read on the gauge.

use super::{AdjusterInput, Correction};
use crate::{
    adjuster::{AdjusterKind, Motion},
    calc::{
        error::{CalculationError, Reader},
        rounding::Unit,
    },
    length::LengthUnit,
};

/// The turns of a height screw that bring an edge onto its gauge. `deviation` is edge minus gauge in the unit; the tool is
/// lifted along ways that lean by the clearance, so that the screw travels farther than the edge rises.
///
/// # Errors
/// [`CalculationError::Refused`] for a screw that lifts nothing, or a clearance that is no acute angle.
pub fn height_screw(
    adjuster: &AdjusterInput,
    unit: LengthUnit,
    deviation: f64,
    clearance_deg: f64,
) -> Result<Correction, CalculationError> {
    let mut reader = Reader::new(unit);
    let error = reader.length("/deviation", deviation);
    let clearance = reader.between("/clearance_deg", clearance_deg, -90.0, 90.0).to_radians();
    let screw = adjuster.read(&mut reader, "/adjuster", AdjusterKind::Height);
    reader.finish()?;
    let motion = if error > 0.0 { Motion::EdgeDown } else { Motion::EdgeUp };
    let unit = Unit(unit);
    let effect = format!("by {}", unit.words(error.abs()));
    Ok(screw.correct(unit, motion, error.abs() / clearance.cos(), &effect, Some("the edge on the gauge")))
}
