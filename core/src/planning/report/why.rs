//! Why a need is not ready: what other jobs want or have, and what is missing whatever they do.

use super::{Considered, MOST_REASONS, NeedKind, Readiness};
use crate::{
    code::Code,
    findings::Findings,
    planning::{
        candidate::BookedDays,
        examine::already_booked,
        plan::{Group, Member, Need, Plan},
    },
    refusal::{Refusal, Rule, Subject, SubjectKind},
};

/// A job with which a need competes.
struct Rival<'p> {
    number: &'p Code,
    /// An item that both want.
    code: &'p Code,
    /// Whether they want it on the same days; else one after the other.
    same_days: bool,
}

impl Plan<'_> {
    /// How a need stands that could be served if it were alone: ready, or in conflict with others.
    pub(super) fn contested<M: Member>(
        &self,
        group: &Group<'_, M>,
        kind: NeedKind,
        need: &Need,
        asks: &str,
    ) -> (Readiness, Vec<Refusal>) {
        let mut findings = Findings::under(self.options.rules);
        let rivals = self.rivals(group, need);
        for Rival { number, code, same_days } in &rivals {
            let sentence = if *same_days {
                format!("{code} is wanted by job {number} on the same days too, and booked for neither.")
            } else {
                format!("What is left in {code} goes to job {number} first, and it is booked for neither.")
            };
            findings.add(
                Refusal::new(Rule::WantedByOtherJob, sentence)
                    .saw(number.as_str())
                    .about(Subject::coded(SubjectKind::Job, number)),
            );
        }
        for member in &group.held {
            let item = group.members[*member].item();
            let here = |own: &BookedDays| own.station == self.records.jobs[need.job].stations[need.station].station;
            for (_, other) in item.met_by(self.records.jobs[need.job].job).filter(|(own, _)| here(own)) {
                findings.add(already_booked(item, other));
            }
        }
        // Whom the rules leave unnamed is in the way all the same only where another station of the job is.
        let by_itself = !need.is_served() && rivals.is_empty();
        findings.add_if(by_itself, || {
            if kind == NeedKind::FormTool {
                let sentence = format!("Tools of design {asks} do not last for all stations of the job.");
                Refusal::new(Rule::LifeTooShort, sentence)
            } else {
                let sentence = format!("No holder of style {asks} is left beside the job's other stations.");
                Refusal::new(Rule::NoneOnRecord, sentence)
            }
        });
        let state = match (by_itself, findings.is_empty()) {
            (true, _) => Readiness::Short,
            (false, false) => Readiness::Conflict,
            (false, true) => Readiness::Ready,
        };
        (state, findings.into_refusals())
    }

    /// The jobs with which a need competes for what nobody has booked, each with an item that both want. On the same days
    /// both see it: the one that is served sees who goes without, the other who is served. Of jobs one after the other the
    /// later sees who uses up what it wants; the earlier is ready, whatever comes after it.
    fn rivals<'p, M: Member>(&'p self, group: &'p Group<'_, M>, need: &Need) -> Vec<Rival<'p>> {
        if need.rest <= 0 || !need.within_reach || !group.is_short {
            return Vec::new();
        }
        let place = |need: &Need| (need.job, need.station);
        let mut rivals = Vec::new();
        for other in group.needs.iter().filter(|other| other.job != need.job && other.rest > 0) {
            if other.is_served() == need.is_served() || !other.within_reach {
                continue;
            }
            let same_days = other.days.overlaps(need.days);
            let goes_first = group.kind.used_up && other.is_served() && place(other) < place(need);
            if !same_days && !goes_first {
                continue;
            }
            let (winner, loser) = if need.is_served() { (need, other) } else { (other, need) };
            if let Some(share) = winner.given.iter().find(|share| loser.serves[share.supply]) {
                let number = &self.records.jobs[other.job].number;
                if rivals.last().is_none_or(|last: &Rival<'_>| last.number != number) {
                    rivals.push(Rival { number, code: &group.members[share.supply].item().code, same_days });
                }
            }
            if rivals.len() == MOST_REASONS {
                break;
            }
        }
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
        let able = group.able_for(need);
        let only_booked = |one: &Considered| {
            !one.reasons.is_empty() && one.reasons.iter().all(|reason| reason.rule == Rule::ItemBooked)
        };
        // Considered are all members, in their order.
        let booked: Vec<bool> = considered.iter().map(only_booked).collect();
        let left_in_booked: i64 =
            considered.iter().filter(|one| only_booked(one)).map(|one| one.pieces_left.unwrap_or(1)).sum();
        let (kept_for_others, used_up) = self.used_up_by_booked(group, need, &booked);
        let by_booking = able + left_in_booked + kept_for_others >= need.rest;
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
        used_up.into_iter().for_each(|reason| findings.add(reason));
        for reason in considered.iter().flat_map(|one| &one.reasons) {
            if !by_booking || reason.rule == Rule::ItemBooked {
                findings.add(reason.clone());
            }
        }
        let state = if by_booking { Readiness::Conflict } else { Readiness::Short };
        (state, findings.into_refusals())
    }

    /// What other jobs use up of what is kept for them, of all that would serve a need or would if nobody had booked it:
    /// pieces, and a reason for each that uses it on other days. Who has it on the same days is told of the item itself.
    fn used_up_by_booked<M: Member>(&self, group: &Group<'_, M>, need: &Need, booked: &[bool]) -> (i64, Vec<Refusal>) {
        if !group.kind.used_up {
            return (0, Vec::new());
        }
        let wanted = |member: usize| {
            need.serves[member] || booked[member] || need.kept.iter().any(|share| share.supply == member)
        };
        let others = group.needs.iter().filter(|other| other.job != need.job);
        let shares = others.flat_map(|other| other.kept.iter().map(move |share| (other, share)));
        let (mut pieces, mut reasons) = (0, Vec::new());
        for (other, share) in shares.filter(|(_, share)| share.pieces > 0 && wanted(share.supply)) {
            pieces += share.pieces;
            if !other.days.overlaps(need.days) {
                let (item, number) = (group.members[share.supply].item(), &self.records.jobs[other.job].number);
                let sentence = format!(
                    "Job {number}, for which {} is kept, uses {} of the {} pieces left in it.",
                    item.code, share.pieces, share.able
                );
                reasons.push(Refusal::new(Rule::ItemBooked, sentence).saw(number.as_str()).about(item.subject()));
            }
        }
        (pieces, reasons)
    }
}
