//! What a person asks of a setup. Scanned codes are already looked up: a command carries what the records know.

use super::{
    event::{
        DepthReading, EventKind, FirstPieceReading, HeightPhase, HeightReading, HolderMove, SeatAnswers, SizeReading,
        Stock,
    },
    facts::{HolderFacts, ToolFacts},
};
use crate::{
    adjuster::Turn,
    code::Code,
    gauge::GaugeFacts,
    ids::{ItemId, PersonId},
    length::Length,
    people::Permission,
    scan::Scanned,
};
use chrono::{DateTime, Utc};

/// So many turns of a screw: above zero, at most 1,000.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Turns(f64);

/// A number that no screw is turned by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("turns must be a number above 0 and at most 1000; the direction says which way")]
pub struct TurnsError;

impl Turns {
    /// Reads a count of turns.
    ///
    /// # Errors
    /// [`TurnsError`] when not finite, not above zero, or above 1,000.
    pub fn new(turns: f64) -> Result<Self, TurnsError> {
        if turns > 0.0 && turns <= 1000.0 { Ok(Self(turns)) } else { Err(TurnsError) }
    }

    /// The count.
    #[must_use]
    pub const fn count(self) -> f64 {
        self.0
    }
}

/// One step that a person records.
#[derive(Clone, Debug, PartialEq)]
#[expect(missing_docs, reason = "fields are those of the event of the same kind, scanned codes as facts")]
pub enum Command {
    /// `holder_seated`
    SeatHolder { station: Code, holder: Scanned<HolderFacts>, seat: SeatAnswers },
    /// `tool_inserted`
    InsertTool { station: Code, tool: Scanned<ToolFacts> },
    /// `gauge_placed`
    PlaceGauge { station: Code, gauge: Scanned<GaugeFacts>, machine_stopped: bool },
    /// `height_read`
    ReadHeight { station: Code, phase: HeightPhase, reading: HeightReading, correction: Option<serde_json::Value> },
    /// `tool_clamped`
    ClampTool { station: Code },
    /// `tool_unclamped`
    UnclampTool { station: Code },
    /// `tool_removed`: the item that the scanned code names.
    RemoveTool { station: Code, tool: Scanned<ItemId> },
    /// `holder_removed`: the item that the scanned code names.
    RemoveHolder { station: Code, holder: Scanned<ItemId> },
    /// `gauge_removed`: the item that the scanned code names.
    RemoveGauge { station: Code, gauge: Scanned<ItemId> },
    /// `stock_fed`
    FeedStock { stock: Stock },
    /// `index_clearance_confirmed`
    ConfirmIndexClearance { confirmed: bool },
    /// `approach_read`
    ReadApproach { station: Code, gap: Length },
    /// `trial_cut_begun`
    BeginTrialCut,
    /// `sizes_read`
    ReadSizes {
        station: Code,
        piece: u64,
        spindle: Option<u8>,
        readings: Vec<SizeReading>,
        correction: Option<serde_json::Value>,
    },
    /// `depth_read`
    ReadDepth {
        station: Code,
        piece: u64,
        spindle: Option<u8>,
        reading: DepthReading,
        correction: Option<serde_json::Value>,
    },
    /// `adjusted`; `holder_move` is asked for with taper and lateral screws.
    Adjust { station: Code, adjuster: Code, turns: Turns, direction: Turn, holder_move: Option<HolderMove> },
    /// `first_piece_judged`
    JudgeFirstPiece { accepted: bool, piece: Option<u64>, readings: Vec<FirstPieceReading> },
    /// `run_released`
    ReleaseRun,
    /// `held_pieces_judged`
    JudgeHeldPieces { accepted: bool, readings: Vec<FirstPieceReading> },
    /// `run_stopped`: when it stopped, now where nobody says; a count that can hardly be is `confirmed`, or asked back.
    StopRun { pieces: u64, reason: String, stopped_at: Option<DateTime<Utc>>, confirmed: bool },
    /// `crash_reported`
    ReportCrash { station: Code },
    /// `handed_over`
    HandOver { to: PersonId },
    /// `closed`
    Close { reason: String },
    /// `abandoned`
    Abandon { reason: String },
}

impl Command {
    /// The kind of event that it asks for.
    #[must_use]
    pub const fn kind(&self) -> EventKind {
        match self {
            Self::SeatHolder { .. } => EventKind::HolderSeated,
            Self::InsertTool { .. } => EventKind::ToolInserted,
            Self::PlaceGauge { .. } => EventKind::GaugePlaced,
            Self::ReadHeight { .. } => EventKind::HeightRead,
            Self::ClampTool { .. } => EventKind::ToolClamped,
            Self::UnclampTool { .. } => EventKind::ToolUnclamped,
            Self::RemoveTool { .. } => EventKind::ToolRemoved,
            Self::RemoveHolder { .. } => EventKind::HolderRemoved,
            Self::RemoveGauge { .. } => EventKind::GaugeRemoved,
            Self::FeedStock { .. } => EventKind::StockFed,
            Self::ConfirmIndexClearance { .. } => EventKind::IndexClearanceConfirmed,
            Self::ReadApproach { .. } => EventKind::ApproachRead,
            Self::BeginTrialCut => EventKind::TrialCutBegun,
            Self::ReadSizes { .. } => EventKind::SizesRead,
            Self::ReadDepth { .. } => EventKind::DepthRead,
            Self::Adjust { .. } => EventKind::Adjusted,
            Self::JudgeFirstPiece { .. } => EventKind::FirstPieceJudged,
            Self::ReleaseRun => EventKind::RunReleased,
            Self::JudgeHeldPieces { .. } => EventKind::HeldPiecesJudged,
            Self::StopRun { .. } => EventKind::RunStopped,
            Self::ReportCrash { .. } => EventKind::CrashReported,
            Self::HandOver { .. } => EventKind::HandedOver,
            Self::Close { .. } => EventKind::Closed,
            Self::Abandon { .. } => EventKind::Abandoned,
        }
    }
}

impl EventKind {
    /// The permissions of which one is needed to record such an event; none for those that nobody records by hand.
    #[must_use]
    pub const fn permissions(self) -> &'static [Permission] {
        match self {
            Self::FirstPieceJudged => &[Permission::JudgeFirstPiece],
            Self::HeldPiecesJudged => &[Permission::JudgeHeldPieces],
            Self::Closed | Self::Abandoned => &[Permission::RecordSetup, Permission::CloseAnySetup],
            Self::ReleaseWithdrawn | Self::TrialWithdrawn | Self::ItemTakenOut => &[],
            _ => &[Permission::RecordSetup],
        }
    }
}
