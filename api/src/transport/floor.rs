//! The floor on the wire: every machine as it stands, those that need somebody first.

use super::{
    item::Where,
    schema::{CodeSchema, ConditionSchema, MachineStateSchema, NeedSchema, SetupStateSchema},
    setup::{HeldView, PersonRef, SetupView},
};
use crate::openapi::RefusalSchema;
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    code::Code, floor::Need, item::Condition, machine::MachineState, refusal::Refusal, setup::state::SetupState,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// The floor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = Floor)]
pub struct FloorView {
    /// Every machine that is not out of the shop's use, those that need somebody first, then by code.
    pub machines: Vec<FloorMachine>,
}

/// One machine as it stands.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FloorMachine {
    /// Its code.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub machine: Code,
    /// Its name.
    pub name: String,
    /// Its state.
    #[schema(value_type = MachineStateSchema)]
    pub state: MachineState,
    /// What it needs.
    #[schema(value_type = NeedSchema)]
    pub need: Need,
    /// Whether nothing on record stands against running production on it. Advice, not a safety function.
    pub permitted: bool,
    /// Everything that does.
    #[schema(value_type = Vec<RefusalSchema>)]
    pub blockers: Vec<Refusal>,
    /// The tag-outs in force, oldest first. A record, not a lock.
    pub tag_outs: Vec<FloorTagOut>,
    /// The centre gauges that were cut for it, wherever they are.
    pub gauges: Vec<FloorGauge>,
    /// The open setup.
    pub setup: Option<FloorSetup>,
}

/// A tag-out in force.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FloorTagOut {
    /// Its id.
    pub id: Uuid,
    /// Why the machine may not be used.
    pub reason: String,
    /// Who placed it.
    pub placed_by: PersonRef,
    /// When.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub placed_at: DateTime<Utc>,
}

/// A centre gauge and where it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FloorGauge {
    /// Its code.
    #[schema(value_type = CodeSchema, example = "CG-101")]
    pub code: Code,
    /// The last judgement of it.
    #[schema(value_type = ConditionSchema)]
    pub condition: Condition,
    /// Whether its machine's spindle centres may have moved since it was last accepted: it sets nothing until it is checked
    /// again, whatever its condition.
    pub stale: bool,
    /// The last day on which its check is in date; null while never checked.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub next_check: Option<NaiveDate>,
    /// Who or what has it.
    #[serde(rename = "where")]
    pub whereabouts: Where,
    /// The station at which it is in the machine; null while it is not.
    #[schema(value_type = Option<CodeSchema>)]
    pub station: Option<Code>,
}

/// An open setup.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FloorSetup {
    /// Its id.
    pub id: Uuid,
    /// The part.
    #[schema(value_type = CodeSchema, example = "P-2001")]
    pub part: Code,
    /// The job.
    #[schema(value_type = Option<CodeSchema>)]
    pub job: Option<Code>,
    /// Where it stands.
    #[schema(value_type = SetupStateSchema)]
    pub state: SetupState,
    /// Who has it in hand.
    pub in_charge: PersonRef,
    /// When it was opened.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub opened_at: DateTime<Utc>,
    /// Its stations, with what is open at each.
    pub stations: Vec<FloorStation>,
    /// The provisional release whose pieces wait for an inspector.
    pub held: Option<FloorHeld>,
    /// Of the pieces, those booked that wait for an inspector.
    pub pieces_held: u64,
    /// Whether pieces of a withdrawn release are still to be booked.
    pub pieces_to_book: bool,
}

/// One station of an open setup.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FloorStation {
    /// Its code.
    #[schema(value_type = CodeSchema, example = "S1")]
    pub station: Code,
    /// The holder on it.
    #[schema(value_type = Option<CodeSchema>)]
    pub holder: Option<Code>,
    /// The tool in it.
    #[schema(value_type = Option<CodeSchema>)]
    pub tool: Option<Code>,
    /// The gauge placed at it.
    #[schema(value_type = Option<CodeSchema>)]
    pub gauge: Option<Code>,
    /// What is open here, in words.
    pub open: Vec<String>,
}

/// What a provisional release makes, until an inspector judged it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FloorHeld {
    /// Whether that release is in force.
    pub in_force: bool,
    /// When it ends.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub until: DateTime<Utc>,
    /// After how many pieces it ends.
    pub most_pieces: u64,
    /// Who accepted the first piece on which it rests.
    pub accepted_by: PersonRef,
}

impl From<SetupView> for FloorSetup {
    fn from(view: SetupView) -> Self {
        let stations = view.stations.into_iter().map(|station| FloorStation {
            station: station.station,
            holder: station.holder,
            tool: station.tool,
            gauge: station.gauge,
            open: station.open,
        });
        Self {
            id: view.id,
            part: view.part,
            job: view.job,
            state: view.state,
            in_charge: view.in_charge,
            opened_at: view.opened_at,
            stations: stations.collect(),
            held: view.held.map(FloorHeld::from),
            pieces_held: view.pieces_held,
            pieces_to_book: view.pieces_to_book,
        }
    }
}

impl From<HeldView> for FloorHeld {
    fn from(held: HeldView) -> Self {
        Self {
            in_force: held.in_force,
            until: held.until,
            most_pieces: held.most_pieces,
            accepted_by: held.accepted_by,
        }
    }
}
