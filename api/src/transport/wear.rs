//! Wear while running, on the wire.

use super::{
    schema::{CodeSchema, LengthSchema},
    time,
};
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    length::Length,
    setup::wear::{self as core, PaceBasis},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

const CAUTION: &str = "Advice from what was measured, not a safety function and no measurement: a line through wear holds between settings and between grinds.";

/// What is asked beside the setup.
#[derive(Clone, Copy, Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct WearQuestion {
    /// The end of the shift: whether each size holds until then is told.
    #[serde(default, deserialize_with = "time::optional_instant")]
    #[param(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub until: Option<DateTime<Utc>>,
}

/// How sizes drift in a setup.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Wear)]
pub struct WearView {
    /// The setup.
    pub setup: Uuid,
    /// The end of the shift, as asked.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub until: Option<DateTime<Utc>>,
    /// The pace by which times are told; null where none is known.
    pub pace: Option<PaceView>,
    /// Its stations with what was measured there since the last setting.
    pub stations: Vec<StationWearView>,
    /// What comes first, in words.
    pub sentence: String,
    /// What was assumed, and what could not be told, in words.
    pub notes: Vec<String>,
    /// What this is not.
    pub caution: &'static str,
}

/// How fast pieces are made.
#[derive(Clone, Copy, Debug, Serialize, ToSchema)]
#[schema(as = Pace)]
pub struct PaceView {
    /// Pieces of all spindles in an hour.
    pub pieces_per_hour: f64,
    /// What it rests on.
    pub basis: PaceBasisView,
}

/// What a pace rests on.
#[derive(Clone, Copy, Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
#[schema(as = PaceBasis)]
pub enum PaceBasisView {
    /// Pieces measured in this run, ten minutes or more apart.
    ThisRun,
    /// The release, and a piece measured ten minutes or more after it.
    SinceRelease,
    /// Runs that are over, breaks included.
    EarlierRuns,
}

/// One station.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = StationWear)]
pub struct StationWearView {
    /// Its code.
    #[schema(value_type = CodeSchema, example = "S1")]
    pub station: Code,
    /// The tool in it.
    #[schema(value_type = Option<CodeSchema>)]
    pub tool: Option<Code>,
    /// Its features that were measured.
    pub features: Vec<FeatureWearView>,
}

/// The drift of one feature.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = FeatureWear)]
pub struct FeatureWearView {
    /// The feature.
    #[schema(value_type = CodeSchema, example = "D1")]
    pub feature: Code,
    /// The smallest size allowed.
    #[schema(value_type = LengthSchema)]
    pub smallest: Length,
    /// The largest size allowed.
    #[schema(value_type = LengthSchema)]
    pub largest: Length,
    /// Each spindle that was measured, in order.
    pub spindles: Vec<SpindleWearView>,
    /// Sizes that no spindle was named for: they are left out.
    pub without_spindle: usize,
    /// The spindle that comes to a limit first, by the lower bound; null where no drift is told.
    pub first: Option<u8>,
    /// Whether it holds until the instant asked for, by the lower bound; null where that cannot be said.
    pub holds_until: Option<bool>,
    /// In words.
    pub sentence: String,
}

/// The drift of one feature from one spindle.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = SpindleWear)]
pub struct SpindleWearView {
    /// The spindle.
    pub spindle: u8,
    /// Sizes since the last setting.
    pub readings: usize,
    /// How many more are needed before a drift is told; zero when it is told.
    pub more_readings: usize,
    /// Whether the drift stands out from the scatter.
    pub significant: bool,
    /// The number of the last piece measured.
    pub last_piece: u64,
    /// More pieces after it until the drift meets a limit.
    pub pieces_to_limit: Option<f64>,
    /// More pieces until a single piece may miss it, by the one-sided lower bound at 95 %.
    pub pieces_to_limit_low: Option<f64>,
    /// More pieces until a single piece misses it, by the one-sided upper bound at 95 %; null where the drift may be too slow
    /// to get there.
    pub pieces_to_limit_high: Option<f64>,
    /// When the drift meets the limit, by the pace: grind about then.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub about: Option<DateTime<Utc>>,
    /// When a single piece may miss it, by the pace and the lower bound: measure by then.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub earliest: Option<DateTime<Utc>>,
    /// When a single piece misses it, by the pace and the upper bound: two bounds of 95 % each, so that a single piece
    /// first misses it between `earliest` and this with 90 %. Null where that cannot be said.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub latest: Option<DateTime<Utc>>,
    /// The whole answer of the calculation `wear-trend`; null with too few readings.
    #[schema(value_type = Option<Object>)]
    pub trend: Option<serde_json::Value>,
}

impl WearView {
    /// Wear as clients see it.
    #[must_use]
    pub fn of(setup: Uuid, until: Option<DateTime<Utc>>, wear: core::Wear) -> Self {
        Self {
            setup,
            until,
            pace: wear.pace.map(|pace| PaceView {
                pieces_per_hour: pace.pieces_per_hour,
                basis: match pace.basis {
                    PaceBasis::ThisRun => PaceBasisView::ThisRun,
                    PaceBasis::SinceRelease => PaceBasisView::SinceRelease,
                    PaceBasis::EarlierRuns => PaceBasisView::EarlierRuns,
                },
            }),
            stations: wear.stations.into_iter().map(StationWearView::from).collect(),
            sentence: wear.sentence,
            notes: wear.notes,
            caution: CAUTION,
        }
    }
}

impl From<core::StationWear> for StationWearView {
    fn from(wear: core::StationWear) -> Self {
        let features = wear.features.into_iter().map(FeatureWearView::from).collect();
        Self { station: wear.station, tool: wear.tool, features }
    }
}

impl From<core::FeatureWear> for FeatureWearView {
    fn from(wear: core::FeatureWear) -> Self {
        let (smallest, largest) = wear.limits;
        Self {
            feature: wear.feature,
            smallest,
            largest,
            spindles: wear.spindles.into_iter().map(SpindleWearView::from).collect(),
            without_spindle: wear.without_spindle,
            first: wear.first,
            holds_until: wear.holds_until,
            sentence: wear.sentence,
        }
    }
}

impl From<core::SpindleWear> for SpindleWearView {
    fn from(wear: core::SpindleWear) -> Self {
        Self {
            spindle: wear.spindle,
            readings: wear.readings,
            more_readings: wear.more_readings,
            significant: wear.significant,
            last_piece: wear.last_piece,
            pieces_to_limit: wear.pieces_to_limit,
            pieces_to_limit_low: wear.pieces_to_limit_low,
            pieces_to_limit_high: wear.pieces_to_limit_high,
            about: wear.about,
            earliest: wear.earliest,
            latest: wear.latest,
            trend: wear.trend,
        }
    }
}
