//! Handing over, closing, giving up.

use super::{Case, Decision, Effect};
use crate::{
    ids::PersonId,
    people::Permission,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    setup::{
        blockers,
        event::{Event, GaugeAt, OpenStep},
    },
};

impl Case<'_> {
    /// What is open, and where the gauges are, goes with the record.
    pub(super) fn hand_over(&mut self, to: PersonId) -> Option<Decision> {
        let gauges = self
            .setup
            .plan
            .stations
            .iter()
            .zip(&self.setup.stations)
            .filter_map(|(plan, state)| {
                state.gauge.as_ref().map(|gauge| GaugeAt { gauge: gauge.code.clone(), station: plan.code.clone() })
            })
            .collect();
        let open = blockers::blockers(self.setup, self.facts)
            .into_iter()
            .map(|step| OpenStep { rule: step.rule, sentence: step.sentence })
            .collect();
        Some(Decision::of(Event::HandedOver { to, gauges, open }))
    }

    /// Every gauge is out, and no release is in force (which [`Case::taken_while_released`] sees to).
    pub(super) fn close(&mut self, event: Event) -> Option<Decision> {
        blockers::gauges_out(self.setup, self.facts, &mut self.findings);
        let theirs = self.setup.in_charge == self.who.person;
        self.findings.add_if(!theirs && !self.who.may(Permission::CloseAnySetup), || {
            Refusal::new(Rule::NotYourSetup, "This setup is in somebody else's charge.")
                .about(Subject::new(SubjectKind::Setup, self.setup.plan.setup.to_string()))
        });
        Some(Decision::of(event).with([Effect::Close]))
    }
}
