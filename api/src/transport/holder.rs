//! Holders on the wire.

use super::{adjuster::AdjusterBody, item::ItemView, schema::CodeSchema};
use chrono::NaiveDate;
use dovetally_core::code::Code;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// What puts a holder on record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"code": "HD-10", "style": "DT-A", "adjusters": [], "place": "BIN-H1"}))]
pub struct NewHolder {
    /// Its code.
    #[schema(value_type = CodeSchema)]
    pub code: Code,
    /// Its name; its style when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Its style.
    pub style: String,
    /// Its height, taper and side screws.
    #[serde(default)]
    pub adjusters: Vec<AdjusterBody>,
    /// The last day on which its check is valid; when left out, by the plan from today, and none without one.
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "super::time::optional_day")]
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub next_check: Option<NaiveDate>,
    /// The days from one check to the next, as planned, 1 to 3660.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(required = false, minimum = 1, maximum = 3660)]
    pub check_interval_days: Option<u32>,
    /// The place where it is put.
    #[schema(value_type = CodeSchema)]
    pub place: Code,
}

/// What may be written about a holder.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"style": "DT-B"}))]
pub struct HolderChange {
    /// Its code.
    #[schema(value_type = CodeSchema)]
    pub code: Code,
    /// Its name.
    pub name: String,
    /// Its style.
    pub style: String,
    /// Its screws.
    pub adjusters: Vec<AdjusterBody>,
    /// The days from one check to the next, as planned, 1 to 3660. One that has no day for its next check gets it by the
    /// plan from today.
    #[serde(default)]
    #[schema(required = false, minimum = 1, maximum = 3660)]
    pub check_interval_days: Option<u32>,
}

/// A holder.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Holder)]
pub struct HolderView {
    /// What every item has.
    #[serde(flatten)]
    pub item: ItemView,
    /// Its style.
    pub style: String,
    /// Its screws.
    pub adjusters: Vec<AdjusterBody>,
    /// The last day on which its check is valid.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub next_check: Option<NaiveDate>,
    /// The days from one check to the next, as planned.
    pub check_interval_days: Option<u32>,
}

/// What a list of holders may be narrowed to.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct HolderFilters {
    /// Only of this style.
    pub style: Option<String>,
}
