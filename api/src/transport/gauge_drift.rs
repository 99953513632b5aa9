//! The drift of a gauge on the wire.

use super::schema::{CodeSchema, UnitSchema};
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{code::Code, length::LengthUnit};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

/// How a gauge drifts from check to check. Lengths are plain numbers in `unit`, heights less the nominal one; what cannot
/// be told yet is null.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = GaugeDrift)]
pub struct GaugeDriftView {
    /// The gauge.
    #[schema(value_type = CodeSchema)]
    pub gauge: Code,
    /// The machine it is bound to; checks against earlier machines are left out.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// The unit of all lengths here.
    #[schema(value_type = UnitSchema)]
    pub unit: LengthUnit,
    /// The lower limit less the nominal height.
    pub lower_limit: f64,
    /// The upper limit less the nominal height.
    pub upper_limit: f64,
    /// How many checks there are.
    pub checks: usize,
    /// Where it last moved at once, by more than it drifted and scattered until then, and was adjusted or rejected for it;
    /// null where it never did. The line begins anew there.
    pub jump: Option<DriftJumpView>,
    /// How many more checks are needed, on other days, before there is a line; null when there is one.
    pub more_checks_needed: Option<usize>,
    /// The straight line through them, or through those since it moved at once, as it was left then.
    pub line: Option<DriftLineView>,
    /// Each check, oldest first: for a plot.
    pub points: Vec<DriftPointView>,
    /// The last day on which the gauge's check is valid.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub next_check: Option<NaiveDate>,
    /// The day proposed for it, never later than planned; null while it was never checked.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub proposed_next_check: Option<NaiveDate>,
    /// The answer in words.
    #[schema(example = "It falls by 0.003 mm a year.")]
    pub sentence: String,
    /// Where the formulas come from.
    pub source: &'static str,
}

/// A check that found a gauge moved at once.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = GaugeDriftJump)]
pub struct DriftJumpView {
    /// The check.
    pub check: Uuid,
    /// When it was done.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub performed_at: DateTime<Utc>,
    /// The height found less the one that the checks before foretold.
    pub by: f64,
}

/// A straight line through a gauge's checks, adjustments taken off.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = GaugeDriftLine)]
pub struct DriftLineView {
    /// Change of height in a year of 365.25 days; below zero the gauge becomes lower.
    pub slope_per_year: f64,
    /// Standard uncertainty of the slope.
    pub slope_standard_uncertainty: f64,
    /// Whether the drift stands out from the scatter at the confidence below, two-sided.
    pub significant: bool,
    /// Scatter of what was found about the line.
    pub residual_standard_deviation: f64,
    /// All adjustments so far; above zero they made the gauge higher.
    pub adjusted: f64,
    /// How likely the interval is to hold one finding, two-sided.
    pub confidence: f64,
    /// What is to be expected at the next check; null where none is due.
    pub at_next_check: Option<DriftExpectedView>,
    /// The first day on which the interval reaches a limit; null within a hundred years.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub reaches_limit_on: Option<NaiveDate>,
    /// Which limit: `lower` or `upper`.
    #[schema(example = "upper")]
    pub reaches_limit: Option<&'static str>,
}

/// What is to be found on a day.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = GaugeDriftExpected)]
pub struct DriftExpectedView {
    /// The day.
    #[schema(value_type = chrono::NaiveDate)]
    pub day: NaiveDate,
    /// The height on the line.
    pub expected: f64,
    /// The interval's lower end.
    pub lower: f64,
    /// The interval's upper end.
    pub upper: f64,
}

/// One check, as a point.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = GaugeDriftPoint)]
pub struct DriftPointView {
    /// The check.
    pub check: Uuid,
    /// When it was done.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub performed_at: DateTime<Utc>,
    /// The height found.
    pub found: f64,
    /// The height left.
    pub left: f64,
    /// Where it would have been found had every adjustment been made before the first check: what the line goes through.
    /// Null before it last moved at once.
    pub drifted: Option<f64>,
    /// The line on that day.
    pub expected: Option<f64>,
}
