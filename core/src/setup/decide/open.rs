//! Opening a setup.
//!
//! A machine that is tagged out may still get a setup on record: gathering a kit while maintenance works is usual, and
//! the tag-out bars seating, turning and release.

use super::at;
use crate::{
    code::Code,
    findings::{Findings, RuleSet},
    ids::{PersonId, SetupId},
    refusal::{Refusal, Rule, Subject, SubjectKind},
    setup::{
        facts::OpeningFacts,
        plan::{Plan, StationPlan},
    },
};
use chrono::{DateTime, Utc};

/// A station that the setup is to use.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StationRequest {
    /// Its code.
    pub station: Code,
    /// The tool that was picked for it.
    pub planned_tool: Option<Code>,
    /// The holder that was picked for it.
    pub planned_holder: Option<Code>,
}

/// A setup to be opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenRequest {
    /// Its id, made by the caller.
    pub setup: SetupId,
    /// The stations in use.
    pub stations: Vec<StationRequest>,
}

/// Opens a setup: its plan, or everything that speaks against it.
///
/// # Errors
/// Retired machine, setup already open, no station, a station that is unknown, named twice or without an operation.
pub fn open(
    request: &OpenRequest,
    facts: &OpeningFacts,
    who: PersonId,
    now: DateTime<Utc>,
) -> Result<Plan, Vec<Refusal>> {
    let mut findings = Findings::under(RuleSet::ALL);
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
    Some(StationPlan {
        code: code.clone(),
        position: station.position,
        kind: station.kind,
        tool_face: station.tool_face,
        adjusters: station.adjusters.clone(),
        operation: operation.clone(),
        planned_tool: asked.planned_tool.clone(),
        planned_holder: asked.planned_holder.clone(),
    })
}
