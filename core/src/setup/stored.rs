//! Events to and from their rows: kind, station, payload and the payload's version.

use super::event::{Event, EventKind, PAYLOAD_VERSION};
use crate::code::Code;

/// An event as its row holds it.
#[derive(Clone, Debug, PartialEq)]
pub struct StoredEvent {
    /// Its kind's name.
    pub kind: String,
    /// The station it is about.
    pub station: Option<String>,
    /// The whole event as a document, its kind and station included.
    pub payload: serde_json::Value,
    /// The version of that document.
    pub payload_version: i32,
}

/// Why a row is not an event.
#[derive(Debug, thiserror::Error)]
pub enum StoredEventError {
    /// A version that this program does not know.
    #[error("payload version {0} is not known to this program")]
    Version(i32),
    /// The document is not an event.
    #[error("the payload is not an event: {0}")]
    Payload(#[from] serde_json::Error),
    /// Row and document disagree.
    #[error("the row says {row}, the payload says {payload}")]
    Disagree {
        /// What the columns say.
        row: String,
        /// What the document says.
        payload: String,
    },
}

impl Event {
    /// Which kind it is.
    #[must_use]
    pub const fn kind(&self) -> EventKind {
        match self {
            Self::HolderSeated { .. } => EventKind::HolderSeated,
            Self::ToolInserted { .. } => EventKind::ToolInserted,
            Self::GaugePlaced { .. } => EventKind::GaugePlaced,
            Self::HeightRead { .. } => EventKind::HeightRead,
            Self::ToolClamped { .. } => EventKind::ToolClamped,
            Self::ToolUnclamped { .. } => EventKind::ToolUnclamped,
            Self::ToolRemoved { .. } => EventKind::ToolRemoved,
            Self::HolderRemoved { .. } => EventKind::HolderRemoved,
            Self::GaugeRemoved { .. } => EventKind::GaugeRemoved,
            Self::StockFed { .. } => EventKind::StockFed,
            Self::IndexClearanceConfirmed => EventKind::IndexClearanceConfirmed,
            Self::ApproachRead { .. } => EventKind::ApproachRead,
            Self::TrialCutBegun => EventKind::TrialCutBegun,
            Self::SizesRead { .. } => EventKind::SizesRead,
            Self::DepthRead { .. } => EventKind::DepthRead,
            Self::Adjusted { .. } => EventKind::Adjusted,
            Self::FirstPieceJudged { .. } => EventKind::FirstPieceJudged,
            Self::RunReleased { .. } => EventKind::RunReleased,
            Self::HeldPiecesJudged { .. } => EventKind::HeldPiecesJudged,
            Self::ReleaseWithdrawn { .. } => EventKind::ReleaseWithdrawn,
            Self::TrialWithdrawn { .. } => EventKind::TrialWithdrawn,
            Self::RunStopped { .. } => EventKind::RunStopped,
            Self::CrashReported { .. } => EventKind::CrashReported,
            Self::HandedOver { .. } => EventKind::HandedOver,
            Self::ItemTakenOut { .. } => EventKind::ItemTakenOut,
            Self::Closed { .. } => EventKind::Closed,
            Self::Abandoned { .. } => EventKind::Abandoned,
        }
    }

    /// The station it is about; none for those about the whole machine.
    #[must_use]
    pub const fn station(&self) -> Option<&Code> {
        match self {
            Self::HolderSeated { station, .. }
            | Self::ToolInserted { station, .. }
            | Self::GaugePlaced { station, .. }
            | Self::HeightRead { station, .. }
            | Self::ToolClamped { station }
            | Self::ToolUnclamped { station }
            | Self::ToolRemoved { station, .. }
            | Self::HolderRemoved { station, .. }
            | Self::GaugeRemoved { station, .. }
            | Self::ApproachRead { station, .. }
            | Self::SizesRead { station, .. }
            | Self::DepthRead { station, .. }
            | Self::Adjusted { station, .. }
            | Self::CrashReported { station, .. }
            | Self::ItemTakenOut { station, .. } => Some(station),
            _ => None,
        }
    }

    /// The row's columns for this event.
    ///
    /// # Errors
    /// When it cannot be written as a document: a number of turns that is not finite.
    pub fn to_stored(&self) -> Result<StoredEvent, serde_json::Error> {
        Ok(StoredEvent {
            kind: self.kind().name().to_owned(),
            station: self.station().map(ToString::to_string),
            payload: serde_json::to_value(self)?,
            payload_version: PAYLOAD_VERSION,
        })
    }

    /// Reads an event from its row.
    ///
    /// # Errors
    /// [`StoredEventError`] for an unknown version, a payload that is not an event, or columns that disagree with it.
    pub fn from_stored(stored: StoredEvent) -> Result<Self, StoredEventError> {
        if !(1..=PAYLOAD_VERSION).contains(&stored.payload_version) {
            return Err(StoredEventError::Version(stored.payload_version));
        }
        let event: Self = serde_json::from_value(stored.payload)?;
        let columns = |kind: &str, station: Option<&str>| format!("{kind} at {}", station.unwrap_or("no station"));
        let row = columns(&stored.kind, stored.station.as_deref());
        let payload = columns(event.kind().name(), event.station().map(Code::as_str));
        if row == payload { Ok(event) } else { Err(StoredEventError::Disagree { row, payload }) }
    }
}
