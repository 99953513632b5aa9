//! Setups on the wire.

use super::{
    schema::{CodeSchema, EventKindSchema, HeightPhaseSchema, LengthSchema, SetupStateSchema},
    setup_station::{StationView, station_view},
};
use crate::openapi::RefusalSchema;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    ids::PersonId,
    length::Length,
    refusal::Refusal,
    setup::{
        event::{EventKind, HeightPhase},
        next::NextStep,
        state::SetupState,
        view as core,
    },
};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use utoipa::ToSchema;
use uuid::Uuid;

/// What opens a setup.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "machine": "M-101", "part": "P-2001", "job": "J-5001",
    "stations": [{"station": "S1", "form_tool": "FT-001", "holder": "HD-01"}, {"station": "S2"}]
}))]
pub struct NewSetup {
    /// The machine.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub machine: Code,
    /// The part.
    #[schema(value_type = CodeSchema, example = "P-2001")]
    pub part: Code,
    /// The job, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub job: Option<Code>,
    /// The stations in use, each once.
    pub stations: Vec<NewSetupStation>,
}

/// One station of a new setup.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"station": "S1", "form_tool": "FT-001", "holder": "HD-01"}))]
pub struct NewSetupStation {
    /// The station's code.
    #[schema(value_type = CodeSchema, example = "S1")]
    pub station: Code,
    /// The tool picked for it; another that fits is taken too.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub form_tool: Option<Code>,
    /// The holder picked for it; another that fits is taken too.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub holder: Option<Code>,
}

/// A person, named.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PersonRef {
    /// Their badge.
    #[schema(example = "setter")]
    pub badge: String,
    /// Their name.
    pub name: String,
}

/// The people that an answer names, looked up before.
pub type People = BTreeMap<PersonId, PersonRef>;

/// A person of an answer; one who is not on record any more is named by id.
#[must_use]
pub fn person(people: &People, id: PersonId) -> PersonRef {
    people.get(&id).cloned().unwrap_or_else(|| PersonRef { badge: id.to_string(), name: id.to_string() })
}

/// A setup: where it stands, each station, what may come next, what blocks a release.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct SetupView {
    /// Its id.
    pub id: Uuid,
    /// The machine.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// The part.
    #[schema(value_type = CodeSchema)]
    pub part: Code,
    /// The job.
    #[schema(value_type = Option<CodeSchema>)]
    pub job: Option<Code>,
    /// Where it stands.
    #[schema(value_type = SetupStateSchema)]
    pub state: SetupState,
    /// Who opened it.
    pub opened_by: PersonRef,
    /// When.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub opened_at: DateTime<Utc>,
    /// When it was closed or abandoned.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub closed_at: Option<DateTime<Utc>>,
    /// Who has it in hand.
    pub in_charge: PersonRef,
    /// The bar in the spindles.
    pub stock: Option<StockView>,
    /// Whether the index was proven clear as everything stands now.
    pub index_clearance_confirmed: bool,
    /// Whether the machine may turn for a trial.
    pub trial_begun: bool,
    /// The highest piece number measured.
    pub highest_piece: u64,
    /// The last judgement of a first piece that still counts.
    pub first_piece: Option<FirstPieceView>,
    /// Pieces of all runs.
    pub pieces: u64,
    /// Whether pieces of a withdrawn release are still to be booked.
    pub pieces_to_book: bool,
    /// The provisional release whose pieces wait for an inspector.
    pub held: Option<HeldView>,
    /// Of the pieces, those booked that wait for an inspector.
    pub pieces_held: u64,
    /// Of the pieces, those that an inspector rejected.
    pub pieces_rejected: u64,
    /// Stations at which the part has an operation and that this setup leaves out: shown, and not in the way.
    #[schema(value_type = Vec<CodeSchema>)]
    pub left_out: Vec<Code>,
    /// The stations in use.
    pub stations: Vec<StationView>,
    /// What may come next.
    pub next: Vec<NextView>,
    /// Everything that blocks a release, on any station.
    #[schema(value_type = Vec<RefusalSchema>)]
    pub blockers: Vec<Refusal>,
}

/// The bar in the spindles.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Stock)]
pub struct StockView {
    /// Its diameter, or size across flats.
    #[schema(value_type = LengthSchema)]
    pub bar_diameter: Length,
    /// Its shape.
    pub bar_shape: String,
    /// Its heat or lot.
    pub heat: Option<String>,
}

/// A judgement of a first piece.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = FirstPiece)]
pub struct FirstPieceView {
    /// Whether it was good.
    pub accepted: bool,
    /// Who judged it.
    pub by: PersonRef,
    /// Whether they had recorded nothing in this setup.
    pub independent: bool,
    /// Whether it carries a provisional release only.
    pub provisional: bool,
    /// When.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub at: DateTime<Utc>,
}

/// A step that may come next.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = NextStep)]
pub struct NextView {
    /// The station; null for the whole machine.
    #[schema(value_type = Option<CodeSchema>)]
    pub station: Option<Code>,
    /// The kind of event.
    #[schema(value_type = EventKindSchema)]
    pub kind: EventKind,
    /// For a height: before or after clamping.
    #[schema(value_type = Option<HeightPhaseSchema>)]
    pub phase: Option<HeightPhase>,
    /// Whether it brings the setup forward; others are allowed too.
    pub wanted: bool,
    /// In words.
    pub words: String,
}

impl From<NextStep> for NextView {
    fn from(step: NextStep) -> Self {
        let NextStep { station, kind, phase, wanted, words } = step;
        Self { station, kind, phase, wanted, words: words.to_owned() }
    }
}

/// What a provisional release makes, until an inspector judged it.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = HeldPieces)]
pub struct HeldView {
    /// Whether that release is in force.
    pub in_force: bool,
    /// When it ends.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub until: DateTime<Utc>,
    /// After how many pieces it ends.
    pub most_pieces: u64,
    /// Who accepted the first piece on which it rests.
    pub accepted_by: PersonRef,
    /// When it was released.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub released_at: DateTime<Utc>,
}

/// What the fold does not know of a setup.
#[derive(Clone, Debug)]
pub struct SetupRow {
    /// The job's code.
    pub job: Option<Code>,
    /// Who opened it.
    pub opened_by: PersonId,
    /// When.
    pub opened_at: DateTime<Utc>,
    /// When it was closed.
    pub closed_at: Option<DateTime<Utc>>,
}

impl SetupView {
    /// The answer from what the rules show and what the row holds.
    #[must_use]
    pub fn of(view: core::SetupView, row: SetupRow, people: &People) -> Self {
        Self {
            id: view.setup.uuid(),
            machine: view.machine,
            part: view.part,
            job: row.job,
            state: view.state,
            opened_by: person(people, row.opened_by),
            opened_at: row.opened_at,
            closed_at: row.closed_at,
            in_charge: person(people, view.in_charge),
            stock: view.stock.map(|stock| StockView {
                bar_diameter: stock.bar_diameter,
                bar_shape: stock.bar_shape,
                heat: stock.heat,
            }),
            index_clearance_confirmed: view.index_clearance_confirmed,
            trial_begun: view.trial_begun,
            highest_piece: view.highest_piece,
            first_piece: view.first_piece.map(|judged| FirstPieceView {
                accepted: judged.accepted,
                by: person(people, judged.by),
                independent: judged.independent,
                provisional: judged.provisional,
                at: judged.at,
            }),
            pieces: view.pieces,
            pieces_to_book: view.pieces_to_book,
            pieces_held: view.held.map_or(0, |held| held.pieces),
            held: view.held.map(|held| HeldView {
                in_force: held.in_force,
                until: held.until,
                most_pieces: held.most_pieces,
                accepted_by: person(people, held.accepted_by),
                released_at: held.released_at,
            }),
            pieces_rejected: view.pieces_rejected,
            left_out: view.left_out,
            stations: view.stations.into_iter().map(|station| station_view(station, people)).collect(),
            next: view.next.into_iter().map(NextView::from).collect(),
            blockers: view.blockers,
        }
    }
}
