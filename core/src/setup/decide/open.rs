//! Opening a setup.
//!
//! A machine that is tagged out may still get a setup on record: gathering a kit while maintenance works is usual, and
//! the tag-out bars seating, turning and release.

use super::{at, fits};
use crate::{
    code::Code,
    findings::{Findings, RuleSet},
    ids::{PersonId, SetupId},
    refusal::{Refusal, Rule, Subject, SubjectKind},
    scan::Scanned,
    setup::{
        facts::{HolderFacts, OpeningFacts, ToolFacts},
        plan::{Plan, StationPlan},
    },
};
use chrono::{DateTime, Utc};

/// A station that the setup is to use.
#[derive(Clone, Debug, PartialEq)]
pub struct StationRequest {
    /// Its code.
    pub station: Code,
    /// The tool that was picked for it. It must fit by design and face; whether it may be used is asked when it is put in.
    pub planned_tool: Option<Scanned<ToolFacts>>,
    /// The holder that was picked for it. It must fit by style.
    pub planned_holder: Option<Scanned<HolderFacts>>,
}

/// A setup to be opened.
#[derive(Clone, Debug, PartialEq)]
pub struct OpenRequest {
    /// Its id, made by the caller.
    pub setup: SetupId,
    /// The stations in use.
    pub stations: Vec<StationRequest>,
}

/// Opens a setup: its plan, or everything that speaks against it.
///
/// # Errors
/// Retired machine, setup already open, no station, a station that is unknown, named twice or without an operation, a
/// picked tool or holder that cannot serve there.
pub fn open(
    request: &OpenRequest,
    facts: &OpeningFacts,
    who: PersonId,
    now: DateTime<Utc>,
) -> Result<Plan, Vec<Refusal>> {
    open_under(RuleSet::ALL, request, facts, who, now)
}

/// [`open`] with one rule removed, for proofs that its absence is noticed.
///
/// # Errors
/// The refusals of the other rules.
#[cfg(any(test, debug_assertions))]
pub fn open_without(
    rule: Rule,
    request: &OpenRequest,
    facts: &OpeningFacts,
    who: PersonId,
    now: DateTime<Utc>,
) -> Result<Plan, Vec<Refusal>> {
    open_under(RuleSet::without(rule), request, facts, who, now)
}

fn open_under(
    rules: RuleSet,
    request: &OpenRequest,
    facts: &OpeningFacts,
    who: PersonId,
    now: DateTime<Utc>,
) -> Result<Plan, Vec<Refusal>> {
    let mut findings = Findings::under(rules);
    let machine = Subject::coded(SubjectKind::Machine, &facts.machine_code);
    let code = &facts.machine_code;
    findings.add_if(facts.retired, || {
        Refusal::new(Rule::MachineRetired, format!("Machine {code} is retired.")).about(machine.clone())
    });
    if let Some(open) = facts.open_setup {
        findings.add(
            Refusal::new(Rule::SetupAlreadyOpen, format!("A setup is already open on machine {code}."))
                .saw(open.to_string())
                .about(machine.clone()),
        );
    }
    findings.add_if(request.stations.is_empty(), || {
        Refusal::new(Rule::StationUnknown, "The setup names no station.").about(machine)
    });
    let mut stations: Vec<StationPlan> = Vec::with_capacity(request.stations.len());
    for (index, asked) in request.stations.iter().enumerate() {
        let twice = request.stations[..index].iter().any(|earlier| earlier.station == asked.station);
        findings.add_if(twice, || {
            Refusal::new(Rule::StationTaken, format!("Station {} is named twice.", asked.station))
                .about(at(&asked.station))
        });
        stations.extend(plan_station(asked, facts, &mut findings));
    }
    if !findings.is_empty() {
        return Err(findings.into_refusals());
    }
    // The trade sometimes runs a part without one of its stations: shown, and not refused.
    let in_use = |code: &Code| stations.iter().any(|station| station.code == *code);
    let left_out = facts.operations.iter().map(|(code, _)| code).filter(|code| !in_use(code)).cloned().collect();
    Ok(Plan {
        setup: request.setup,
        machine: facts.machine,
        machine_code: facts.machine_code.clone(),
        part: facts.part,
        part_code: facts.part_code.clone(),
        running_spindles: facts.running_spindles.clone(),
        positions: facts.positions,
        cutoff_position: facts.cutoff_position,
        pieces_per_cycle: facts.pieces_per_cycle,
        stations,
        left_out,
        settings: facts.settings.clone(),
        opened_by: who,
        opened_at: now,
    })
}

fn plan_station(asked: &StationRequest, facts: &OpeningFacts, findings: &mut Findings) -> Option<StationPlan> {
    let code = &asked.station;
    let Some(station) = facts.stations.iter().find(|station| station.code == *code) else {
        let sentence = format!("Machine {} has no station {code}.", facts.machine_code);
        findings.add(Refusal::new(Rule::StationUnknown, sentence).about(at(code)));
        return None;
    };
    let Some((_, operation)) = facts.operations.iter().find(|(at, _)| at == code) else {
        let sentence = format!("Part {} has no operation at station {code}.", facts.part_code);
        findings.add(Refusal::new(Rule::OperationMissing, sentence).about(at(code)));
        return None;
    };
    let planned = StationPlan {
        code: code.clone(),
        position: station.position,
        kind: station.kind,
        tool_face: station.tool_face,
        adjusters: station.adjusters.clone(),
        operation: operation.clone(),
        planned_tool: asked.planned_tool.as_ref().and_then(Scanned::known).map(|tool| tool.code.clone()),
        planned_holder: asked.planned_holder.as_ref().and_then(Scanned::known).map(|holder| holder.code.clone()),
    };
    if let Some(tool) = &asked.planned_tool {
        fits::on_record(tool, SubjectKind::FormTool, findings);
        if let Some(tool) = tool.known() {
            fits::tool(tool, &planned, findings);
        }
    }
    if let Some(holder) = &asked.planned_holder {
        fits::on_record(holder, SubjectKind::Holder, findings);
        if let Some(holder) = holder.known() {
            fits::holder(holder, &planned, findings);
        }
    }
    Some(planned)
}
