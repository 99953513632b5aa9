//! Release, stop, crash.

use super::{Case, Decision, Effect};
use crate::{
    code::Code,
    refusal::{Refusal, Rule},
    setup::{
        blockers::{self, Readiness},
        decide::holder_and_tool::{leaving_holder, leaving_tool},
        event::{Event, Withdrawal},
        plan::Plan,
        state::Run,
    },
};
use chrono::{DateTime, Utc};

impl Case<'_> {
    /// Refused with everything that blocks it, at any station, at once.
    pub(super) fn release_run(&mut self) -> Option<Decision> {
        let machine = self.machine();
        self.findings.add_if(self.setup.is_released(), || {
            Refusal::new(Rule::AlreadyReleased, "A release is in force.").about(machine)
        });
        blockers::examine(self.setup, self.facts, Readiness::Release, &mut self.findings);
        let provisional = self.provisional_end();
        Some(Decision::of(Event::RunReleased { tools: self.setup.tools(), provisional }).with([Effect::ReleaseOn]))
    }

    /// The pieces count once for every tool that was in the set when it was released.
    pub(super) fn stop_run(
        &mut self,
        pieces: u64,
        reason: &str,
        stopped_at: Option<DateTime<Utc>>,
        confirmed: bool,
    ) -> Option<Decision> {
        let (setup, machine) = (self.setup, self.machine());
        let (tools, in_force) = match &setup.run {
            Run::None => {
                self.findings.add(Refusal::new(Rule::NoReleaseInForce, "No release is in force.").about(machine));
                return None;
            }
            Run::InForce { tools } => (tools, true),
            Run::ToBook { tools, .. } => (tools, false),
        };
        if !confirmed {
            self.pieces_can_be(pieces, stopped_at.unwrap_or(self.now));
        }
        Some(
            Decision::of(Event::RunStopped { pieces, reason: reason.to_owned() })
                .with(in_force.then_some(Effect::ReleaseOff))
                .with([Effect::AddPieces { items: tools.clone(), pieces }]),
        )
    }

    /// What time and the numbers read say against a count: asked back, since a booked count stays for ever.
    fn pieces_can_be(&mut self, pieces: u64, stopped_at: DateTime<Utc>) {
        let (setup, machine) = (self.setup, self.machine());
        let Some(released_at) = setup.released_at else { return };
        let asked = |sentence: String| {
            Refusal::new(Rule::ReadingNotConfirmed, sentence)
                .saw(format!("{pieces} pieces"))
                .clears("Look at the machine's counter again; if it is so, send it again with confirmed: true.")
                .about(machine.clone())
        };
        let code = &setup.plan.machine_code;
        let seconds = u64::try_from((stopped_at - released_at).num_seconds()).unwrap_or(0);
        let most = most_pieces(&setup.plan, seconds);
        self.findings.add_if(pieces > most, || {
            let span = in_words(seconds);
            asked(format!(
                "Machine {code} was released {span} before this stop: it cannot have made more than {most} pieces \
                 since."
            ))
        });
        self.findings.add_if(pieces < setup.pieces_told_by_numbers(), || {
            let (number, before) = (setup.highest_piece, setup.highest_before_run);
            asked(format!(
                "Piece {number} was read since machine {code} was released, and {before} was the highest number \
                 before: that is more than {pieces} pieces."
            ))
        });
    }

    /// Always taken. The station and those beside it are out of use, with what is in them.
    pub(super) fn report_crash(&mut self, station: &Code) -> Option<Decision> {
        let (index, _, _) = self.station(station)?;
        let struck = self.setup.plan.with_neighbours(index);
        let mut items = Vec::new();
        let mut leaving = Vec::new();
        for state in struck.iter().map(|index| &self.setup.stations[*index]) {
            items.extend(state.tool.as_ref().map(|tool| tool.item));
            items.extend(state.holder.as_ref().map(|holder| holder.item));
            leaving.extend(leaving_tool(state).into_iter().chain(leaving_holder(state)));
        }
        let blocked = struck.iter().map(|index| self.setup.plan.stations[*index].code.clone()).collect();
        let mut decision = Decision::of(Event::CrashReported { station: station.clone(), blocked });
        if self.setup.is_released() {
            let withdrawal = Withdrawal::Crash { station: station.clone() };
            decision.events.push(Event::ReleaseWithdrawn { withdrawal });
            decision.effects.push(Effect::ReleaseOff);
        }
        Some(decision.with(leaving).with([Effect::BlockItems { items }, Effect::MakeGaugesStale]))
    }
}

/// The most pieces that a machine makes in so many seconds: one cycle a second (common practice, no published source:
/// no machine of this kind makes more than about one), a tenth more, and one piece a spindle.
fn most_pieces(plan: &Plan, seconds: u64) -> u64 {
    let dropped = seconds.saturating_mul(u64::from(plan.pieces_per_cycle));
    let spindles = u64::try_from(plan.running_spindles.len()).unwrap_or(u64::MAX);
    dropped.saturating_add(dropped.div_ceil(10)).saturating_add(spindles)
}

/// A span of time in whole seconds, from two minutes on in whole minutes, from two hours on in whole hours.
fn in_words(seconds: u64) -> String {
    match seconds {
        1 => "1 second".to_owned(),
        ..120 => format!("{seconds} seconds"),
        120..7_200 => format!("{} minutes", seconds / 60),
        _ => format!("{} hours", seconds / 3_600),
    }
}
