//! The rules: a setup, what the records know, what is asked, by whom and when, to events and effects or to refusals.

mod close;
mod fits;
mod gauge_and_height;
mod held;
mod holder_and_tool;
mod open;
mod outside;
mod pieces;
mod removed;
mod run;
mod turning;

#[cfg(any(test, debug_assertions))]
pub use open::open_without;
pub use open::{OpenRequest, StationRequest, open};
pub use outside::{tag_out, take_out};

use super::{
    command::Command,
    event::{Event, EventKind},
    facts::{Actor, MachineFacts},
    state::{Setup, StationState},
};
use crate::{
    adjuster::AdjusterKind,
    code::Code,
    findings::{Findings, RuleSet},
    ids::ItemId,
    item::Keeper,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    setup::plan::StationPlan,
};
use chrono::{DateTime, Utc};

/// What else happens with the events, in the same transaction.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Effect {
    /// The item goes to another keeper; the ledger gets a movement.
    MoveItem {
        /// The item.
        item: ItemId,
        /// Who or what has it from now on.
        to: Keeper,
    },
    /// The tool or holder is in this setup from now on.
    EnterSetup {
        /// The item.
        item: ItemId,
        /// At this station.
        station: Code,
    },
    /// The tool or holder is no longer in this setup; it stays where it is.
    LeaveSetup {
        /// The item.
        item: ItemId,
    },
    /// A centre gauge is in the machine.
    GaugeIn {
        /// The gauge.
        gauge: ItemId,
        /// At this station.
        station: Code,
    },
    /// A centre gauge is out of the machine.
    GaugeOut {
        /// The gauge.
        gauge: ItemId,
    },
    /// A release is in force.
    ReleaseOn,
    /// No release is in force any more.
    ReleaseOff,
    /// The tools made so many more pieces.
    AddPieces {
        /// The tools, each once.
        items: Vec<ItemId>,
        /// So many each.
        pieces: u64,
    },
    /// The items may not be used until they are checked.
    BlockItems {
        /// Tools and holders.
        items: Vec<ItemId>,
    },
    /// The machine's spindle centres may have moved now: its gauges are stale until checked again.
    MakeGaugesStale,
    /// The setup is closed; what is still in it leaves it.
    Close,
}

/// What a granted command makes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Decision {
    /// Events, in order.
    pub events: Vec<Event>,
    /// What happens with them.
    pub effects: Vec<Effect>,
}

impl Decision {
    fn of(event: Event) -> Self {
        Self { events: vec![event], effects: Vec::new() }
    }

    fn with(mut self, effects: impl IntoIterator<Item = Effect>) -> Self {
        self.effects.extend(effects);
        self
    }
}

/// Decides a command: what happens, or everything that speaks against it.
///
/// # Errors
/// The refusals; nothing is stored then.
pub fn decide(
    setup: &Setup,
    facts: &MachineFacts,
    command: &Command,
    who: &Actor,
    now: DateTime<Utc>,
) -> Result<Decision, Vec<Refusal>> {
    decide_under(RuleSet::ALL, setup, facts, command, who, now)
}

/// [`decide`] with one rule removed, for proofs that its absence is noticed.
///
/// # Errors
/// The refusals of the other rules.
#[cfg(any(test, debug_assertions))]
pub fn decide_without(
    rule: Rule,
    setup: &Setup,
    facts: &MachineFacts,
    command: &Command,
    who: &Actor,
    now: DateTime<Utc>,
) -> Result<Decision, Vec<Refusal>> {
    decide_under(RuleSet::without(rule), setup, facts, command, who, now)
}

fn decide_under(
    rules: RuleSet,
    setup: &Setup,
    facts: &MachineFacts,
    command: &Command,
    who: &Actor,
    now: DateTime<Utc>,
) -> Result<Decision, Vec<Refusal>> {
    let mut case = Case { setup, facts, who, now, findings: Findings::under(rules) };
    case.still_open();
    if !case.findings.is_empty() {
        return Err(case.findings.into_refusals());
    }
    case.taken_while_released(command);
    let decision = case.judge(command);
    match decision {
        Some(decision) if case.findings.is_empty() => Ok(decision),
        _ => Err(case.findings.into_refusals()),
    }
}

/// One command under judgement.
struct Case<'a> {
    setup: &'a Setup,
    facts: &'a MachineFacts,
    who: &'a Actor,
    now: DateTime<Utc>,
    findings: Findings,
}

impl<'a> Case<'a> {
    fn judge(&mut self, command: &Command) -> Option<Decision> {
        match command {
            Command::SeatHolder { station, holder, seat } => self.seat_holder(station, holder, *seat),
            Command::InsertTool { station, tool } => self.insert_tool(station, tool),
            Command::PlaceGauge { station, gauge, machine_stopped } => {
                self.place_gauge(station, gauge, *machine_stopped)
            }
            Command::ReadHeight { station, phase, reading, correction } => {
                self.read_height(station, *phase, *reading, correction.as_ref())
            }
            Command::ClampTool { station } => self.clamp_tool(station),
            Command::UnclampTool { station } => self.unclamp_tool(station),
            Command::RemoveTool { station, tool } => self.remove_tool(station, tool),
            Command::RemoveHolder { station, holder } => self.remove_holder(station, holder),
            Command::RemoveGauge { station, gauge } => self.remove_gauge(station, gauge),
            Command::FeedStock { stock } => self.feed_stock(stock),
            Command::ConfirmIndexClearance { confirmed } => self.confirm_index_clearance(*confirmed),
            Command::ReadApproach { station, gap } => self.read_approach(station, *gap),
            Command::BeginTrialCut => self.begin_trial_cut(),
            Command::ReadSizes { station, piece, spindle, readings, correction } => {
                self.read_sizes(station, *piece, *spindle, readings, correction.as_ref())
            }
            Command::ReadDepth { station, piece, spindle, reading, correction } => {
                self.read_depth(station, *piece, *spindle, *reading, correction.as_ref())
            }
            Command::Adjust { station, adjuster, turns, direction, holder_move } => {
                self.adjust(station, adjuster, *turns, *direction, *holder_move)
            }
            Command::JudgeFirstPiece { accepted, piece, readings } => {
                self.judge_first_piece(*accepted, *piece, readings)
            }
            Command::ReleaseRun => self.release_run(),
            Command::JudgeHeldPieces { accepted, readings } => self.judge_held_pieces(*accepted, readings),
            Command::StopRun { pieces, reason, stopped_at, confirmed } => {
                self.stop_run(*pieces, reason, *stopped_at, *confirmed)
            }
            Command::ReportCrash { station } => self.report_crash(station),
            Command::HandOver { to } => self.hand_over(*to),
            Command::Close { reason } => self.close(Event::Closed { reason: reason.clone() }),
            Command::Abandon { reason } => self.close(Event::Abandoned { reason: reason.clone() }),
        }
    }

    fn still_open(&mut self) {
        let setup = self.setup;
        self.findings.add_if(setup.is_closed(), || {
            Refusal::new(Rule::SetupClosed, format!("This setup of {} is {}.", setup.plan.machine_code, setup.state))
                .about(Subject::new(SubjectKind::Setup, setup.plan.setup.to_string()))
        });
    }

    /// While a release is in force only a few kinds are taken.
    fn taken_while_released(&mut self, command: &Command) {
        let taken = match command.kind() {
            EventKind::SizesRead
            | EventKind::DepthRead
            | EventKind::RunStopped
            | EventKind::CrashReported
            | EventKind::HandedOver
            // These have rules of their own.
            | EventKind::HeldPiecesJudged
            | EventKind::RunReleased => true,
            EventKind::Adjusted => self.moves_a_slide(command),
            _ => false,
        };
        if self.setup.is_released() && !taken {
            let sentence = format!(
                "Machine {} is released: \"{}\" is not taken now.",
                self.setup.plan.machine_code,
                command.kind().words()
            );
            self.findings.add(Refusal::new(Rule::MachineRunning, sentence).about(self.machine()));
        }
    }

    /// Whether an adjustment turns a slide's or an end slide's screw. Of a screw that is not known another rule speaks.
    fn moves_a_slide(&self, command: &Command) -> bool {
        let Command::Adjust { station, adjuster, .. } = command else { return false };
        let Some(index) = self.setup.plan.index_of(station) else { return true };
        self.setup
            .adjuster(index, adjuster)
            .is_none_or(|screw| matches!(screw.kind(), AdjusterKind::Infeed | AdjusterKind::Depth))
    }

    /// A station of this setup, or a refusal.
    fn station(&mut self, code: &Code) -> Option<(usize, &'a StationPlan, &'a StationState)> {
        let found = self.setup.plan.index_of(code);
        self.findings.add_if(found.is_none(), || {
            Refusal::new(Rule::StationUnknown, format!("Station {code} is not used in this setup.")).about(at(code))
        });
        found.map(|index| (index, &self.setup.plan.stations[index], &self.setup.stations[index]))
    }

    fn machine(&self) -> Subject {
        Subject::coded(SubjectKind::Machine, &self.setup.plan.machine_code)
    }

    /// Nothing is put in and nothing is turned on a machine that is tagged out.
    fn no_tag_out(&mut self) {
        super::blockers::tagged_out(&self.setup.plan.machine_code, self.facts, &mut self.findings);
    }
}

/// A station as the subject of a refusal.
fn at(station: &Code) -> Subject {
    Subject::coded(SubjectKind::Station, station)
}

/// The move of an item to a machine, unless it is there.
fn move_to(item: ItemId, from: Keeper, to: Keeper) -> Option<Effect> {
    (from != to).then_some(Effect::MoveItem { item, to })
}

impl Setup {
    /// A screw of a station, or of the holder that is seated there.
    #[must_use]
    pub fn adjuster(&self, station: usize, code: &Code) -> Option<&crate::adjuster::Adjuster> {
        let own = self.plan.stations.get(station).into_iter().flat_map(|plan| &plan.adjusters);
        let holders = self
            .stations
            .get(station)
            .and_then(|state| state.holder.as_ref())
            .into_iter()
            .flat_map(|holder| holder.adjusters.iter());
        own.chain(holders).find(|screw| screw.code == *code)
    }
}
