//! Checks of centre gauges, decided: whether a measurement proves that a gauge lies inside its limits.
//!
//! A measurement beside a limit proves nothing, for it might as well lie on the other side. So a gauge is accepted only
//! inside its limits less a guard band, rejected only beyond them plus the same band, and undecided in between
//! (ISO 14253-1; [`crate::calc::gauge_conformity`] calculates it). What is undecided is not used.

use crate::{
    calc::{
        Calculation, CalculationError,
        distributions::normal_quantile,
        gauge_conformity::{GaugeConformity, Request, Verdict},
    },
    field_error::{FieldError, FieldErrors},
    length::{Length, LengthUnit},
    names::named,
    registry::item::{CenterGaugeFields, GaugeCheckFields},
};
use serde::{Deserialize, Serialize};

named! {
    /// What a measurement proves of a gauge.
    GaugeProof {
        /// That it lies inside its limits.
        Accept = "accept",
        /// That it lies outside its limits.
        Reject = "reject",
        /// Neither.
        Undecided = "undecided",
    }
}

impl From<Verdict> for GaugeProof {
    fn from(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Accept => Self::Accept,
            Verdict::Reject => Self::Reject,
            Verdict::Undecided => Self::Undecided,
        }
    }
}

/// How sure a shop wants to be before it accepts or rejects a gauge.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DecisionRule {
    /// By the probability that an accepted gauge conforms, from 0.5 up to, but not with, 1.
    Conformance(f64),
    /// By the guard band over the standard uncertainty, from 0 to 30.
    GuardFactor(f64),
}

impl Default for DecisionRule {
    /// 95 %, a guard factor of 1.645: what ISO 14253-1 takes where nothing else is agreed.
    fn default() -> Self {
        Self::Conformance(0.95)
    }
}

impl DecisionRule {
    /// Everything that cannot be, by the pointers of the two fields.
    #[must_use]
    pub fn check(self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        match self {
            Self::Conformance(wanted) => {
                errors.require((0.5..1.0).contains(&wanted), "/conformance", "must be at least 0.5 and below 1");
            }
            Self::GuardFactor(factor) => {
                errors.require((0.0..=30.0).contains(&factor), "/guard_factor", "must be from 0 to 30");
            }
        }
        errors.into_vec()
    }

    /// The guard band over the standard uncertainty.
    #[must_use]
    pub fn guard_factor(self) -> f64 {
        match self {
            Self::Conformance(wanted) => normal_quantile(wanted),
            Self::GuardFactor(factor) => factor,
        }
    }

    /// The probability of conformance, where it was stated.
    #[must_use]
    pub const fn conformance(self) -> Option<f64> {
        match self {
            Self::Conformance(wanted) => Some(wanted),
            Self::GuardFactor(_) => None,
        }
    }
}

/// A shop's choices for the control of its gauges.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct GaugeControl {
    /// How checks are decided.
    pub rule: DecisionRule,
    /// Whether a gauge that is found undecided calls for an impact document, as one that is found rejected always does.
    pub impact_when_undecided: bool,
}

/// One decided state of a gauge: as it was found, or as it was left.
#[derive(Clone, Debug, PartialEq)]
pub struct GaugeDecision {
    /// The nominal height and limits that it was held against.
    pub against: CenterGaugeFields,
    /// The smallest and the largest height that is accepted with this uncertainty; none where the guard bands fill the
    /// limits.
    pub acceptance: Option<(Length, Length)>,
    /// What is proved.
    pub proof: GaugeProof,
    /// The probability that the true height lies inside the limits.
    pub conformance_probability: f64,
}

/// Decides one measured height.
///
/// # Errors
/// What cannot be decided: an uncertainty of zero, limits without room between them. `at` is the pointer to the height.
pub fn decide(
    rule: DecisionRule,
    against: &CenterGaugeFields,
    measured: Length,
    standard_uncertainty: Length,
    at: &str,
) -> Result<GaugeDecision, Vec<FieldError>> {
    let unit = against.nominal.unit();
    let limit = |deviation: Length| Some(against.nominal.plus(deviation).value_in(unit));
    let (conformance, guard_factor) = match rule {
        DecisionRule::Conformance(wanted) => (Some(wanted), None),
        DecisionRule::GuardFactor(factor) => (None, Some(factor)),
    };
    let request = Request {
        unit,
        lower_limit: limit(against.limits.lower()),
        upper_limit: limit(against.limits.upper()),
        measured: measured.value_in(unit),
        standard_uncertainty: standard_uncertainty.value_in(unit),
        conformance,
        guard_factor,
    };
    let decided = GaugeConformity::calculate(&request).map_err(|error| placed(&error, at))?.result;
    Ok(GaugeDecision {
        against: against.clone(),
        acceptance: zone(decided.acceptance_lower, decided.acceptance_upper, unit),
        proof: decided.verdict.into(),
        conformance_probability: decided.conformance_probability,
    })
}

fn zone(lower: Option<f64>, upper: Option<f64>, unit: LengthUnit) -> Option<(Length, Length)> {
    let length = |value: f64| Length::new(value, unit).ok();
    lower.and_then(length).zip(upper.and_then(length))
}

/// The calculation's refusals at the fields of a check.
fn placed(error: &CalculationError, measured: &str) -> Vec<FieldError> {
    let mut errors = FieldErrors::default();
    for field in error.fields() {
        match field.pointer.as_str() {
            "/measured" => errors.add(format!("{measured}/value"), field.detail.clone()),
            "/standard_uncertainty" => errors.add("/standard_uncertainty/value", field.detail.clone()),
            _ => errors.add("", "the gauge's limits leave no room between them: widen them before it is checked"),
        }
    }
    errors.into_vec()
}

/// A check, decided.
#[derive(Clone, Debug, PartialEq)]
pub struct CheckDecision {
    /// How.
    pub rule: DecisionRule,
    /// The gauge as it was found.
    pub as_found: GaugeDecision,
    /// The gauge as it was left, where something was done to it or where it is held against other limits from now on.
    pub as_left: Option<GaugeDecision>,
}

impl CheckDecision {
    /// Decides a check. As found, a gauge is held against the limits it had until now; as left, against those it has from
    /// now on. They differ only where the check binds it to another machine.
    ///
    /// # Errors
    /// What cannot be decided.
    pub fn of(
        rule: DecisionRule,
        until_now: &CenterGaugeFields,
        from_now_on: &CenterGaugeFields,
        check: &GaugeCheckFields,
    ) -> Result<Self, Vec<FieldError>> {
        let uncertainty = check.standard_uncertainty;
        let as_found = decide(rule, until_now, check.as_found, uncertainty, "/as_found")?;
        let left = match check.as_left {
            Some(height) => Some((height, "/as_left")),
            None => (until_now != from_now_on).then_some((check.as_found, "/as_found")),
        };
        let as_left = left.map(|(height, at)| decide(rule, from_now_on, height, uncertainty, at)).transpose()?;
        Ok(Self { rule, as_found, as_left })
    }

    /// Whether the gauge, as it goes on, is proved to lie inside its limits.
    #[must_use]
    pub fn accepted(&self) -> bool {
        self.as_left.as_ref().unwrap_or(&self.as_found).proof == GaugeProof::Accept
    }

    /// Whether what was done with the gauge until now is in doubt: always when it was found outside its limits, and when
    /// it was found undecided where the shop or whoever checks it asks for that.
    #[must_use]
    pub fn calls_for_impact(&self, control: GaugeControl, asked: bool) -> bool {
        match self.as_found.proof {
            GaugeProof::Accept => false,
            GaugeProof::Reject => true,
            GaugeProof::Undecided => control.impact_when_undecided || asked,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{CheckDecision, DecisionRule, GaugeControl, GaugeProof, decide};
    use crate::{
        length::{Deviations, Length, LengthUnit},
        registry::item::{CenterGaugeFields, GaugeCheckFields},
    };
    use chrono::NaiveDate;
    use proptest::prelude::*;

    fn inch(value: f64) -> Length {
        Length::new(value, LengthUnit::Inch).unwrap()
    }

    fn gauge(nominal: f64) -> CenterGaugeFields {
        CenterGaugeFields { nominal: inch(nominal), limits: Deviations::new(inch(-0.0003), inch(0.0003)).unwrap() }
    }

    fn check(as_found: f64, as_left: Option<f64>) -> GaugeCheckFields {
        GaugeCheckFields {
            as_found: inch(as_found),
            as_left: as_left.map(inch),
            standard_uncertainty: inch(0.000_05),
            certificate: None,
            next_check: NaiveDate::from_ymd_opt(2027, 1, 1).unwrap(),
            performed_at: "2026-06-01T08:00:00Z".parse().unwrap(),
        }
    }

    /// g = 2 · 0.00005 in = 0.0001 in: accepted to ±0.0002, rejected beyond ±0.0004 (derived from ISO 14253-1's rule).
    #[test]
    fn guard_bands_decide() {
        let rule = DecisionRule::GuardFactor(2.0);
        for (height, proof) in [
            (3.75, GaugeProof::Accept),
            (3.7502, GaugeProof::Accept),
            (3.750_201, GaugeProof::Undecided),
            (3.7503, GaugeProof::Undecided),
            (3.7504, GaugeProof::Undecided),
            (3.750_401, GaugeProof::Reject),
            (3.749_599, GaugeProof::Reject),
        ] {
            let decided = decide(rule, &gauge(3.75), inch(height), inch(0.000_05), "/as_found").unwrap();
            assert_eq!(decided.proof, proof, "{height}");
            assert_eq!(decided.acceptance, Some((inch(3.7498), inch(3.7502))));
        }
        assert!((DecisionRule::default().guard_factor() - 1.644_853_626_951_472_2).abs() < 1e-12);
    }

    #[test]
    fn a_measurement_too_coarse_accepts_nothing() {
        let decided = decide(DecisionRule::default(), &gauge(3.75), inch(3.75), inch(0.0002), "/as_found").unwrap();
        assert_eq!((decided.proof, decided.acceptance), (GaugeProof::Undecided, None));
    }

    #[test]
    fn what_cannot_be_decided_is_told_at_its_field() {
        let rule = DecisionRule::default();
        let at = |uncertainty: f64, fields: &CenterGaugeFields| {
            let errors = decide(rule, fields, inch(3.75), inch(uncertainty), "/as_found").unwrap_err();
            errors.into_iter().map(|error| error.pointer).collect::<Vec<_>>()
        };
        assert_eq!(at(0.0, &gauge(3.75)), ["/standard_uncertainty/value"]);
        let tight = CenterGaugeFields { limits: Deviations::new(inch(0.0), inch(0.0)).unwrap(), ..gauge(3.75) };
        assert_eq!(at(0.000_05, &tight), [""]);
        assert_eq!(DecisionRule::Conformance(0.4).check()[0].pointer, "/conformance");
        assert_eq!(DecisionRule::Conformance(1.0).check().len(), 1);
        assert_eq!(DecisionRule::GuardFactor(-0.1).check()[0].pointer, "/guard_factor");
        assert!(DecisionRule::GuardFactor(0.0).check().is_empty() && DecisionRule::default().check().is_empty());
    }

    #[test]
    fn as_left_counts_from_now_on_and_as_found_for_what_was_done() {
        let decided = |as_found, as_left| {
            CheckDecision::of(DecisionRule::default(), &gauge(3.75), &gauge(3.75), &check(as_found, as_left)).unwrap()
        };
        let control = GaugeControl::default();
        let set_right = decided(3.7505, Some(3.7501));
        assert!(set_right.accepted() && set_right.calls_for_impact(control, false));
        let spoilt = decided(3.7501, Some(3.7505));
        assert!(!spoilt.accepted() && !spoilt.calls_for_impact(control, true));
        let doubtful = decided(3.7503, None);
        assert!(!doubtful.accepted() && !doubtful.calls_for_impact(control, false));
        assert!(doubtful.calls_for_impact(control, true));
        assert!(doubtful.calls_for_impact(GaugeControl { impact_when_undecided: true, ..control }, false));
        assert!(doubtful.as_left.is_none());
    }

    /// Bound to another machine, the gauge is judged by the limits it came with and by those it goes to.
    #[test]
    fn limits_that_change_with_the_check_are_both_held_against() {
        let decided =
            CheckDecision::of(DecisionRule::default(), &gauge(3.75), &gauge(3.752), &check(3.75, Some(3.752))).unwrap();
        assert_eq!(decided.as_found.proof, GaugeProof::Accept);
        assert!(decided.accepted());
        let not_touched =
            CheckDecision::of(DecisionRule::default(), &gauge(3.75), &gauge(3.752), &check(3.75, None)).unwrap();
        assert_eq!(not_touched.as_left.as_ref().map(|left| left.proof), Some(GaugeProof::Reject));
        assert!(!not_touched.accepted());
    }

    proptest! {
        /// Whatever the unit of the entry, the same height is decided alike, and nothing outside its limits is accepted.
        #[test]
        fn the_unit_does_not_decide(off in -6_000_i64..6_000, factor in 0.0..4.0_f64) {
            let millionths = |count: i64| Length::from_picometres(count * 2_540, LengthUnit::Inch);
            let height = inch(3.75).plus(millionths(off));
            let metric = Length::from_picometres(height.picometres(), LengthUnit::Millimetre);
            let rule = DecisionRule::GuardFactor(factor);
            let one = decide(rule, &gauge(3.75), height, inch(0.000_05), "/as_found").unwrap();
            let other = decide(rule, &gauge(3.75), metric, inch(0.000_05), "/as_found").unwrap();
            prop_assert_eq!(one.proof, other.proof);
            if one.proof == GaugeProof::Accept {
                prop_assert!(gauge(3.75).limits.admit(inch(3.75), height));
            }
        }
    }
}
