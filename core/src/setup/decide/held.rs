//! Releases that rest on a second setter's judgement, and the inspector's on what they made.

use super::{Case, Decision, Effect};
use crate::{
    people::Permission,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    setup::{
        event::{Event, FirstPieceReading, Withdrawal},
        held::ProvisionalEnd,
    },
};
use chrono::TimeDelta;

impl Case<'_> {
    /// Whether the person's acceptance of a first piece carries a release without limits: everybody's who may judge one,
    /// unless the shop knows provisional releases; then an inspector's only.
    pub(super) fn judges_in_full(&self) -> bool {
        self.setup.plan.settings.provisional_release.is_none() || self.who.may(Permission::JudgeHeldPieces)
    }

    /// The end of a release made now, where the first piece was accepted provisionally.
    pub(super) fn provisional_end(&self) -> Option<ProvisionalEnd> {
        self.setup.first_piece.as_ref().filter(|judged| judged.provisional)?;
        let allowed = self.setup.plan.settings.provisional_release?;
        let until = self.now + TimeDelta::minutes(i64::from(allowed.most_minutes));
        Some(ProvisionalEnd { until, most_pieces: allowed.most_pieces })
    }

    /// An inspector's word on what a provisional release made, while it runs or after. Accepted, the release goes on
    /// without limits. Rejected, it is withdrawn, and a first piece is to be judged again.
    pub(super) fn judge_held_pieces(&mut self, accepted: bool, readings: &[FirstPieceReading]) -> Option<Decision> {
        let machine = self.machine();
        self.findings.add_if(self.setup.held.is_none(), || {
            let sentence = format!("No pieces are held in this setup of machine {}.", self.setup.plan.machine_code);
            Refusal::new(Rule::NoPiecesHeld, sentence).about(machine)
        });
        self.readings_are_known(readings);
        let had_a_hand = self.setup.recorders.contains(&self.who.person)
            || self.setup.held.is_some_and(|held| held.accepted_by == self.who.person);
        self.findings.add_if(self.setup.plan.settings.first_piece_by_another_person && had_a_hand, || {
            Refusal::new(
                Rule::FirstPieceSamePerson,
                "You had a hand in this setup or its release; somebody else judges what is held.",
            )
            .clears("Ask an inspector who had no hand in this setup.")
            .about(Subject::new(SubjectKind::Person, self.who.person.to_string()))
        });
        if accepted {
            self.good_enough(readings);
        }
        let mut decision = Decision::of(Event::HeldPiecesJudged { accepted, readings: readings.to_vec() });
        if !accepted && self.setup.is_released() {
            decision.events.push(Event::ReleaseWithdrawn { withdrawal: Withdrawal::HeldPiecesRejected });
            decision.effects.push(Effect::ReleaseOff);
        }
        Some(decision)
    }
}
