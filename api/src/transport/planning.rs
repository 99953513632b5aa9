//! Readiness and kits on the wire.

use super::schema::{CodeSchema, NeedKindSchema, ReadinessSchema};
use crate::openapi::RefusalSchema;
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    code::Code,
    planning::report::{NeedKind, Readiness},
    refusal::Refusal,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// How a plan is made.
#[derive(Clone, Copy, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct PlanQuery {
    /// Whether tools may leave the machine within a lot, and between lots, to be ground; no when left out.
    #[serde(default)]
    #[param(value_type = Option<bool>)]
    pub allow_regrind_during_lot: bool,
}

/// Which jobs are asked about.
#[derive(Clone, Copy, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ReadinessQuery {
    /// The last day on which they begin; two weeks from today when left out.
    #[serde(default, deserialize_with = "super::time::optional_day")]
    #[param(value_type = Option<chrono::NaiveDate>)]
    pub until: Option<NaiveDate>,
    /// Whether tools may leave the machine within a lot, and between lots, to be ground; no when left out.
    #[serde(default)]
    #[param(value_type = Option<bool>)]
    pub allow_regrind_during_lot: bool,
}

/// A job as plans name it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct JobOutline {
    /// Its number.
    #[schema(value_type = CodeSchema, example = "J-5001")]
    pub job: Code,
    /// The part's code.
    #[schema(value_type = CodeSchema, example = "P-2001")]
    pub part: Code,
    /// The machine's code.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub machine: Code,
    /// Its first day.
    pub from: NaiveDate,
    /// Its last day, planned or estimated.
    pub to: NaiveDate,
    /// Pieces wanted.
    pub quantity: i64,
    /// Pieces made.
    pub made: i64,
}

/// An item that a need is given.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct GivenItem {
    /// Its code.
    #[schema(value_type = CodeSchema, example = "FT-001")]
    pub item: Code,
    /// Where it is: a place's or machine's code, a person's name.
    #[schema(example = "BIN-A1")]
    pub at: String,
    /// Whether it is booked for the job, or in its setup, already.
    pub kept: bool,
    /// Pieces it can make, after the jobs before this one; for form tools.
    pub pieces_left: Option<i64>,
    /// Pieces it is to make; for form tools.
    pub pieces: Option<i64>,
}

/// An item that might serve.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ConsideredItem {
    /// Its code.
    #[schema(value_type = CodeSchema, example = "FT-001")]
    pub item: Code,
    /// Where it is: a place's or machine's code, a person's name.
    #[schema(example = "BIN-A1")]
    pub at: String,
    /// Whether it would serve.
    pub serves: bool,
    /// Pieces it could make beside what is booked; for form tools.
    pub pieces_left: Option<i64>,
    /// What speaks against it; empty when it would serve.
    #[schema(value_type = Vec<RefusalSchema>)]
    pub reasons: Vec<Refusal>,
}

/// One need of a job.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct JobNeed {
    /// What is needed.
    #[schema(value_type = NeedKindSchema)]
    pub kind: NeedKind,
    /// At which station; null for the gauge.
    #[schema(value_type = Option<CodeSchema>)]
    pub station: Option<Code>,
    /// The design's code or the holder's style; null for the gauge.
    #[schema(example = "TD-11")]
    pub asks: Option<String>,
    /// Pieces to make; for form tools.
    pub pieces: Option<i64>,
    /// How it stands.
    #[schema(value_type = ReadinessSchema)]
    pub state: Readiness,
    /// What the plan gives it.
    pub given: Vec<GivenItem>,
    /// Pieces of life that this wastes; for form tools that are given.
    pub waste: Option<i64>,
    /// How many items were considered; not all are named where there are more than a hundred.
    pub considered_in_all: Option<usize>,
    /// What was considered: what would serve first, then by code.
    pub considered: Vec<ConsideredItem>,
    /// What stands in the way.
    #[schema(value_type = Vec<RefusalSchema>)]
    pub reasons: Vec<Refusal>,
}

/// Whether a job has what it needs.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct JobReadiness {
    /// The job.
    #[serde(flatten)]
    pub outline: JobOutline,
    /// How it stands.
    #[schema(value_type = ReadinessSchema)]
    pub state: Readiness,
    /// What speaks against its machine.
    #[schema(value_type = Vec<RefusalSchema>)]
    pub machine_reasons: Vec<Refusal>,
    /// Its needs, station by station.
    pub needs: Vec<JobNeed>,
    /// Whether no better plan exists, proven.
    pub exact: bool,
    /// What was assumed.
    pub assumptions: Vec<String>,
    /// The instant for which it is answered.
    pub asked_at: DateTime<Utc>,
    /// What the answer does not replace.
    pub caution: &'static str,
}

/// A job in the list of readiness.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ReadinessRow {
    /// The job.
    #[serde(flatten)]
    pub outline: JobOutline,
    /// How it stands.
    #[schema(value_type = ReadinessSchema)]
    pub state: Readiness,
    /// What stands in the way.
    #[schema(value_type = Vec<RefusalSchema>)]
    pub reasons: Vec<Refusal>,
    /// What is reported broken down on its machine and not mended, in words. It makes no job less ready: the plan takes
    /// the machine as running again by then.
    pub machine_down: Vec<String>,
}

/// The jobs that begin until a day, in the order of their priority.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ReadinessList {
    /// The last day on which they begin.
    pub until: NaiveDate,
    /// The jobs.
    pub items: Vec<ReadinessRow>,
    /// Whether no better plan exists, proven, and every open job was looked at.
    pub exact: bool,
    /// The instant for which it is answered.
    pub asked_at: DateTime<Utc>,
    /// What the answer does not replace.
    pub caution: &'static str,
}

/// What is proposed for one station.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct KitStation {
    /// The station.
    #[schema(value_type = CodeSchema, example = "S1")]
    pub station: Code,
    /// Its form tools, in the order of use.
    pub form_tools: Vec<GivenItem>,
    /// Pieces of life that they waste; null where they are not all there.
    pub waste: Option<i64>,
    /// Its holder.
    pub holder: Option<GivenItem>,
}

/// The serial numbers that are proposed for a job.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Kit {
    /// The job.
    #[serde(flatten)]
    pub outline: JobOutline,
    /// Whether it is whole: `ready`, or not.
    #[schema(value_type = ReadinessSchema)]
    pub state: Readiness,
    /// What is proposed, station by station.
    pub stations: Vec<KitStation>,
    /// The machine's gauges.
    pub center_gauges: Vec<GivenItem>,
    /// What stands in the way.
    #[schema(value_type = Vec<RefusalSchema>)]
    pub reasons: Vec<Refusal>,
    /// Whether no better plan exists, proven.
    pub exact: bool,
    /// What was assumed.
    pub assumptions: Vec<String>,
    /// The instant for which it is answered.
    pub asked_at: DateTime<Utc>,
    /// What the answer does not replace.
    pub caution: &'static str,
}

/// What every plan says besides.
pub const CAUTION: &str = "A plan rests on what was recorded. It moves nothing, and frees no machine: whoever sets up checks each item \
    again.";
