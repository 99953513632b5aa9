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
    /// By whoever is in charge. What is open, and where the gauges are, goes with the record.
    pub(super) fn hand_over(&mut self, to: PersonId) -> Option<Decision> {
        self.in_charge(false);
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

    /// Every gauge is out, the pieces of the last run are booked and judged, and no release is in force (which [`Case::taken_while_released`] sees to).
    pub(super) fn close(&mut self, event: Event) -> Option<Decision> {
        blockers::gauges_out(self.setup, self.facts, &mut self.findings);
        blockers::pieces_to_book(self.setup, &mut self.findings);
        blockers::inspection_pending(self.setup, &mut self.findings);
        self.in_charge(self.who.may(Permission::CloseAnySetup));
        Some(Decision::of(event).with([Effect::Close]))
    }

    fn in_charge(&mut self, anyones: bool) {
        let theirs = self.setup.in_charge == self.who.person;
        self.findings.add_if(!theirs && !anyones, || {
            Refusal::new(Rule::NotYourSetup, "This setup is in somebody else's charge.")
                .about(Subject::new(SubjectKind::Setup, self.setup.plan.setup.to_string()))
        });
    }
}
