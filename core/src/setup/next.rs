//! What may come next, at each station and for the machine.
//!
//! Each kind of event is put to the rules themselves, with a scan that would fit, so that what is offered and what is
//! taken never differ except by what a real scan brings.

use super::{
    blockers,
    command::{Command, Turns},
    decide::decide,
    event::{DepthReading, EventKind, FirstPieceReading, HeightPhase, HeightReading, HolderMove, SeatAnswers, Stock},
    facts::{Actor, DesignFacts, FormFacts, HolderFacts, MachineFacts, ToolFacts},
    plan::StationPlan,
    state::{Run, SeatedHolder, Setup},
};
use crate::{
    adjuster::Turn,
    code::Code,
    gauge::GaugeFacts,
    ids::{ItemId, PersonId},
    item::{Condition, Keeper, Whereabouts},
    length::{Length, LengthUnit},
    life::ownership::Ownership,
    people::Role,
    refusal::{Refusal, Rule},
    scan::Scanned,
};
use chrono::{DateTime, Utc};
use uuid::Uuid;

/// A step that would be taken now.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct NextStep {
    /// At which station; none for the machine as a whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub station: Option<Code>,
    /// The kind of event.
    pub kind: EventKind,
    /// For a height: before or after clamping.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub phase: Option<HeightPhase>,
    /// Whether something that blocks a release waits for it.
    pub wanted: bool,
    /// The step, in words.
    pub words: &'static str,
}

/// Everything that would be taken at an instant, what is waited for first.
#[must_use]
pub fn next(setup: &Setup, facts: &MachineFacts, now: DateTime<Utc>) -> Vec<NextStep> {
    if setup.is_closed() {
        return Vec::new();
    }
    let open = blockers::blockers(setup, facts);
    let mut steps = Vec::new();
    for (index, plan) in setup.plan.stations.iter().enumerate() {
        let commands = station_commands(setup, index, plan);
        offer(&Asked { setup, facts, open: &open, station: Some(&plan.code), now }, commands, &mut steps);
    }
    offer(&Asked { setup, facts, open: &open, station: None, now }, machine_commands(setup), &mut steps);
    steps.sort_by_key(|step| !step.wanted);
    steps
}

/// Of what steps are asked: one station, or the machine.
struct Asked<'a> {
    setup: &'a Setup,
    facts: &'a MachineFacts,
    open: &'a [Refusal],
    station: Option<&'a Code>,
    now: DateTime<Utc>,
}

fn offer(asked: &Asked<'_>, commands: Vec<Command>, steps: &mut Vec<NextStep>) {
    let Asked { setup, facts, station, now, .. } = *asked;
    // Somebody who had no hand in the setup, and may do everything: who asks is not part of the answer.
    let anyone = Actor { person: PersonId::from_uuid(Uuid::nil()), roles: Role::ALL.to_vec() };
    for command in commands {
        let kind = command.kind();
        // Only who is in charge hands over.
        let who = match command {
            Command::HandOver { .. } => Actor { person: setup.in_charge, ..anyone.clone() },
            _ => anyone.clone(),
        };
        let offered = steps.iter().any(|step| step.kind == kind && step.station.as_ref() == station);
        if !offered && decide(setup, facts, &command, &who, now).is_ok() {
            let wanted = is_wanted(asked, kind);
            let phase = match command {
                Command::ReadHeight { phase, .. } => Some(phase),
                _ => None,
            };
            steps.push(NextStep { station: station.cloned(), kind, phase, wanted, words: words(kind, phase) });
        }
    }
}

/// Whether an open step waits for this kind of event, here.
fn is_wanted(asked: &Asked<'_>, kind: EventKind) -> bool {
    let Asked { setup, facts, open, station, now } = *asked;
    let at = station.and_then(|code| setup.plan.index_of(code));
    let here = |refusal: &&Refusal| {
        let Some(subject) = refusal.subject.as_ref() else { return station.is_none() };
        station.is_none_or(|code| subject.code == code.as_str()) || at.is_some_and(|at| setup.is_seated(at, subject))
    };
    let waits = |rules: &[Rule]| open.iter().filter(here).any(|refusal| rules.contains(&refusal.rule));
    let heights = [Rule::HeightNotRead, Rule::HeightOutsideLimit, Rule::HeightNotRechecked, Rule::HeightInDoubt];
    let here = at.map(|index| (&setup.plan.stations[index], &setup.stations[index]));
    // One thing after the other: a tool goes into a holder that sits, a gauge to a tool that is there.
    let seated = here.is_none_or(|(plan, state)| {
        !plan.needs_holder() || state.holder.as_ref().is_some_and(SeatedHolder::is_confirmed)
    });
    let inserted = here.is_none_or(|(_, state)| state.tool.is_some());
    let clamped = here.is_some_and(|(_, state)| state.clamped);
    // A gauge that is of no use any more makes room for one that is.
    let of_no_use = here.and_then(|(_, state)| state.gauge.as_ref()).is_some_and(|gauge| {
        let standing = facts.standing(gauge.item);
        standing.is_none_or(|gauge| !gauge.may_be_read_on(&setup.plan.machine_code, facts, now))
    });
    match kind {
        EventKind::HolderSeated => {
            waits(&[Rule::HolderNotSeated, Rule::SeatNotConfirmed, Rule::HolderNotUsable, Rule::CrashNotCleared])
        }
        EventKind::ToolInserted => seated && waits(&[Rule::ToolNotInserted]),
        EventKind::GaugePlaced => seated && inserted && waits(&heights),
        EventKind::HeightRead => waits(&heights),
        EventKind::GaugeRemoved => of_no_use || !waits(&heights),
        EventKind::ToolClamped => waits(&[Rule::NotClamped]),
        EventKind::ToolUnclamped => clamped && waits(&[Rule::HeightOutsideLimit]),
        EventKind::Adjusted => inserted && !clamped && waits(&[Rule::HeightOutsideLimit]),
        EventKind::StockFed => waits(&[Rule::StockNotFed]),
        EventKind::IndexClearanceConfirmed => waits(&[Rule::IndexClearanceNotConfirmed]),
        EventKind::ApproachRead => waits(&[Rule::ApproachNotRead]),
        EventKind::DepthRead => waits(&[Rule::DepthNotRead]),
        EventKind::TrialCutBegun => waits(&[Rule::TrialNotBegun]) && !waits(&[Rule::ApproachNotRead]),
        // After a piece that was not accepted, sizes tell what to correct.
        EventKind::SizesRead => setup.first_piece.as_ref().is_some_and(|judged| !judged.accepted),
        EventKind::FirstPieceJudged => waits(&[Rule::FirstPieceNotAccepted]),
        EventKind::RunReleased => true,
        EventKind::RunStopped => {
            matches!(setup.run, Run::ToBook { .. }) || setup.provisional().is_some_and(|held| held.all_made(setup))
        }
        EventKind::HeldPiecesJudged => waits(&[Rule::InspectionPending]),
        _ => false,
    }
}

const fn words(kind: EventKind, phase: Option<HeightPhase>) -> &'static str {
    match kind {
        EventKind::HolderSeated => "Seat a holder and scan it.",
        EventKind::ToolInserted => "Insert a tool, nip its screws, and scan it.",
        EventKind::GaugePlaced => "Stop the machine, place this machine's gauge, and scan it.",
        EventKind::HeightRead => match phase {
            Some(HeightPhase::AfterClamping) => "Read the height on the gauge once more, now that the tool is clamped.",
            _ => "Read the height on the gauge, before the tool is clamped.",
        },
        EventKind::ToolClamped => "Clamp the tool.",
        EventKind::ToolUnclamped => "Unclamp the tool.",
        EventKind::ToolRemoved => "Take the tool out and scan it.",
        EventKind::HolderRemoved => "Take the holder off, with the tool in it, and scan it.",
        EventKind::HeldPiecesJudged => "Have an inspector judge the pieces that are held.",
        EventKind::GaugeRemoved => "Take the gauge out and scan it.",
        EventKind::StockFed => "Feed stock to every spindle.",
        EventKind::IndexClearanceConfirmed => {
            "Turn the carrier by hand through one full turn, with stock in every spindle, and confirm it."
        }
        EventKind::ApproachRead => "Read the gap before the cut.",
        EventKind::TrialCutBegun => "Begin trial cutting.",
        EventKind::SizesRead => "Measure a piece.",
        EventKind::DepthRead => "Measure the depth of a piece.",
        EventKind::Adjusted => "Record a screw that was turned.",
        EventKind::FirstPieceJudged => "Have a first piece judged.",
        EventKind::RunReleased => "Release the machine for production.",
        EventKind::RunStopped => "Stop the run and book its pieces.",
        EventKind::CrashReported => "Report a crash.",
        EventKind::HandedOver => "Hand the setup over.",
        EventKind::Closed => "Close the setup.",
        EventKind::Abandoned => "Abandon the setup.",
        EventKind::ReleaseWithdrawn | EventKind::TrialWithdrawn | EventKind::ItemTakenOut => "Recorded by the program.",
    }
}

const NO_ITEM: ItemId = ItemId::from_uuid(Uuid::nil());

fn in_hand() -> Whereabouts {
    Whereabouts { keeper: Keeper::Person(PersonId::from_uuid(Uuid::nil())), name: String::new(), outside: false }
}

fn station_commands(setup: &Setup, index: usize, plan: &StationPlan) -> Vec<Command> {
    let station = || plan.code.clone();
    let state = &setup.stations[index];
    let some_length = Length::from_picometres(1, LengthUnit::Millimetre);
    let holder = HolderFacts {
        item: NO_ITEM,
        code: plan.code.clone(),
        style: plan.operation.holder_style.clone().unwrap_or_default(),
        condition: Condition::Usable,
        next_check: None,
        adjusters: Vec::new(),
        whereabouts: in_hand(),
        in_setup: None,
    };
    let design = plan.operation.tool_design.clone().map(|design| DesignFacts {
        design,
        tool_face: Some(plan.tool_face),
        minimum_height: some_length,
    });
    let tool = ToolFacts {
        item: NO_ITEM,
        code: plan.code.clone(),
        condition: Condition::Usable,
        form: design.map(|design| FormFacts { design, height: some_length, checked_after_grind: true }),
        ownership: Ownership::default(),
        whereabouts: in_hand(),
        purpose: None,
        in_setup: None,
    };
    let gauge = GaugeFacts {
        item: NO_ITEM,
        code: plan.code.clone(),
        machine: setup.plan.machine,
        machine_code: setup.plan.machine_code.clone(),
        stations: Vec::new(),
        condition: Condition::Usable,
        next_check: Some(setup.plan.opened_at.date_naive()),
        last_accepted_check_at: Some(setup.plan.opened_at),
        centers_may_have_moved_at: None,
        whereabouts: in_hand(),
        placed: None,
    };
    let seat = SeatAnswers { seat_clean: true, seated_flush: true, side_screw_free: true };
    let read =
        |phase| Command::ReadHeight { station: station(), phase, reading: HeightReading::OnGauge, correction: None };
    let piece = state.first_good_piece;
    let screws = plan.adjusters.iter().chain(state.holder.iter().flat_map(|holder| holder.adjusters.iter()));
    let mut commands = vec![
        Command::SeatHolder { station: station(), holder: Scanned::Known(holder), seat },
        Command::InsertTool { station: station(), tool: Scanned::Known(tool) },
        Command::PlaceGauge { station: station(), gauge: Scanned::Known(gauge), machine_stopped: true },
        read(HeightPhase::BeforeClamping),
        read(HeightPhase::AfterClamping),
        Command::ClampTool { station: station() },
        Command::UnclampTool { station: station() },
        Command::RemoveTool {
            station: station(),
            tool: Scanned::Known(state.tool.as_ref().map_or(NO_ITEM, |tool| tool.item)),
        },
        Command::RemoveHolder {
            station: station(),
            holder: Scanned::Known(state.holder.as_ref().map_or(NO_ITEM, |holder| holder.item)),
        },
        Command::RemoveGauge {
            station: station(),
            gauge: Scanned::Known(state.gauge.as_ref().map_or(NO_ITEM, |gauge| gauge.item)),
        },
        Command::ReadApproach { station: station(), gap: some_length },
        Command::ReadSizes { station: station(), piece, spindle: None, readings: Vec::new(), correction: None },
        Command::ReadDepth {
            station: station(),
            piece,
            spindle: None,
            reading: DepthReading::Depth(some_length),
            correction: None,
        },
        Command::ReportCrash { station: station() },
    ];
    commands.extend(screws.filter_map(|screw| {
        Some(Command::Adjust {
            station: station(),
            adjuster: screw.code.clone(),
            turns: Turns::new(1.0).ok()?,
            direction: Turn::Clockwise,
            holder_move: Some(HolderMove { holder_retightened: true, side_screw_free: true }),
        })
    }));
    commands
}

fn machine_commands(setup: &Setup) -> Vec<Command> {
    let stock = setup.stock.clone().unwrap_or_else(|| Stock {
        bar_diameter: Length::from_picometres(1, LengthUnit::Millimetre),
        bar_shape: String::new(),
        heat: None,
    });
    let spindles = &setup.plan.running_spindles;
    let first_piece = setup.stations.iter().map(|state| state.first_good_piece).max().unwrap_or(1);
    let readings: Vec<_> = setup
        .plan
        .stations
        .iter()
        .flat_map(|plan| plan.operation.features.iter().map(move |feature| (plan, feature)))
        .flat_map(|(plan, feature)| {
            let on_target = feature.target.plus(feature.tolerance.lower());
            spindles.iter().map(move |spindle| FirstPieceReading {
                station: plan.code.clone(),
                feature: feature.code.clone(),
                spindle: Some(*spindle),
                value: on_target,
            })
        })
        .collect();
    vec![
        Command::FeedStock { stock },
        Command::ConfirmIndexClearance { confirmed: true },
        Command::BeginTrialCut,
        Command::JudgeFirstPiece { accepted: true, piece: Some(first_piece), readings: readings.clone() },
        Command::JudgeHeldPieces { accepted: true, readings },
        Command::ReleaseRun,
        Command::StopRun { pieces: 0, reason: String::new(), stopped_at: None, confirmed: true },
        Command::HandOver { to: setup.in_charge },
        Command::Close { reason: String::new() },
        Command::Abandon { reason: String::new() },
    ]
}
