//! The events of a setup, as they are stored. An event carries all that the fold needs, so that folding never asks a
//! rule and never looks anything up.

use super::{held::ProvisionalEnd, plan::DesignRef, plan::HolderMoveRecheck};
use crate::{
    adjuster::{Adjuster, AdjusterKind, Turn},
    code::Code,
    ids::{ItemId, PersonId, TagOutId},
    item::Purpose,
    length::Length,
    names::named,
    refusal::Rule,
};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// The version of the payloads below. Those of version 1 lack what came later, and every field of that may be missing:
/// they are read as they are.
pub const PAYLOAD_VERSION: i32 = 2;

/// What a setter answers about a holder's seat.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SeatAnswers {
    /// The seat is clean and without burrs.
    pub seat_clean: bool,
    /// The holder sits flush on the slide.
    pub seated_flush: bool,
    /// The side screw is free, so that the holder sits on the slide and not on the screw.
    pub side_screw_free: bool,
}

impl SeatAnswers {
    /// Whether all three are confirmed.
    #[must_use]
    pub const fn all(self) -> bool {
        self.seat_clean && self.seated_flush && self.side_screw_free
    }
}

/// What a setter answers after moving a holder by its taper or side screw.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HolderMove {
    /// The holder is tight again.
    pub holder_retightened: bool,
    /// The side screw is free again.
    pub side_screw_free: bool,
}

impl HolderMove {
    /// Whether both are confirmed.
    #[must_use]
    pub const fn all(self) -> bool {
        self.holder_retightened && self.side_screw_free
    }
}

/// What the gauge showed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HeightReading {
    /// The edge is on the gauge.
    OnGauge,
    /// Edge minus gauge, read on the foremost edge; above zero the edge is high.
    Deviation(Length),
}

named! {
    /// When a height was read.
    HeightPhase {
        /// With the screws nipped.
        BeforeClamping = "before_clamping",
        /// With the tool clamped.
        AfterClamping = "after_clamping",
    }
}

/// How a depth was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DepthReading {
    /// From the finished face to the pilot's tip.
    Depth(Length),
    /// A centre drill's mouth.
    MouthDiameter(Length),
}

/// One measured size.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SizeReading {
    /// Which feature of the station's operation.
    pub feature: Code,
    /// What was measured.
    pub value: Length,
}

/// One measured size of a first piece.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FirstPieceReading {
    /// The station that made the feature.
    pub station: Code,
    /// Which feature of that station's operation.
    pub feature: Code,
    /// The spindle that the piece came from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spindle: Option<u8>,
    /// What was measured.
    pub value: Length,
}

/// The bar that was fed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stock {
    /// Its diameter, or its size across flats.
    pub bar_diameter: Length,
    /// Round, hexagon, square, as the shop calls it.
    pub bar_shape: String,
    /// Its heat number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heat: Option<String>,
}

/// A gauge named at a hand-over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GaugeAt {
    /// Its code.
    pub gauge: Code,
    /// The station where it is placed.
    pub station: Code,
}

/// A step that was open at a hand-over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OpenStep {
    /// The rule that waits for it.
    pub rule: Rule,
    /// What is open, in words.
    pub sentence: String,
}

/// Why a release or a trial was taken back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "because", rename_all = "snake_case", deny_unknown_fields)]
pub enum Withdrawal {
    /// The machine was tagged out.
    TagOut {
        /// The tag-out.
        tag_out: TagOutId,
    },
    /// A crash was reported.
    Crash {
        /// At this station.
        station: Code,
    },
    /// An inspector rejected what a provisional release had made.
    HeldPiecesRejected,
}

/// What was taken out of a setup through custody.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TakenOut {
    /// The tool.
    Tool,
    /// The holder, and with it the tool.
    Holder,
}

/// One event of a setup, as stored.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
#[expect(missing_docs, reason = "fields repeat the types above; the variants and what is not plain are documented")]
pub enum Event {
    /// A holder was put on its slide, and what was answered about the seat, good or bad.
    HolderSeated { station: Code, holder: ItemId, code: Code, adjusters: Vec<Adjuster>, seat: SeatAnswers },
    /// A tool was put in and nipped, not tightened.
    ToolInserted { station: Code, tool: ItemId, code: Code, design: Option<DesignRef>, height: Option<Length> },
    /// A centre gauge was put in with the machine stopped.
    GaugePlaced { station: Code, gauge: ItemId, code: Code },
    /// The edge was read on the gauge. `within_limit` is the verdict under the `limit` of that day, from which half of the
    /// spindles' `spread` is taken off; `correction` what was advised on it.
    HeightRead {
        station: Code,
        gauge: ItemId,
        phase: HeightPhase,
        reading: HeightReading,
        limit: Length,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        spread: Option<Length>,
        within_limit: bool,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        correction: Option<serde_json::Value>,
    },
    /// The tool was tightened.
    ToolClamped { station: Code },
    /// The tool was loosened.
    ToolUnclamped { station: Code },
    /// The tool was taken out, into the hands of whoever took it.
    ToolRemoved { station: Code, tool: ItemId, code: Code },
    /// The holder was taken off, and with it the tool in it.
    HolderRemoved { station: Code, holder: ItemId, code: Code },
    /// The centre gauge was taken out.
    GaugeRemoved { station: Code, gauge: ItemId, code: Code },
    /// Bar was fed to every spindle.
    StockFed { stock: Stock },
    /// The carrier was turned by hand through one full turn and nothing was struck.
    IndexClearanceConfirmed,
    /// The gap between form and bar before the cut.
    ApproachRead { station: Code, gap: Length },
    /// The machine turns for a trial.
    TrialCutBegun,
    /// Sizes of a piece. `correction` is what was advised on them.
    SizesRead {
        station: Code,
        piece: u64,
        spindle: Option<u8>,
        readings: Vec<SizeReading>,
        correction: Option<serde_json::Value>,
    },
    /// The depth of a piece. `correction` is what was advised on it.
    DepthRead {
        station: Code,
        piece: u64,
        spindle: Option<u8>,
        reading: DepthReading,
        correction: Option<serde_json::Value>,
    },
    /// A screw was turned. `affected` are the stations in use whose work it moves, this one first. `holder_move` and
    /// `recheck` are there when it moved the holder (taper, lateral).
    Adjusted {
        station: Code,
        adjuster: Code,
        adjusts: AdjusterKind,
        turns: f64,
        direction: Turn,
        holder_move: Option<HolderMove>,
        recheck: Option<HolderMoveRecheck>,
        affected: Vec<Code>,
    },
    /// A first piece was judged. `independent`: by somebody who had recorded nothing before in this setup.
    /// `provisional`: accepted by somebody whose word carries a provisional release only.
    FirstPieceJudged {
        accepted: bool,
        piece: Option<u64>,
        readings: Vec<FirstPieceReading>,
        independent: bool,
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        provisional: bool,
    },
    /// The machine was released for production, with these tools; with an end where the release is provisional.
    RunReleased {
        tools: Vec<ItemId>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        provisional: Option<ProvisionalEnd>,
    },
    /// An inspector judged what a provisional release made.
    HeldPiecesJudged { accepted: bool, readings: Vec<FirstPieceReading> },
    /// A release was taken back by a tag-out or a crash. Its pieces are still to be booked.
    ReleaseWithdrawn { withdrawal: Withdrawal },
    /// A trial was ended by a tag-out.
    TrialWithdrawn { withdrawal: Withdrawal },
    /// The run was stopped after so many pieces.
    RunStopped { pieces: u64, reason: String },
    /// Something was struck. `blocked` are the stations that are out of use until holder and tool are checked.
    CrashReported { station: Code, blocked: Vec<Code> },
    /// The setup went to another person, with what was open and where the gauges were.
    HandedOver { to: PersonId, gauges: Vec<GaugeAt>, open: Vec<OpenStep> },
    /// A tool or holder was handed out of the setup, to be ground or checked.
    ItemTakenOut { station: Code, item: ItemId, what: TakenOut, purpose: Purpose },
    /// The setup is done.
    Closed { reason: String },
    /// The setup was given up.
    Abandoned { reason: String },
}

named! {
    /// The kinds of events.
    EventKind {
        /// A holder was seated.
        HolderSeated = "holder_seated",
        /// A tool was inserted.
        ToolInserted = "tool_inserted",
        /// A centre gauge was placed.
        GaugePlaced = "gauge_placed",
        /// A height was read.
        HeightRead = "height_read",
        /// A tool was clamped.
        ToolClamped = "tool_clamped",
        /// A tool was unclamped.
        ToolUnclamped = "tool_unclamped",
        /// A tool was taken out.
        ToolRemoved = "tool_removed",
        /// A holder was taken off.
        HolderRemoved = "holder_removed",
        /// A centre gauge was removed.
        GaugeRemoved = "gauge_removed",
        /// Stock was fed.
        StockFed = "stock_fed",
        /// The index was proven clear.
        IndexClearanceConfirmed = "index_clearance_confirmed",
        /// An approach gap was read.
        ApproachRead = "approach_read",
        /// Trial cutting began.
        TrialCutBegun = "trial_cut_begun",
        /// Sizes were read.
        SizesRead = "sizes_read",
        /// A depth was read.
        DepthRead = "depth_read",
        /// A screw was turned.
        Adjusted = "adjusted",
        /// A first piece was judged.
        FirstPieceJudged = "first_piece_judged",
        /// The machine was released.
        RunReleased = "run_released",
        /// The pieces of a provisional release were judged.
        HeldPiecesJudged = "held_pieces_judged",
        /// A release was taken back. Derived: nobody asks for it.
        ReleaseWithdrawn = "release_withdrawn",
        /// A trial was ended. Derived.
        TrialWithdrawn = "trial_withdrawn",
        /// A run was stopped.
        RunStopped = "run_stopped",
        /// A crash was reported.
        CrashReported = "crash_reported",
        /// The setup was handed over.
        HandedOver = "handed_over",
        /// A tool or holder was handed out of the setup. Derived.
        ItemTakenOut = "item_taken_out",
        /// The setup was closed.
        Closed = "closed",
        /// The setup was abandoned.
        Abandoned = "abandoned",
    }
}

/// An event with who recorded it and when, in its place in the setup.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Recorded {
    /// Its number in the setup, from 1 without a gap.
    pub sequence: i64,
    /// Who recorded it.
    pub by: PersonId,
    /// The server's time.
    pub recorded_at: DateTime<Utc>,
    /// When it happened, as the person says. Carried only: no rule reads it.
    pub occurred_at: DateTime<Utc>,
    /// The event.
    pub event: Event,
}
