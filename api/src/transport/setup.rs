//! Setups on the wire.

use super::schema::{CodeSchema, DirectionSchema, EventKindSchema, HeightPhaseSchema, LengthSchema, SetupStateSchema};
use crate::openapi::RefusalSchema;
use chrono::{DateTime, Utc};
use dovetally_core::{
    adjuster::Turn,
    code::Code,
    ids::PersonId,
    length::Length,
    refusal::Refusal,
    setup::{
        event::{EventKind, HeightPhase, HeightReading},
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
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
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
    /// When.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub at: DateTime<Utc>,
}

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
                at: judged.at,
            }),
            pieces: view.pieces,
            pieces_to_book: view.pieces_to_book,
            stations: view.stations.into_iter().map(|station| station_view(station, people)).collect(),
            next: view.next.into_iter().map(NextView::from).collect(),
            blockers: view.blockers,
        }
    }
}

fn station_view(view: core::StationView, people: &People) -> StationView {
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
        crashed: view.crashed,
        open: view.open,
    }
}

fn height_view(view: core::HeightView) -> HeightView {
    let deviation = match view.reading {
        HeightReading::OnGauge => None,
        HeightReading::Deviation(length) => Some(length),
    };
    HeightView { deviation, on_gauge: deviation.is_none(), within_limit: view.within_limit }
}
