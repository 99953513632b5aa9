//! The shop's choices for the control of its gauges on the wire.

use dovetally_core::{
    field_error::{FieldError, FieldErrors},
    gauge::check::{DecisionRule, GaugeControl},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// How checks of gauges are decided. Every check keeps the rule by which it was decided.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = GaugeControl,
    example = json!({"conformance": 0.95, "guard_factor": null, "impact_when_undecided": false}))]
pub struct GaugeControlBody {
    /// The probability that an accepted gauge conforms, from 0.5 up to, but not with, 1: 0.95 when nobody chose. Exactly one
    /// of this and `guard_factor`.
    #[serde(default)]
    #[schema(required = false, minimum = 0.5, exclusive_maximum = 1)]
    pub conformance: Option<f64>,
    /// The guard band over the standard uncertainty, from 0 to 30.
    #[serde(default)]
    #[schema(required = false, minimum = 0, maximum = 30)]
    pub guard_factor: Option<f64>,
    /// Whether a gauge that is found undecided raises an impact document, as one that is found rejected always does.
    pub impact_when_undecided: bool,
}

impl From<GaugeControl> for GaugeControlBody {
    fn from(control: GaugeControl) -> Self {
        let (conformance, guard_factor) = match control.rule {
            DecisionRule::Conformance(wanted) => (Some(wanted), None),
            DecisionRule::GuardFactor(factor) => (None, Some(factor)),
        };
        Self { conformance, guard_factor, impact_when_undecided: control.impact_when_undecided }
    }
}

impl GaugeControlBody {
    /// The trade's own.
    ///
    /// # Errors
    /// What cannot be.
    pub fn control(&self) -> Result<GaugeControl, Vec<FieldError>> {
        let rule = match (self.conformance, self.guard_factor) {
            (Some(wanted), None) => DecisionRule::Conformance(wanted),
            (None, Some(factor)) => DecisionRule::GuardFactor(factor),
            _ => {
                let mut errors = FieldErrors::default();
                errors.add("/guard_factor", "give conformance or guard_factor, exactly one of the two");
                return Err(errors.into_vec());
            }
        };
        let errors = rule.check();
        if errors.is_empty() {
            Ok(GaugeControl { rule, impact_when_undecided: self.impact_when_undecided })
        } else {
            Err(errors)
        }
    }
}
