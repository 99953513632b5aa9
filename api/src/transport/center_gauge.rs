//! Centre gauges and their checks on the wire.

use super::{
    item::ItemView,
    schema::{CodeSchema, DeviationsSchema, LengthSchema},
};
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    code::Code,
    length::{Deviations, Length},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// What puts a centre gauge on record. It may be used after its first accepted check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"code": "CG-109", "name": "Centre gauge, bay 1", "machine": "M-101",
    "nominal": {"value": 3.75, "unit": "in"},
    "limits": {"lower": {"value": -0.0003, "unit": "in"}, "upper": {"value": 0.0003, "unit": "in"}}, "place": "BIN-G1"}))]
pub struct NewCenterGauge {
    /// Its code.
    #[schema(value_type = CodeSchema)]
    pub code: Code,
    /// Its name.
    pub name: String,
    /// The one machine it is cut to.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// The stations it is limited to; empty for every station.
    #[serde(default)]
    #[schema(value_type = Vec<CodeSchema>)]
    pub stations: Vec<Code>,
    /// Its nominal height.
    #[schema(value_type = LengthSchema)]
    pub nominal: Length,
    /// How far it may lie from nominal.
    #[schema(value_type = DeviationsSchema)]
    pub limits: Deviations,
    /// The place where it is put.
    #[schema(value_type = CodeSchema)]
    pub place: Code,
}

/// What may be written about a centre gauge. Its machine is not among it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"stations": ["S1", "S2"]}))]
pub struct CenterGaugeChange {
    /// Its code.
    #[schema(value_type = CodeSchema)]
    pub code: Code,
    /// Its name.
    pub name: String,
    /// The stations it is limited to; empty for every station.
    #[schema(value_type = Vec<CodeSchema>)]
    pub stations: Vec<Code>,
    /// Its nominal height.
    #[schema(value_type = LengthSchema)]
    pub nominal: Length,
    /// How far it may lie from nominal.
    #[schema(value_type = DeviationsSchema)]
    pub limits: Deviations,
}

/// A centre gauge.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = CenterGauge)]
pub struct CenterGaugeView {
    /// What every item has.
    #[serde(flatten)]
    pub item: ItemView,
    /// The one machine it is cut to.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// The stations it is limited to; empty for every station.
    #[schema(value_type = Vec<CodeSchema>)]
    pub stations: Vec<Code>,
    /// Its nominal height.
    #[schema(value_type = LengthSchema)]
    pub nominal: Length,
    /// How far it may lie from nominal.
    #[schema(value_type = DeviationsSchema)]
    pub limits: Deviations,
    /// The last day on which its check is valid; null while never checked.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub next_check: Option<NaiveDate>,
    /// When it was last accepted against its machine.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub last_accepted_check_at: Option<DateTime<Utc>>,
}

/// What a list of centre gauges may be narrowed to.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct CenterGaugeFilters {
    /// Only of this machine.
    #[param(value_type = Option<String>)]
    pub machine: Option<Code>,
}

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
    /// Standard uncertainty of the measurement.
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
    /// Whether the gauge, as it was left, lay within its limits.
    pub accepted: bool,
    /// The certificate's number.
    pub certificate: Option<String>,
    /// The last day on which this check is valid.
    #[schema(value_type = chrono::NaiveDate)]
    pub next_check: NaiveDate,
    /// When it was done.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub performed_at: DateTime<Utc>,
    /// The badge of whoever recorded it.
    pub recorded_by: String,
    /// The server's time.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub recorded_at: DateTime<Utc>,
}
