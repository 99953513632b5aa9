//! Release, stop, crash.

use super::{Case, Decision, Effect};
use crate::{
    code::Code,
    refusal::{Refusal, Rule},
    setup::{
        blockers::{self, Readiness},
        decide::holder_and_tool::{leaving_holder, leaving_tool},
        event::{Event, Withdrawal},
        state::Run,
    },
};

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
    pub(super) fn stop_run(&mut self, pieces: u64, reason: &str) -> Option<Decision> {
        let machine = self.machine();
        let (tools, in_force) = match &self.setup.run {
            Run::None => {
                self.findings.add(Refusal::new(Rule::NoReleaseInForce, "No release is in force.").about(machine));
                return None;
            }
            Run::InForce { tools } => (tools, true),
            Run::ToBook { tools, .. } => (tools, false),
        };
        Some(
            Decision::of(Event::RunStopped { pieces, reason: reason.to_owned() })
                .with(in_force.then_some(Effect::ReleaseOff))
                .with([Effect::AddPieces { items: tools.clone(), pieces }]),
        )
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
