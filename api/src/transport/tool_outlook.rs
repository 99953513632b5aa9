//! What form tools and designs have left, on the wire.

use super::schema::{CodeSchema, ConditionSchema, LengthSchema};
use chrono::NaiveDate;
use dovetally_core::{
    code::Code,
    item::Condition,
    length::Length,
    life::{
        learned::ENOUGH_FAILURES,
        left::{Basis, Experience, PiecesLeft},
    },
};
use serde::Serialize;
use utoipa::ToSchema;

/// Pieces left. The bounds are the 5 % and the 95 % point; null where only the design's expected figure is known.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub struct PiecesLeftView {
    /// The expected number.
    #[schema(example = 412_000)]
    pub expected: i64,
    /// With 95 % probability there are at least so many.
    #[schema(example = 355_000)]
    pub lower: Option<i64>,
    /// With 95 % probability there are at most so many.
    #[schema(example = 474_000)]
    pub upper: Option<i64>,
    /// The probability of the interval.
    #[schema(example = 0.9)]
    pub probability: f64,
}

impl From<PiecesLeft> for PiecesLeftView {
    fn from(pieces: PiecesLeft) -> Self {
        Self {
            expected: whole(pieces.expected),
            lower: pieces.interval.map(|(lower, _)| whole(lower.floor())),
            upper: pieces.interval.map(|(_, upper)| whole(upper.ceil())),
            probability: 0.9,
        }
    }
}

/// A number of pieces, whole.
#[expect(clippy::cast_possible_truncation, reason = "bounded on both sides")]
pub(crate) fn whole(pieces: f64) -> i64 {
    pieces.round().clamp(0.0, 1e15) as i64
}

/// What the figures rest on.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct BasisView {
    /// `learned` from the design's own edges, or `expected` as its record says.
    #[schema(example = "learned")]
    pub source: &'static str,
    /// Edges of the design that wore out, of the newest two hundred.
    #[schema(example = 14)]
    pub worn_edges: usize,
    /// Edges that ended otherwise, or are in use: they are known to last longer than they did.
    #[schema(example = 5)]
    pub other_edges: usize,
    /// So many worn edges are needed to learn from.
    #[schema(example = 5)]
    pub worn_edges_needed: usize,
    /// The Weibull shape; above 1, wear.
    #[schema(example = 2.6)]
    pub shape: Option<f64>,
    /// The Weibull scale: the pieces by which 63.2 % of edges are worn.
    #[schema(example = 6400.0)]
    pub scale: Option<f64>,
    /// The mean pieces of one edge.
    #[schema(example = 5700.0)]
    pub pieces_per_edge: f64,
    /// The same in words.
    pub sentence: String,
}

impl From<&Experience> for BasisView {
    fn from(experience: &Experience) -> Self {
        let learned = match experience.basis {
            Basis::Learned(learned) => Some(learned),
            Basis::Expected { .. } => None,
        };
        Self {
            source: if learned.is_some() { "learned" } else { "expected" },
            worn_edges: experience.failures,
            other_edges: experience.suspensions,
            worn_edges_needed: ENOUGH_FAILURES,
            shape: learned.map(|learned| learned.shape),
            scale: learned.map(|learned| learned.scale),
            pieces_per_edge: experience.pieces_of_an_edge(),
            sentence: experience.words(),
        }
    }
}

/// What a form tool has left.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = ToolOutlook)]
pub struct ToolOutlookView {
    /// The tool.
    #[schema(value_type = CodeSchema)]
    pub tool: Code,
    /// Its design.
    #[schema(value_type = CodeSchema)]
    pub design: Code,
    /// The last judgement of it.
    #[schema(value_type = ConditionSchema)]
    pub condition: Condition,
    /// The height (flat) or arc (circular) left.
    #[schema(value_type = LengthSchema)]
    pub height: Length,
    /// The height below which it is not used.
    #[schema(value_type = LengthSchema)]
    pub minimum_height: Length,
    /// Circular tools whose design has a radius: the angle left to grind away.
    pub usable_angle_deg: Option<f64>,
    /// Whole grinds left, the edge in use not counted.
    pub regrinds_left: u64,
    /// Pieces cut on the edge in use.
    pub pieces_on_edge: i64,
    /// Pieces left on the edge in use, given that it lasted so far.
    pub pieces_left_on_edge: PiecesLeftView,
    /// Pieces left in the tool: on the edge in use and on those that grinds will make.
    pub pieces_left: PiecesLeftView,
    /// What the figures rest on.
    pub basis: BasisView,
    /// What to be careful of.
    pub cautions: Vec<String>,
}

/// Where a design's tools run out.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct RunsOutView {
    /// In this job.
    #[schema(value_type = CodeSchema)]
    pub job: Code,
    /// Which starts on this day; today for one that should have started.
    #[schema(value_type = chrono::NaiveDate)]
    pub on: NaiveDate,
    /// Pieces that are missing over all that is booked.
    pub missing_pieces: i64,
}

/// New tools to order.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct ToolOrderView {
    /// So many.
    pub tools: u64,
    /// On this day at the latest; null where the design has no lead time on record.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub order_by: Option<NaiveDate>,
    /// Whether that day is today or past.
    pub due: bool,
}

/// What a design's tools have left beside what is booked.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = DesignOutlook)]
pub struct DesignOutlookView {
    /// The design.
    #[schema(value_type = CodeSchema)]
    pub design: Code,
    /// Its name.
    pub name: String,
    /// Tools that may still serve, now or after a grind or check.
    pub tools: usize,
    /// Of these, tools that are kept for one part; they serve it first, and no other.
    pub tools_kept_for_a_part: usize,
    /// Grinds left in all of them.
    pub regrinds_left: u64,
    /// Pieces left in all of them.
    pub pieces_left: PiecesLeftView,
    /// Pieces that planned jobs still ask of them, over all stations.
    pub booked_pieces: i64,
    /// Where they run out, counted by the lower bound; null when they last for all that is booked.
    pub runs_out: Option<RunsOutView>,
    /// What to order; null when nothing has to be, or the design is retired.
    pub order: Option<ToolOrderView>,
    /// Days from ordering a tool to having it.
    pub lead_time_days: Option<u32>,
    /// What the figures rest on.
    pub basis: BasisView,
    /// The advice in a sentence.
    pub sentence: String,
}
