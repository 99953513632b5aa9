//! Corrections and calculations: pure functions from a request to an answer that shows its work.
//!
//! # Conventions
//!
//! - A request names one unit, `"in"` or `"mm"`, for all its lengths. Angles are degrees, temperatures °C. Inside, lengths
//!   are `f64` millimetres; they leave through [`rounding`], the one rounding rule.
//! - Axes: `x` from the spindle axis toward the tool along the slide; `y` against the work's motion at the edge (up for an
//!   upright tool, down for an inverted one), so a positive height always costs clearance; `z` along the spindle axis
//!   away from the collet.
//! - `height` > 0: the edge lies toward +y of centre. `infeed` > 0: the tool stands too far from the axis, so work is
//!   large. Taper > 0: diameter grows with `z`.
//! - Clearance `α` ≥ 0 is the front relief of the tool as held; rake `γ` > 0 when the cutting face falls away from the
//!   edge. The smallest work diameter is cut by the edge set on centre.
//! - A [`Correction`] always counts turns of a screw as a magnitude; the sense stands beside it,
//!   with the side from which it is seen.
//! - At setup, being inside the tolerance is not the aim, for a form tool wears one way: the aim is a setting zone, the
//!   middle half of the tolerance unless the request says otherwise. Inside it, and below what the readings resolve, the
//!   answer is "Leave it alone".
//!
//! # Shape
//!
//! Each calculation is a type that implements [`Calculation`]; [`ALL`] lists them for the one generic endpoint.

pub mod answer;
pub mod approach;
pub mod bar_stock;
pub mod capability;
pub mod center_height_effect;
pub mod circular_form_profile;
pub mod control_constants;
pub mod control_limits;
pub mod correction;
pub mod cutting;
pub mod distributions;
pub mod drill_depth;
pub mod error;
pub mod flat_form_profile;
pub mod form_diagnosis;
pub mod form_geometry;
pub mod gauge_conformity;
pub mod intermittent_demand;
pub mod lateral_correction;
pub mod least_squares;
pub mod life_distribution;
pub mod limits;
pub mod mtbf;
mod registry;
pub mod regrind_outlook;
pub mod reorder;
pub(crate) mod root;
pub mod rounding;
mod schema;
pub mod screw_travel;
pub mod setting_adjustment;
pub mod slide_correction;
pub mod summary;
pub mod taper;
#[cfg(test)]
mod testing;
pub mod thermal;
pub mod tolerance_interval;
pub mod tool_life;
pub mod uncertainty_budget;
pub mod wear_trend;

pub use answer::{Answer, Calculation, Source, Step};
pub use correction::{AdjusterInput, Correction};
pub use error::CalculationError;
pub use limits::Limits;
pub use registry::{ALL, Entry, find};
pub(crate) use root::rising;
