//! Keeping items for a job: what may be booked, and whether a booking still holds after its job changed.
//!
//! What is away or unfit today may be booked all the same: it can be back and mended by then, and the job's readiness
//! says that it is not yet. What can never serve is refused.

use super::{
    candidate::{BookedDays, Candidate, CandidateHolder, CandidateTool},
    examine::{already_booked, booked_elsewhere, lent_for, tool_there},
    needs::{PlannedJob, StationNeed},
    window::Window,
};
use crate::{
    code::Code,
    findings::{Findings, RuleSet},
    item::Condition,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    registry::job::JobState,
    scan::Scanned,
};

/// An item that a job can keep.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Bookable {
    /// A form tool.
    Tool(CandidateTool),
    /// A holder.
    Holder(CandidateHolder),
}

impl Bookable {
    /// What is known of every item.
    #[must_use]
    pub const fn item(&self) -> &Candidate {
        match self {
            Self::Tool(tool) => &tool.item,
            Self::Holder(holder) => &holder.item,
        }
    }
}

/// An item that somebody asks to have kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wish {
    /// The station for which.
    pub station: Code,
    /// The item, as scanned.
    pub item: Scanned<Bookable>,
}

/// Whether these items may be kept for a job on these days: all or none.
///
/// # Errors
/// Everything that speaks against any of them.
pub fn book(
    job: &PlannedJob,
    state: JobState,
    days: Window,
    wishes: &[Wish],
    rules: RuleSet,
) -> Result<(), Vec<Refusal>> {
    let mut findings = Findings::under(rules);
    findings.add_if(state != JobState::Planned, || {
        Refusal::new(Rule::JobNotOpen, format!("Job {} is {}: nothing is kept for it any more.", job.number, state))
            .saw(state.name())
            .about(Subject::coded(SubjectKind::Job, &job.number))
    });
    for wish in wishes {
        if let Some((code, what)) = wish.item.mismatch() {
            findings.add(
                Refusal::new(Rule::ItemUnknown, format!("{what}: form tools and holders are kept for jobs."))
                    .about(Subject::new(SubjectKind::Item, code)),
            );
        }
        let Some(item) = wish.item.known() else { continue };
        serves(job, &wish.station, item, days, &mut findings);
        booked_elsewhere(job, item.item(), days, &mut findings);
        let own = |booked: &&BookedDays| booked.job == job.job;
        for booked in item.item().booked.iter().filter(own) {
            findings.add(already_booked(item.item(), booked));
        }
    }
    let refusals = findings.into_refusals();
    if refusals.is_empty() { Ok(()) } else { Err(refusals) }
}

/// What becomes of a booking after its job changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AfterChange {
    /// It is for the job's days now.
    Moves,
    /// It stays for the days it was made for: its job runs over into days of another, and keeps the item until it is
    /// finished.
    Stays,
    /// It ends, and why.
    Ends(Vec<Refusal>),
}

/// What becomes of a booking after its job changed.
#[must_use]
pub fn after_change(
    job: &PlannedJob,
    state: JobState,
    days: Window,
    station: &Code,
    item: &Bookable,
    rules: RuleSet,
) -> AfterChange {
    let mut findings = Findings::under(rules);
    findings.add_if(state != JobState::Planned, || {
        Refusal::new(Rule::JobNotOpen, format!("Job {} is {state}.", job.number))
            .about(Subject::coded(SubjectKind::Job, &job.number))
    });
    serves(job, station, item, days, &mut findings);
    let runs_over = item.item().met_by(job.job).any(|(own, other)| own.days.first() < other.days.first());
    if runs_over && findings.is_empty() {
        return AfterChange::Stays;
    }
    // Against the days that were booked: that another job runs over now is told, and ends nobody's booking.
    let booked = |other: &&BookedDays| other.job != job.job && other.booked().overlaps(days);
    for other in item.item().booked.iter().filter(booked) {
        findings.add(already_booked(item.item(), other));
    }
    let refusals = findings.into_refusals();
    if refusals.is_empty() { AfterChange::Moves } else { AfterChange::Ends(refusals) }
}

/// Whether an item could ever serve at a station of a job. Whoever books a customer's tool for another part needs the owner's
/// consent to lend it until the job's last day, as the setup will ask for it.
fn serves(job: &PlannedJob, station: &Code, item: &Bookable, days: Window, findings: &mut Findings) {
    let (code, subject) = (&item.item().code, item.item().subject());
    findings.add_if(item.item().condition == Condition::Retired, || {
        Refusal::new(Rule::ItemNotUsable, format!("{code} is retired."))
            .saw(Condition::Retired.name())
            .clears("Take another item.")
            .about(subject.clone())
    });
    let need = job.stations.iter().find(|need| need.station == *station);
    match (need, item) {
        (Some(need), Bookable::Tool(tool)) if need.design.is_some() => {
            tool_there(need, tool, findings);
            lent_for(job, tool, days).into_iter().for_each(|refusal| findings.add(refusal));
        }
        (Some(need), Bookable::Holder(holder)) if takes_holder(need) => {
            let style = need.holder_style.as_ref().filter(|style| **style != holder.style);
            if let Some(style) = style {
                let sentence =
                    format!("Station {station} needs a holder of style {style}; {code} is of style {}.", holder.style);
                findings
                    .add(Refusal::new(Rule::HolderStyleMismatch, sentence).saw(holder.style.clone()).about(subject));
            }
        }
        _ => findings.add(
            Refusal::new(
                Rule::NotNeededThere,
                format!("Job {} does not need {code} at station {station}.", job.number),
            )
            .about(subject),
        ),
    }
}

fn takes_holder(need: &StationNeed) -> bool {
    need.holder_style.is_some() || need.is_set_on_gauge()
}
