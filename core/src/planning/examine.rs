//! What speaks against an item for a job, as the records stand today. The same is asked for the plan, for the reasons
//! that people read, and in part for bookings.

use super::{
    candidate::{BookedDays, Candidate, CandidateGauge, CandidateHolder, CandidateTool},
    needs::{PlannedJob, StationNeed},
    window::Window,
};
use crate::{
    findings::{Findings, RuleSet},
    gauge::stale::is_stale,
    item::Purpose,
    life::ownership::{Belonging, not_for_part},
    refusal::{Refusal, Rule},
};
use chrono::NaiveDate;

/// How a plan is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Options {
    /// The day on which it is made.
    pub today: NaiveDate,
    /// Whether a tool may leave the machine within a lot to be ground, and go on. Without it only the edge in use
    /// counts: while a tool is at the grinder its machine stands.
    pub regrind_within_lot: bool,
    /// The rules in force.
    pub rules: RuleSet,
}

impl Options {
    /// A plan as it is made unless asked otherwise.
    #[must_use]
    pub const fn on(today: NaiveDate) -> Self {
        Self { today, regrind_within_lot: false, rules: RuleSet::ALL }
    }
}

/// Everything that speaks against a tool for a station of a job.
#[must_use]
pub fn tool(job: &PlannedJob, need: &StationNeed, tool: &CandidateTool, options: Options) -> Vec<Refusal> {
    let mut findings = Findings::under(options.rules);
    tool_at_all(tool, options, &mut findings);
    tool_for(job, need, tool, options, &mut findings);
    findings.into_refusals()
}

/// What speaks against a tool for whatever job.
pub(super) fn tool_at_all(tool: &CandidateTool, options: Options, findings: &mut Findings) {
    usable(&tool.item, Rule::ToolNotUsable, findings);
    findings.add_if(!tool.checked_after_grind, || {
        let sentence = format!("Tool {} was not checked after its last grind.", tool.item.code);
        Refusal::new(Rule::NotCheckedAfterGrind, sentence).about(tool.item.subject())
    });
    let spent = tool.life.on_edge == 0 && !(options.regrind_within_lot && tool.life.grinds > 0);
    findings.add_if(spent, || {
        Refusal::new(Rule::LifeTooShort, format!("The edge of {} is used up.", tool.item.code))
            .saw("0 pieces left")
            .clears("Have it ground and checked.")
            .about(tool.item.subject())
    });
}

/// The same for a job: what no time mends, and what other jobs have of it.
pub(super) fn tool_for(
    job: &PlannedJob,
    need: &StationNeed,
    tool: &CandidateTool,
    options: Options,
    findings: &mut Findings,
) {
    tool_there(need, tool, findings);
    belongs_there(job, need, tool, job.days(options.today), findings);
    taken(job, &tool.item, options.today, findings);
}

/// What speaks against a tool for a station whatever happens until then: it is of another form, or below its height.
pub(super) fn tool_there(need: &StationNeed, tool: &CandidateTool, findings: &mut Findings) {
    let code = &tool.item.code;
    let subject = || tool.item.subject();
    match &need.design {
        Some(design) if design.design.id == tool.design => {
            findings.add_if(tool.height < design.minimum_height, || {
                let sentence =
                    format!("Tool {code} has {} left; its design ends at {}.", tool.height, design.minimum_height);
                Refusal::new(Rule::ToolBelowMinimumHeight, sentence).saw(tool.height.to_string()).about(subject())
            });
            let faces = design.tool_face.zip(need.on_machine.map(|station| station.tool_face));
            findings.add_if(faces.is_some_and(|(made, needed)| made != needed), || {
                let sentence = format!("Tool {code} is made to face the other way than station {}.", need.station);
                Refusal::new(Rule::ToolHandMismatch, sentence).about(subject())
            });
        }
        _ => findings.add(
            Refusal::new(
                Rule::ToolDesignMismatch,
                format!("Station {} does not need a tool of the design of {code}.", need.station),
            )
            .about(subject()),
        ),
    }
}

/// What speaks against a tool for a job as far as whose it is goes. What somebody keeps for the job, booked or in its setup,
/// goes by its owner's consent, as the setup does. Nothing else that is kept for another part is proposed for the job, though
/// it be lent for it: whether a customer's tool is used for others is decided by a person, who books it.
fn belongs_there(job: &PlannedJob, need: &StationNeed, tool: &CandidateTool, days: Window, findings: &mut Findings) {
    let not_consented = lent_for(job, tool, days);
    if tool.item.is_kept_for(job.job, &need.station) {
        not_consented.into_iter().for_each(|refusal| findings.add(refusal));
        return;
    }
    let Belonging { owner, reserved_for } = &tool.ownership.belonging;
    let Some(kept_for) = reserved_for.as_ref().filter(|kept| kept.id != job.part) else { return };
    findings.add(match (owner, not_consented) {
        (None, Some(refusal)) => refusal,
        (Some(_), Some(refusal)) => {
            refusal.clears("Take another tool, or record the owner's consent to lend it and book it for this job.")
        }
        (_, None) => {
            let (code, part, number) = (&tool.item.code, &job.part_code, &job.number);
            let sentence = format!(
                "Tool {code} is kept for part {}, and lent for part {part}: it is not booked for job {number}.",
                kept_for.code
            );
            Refusal::new(Rule::ReservedForOtherPart, sentence)
                .saw(format!("kept for {}", kept_for.code))
                .clears("Book it for this job, or take another tool.")
                .about(tool.item.subject())
        }
    });
}

/// Why a tool is not lent for a job until its last day; nothing where it is, or is not kept for another part.
pub(super) fn lent_for(job: &PlannedJob, tool: &CandidateTool, days: Window) -> Option<Refusal> {
    not_for_part(&tool.item.code, &tool.ownership, job.part, &job.part_code, days.last())
}

/// Everything that speaks against a holder for a job.
#[must_use]
pub fn holder(job: &PlannedJob, holder: &CandidateHolder, options: Options) -> Vec<Refusal> {
    let mut findings = Findings::under(options.rules);
    holder_at_all(holder, options, &mut findings);
    holder_for(job, holder, options, &mut findings);
    findings.into_refusals()
}

/// What speaks against a holder for whatever job.
pub(super) fn holder_at_all(holder: &CandidateHolder, options: Options, findings: &mut Findings) {
    usable(&holder.item, Rule::HolderNotUsable, findings);
    if let Some(day) = holder.next_check.filter(|day| *day < options.today) {
        let sentence = format!("The check of holder {} ran out on {day}.", holder.item.code);
        findings.add(
            Refusal::new(Rule::HolderNotUsable, sentence).saw(format!("next check {day}")).about(holder.item.subject()),
        );
    }
}

/// The same for a job: a check that runs out before it ends, and what other jobs have of it.
pub(super) fn holder_for(job: &PlannedJob, holder: &CandidateHolder, options: Options, findings: &mut Findings) {
    let days = job.days(options.today);
    if let Some(day) = holder.next_check.filter(|day| *day >= options.today && *day < days.last()) {
        findings.add(due_in_run(job, &holder.item, day, days));
    }
    taken(job, &holder.item, options.today, findings);
}

/// Everything that speaks against a machine's gauge for a job.
#[must_use]
pub fn gauge(job: &PlannedJob, gauge: &CandidateGauge, options: Options) -> Vec<Refusal> {
    let mut findings = Findings::under(options.rules);
    usable(&gauge.item, Rule::GaugeNotUsable, &mut findings);
    let (code, days) = (&gauge.item.code, job.days(options.today));
    let about = |rule: Rule, sentence: String| Refusal::new(rule, sentence).about(gauge.item.subject());
    let Some(next) = gauge.next_check.filter(|_| gauge.last_accepted_check_at.is_some()) else {
        findings.add(about(Rule::GaugeNeverChecked, format!("Gauge {code} has no accepted check on record.")));
        return findings.into_refusals();
    };
    findings.add_if(next < options.today, || {
        about(Rule::GaugeCheckOverdue, format!("The check of gauge {code} ran out on {next}."))
            .saw(format!("next check {next}"))
    });
    findings.add_if(next >= options.today && next < days.last(), || due_in_run(job, &gauge.item, next, days));
    findings.add_if(is_stale(gauge.last_accepted_check_at, gauge.centers_may_have_moved_at), || {
        let machine = &job.machine.code;
        about(
            Rule::GaugeStale,
            format!("The spindle centres of {machine} may have moved since gauge {code} was checked."),
        )
    });
    findings.into_refusals()
}

fn due_in_run(job: &PlannedJob, item: &Candidate, day: NaiveDate, days: Window) -> Refusal {
    let (code, number) = (&item.code, &job.number);
    let sentence = format!("The check of {code} runs out on {day}, before job {number} ends on {}.", days.last());
    Refusal::new(Rule::CheckDueInRun, sentence).saw(format!("next check {day}")).about(item.subject())
}

/// Condition, and whether it is away to be worked on.
fn usable(item: &Candidate, rule: Rule, findings: &mut Findings) {
    let code = &item.code;
    findings.add_if(!item.condition.is_usable(), || {
        Refusal::new(rule, format!("{code} may not be used: {}.", item.condition.words()))
            .saw(item.condition.name())
            .about(item.subject())
    });
    let place = &item.whereabouts;
    let back = item.due.map(|due| format!(", due back on {due}")).unwrap_or_default();
    let away = match item.purpose {
        Some(Purpose::Grind) => Some((Rule::OutForGrinding, "out for grinding")),
        Some(Purpose::Check) => Some((Rule::OutForCheck, "out for a check")),
        Some(Purpose::Use) | None if place.outside => Some((Rule::OutsideTheShop, "outside the shop")),
        Some(Purpose::Use) | None => None,
    };
    if let Some((rule, what)) = away {
        findings.add(
            Refusal::new(rule, format!("{code} is {what}, with {}{back}.", place.name))
                .saw(place.name.clone())
                .about(item.subject()),
        );
    }
}

/// Whether it is another job's on any of the days.
fn taken(job: &PlannedJob, item: &Candidate, today: NaiveDate, findings: &mut Findings) {
    let days = job.days(today);
    for booked in booked_for_others(job, item, days) {
        // Of two that meet, the earlier has it until it is finished.
        let comes_after = |(own, other): (&BookedDays, &BookedDays)| {
            other.booking == booked.booking && own.days.first() < other.days.first()
        };
        findings.add_if(!item.met_by(job.job).any(comes_after), || already_booked(item, booked));
    }
    let Some(work) = &item.at_work else { return };
    if work.job.as_ref().is_some_and(|(id, ..)| *id == job.job) {
        return;
    }
    // What is at work is so today, and for its job's days.
    let until = work.job.as_ref().map_or(today, |(_, _, last)| (*last).max(today));
    let Some(busy) = Window::new(today, until).filter(|busy| busy.overlaps(days)) else { return };
    let code = &item.code;
    match (&work.job, &work.setup) {
        (Some((_, number, _)), _) => findings.add(
            Refusal::new(Rule::ItemBooked, format!("{code} is at work for job {number} until {}.", busy.last()))
                .saw(number.as_str())
                .about(item.subject()),
        ),
        (None, Some((machine, station))) => findings.add(
            Refusal::new(
                Rule::ItemInSetup,
                format!("{code} is in the setup of machine {machine}, at station {station}."),
            )
            .about(item.subject()),
        ),
        (None, None) => {}
    }
}

/// Whether it is booked for another job on any of the days.
pub(super) fn booked_elsewhere(job: &PlannedJob, item: &Candidate, days: Window, findings: &mut Findings) {
    for booked in booked_for_others(job, item, days) {
        findings.add(already_booked(item, booked));
    }
}

fn booked_for_others<'a>(job: &PlannedJob, item: &'a Candidate, days: Window) -> impl Iterator<Item = &'a BookedDays> {
    let own = job.job;
    item.booked.iter().filter(move |booked| booked.job != own && booked.days.overlaps(days))
}

/// An item that is booked, and for what.
pub(super) fn already_booked(item: &Candidate, booked: &BookedDays) -> Refusal {
    let (code, days) = (&item.code, booked.days);
    let over = if booked.runs_over() {
        format!("; the job is not finished, and was to end on {}", booked.booked_until)
    } else {
        String::new()
    };
    let sentence = format!(
        "{code} is booked for job {}, station {}, from {} to {}{over}.",
        booked.number,
        booked.station,
        days.first(),
        days.last()
    );
    Refusal::new(Rule::ItemBooked, sentence).saw(booked.number.as_str()).about(item.subject())
}
