//! Centre gauges on the wire.

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
    /// The days from one check to the next, as planned, 1 to 3660. What is proposed for the next check never lies later.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(required = false, minimum = 1, maximum = 3660)]
    pub check_interval_days: Option<u32>,
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
    /// The days from one check to the next, as planned, 1 to 3660. What is proposed for the next check never lies later.
    #[serde(default)]
    #[schema(required = false, minimum = 1, maximum = 3660)]
    pub check_interval_days: Option<u32>,
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
    /// Whether its machine's spindle centres may have moved since then, whatever its condition says: it is not handed out
    /// for use, and sets nothing, until it is accepted again. False while it was never accepted.
    pub stale: bool,
    /// The days from one check to the next, as planned.
    pub check_interval_days: Option<u32>,
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
