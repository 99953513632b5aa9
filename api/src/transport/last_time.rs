//! What the last setups of a part on a machine tell, on the wire.

use super::{
    schema::{CodeSchema, DirectionSchema, EventKindSchema, HeightPhaseSchema, LengthSchema, SetupStateSchema},
    setup::{People, PersonRef, person},
    setup_event::FirstPieceReadingBody,
};
use crate::problem::Problem;
use chrono::{DateTime, Utc};
use dovetally_core::{
    adjuster::Turn,
    code::Code,
    length::Length,
    setup::{
        event::{EventKind, HeightPhase, HeightReading},
        last_time as core,
        state::SetupState,
    },
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// Of which part, and how far back.
#[derive(Clone, Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct LastTimeQuestion {
    /// The part.
    #[param(value_type = String, example = "P-2001")]
    pub part: Code,
    /// So many setups, 1 to 10; 3 when left out.
    #[serde(default)]
    #[param(minimum = 1, maximum = 10)]
    pub setups: Option<u8>,
}

impl LastTimeQuestion {
    /// How many setups are asked for.
    ///
    /// # Errors
    /// 400 for none or more than ten.
    pub fn most(&self) -> Result<i64, Problem> {
        match self.setups.unwrap_or(3) {
            most @ 1..=10 => Ok(i64::from(most)),
            _ => Err(Problem::query("setups", "must be 1 to 10")),
        }
    }
}

/// The last setups of a part on a machine.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = LastTime)]
pub struct LastTimeView {
    /// The machine.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// The part.
    #[schema(value_type = CodeSchema)]
    pub part: Code,
    /// Finished setups, newest first.
    pub setups: Vec<SetupThen>,
}

/// A finished setup.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct SetupThen {
    /// Its id.
    pub id: Uuid,
    /// Where it ended: closed or abandoned.
    #[schema(value_type = SetupStateSchema)]
    pub state: SetupState,
    /// When it was opened.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub opened_at: DateTime<Utc>,
    /// When a trial first began.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub trial_at: Option<DateTime<Utc>>,
    /// When it was first released.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub released_at: Option<DateTime<Utc>>,
    /// When it was closed or abandoned.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub closed_at: Option<DateTime<Utc>>,
    /// Whole minutes from the opening to the first release, breaks and waiting included; null where it never ran.
    pub minutes_to_release: Option<i64>,
    /// Everybody who recorded or judged, in the order in which they came; first who opened it.
    pub people: Vec<PersonRef>,
    /// Pieces booked.
    pub pieces: u64,
    /// Pieces that an inspector rejected.
    pub pieces_rejected: u64,
    /// Every judgement of a first piece, oldest first.
    pub first_pieces: Vec<JudgedThen>,
    /// Its stations.
    pub stations: Vec<StationThen>,
    /// Every stop of a run with its reason, oldest first.
    pub stops: Vec<StopThen>,
    /// What went wrong, oldest first: a crash, a first piece that was not accepted, a release or trial withdrawn, an
    /// item handed out, a height outside its limit, a seat that was not confirmed, a setup given up.
    pub trouble: Vec<TroubleView>,
}

/// A judgement of a first piece.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct JudgedThen {
    /// The verdict.
    pub accepted: bool,
    /// Whether it carried a provisional release only.
    pub provisional: bool,
    /// By whom.
    pub by: PersonRef,
    /// When.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub at: DateTime<Utc>,
    /// What was read.
    pub readings: Vec<FirstPieceReadingBody>,
}

/// One station.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct StationThen {
    /// Its code.
    #[schema(value_type = CodeSchema)]
    pub station: Code,
    /// The tool that was in it last.
    #[schema(value_type = Option<CodeSchema>)]
    pub tool: Option<Code>,
    /// The holder that was on it last.
    #[schema(value_type = Option<CodeSchema>)]
    pub holder: Option<Code>,
    /// All turns of each screw up to the first release, taken together.
    pub net_turns: Vec<NetTurnsView>,
    /// Every screw turned, oldest first.
    pub turned: Vec<TurnedView>,
    /// Every height read, oldest first.
    pub heights: Vec<HeightThen>,
    /// Every gap read before the cut, oldest first.
    #[schema(value_type = Vec<LengthSchema>)]
    pub gaps: Vec<Length>,
    /// The first size of each feature: as it came out before anything was turned on it.
    pub first_sizes: Vec<SizeThen>,
}

/// Turns of one screw, taken together.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = NetTurns)]
pub struct NetTurnsView {
    /// The adjuster's code.
    #[schema(value_type = CodeSchema)]
    pub adjuster: Code,
    /// So many turns; zero when they cancel out.
    pub turns: f64,
    /// Which way.
    #[schema(value_type = DirectionSchema)]
    pub direction: Turn,
    /// In so many steps.
    pub steps: usize,
}

/// A screw turned.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Turned)]
pub struct TurnedView {
    /// The adjuster's code.
    #[schema(value_type = CodeSchema)]
    pub adjuster: Code,
    /// What it adjusts: infeed, depth, height, taper or lateral.
    pub adjusts: &'static str,
    /// Turns.
    pub turns: f64,
    /// Which way.
    #[schema(value_type = DirectionSchema)]
    pub direction: Turn,
    /// Whether a release was in force.
    pub in_run: bool,
    /// By whom.
    pub by: PersonRef,
    /// When.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub at: DateTime<Utc>,
}

/// A height read.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct HeightThen {
    /// Before or after clamping.
    #[schema(value_type = HeightPhaseSchema)]
    pub phase: HeightPhase,
    /// Edge minus gauge; null when the edge was on the gauge.
    #[schema(value_type = Option<LengthSchema>)]
    pub deviation: Option<Length>,
    /// Whether it lay within the limit of that day.
    pub within_limit: bool,
    /// When.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub at: DateTime<Utc>,
}

/// A size read.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct SizeThen {
    /// The feature.
    #[schema(value_type = CodeSchema)]
    pub feature: Code,
    /// The spindle; null where nobody said which.
    pub spindle: Option<u8>,
    /// The piece's number.
    pub piece: u64,
    /// The size.
    #[schema(value_type = LengthSchema)]
    pub value: Length,
}

/// A run that was stopped.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct StopThen {
    /// Pieces booked with it.
    pub pieces: u64,
    /// Why, in the words of whoever stopped it.
    pub reason: String,
    /// By whom it was recorded.
    pub by: PersonRef,
    /// When.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub at: DateTime<Utc>,
}

/// Something that went wrong.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Trouble)]
pub struct TroubleView {
    /// The kind of event that tells it.
    #[schema(value_type = EventKindSchema)]
    pub kind: EventKind,
    /// Where; null for the machine as a whole.
    #[schema(value_type = Option<CodeSchema>)]
    pub station: Option<Code>,
    /// In words.
    pub words: String,
    /// By whom it was recorded.
    pub by: PersonRef,
    /// When.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub at: DateTime<Utc>,
}

impl SetupThen {
    /// A finished setup as clients see it.
    #[must_use]
    pub fn of(
        id: Uuid,
        opened_at: DateTime<Utc>,
        closed_at: Option<DateTime<Utc>>,
        last: core::LastTime,
        people: &People,
    ) -> Self {
        Self {
            id,
            state: last.state,
            opened_at,
            trial_at: last.trial_at,
            released_at: last.released_at,
            closed_at,
            minutes_to_release: last.minutes_to_release,
            people: last.people.iter().map(|id| person(people, *id)).collect(),
            pieces: last.pieces,
            pieces_rejected: last.pieces_rejected,
            first_pieces: last.first_pieces.into_iter().map(|judged| judged_then(judged, people)).collect(),
            stations: last.stations.into_iter().map(|station| station_then(station, people)).collect(),
            stops: last.stops.into_iter().map(|stop| stop_then(stop, people)).collect(),
            trouble: last.trouble.into_iter().map(|trouble| trouble_view(trouble, people)).collect(),
        }
    }
}

fn judged_then(judged: core::JudgedThen, people: &People) -> JudgedThen {
    let readings = judged.readings.into_iter().map(|reading| FirstPieceReadingBody {
        station: reading.station,
        feature: reading.feature,
        spindle: reading.spindle,
        value: reading.value,
    });
    JudgedThen {
        accepted: judged.accepted,
        provisional: judged.provisional,
        by: person(people, judged.by),
        at: judged.at,
        readings: readings.collect(),
    }
}

fn station_then(then: core::StationThen, people: &People) -> StationThen {
    let net_turns = then.net_turns.into_iter().map(|net| NetTurnsView {
        adjuster: net.adjuster,
        turns: net.turns,
        direction: net.direction,
        steps: net.steps,
    });
    let turned = then.turned.into_iter().map(|turned| TurnedView {
        adjuster: turned.adjuster,
        adjusts: turned.adjusts.name(),
        turns: turned.turns,
        direction: turned.direction,
        in_run: turned.in_run,
        by: person(people, turned.by),
        at: turned.at,
    });
    let heights = then.heights.into_iter().map(|height| HeightThen {
        phase: height.phase,
        deviation: match height.reading {
            HeightReading::OnGauge => None,
            HeightReading::Deviation(deviation) => Some(deviation),
        },
        within_limit: height.within_limit,
        at: height.at,
    });
    let sizes = then.first_sizes.into_iter().map(|size| SizeThen {
        feature: size.feature,
        spindle: size.spindle,
        piece: size.piece,
        value: size.value,
    });
    StationThen {
        station: then.station,
        tool: then.tool,
        holder: then.holder,
        net_turns: net_turns.collect(),
        turned: turned.collect(),
        heights: heights.collect(),
        gaps: then.gaps,
        first_sizes: sizes.collect(),
    }
}

fn stop_then(stop: core::StopThen, people: &People) -> StopThen {
    StopThen { pieces: stop.pieces, reason: stop.reason, by: person(people, stop.by), at: stop.at }
}

fn trouble_view(trouble: core::Trouble, people: &People) -> TroubleView {
    TroubleView {
        kind: trouble.kind,
        station: trouble.station,
        words: trouble.words,
        by: person(people, trouble.by),
        at: trouble.at,
    }
}
