//! Why a need is not ready: what other jobs want or have, and what is missing whatever they do.

use super::{Considered, NeedKind, Readiness};
use crate::{
    code::Code,
    findings::Findings,
    planning::plan::{Group, Member, Need, Plan},
    refusal::{Refusal, Rule},
};

impl Plan<'_> {
    /// The jobs with which a need competes for what nobody has booked, each with an item that both want: if it is
    /// served, those that go without; if not, those that are served.
    pub(super) fn rivals<'p, M: Member>(&'p self, group: &'p Group<'_, M>, need: &Need) -> Vec<(&'p Code, &'p Code)> {
        if need.rest <= 0 || !group.is_within_reach(need, self.options) {
            return Vec::new();
        }
        let rival = |other: &&Need| {
            other.job != need.job
                && other.rest > 0
                && other.days.overlaps(need.days)
                && other.is_served() != need.is_served()
                && group.is_within_reach(other, self.options)
        };
        let mut rivals = Vec::new();
        for other in group.needs.iter().filter(rival) {
            let (winner, loser) = if need.is_served() { (need, other) } else { (other, need) };
            if let Some(member) = winner.given.iter().find(|member| loser.serves[**member]) {
                rivals.push((&self.records.jobs[other.job].number, &group.members[*member].item().code));
            }
        }
        rivals.dedup_by_key(|(number, _)| *number);
        rivals
    }

    /// Why a need cannot be served, even if no other job wanted anything that is not booked.
    pub(super) fn why_not<M: Member>(
        &self,
        group: &Group<'_, M>,
        kind: NeedKind,
        need: &Need,
        asks: &str,
        considered: &[Considered],
    ) -> (Readiness, Vec<Refusal>) {
        let mut findings = Findings::under(self.options.rules);
        let able: i64 = (0..group.members.len())
            .filter(|member| need.serves[*member])
            .map(|member| group.life_of(member, self.options))
            .sum();
        let only_booked = |one: &&Considered| {
            !one.reasons.is_empty() && one.reasons.iter().all(|reason| reason.rule == Rule::ItemBooked)
        };
        let booked: i64 = considered.iter().filter(only_booked).map(|one| one.pieces_left.unwrap_or(1)).sum();
        let by_booking = able + booked >= need.rest;
        let what = if kind == NeedKind::FormTool { "tool of design" } else { "holder of style" };
        findings.add_if(considered.is_empty(), || {
            Refusal::new(Rule::NoneOnRecord, format!("No {what} {asks} is on record."))
        });
        findings.add_if(kind == NeedKind::FormTool && !considered.is_empty() && !by_booking, || {
            let (short, kept) = (need.rest - able, need.pieces - need.rest);
            let sentence = format!(
                "Tools of design {asks} are {short} pieces short for a lot of {}: those that would serve have {} left.",
                need.pieces,
                able + kept
            );
            Refusal::new(Rule::LifeTooShort, sentence).saw(format!("{short} pieces short"))
        });
        for reason in considered.iter().flat_map(|one| &one.reasons) {
            if !by_booking || reason.rule == Rule::ItemBooked {
                findings.add(reason.clone());
            }
        }
        let state = if by_booking { Readiness::Conflict } else { Readiness::Short };
        (state, findings.into_refusals())
    }
}
