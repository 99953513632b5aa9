//! Setups in lists, and their events.

use super::{
    schema::{CodeSchema, EventKindSchema, SetupStateSchema},
    setup::{People, PersonRef, person},
};
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    setup::{
        event::{EventKind, Recorded},
        state::SetupState,
    },
};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

/// A setup in a list.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct SetupSummary {
    /// Its id.
    pub id: Uuid,
    /// The machine.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// The part.
    #[schema(value_type = CodeSchema)]
    pub part: Code,
    /// Where it stands.
    #[schema(value_type = SetupStateSchema)]
    pub state: SetupState,
    /// When it was opened.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub opened_at: DateTime<Utc>,
    /// When it was closed or abandoned.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub closed_at: Option<DateTime<Utc>>,
}

/// An event on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct EventView {
    /// Its number in the setup, from 1.
    pub sequence: i64,
    /// Its kind.
    #[schema(value_type = EventKindSchema)]
    pub kind: EventKind,
    /// The station it is about.
    #[schema(value_type = Option<CodeSchema>)]
    pub station: Option<Code>,
    /// Who recorded it.
    pub by: PersonRef,
    /// When it happened, as the person says.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub occurred_at: DateTime<Utc>,
    /// The server's time.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub recorded_at: DateTime<Utc>,
    /// What it carries.
    #[schema(value_type = Object)]
    pub event: serde_json::Value,
}

/// A setup's events in order.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct EventList {
    /// All of them.
    pub items: Vec<EventView>,
}

impl EventView {
    /// An event with the person who recorded it.
    ///
    /// # Errors
    /// When it cannot be shown as JSON.
    pub fn of(recorded: &Recorded, people: &People) -> Result<Self, serde_json::Error> {
        Ok(Self {
            sequence: recorded.sequence,
            kind: recorded.event.kind(),
            station: recorded.event.station().cloned(),
            by: person(people, recorded.by),
            occurred_at: recorded.occurred_at,
            recorded_at: recorded.recorded_at,
            event: serde_json::to_value(&recorded.event)?,
        })
    }
}
