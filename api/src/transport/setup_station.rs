//! One station of a setup on the wire.

use super::{
    schema::{CodeSchema, DirectionSchema, LengthSchema},
    setup::{People, PersonRef, person},
};
use chrono::{DateTime, Utc};
use dovetally_core::{
    adjuster::Turn,
    code::Code,
    length::Length,
    setup::{event::HeightReading, sizes::SizesOfFeature, view as core},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// One station of a setup.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = SetupStation)]
pub struct StationView {
    /// Its code.
    #[schema(value_type = CodeSchema)]
    pub station: Code,
    /// The tool picked for it.
    #[schema(value_type = Option<CodeSchema>)]
    pub planned_tool: Option<Code>,
    /// The holder picked for it.
    #[schema(value_type = Option<CodeSchema>)]
    pub planned_holder: Option<Code>,
    /// The holder on it.
    #[schema(value_type = Option<CodeSchema>)]
    pub holder: Option<Code>,
    /// Whether the seat is clean, the holder flush and the side screw free.
    pub seat_confirmed: bool,
    /// The tool in it.
    #[schema(value_type = Option<CodeSchema>)]
    pub tool: Option<Code>,
    /// The gauge placed at it.
    #[schema(value_type = Option<CodeSchema>)]
    pub gauge: Option<Code>,
    /// The height before clamping.
    pub height_before_clamping: Option<HeightView>,
    /// Whether the tool is clamped.
    pub clamped: bool,
    /// The height after clamping.
    pub height_after_clamping: Option<HeightView>,
    /// Whether a recheck of the height is advised.
    pub recheck_advised: bool,
    /// The gap before the cut.
    #[schema(value_type = Option<LengthSchema>)]
    pub approach: Option<Length>,
    /// Whether the depth that is asked for was read; null where none is asked for.
    pub depth_read: Option<bool>,
    /// The first piece that tells about the last adjustment.
    pub first_good_piece: u64,
    /// Pieces to throw away after an adjustment here before one is measured.
    pub pieces_to_discard: u64,
    /// The screws turned here.
    pub adjustments: Vec<AdjustmentView>,
    /// What is advised on the last reading here, until something is changed; null where nothing was read since.
    pub advice: Option<AdviceView>,
    /// The last size of each feature from each spindle, since anything was changed here.
    pub sizes: Vec<SizesView>,
    /// How far a height may lie from the gauge; null where the tool is not set on a gauge.
    pub height_limit: Option<HeightLimitView>,
    /// Whether a crash blocks it.
    pub crashed: bool,
    /// What is open here, in words.
    pub open: Vec<String>,
}

/// What is advised on a reading. It is advice: whoever turns a screw records the turn.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[schema(as = Advice)]
pub struct AdviceView {
    /// What to do, in words.
    pub sentence: String,
    /// How many pieces drop after the turn that were formed before it.
    pub pieces_to_discard: u64,
    /// The calculations' whole answers, each as its own operation gives it, in the order in which to act on them.
    #[schema(value_type = Vec<Object>)]
    pub answers: Vec<serde_json::Value>,
    /// What was assumed for want of a record, and what could not be calculated.
    pub notes: Vec<String>,
}

/// A height on the gauge.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = HeightOnGauge)]
pub struct HeightView {
    /// Edge minus gauge; null when the edge was found on the gauge.
    #[schema(value_type = Option<LengthSchema>)]
    pub deviation: Option<Length>,
    /// The edge is on the gauge.
    pub on_gauge: bool,
    /// Whether it lies within the shop's height limit.
    pub within_limit: bool,
    /// The gauge on which it was read, by its code when it was placed: whether it still stands there or was taken out.
    #[schema(value_type = Option<CodeSchema>, example = "CG-101")]
    pub gauge: Option<Code>,
}

/// A screw turned.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Adjustment)]
pub struct AdjustmentView {
    /// The adjuster's code.
    #[schema(value_type = CodeSchema)]
    pub adjuster: Code,
    /// Turns.
    pub turns: f64,
    /// Which way.
    #[schema(value_type = DirectionSchema)]
    pub direction: Turn,
    /// Who.
    pub by: PersonRef,
    /// When.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub at: DateTime<Utc>,
}

/// How far a height may lie from the gauge, either way. The gauge stands for the middle of the spindles' centres; an edge
/// within the limit of every spindle lies within the shop's limit less half of what the centres differ.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = HeightLimit)]
pub struct HeightLimitView {
    /// Either way, limits included; below zero where no height serves every spindle.
    #[schema(value_type = LengthSchema)]
    pub limit: Length,
    /// The shop's limit.
    #[schema(value_type = LengthSchema)]
    pub shop: Length,
    /// How far the spindles' centres lie apart, highest less lowest; null where nobody knows.
    #[schema(value_type = Option<LengthSchema>)]
    pub spread: Option<Length>,
    /// Whether no height at all serves every spindle.
    pub leaves_nothing: bool,
}

/// The last sizes of a feature by spindle.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = SizesBySpindle)]
pub struct SizesView {
    /// The feature.
    #[schema(value_type = CodeSchema, example = "D1")]
    pub feature: Code,
    /// What is wanted.
    #[schema(value_type = LengthSchema)]
    pub target: Length,
    /// The last size of each spindle, in their order; one of which nobody said the spindle comes first.
    pub sizes: Vec<LastSizeView>,
    /// The mean over the spindles that are known: what a slide answers to. Null without any.
    #[schema(value_type = Option<LengthSchema>)]
    pub mean: Option<Length>,
    /// Largest less smallest over the spindles: no slide removes it. Null with fewer than two.
    #[schema(value_type = Option<LengthSchema>)]
    pub spread: Option<Length>,
    /// Running spindles of which nothing was measured since the last change here.
    pub missing: Vec<u8>,
}

/// The last size from one spindle.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = LastSize)]
pub struct LastSizeView {
    /// The spindle; null where nobody said which.
    pub spindle: Option<u8>,
    /// The piece's number, where it is known.
    pub piece: Option<u64>,
    /// The size.
    #[schema(value_type = LengthSchema)]
    pub value: Length,
    /// When it was recorded.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub at: DateTime<Utc>,
}

impl From<SizesOfFeature> for SizesView {
    fn from(of: SizesOfFeature) -> Self {
        let sizes = of.sizes.into_iter();
        Self {
            feature: of.feature,
            target: of.target,
            sizes: sizes
                .map(|size| LastSizeView { spindle: size.spindle, piece: size.piece, value: size.value, at: size.at })
                .collect(),
            mean: of.mean,
            spread: of.spread,
            missing: of.missing,
        }
    }
}

/// A station as clients see it.
pub(super) fn station_view(view: core::StationView, people: &People) -> StationView {
    let adjustments = view.adjustments.into_iter().map(|taken| AdjustmentView {
        adjuster: taken.adjuster,
        turns: taken.turns,
        direction: taken.direction,
        by: person(people, taken.by),
        at: taken.at,
    });
    StationView {
        station: view.station,
        planned_tool: view.planned_tool,
        planned_holder: view.planned_holder,
        holder: view.holder,
        seat_confirmed: view.seat_confirmed,
        tool: view.tool,
        gauge: view.gauge,
        height_before_clamping: view.height_before_clamping.map(height_view),
        clamped: view.clamped,
        height_after_clamping: view.height_after_clamping.map(height_view),
        recheck_advised: view.recheck_advised,
        approach: view.approach,
        depth_read: view.depth_read,
        first_good_piece: view.first_good_piece,
        pieces_to_discard: view.pieces_to_discard,
        adjustments: adjustments.collect(),
        advice: view.advice.and_then(|advice| serde_json::from_value(advice).ok()),
        sizes: view.sizes.into_iter().map(SizesView::from).collect(),
        height_limit: view.height_limit.map(|core::HeightLimitView { limit, shop, spread }| HeightLimitView {
            leaves_nothing: limit.picometres() < 0,
            limit,
            shop,
            spread,
        }),
        crashed: view.crashed,
        open: view.open,
    }
}

fn height_view(view: core::HeightView) -> HeightView {
    let deviation = match view.reading {
        HeightReading::OnGauge => None,
        HeightReading::Deviation(length) => Some(length),
    };
    HeightView { deviation, on_gauge: deviation.is_none(), within_limit: view.within_limit, gauge: view.gauge }
}
