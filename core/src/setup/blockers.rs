//! All that stands between a setup and a turning machine, at every station at once.

use super::{
    facts::MachineFacts,
    height_limit::HeightLimit,
    state::{DepthStep, HeightTaken, Run, SeatedHolder, Setup},
};
use crate::{
    code::Code,
    findings::{Findings, RuleSet},
    item::Condition,
    refusal::{Refusal, Rule, Subject, SubjectKind},
};

/// What the machine is to do next. Each asks for all that those before it ask for, and more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Readiness {
    /// Stock is to be fed.
    Stock,
    /// The machine is to turn for a trial.
    Trial,
    /// The machine is to be released for production.
    Release,
}

/// Everything that blocks a release now, whether or not one is in force.
#[must_use]
pub fn blockers(setup: &Setup, facts: &MachineFacts) -> Vec<Refusal> {
    let mut findings = Findings::under(RuleSet::ALL);
    examine(setup, facts, Readiness::Release, &mut findings);
    findings.into_refusals()
}

/// Writes all that blocks a degree of readiness to `findings`.
pub(crate) fn examine(setup: &Setup, facts: &MachineFacts, readiness: Readiness, findings: &mut Findings) {
    let machine = Subject::coded(SubjectKind::Machine, &setup.plan.machine_code);
    if readiness >= Readiness::Trial {
        tagged_out(&setup.plan.machine_code, facts, findings);
    }
    gauges_out(setup, facts, findings);
    for station in 0..setup.stations.len() {
        station_ready(setup, facts, station, readiness, findings);
    }
    let about = |rule: Rule, sentence: &str| Refusal::new(rule, sentence).about(machine.clone());
    if readiness >= Readiness::Trial {
        findings.add_if(setup.stock.is_none(), || about(Rule::StockNotFed, "Stock is not fed."));
        findings.add_if(!setup.index_clear, || {
            about(Rule::IndexClearanceNotConfirmed, "The index is not proven clear as the tools stand now.")
        });
    }
    if readiness >= Readiness::Release {
        pieces_to_book(setup, findings);
        inspection_pending(setup, findings);
        findings.add_if(!setup.trial, || {
            about(Rule::TrialNotBegun, "Trial cutting has not begun as everything stands now.")
        });
        match &setup.first_piece {
            None => {
                findings.add(about(Rule::FirstPieceNotAccepted, "No first piece was judged since the last change."))
            }
            Some(judged) => findings.add_if(!judged.accepted, || {
                about(Rule::FirstPieceNotAccepted, "The last first piece was not accepted.").saw("accepted: false")
            }),
        }
    }
}

/// Adds a blocker while a withdrawn release waits for its pieces.
pub(crate) fn pieces_to_book(setup: &Setup, findings: &mut Findings) {
    findings.add_if(matches!(setup.run, Run::ToBook { .. }), || {
        Refusal::new(Rule::AlreadyReleased, "The last release was withdrawn and its pieces are not booked yet.")
            .clears("Stop the run and book its pieces.")
            .about(Subject::coded(SubjectKind::Machine, &setup.plan.machine_code))
    });
}

/// Adds a blocker while what a provisional release made, or still makes, is not judged by an inspector.
pub(crate) fn inspection_pending(setup: &Setup, findings: &mut Findings) {
    if let Some(held) = &setup.held {
        findings.add(
            Refusal::new(Rule::InspectionPending, held.sentence(setup))
                .saw(format!("{} pieces held", held.pieces))
                .about(Subject::coded(SubjectKind::Machine, &setup.plan.machine_code)),
        );
    }
}

/// Adds a blocker for each tag-out in force.
pub(crate) fn tagged_out(machine: &Code, facts: &MachineFacts, findings: &mut Findings) {
    for tag_out in &facts.tag_outs {
        findings.add(
            Refusal::new(
                Rule::MachineTaggedOut,
                format!("Machine {machine} is out of service: {}", sentence_end(&tag_out.reason)),
            )
            .saw(tag_out.tag_out.to_string())
            .about(Subject::coded(SubjectKind::Machine, machine)),
        );
    }
}

/// Adds a blocker for each gauge in the machine: of this setup, and any other that the machine's record shows.
pub(crate) fn gauges_out(setup: &Setup, facts: &MachineFacts, findings: &mut Findings) {
    for (state, plan) in setup.stations.iter().zip(&setup.plan.stations) {
        if let Some(gauge) = &state.gauge {
            gauge_out(&gauge.code, &plan.code, findings);
        }
    }
    gauges_on_record(facts, findings);
}

/// Adds a blocker for each gauge that the machine's record shows in it.
pub(crate) fn gauges_on_record(facts: &MachineFacts, findings: &mut Findings) {
    for gauge in &facts.gauges {
        gauge_out(&gauge.code, &gauge.station, findings);
    }
}

fn gauge_out(gauge: &Code, station: &Code, findings: &mut Findings) {
    findings.add(
        Refusal::new(Rule::GaugeStillInMachine, format!("Gauge {gauge} is in the machine, at station {station}."))
            .about(Subject::coded(SubjectKind::CenterGauge, gauge)),
    );
}

fn station_ready(setup: &Setup, facts: &MachineFacts, index: usize, readiness: Readiness, findings: &mut Findings) {
    let (Some(plan), Some(state)) = (setup.plan.stations.get(index), setup.stations.get(index)) else { return };
    let code = &plan.code;
    let about =
        |rule: Rule, sentence: String| Refusal::new(rule, sentence).about(Subject::coded(SubjectKind::Station, code));
    findings.add_if(state.crashed, || {
        about(Rule::CrashNotCleared, format!("Station {code} is out of use since a crash was reported."))
    });
    match &state.holder {
        None => findings.add_if(plan.needs_holder(), || {
            about(Rule::HolderNotSeated, format!("No holder is seated at station {code}."))
        }),
        Some(holder) => {
            findings.add_if(readiness >= Readiness::Trial && !holder.is_confirmed(), || {
                let sentence = format!("The seat of holder {} at station {code} is not confirmed.", holder.code);
                about(Rule::SeatNotConfirmed, sentence).saw(unconfirmed(holder))
            });
            if readiness >= Readiness::Trial {
                holder_usable(holder, code, facts, findings);
            }
        }
    }
    findings.add_if(state.tool.is_none(), || {
        about(Rule::ToolNotInserted, format!("No tool is inserted at station {code}."))
    });
    if plan.is_set_on_gauge() {
        heights(setup, facts, index, findings);
    }
    findings.add_if(!state.clamped, || about(Rule::NotClamped, format!("The tool at station {code} is not clamped.")));
    if readiness >= Readiness::Release {
        findings.add_if(plan.is_set_on_gauge() && state.approach.is_none(), || {
            about(Rule::ApproachNotRead, format!("The approach at station {code} is not read as the slide stands now."))
        });
        findings.add_if(state.depth == DepthStep::Open, || {
            about(Rule::DepthNotRead, format!("The depth at station {code} is not read as it is set now."))
        });
    }
}

/// Adds a blocker for a seated holder that was judged unfit since, or of which nothing is known. That its check's day goes
/// by while it is seated undoes nothing: it was in date when it was seated.
fn holder_usable(holder: &SeatedHolder, station: &Code, facts: &MachineFacts, findings: &mut Findings) {
    let condition = facts.holder_condition(holder.item);
    findings.add_if(!condition.is_some_and(Condition::is_usable), || {
        let judged = condition.map_or_else(|| "not on record".to_owned(), Condition::words);
        let sentence = format!("Holder {} at station {station} may not be used: {judged}.", holder.code);
        Refusal::new(Rule::HolderNotUsable, sentence)
            .saw(condition.map_or("not on record", Condition::name))
            .clears("Seat a usable holder in its place, or have this one checked and accepted.")
            .about(Subject::coded(SubjectKind::Holder, &holder.code))
    });
}

/// The height of a station: read before clamping, inside the limit, and read again after clamping, inside the limit. What
/// was read before the spindle centres may have moved tells nothing.
fn heights(setup: &Setup, facts: &MachineFacts, index: usize, findings: &mut Findings) {
    let holds = |taken: &HeightTaken| taken.holds(facts.centers_may_have_moved_at);
    let (plan, state) = (&setup.plan.stations[index], &setup.stations[index]);
    let code = &plan.code;
    let about =
        |rule: Rule, sentence: String| Refusal::new(rule, sentence).about(Subject::coded(SubjectKind::Station, code));
    let outside = |when: &str, taken: HeightTaken| {
        let limit = HeightLimit::of_taken(setup.plan.settings.height_limit, taken);
        let sentence = format!("The height at station {code}, read {when} clamping, is outside the limit.");
        limit.explain(about(Rule::HeightOutsideLimit, sentence))
    };
    if !state.clamped {
        match state.height_before.filter(holds) {
            None => findings
                .add(about(Rule::HeightNotRead, format!("The height at station {code} is not read on the gauge."))),
            Some(taken) => {
                findings.add_if(!taken.within_limit, || outside("before", taken));
                in_doubt(facts, code, taken, findings);
            }
        }
    }
    match state.height_after.filter(holds) {
        None => findings.add(about(
            Rule::HeightNotRechecked,
            format!("The height at station {code} is not rechecked after clamping."),
        )),
        Some(taken) => {
            findings.add_if(!taken.within_limit, || outside("after", taken));
            in_doubt(facts, code, taken, findings);
        }
    }
}

/// Adds a blocker for a height that was read on a gauge that nobody vouches for any more, or of which nothing is known.
pub(crate) fn in_doubt(facts: &MachineFacts, station: &Code, taken: HeightTaken, findings: &mut Findings) {
    let on = match facts.standing(taken.gauge) {
        Some(gauge) => gauge.doubt(taken.at).map(|why| format!("gauge {}, {why}", gauge.code)),
        None => Some("a gauge that is not on record".to_owned()),
    };
    if let Some(on) = on {
        let sentence = format!("The height at station {station} was read on {on}.");
        findings.add(Refusal::new(Rule::HeightInDoubt, sentence).about(Subject::coded(SubjectKind::Station, station)));
    }
}

fn unconfirmed(holder: &SeatedHolder) -> String {
    let mut open = Vec::new();
    let seat = holder.seat;
    let mut note = |confirmed: bool, name: &'static str| {
        if !confirmed && !open.contains(&name) {
            open.push(name);
        }
    };
    note(seat.seat_clean, "seat_clean: false");
    note(seat.seated_flush, "seated_flush: false");
    note(seat.side_screw_free, "side_screw_free: false");
    if let Some(moved) = holder.moved {
        note(moved.holder_retightened, "holder_retightened: false");
        note(moved.side_screw_free, "side_screw_free: false");
    }
    open.join(", ")
}

fn sentence_end(text: &str) -> String {
    let text = text.trim();
    if text.ends_with(['.', '!', '?']) { text.to_owned() } else { format!("{text}.") }
}
