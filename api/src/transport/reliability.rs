//! A machine's reliability on the wire.

use super::schema::CodeSchema;
use chrono::{DateTime, Utc};
use dovetally_core::code::Code;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// Over which time, and how sure.
#[derive(Clone, Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ReliabilityQuery {
    /// From when on; a year before the end when left out.
    #[param(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    #[serde(default, deserialize_with = "super::time::optional_instant")]
    pub from: Option<DateTime<Utc>>,
    /// Until when; now when left out.
    #[param(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    #[serde(default, deserialize_with = "super::time::optional_instant")]
    pub until: Option<DateTime<Utc>>,
    /// The confidence with which the mean lies between the limits.
    #[serde(default = "usual")]
    #[param(required = false, minimum = 0.5, maximum = 0.999, default = 0.9)]
    pub confidence: f64,
}

const fn usual() -> f64 {
    0.9
}

/// How reliable a machine is, as far as the records tell.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Reliability)]
pub struct ReliabilityView {
    /// The machine.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub machine: Code,
    /// From when on.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub from: DateTime<Utc>,
    /// Until when: fixed beforehand, not by a failure.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub until: DateTime<Utc>,
    /// Hours under a release in force.
    #[schema(example = 1520.5)]
    pub running_hours: f64,
    /// Breakdowns that began in this time and were not called off.
    #[schema(example = 4)]
    pub failures: u32,
    /// The confidence of the limits.
    #[schema(example = 0.9)]
    pub confidence: f64,
    /// Mean hours of running between failures; none without a failure, or where nothing ran.
    #[schema(example = 380.125)]
    pub mean_hours_between_failures: Option<f64>,
    /// The lower limit; none where nothing ran.
    #[schema(example = 166.1)]
    pub lower: Option<f64>,
    /// The upper limit; none without a failure, or where nothing ran.
    #[schema(example = 1112.8)]
    pub upper: Option<f64>,
    /// Mean hours for which the machine was down, over the breakdowns that are mended.
    #[schema(example = 5.25)]
    pub mean_hours_to_repair: Option<f64>,
    /// The breakdowns that are mended.
    #[schema(example = 4)]
    pub repairs: usize,
    /// The answer in words.
    pub sentence: String,
    /// What to be careful about, and what the records do not allow.
    pub cautions: Vec<String>,
}
