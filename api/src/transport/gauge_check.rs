//! Checks of centre gauges and the machines they were bound to on the wire.

use super::{
    center_gauge::CenterGaugeView,
    schema::{CodeSchema, DeviationsSchema, GaugeProofSchema, LengthSchema},
};
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    code::Code,
    gauge::check::{CheckDecision, GaugeDecision, GaugeProof},
    length::{Deviations, Length},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// A check of a centre gauge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"as_found": {"value": 3.7501, "unit": "in"},
    "standard_uncertainty": {"value": 0.00005, "unit": "in"}, "next_check": "2027-05-31"}))]
pub struct NewGaugeCheck {
    /// What it measured before anything was done to it.
    #[schema(value_type = LengthSchema)]
    pub as_found: Length,
    /// What it measured afterwards, where something was done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<LengthSchema>)]
    pub as_left: Option<Length>,
    /// Standard uncertainty of the measurement, above zero.
    #[schema(value_type = LengthSchema)]
    pub standard_uncertainty: Length,
    /// When it was done; now when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub performed_at: Option<DateTime<Utc>>,
    /// The certificate's number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub certificate: Option<String>,
    /// The last day on which this check is valid.
    #[serde(deserialize_with = "super::time::day")]
    #[schema(value_type = chrono::NaiveDate)]
    pub next_check: NaiveDate,
    /// Whether an impact document is wanted also where the gauge is found undecided; where it is found rejected there is
    /// always one.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub raise_impact: bool,
    /// That a height or an uncertainty far from what is expected of this gauge was measured again, and is so.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub confirmed: bool,
}

/// One state of a gauge, decided.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = GaugeDecision)]
pub struct GaugeDecisionView {
    /// What is proved. Only what is accepted is used.
    #[schema(value_type = GaugeProofSchema)]
    pub verdict: GaugeProof,
    /// The nominal height that it was held against.
    #[schema(value_type = LengthSchema)]
    pub nominal: Length,
    /// The limits that it was held against.
    #[schema(value_type = DeviationsSchema)]
    pub limits: Deviations,
    /// The smallest height that is accepted with this uncertainty; null where the guard bands fill the limits, and nothing is.
    #[schema(value_type = Option<LengthSchema>)]
    pub acceptance_lower: Option<Length>,
    /// The largest height that is accepted.
    #[schema(value_type = Option<LengthSchema>)]
    pub acceptance_upper: Option<Length>,
    /// The probability that the true height lies inside the limits.
    #[schema(minimum = 0, maximum = 1)]
    pub conformance_probability: f64,
}

impl From<&GaugeDecision> for GaugeDecisionView {
    fn from(decided: &GaugeDecision) -> Self {
        Self {
            verdict: decided.proof,
            nominal: decided.against.nominal,
            limits: decided.against.limits,
            acceptance_lower: decided.acceptance.map(|(lower, _)| lower),
            acceptance_upper: decided.acceptance.map(|(_, upper)| upper),
            conformance_probability: decided.conformance_probability,
        }
    }
}

/// How a check was decided (ISO 14253-1): accepted inside the limits less a guard band, rejected beyond them plus the same
/// band, undecided in between.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = GaugeCheckDecision)]
pub struct CheckDecisionView {
    /// The probability of conformance that was asked for; null where a guard factor was stated.
    pub conformance: Option<f64>,
    /// Guard band over standard uncertainty.
    pub guard_factor: f64,
    /// The gauge as it was found.
    pub as_found: GaugeDecisionView,
    /// The gauge as it was left; null where nothing was done to it.
    pub as_left: Option<GaugeDecisionView>,
}

impl From<&CheckDecision> for CheckDecisionView {
    fn from(decision: &CheckDecision) -> Self {
        Self {
            conformance: decision.rule.conformance(),
            guard_factor: decision.rule.guard_factor(),
            as_found: (&decision.as_found).into(),
            as_left: decision.as_left.as_ref().map(Into::into),
        }
    }
}

/// A check on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = GaugeCheck)]
pub struct GaugeCheckView {
    /// Its id.
    pub id: Uuid,
    /// The gauge.
    #[schema(value_type = CodeSchema)]
    pub gauge: Code,
    /// The machine it was checked against.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// What it measured before anything was done to it.
    #[schema(value_type = LengthSchema)]
    pub as_found: Length,
    /// What it measured afterwards.
    #[schema(value_type = Option<LengthSchema>)]
    pub as_left: Option<Length>,
    /// Standard uncertainty of the measurement.
    #[schema(value_type = LengthSchema)]
    pub standard_uncertainty: Length,
    /// Whether the gauge, as it was left, is proved to lie within its limits. Otherwise it is out of use.
    pub accepted: bool,
    /// How that was decided; null for a check of older days.
    pub decision: Option<CheckDecisionView>,
    /// The impact document that it raised; null also where it added to one that was open for the same time.
    pub impact: Option<Uuid>,
    /// The certificate's number.
    pub certificate: Option<String>,
    /// The last day on which this check is valid.
    #[schema(value_type = chrono::NaiveDate)]
    pub next_check: NaiveDate,
    /// The day proposed for the next check: the plan's, or an earlier one before the gauge's drift reaches a limit. A
    /// proposal only: `next_check` counts.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub proposed_next_check: Option<NaiveDate>,
    /// When it was done.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub performed_at: DateTime<Utc>,
    /// The badge of whoever recorded it.
    pub recorded_by: String,
    /// The server's time.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub recorded_at: DateTime<Utc>,
}

/// What gives a gauge to another machine: the machine, and the check against it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"machine": "M-102", "nominal": {"value": 3.752, "unit": "in"},
    "check": {"as_found": {"value": 3.7501, "unit": "in"}, "as_left": {"value": 3.7521, "unit": "in"},
        "standard_uncertainty": {"value": 0.00005, "unit": "in"}, "next_check": "2027-05-31"}}))]
pub struct Rebinding {
    /// The machine that is to have it.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// The stations of that machine it is limited to; empty for every station. Those of the old machine are dropped.
    #[serde(default)]
    #[schema(value_type = Vec<CodeSchema>)]
    pub stations: Vec<Code>,
    /// Its nominal height for that machine; as it was when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<LengthSchema>)]
    pub nominal: Option<Length>,
    /// How far it may lie from nominal; as it was when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<DeviationsSchema>)]
    pub limits: Option<Deviations>,
    /// The check against that machine. As found, the gauge is held against the limits it had; as left, or as found where
    /// nothing was done to it, against those it is to have.
    pub check: NewGaugeCheck,
}

/// A gauge that was given to another machine, with the check on which it was.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = ReboundGauge)]
pub struct ReboundView {
    /// The gauge as it is now.
    pub gauge: CenterGaugeView,
    /// The check against its new machine.
    pub check: GaugeCheckView,
}

/// One machine's time with a gauge.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = GaugeBinding)]
pub struct GaugeBindingView {
    /// Its number among the gauge's bindings, from 1.
    pub number: i32,
    /// The machine.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// From when.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub from: DateTime<Utc>,
    /// Until when; null while it is bound to it.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub until: Option<DateTime<Utc>>,
    /// The badge of whoever bound it; null for gauges of older days.
    pub by: Option<String>,
    /// The check against that machine; null for the first machine, whose check came later.
    pub check: Option<Uuid>,
}
