//! Opening a setup.

use super::load::{of_row, show};
use crate::{
    app::{
        facts::{scanned_holder, scanned_tool},
        perform::Done,
        registry::{resolve, write_change},
    },
    extract::{Json, WriteOptions},
    principal::{Guarded, Principal, RecordSetup},
    problem::Problem,
    transport::setup::{NewSetup, NewSetupStation},
};
use actix_web::HttpResponse;
use dovetally_core::{
    ids::{JobId, MachineId, PartId, SetupId},
    refusal::{Refusal, Rule, Subject, SubjectKind},
    registry::job::JobState,
    setup::{
        decide::{OpenRequest, StationRequest, open as decide_open},
        facts::{MachineStation, OpeningFacts},
        state::SetupState,
    },
};
use dovetally_db::{Connection, Constraint, Error, Tx, codes::CodeSubject, jobs, machines, parts, settings, setups};

/// Opens a setup on a machine.
///
/// # Errors
/// 409 when one is open, 422 for codes that name nothing.
pub async fn open(
    guarded: &Guarded<RecordSetup>,
    options: &WriteOptions,
    body: Json<NewSetup>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let new = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| open_in(tx, who, &new).map(|(done, _)| done)).await
}

/// The same inside a transaction; tells the setup's id too.
pub(crate) fn open_in(tx: &mut Tx<'_>, who: &Principal, new: &NewSetup) -> Result<(Done, SetupId), Problem> {
    let machine = resolve(tx.connection(), CodeSubject::Machine, &new.machine, "/machine")?;
    let machine = MachineId::from_uuid(machine);
    machines::take_guard(tx.connection(), machine)?;
    let part = PartId::from_uuid(resolve(tx.connection(), CodeSubject::Part, &new.part, "/part")?);
    let job = match &new.job {
        Some(code) => Some(JobId::from_uuid(resolve(tx.connection(), CodeSubject::Job, code, "/job")?)),
        None => None,
    };
    if let Some(job) = job {
        let found = jobs::find(tx.connection(), job)?.ok_or_else(|| Problem::not_found("job", job))?;
        if found.fields.part != part {
            return Err(Problem::field("/job", format!("job {} is for part {}", found.code, found.fields.part_code)));
        }
        if found.fields.machine != machine {
            let detail = format!("job {} is planned on machine {}", found.code, found.fields.machine_code);
            return Err(Problem::field("/job", detail));
        }
        if found.fields.state != JobState::Planned {
            return Err(Problem::field("/job", format!("job {} is {}", found.code, found.fields.state)));
        }
    }
    if new.stations.is_empty() {
        return Err(Problem::field("/stations", "name at least one station of the machine"));
    }
    for (index, station) in new.stations.iter().enumerate() {
        for (field, code) in [("form_tool", &station.form_tool), ("holder", &station.holder)] {
            if let Some(code) = code {
                resolve(tx.connection(), CodeSubject::Item, code, &format!("/stations/{index}/{field}"))?;
            }
        }
    }
    let facts = opening_facts(tx.connection(), machine, part)?;
    tx.pause_point("setup-read");
    let request = OpenRequest {
        setup: tx.new_id(),
        stations: new
            .stations
            .iter()
            .map(|station| station_request(tx.connection(), station))
            .collect::<Result<_, Problem>>()?,
    };
    let now = tx.now();
    let plan = decide_open(&request, &facts, who.person, now).map_err(Problem::refusals)?;
    let row = setups::Setup {
        id: request.setup,
        machine,
        part,
        job,
        state: SetupState::Setting,
        plan,
        opened_by: who.person,
        opened_at: now,
        closed_at: None,
        version: 1,
    };
    setups::insert(tx.connection(), &row).map_err(|error| already_open(error, &facts))?;
    let loaded = of_row(tx.connection(), row)?;
    let view = show(tx.connection(), &loaded, now)?;
    let state = serde_json::to_value(&view).map_err(Problem::internal)?;
    write_change(tx, who, "setup", "dovetally.setup.opened", request.setup.uuid(), 1, state);
    Ok((Done::created(&view, format!("/v1/setups/{}", request.setup))?, request.setup))
}

/// A station with what the records know of the tool and the holder picked for it.
fn station_request(connection: &mut Connection, asked: &NewSetupStation) -> Result<StationRequest, Problem> {
    let (tool, holder) = (asked.form_tool.as_ref(), asked.holder.as_ref());
    Ok(StationRequest {
        station: asked.station.clone(),
        planned_tool: tool.map(|code| scanned_tool(connection, code.as_str())).transpose()?,
        planned_holder: holder.map(|code| scanned_holder(connection, code.as_str())).transpose()?,
    })
}

/// The constraint is the last guard; it says the same as the rule.
fn already_open(error: Error, facts: &OpeningFacts) -> Problem {
    if error.constraint() != Some(Constraint::OneOpenSetup) {
        return error.into();
    }
    let code = &facts.machine_code;
    let refusal = Refusal::new(Rule::SetupAlreadyOpen, format!("A setup is already open on machine {code}."))
        .about(Subject::coded(SubjectKind::Machine, code));
    Problem::refusals(vec![refusal]).because(error)
}

fn opening_facts(connection: &mut Connection, machine: MachineId, part: PartId) -> Result<OpeningFacts, Problem> {
    let found = machines::find(connection, machine)?.ok_or_else(|| Problem::not_found("machine", machine))?;
    let part_found = parts::find(connection, part)?.ok_or_else(|| Problem::not_found("part", part))?;
    let open_setup = setups::open_on(connection, machine)?.map(|setup| setup.id);
    let (settings, _) = settings::find(connection)?;
    let fields = found.record.fields;
    Ok(OpeningFacts {
        machine,
        machine_code: found.record.code,
        retired: fields.retired,
        open_setup,
        running_spindles: (1..=fields.spindles).collect(),
        positions: fields.positions,
        cutoff_position: fields.cutoff_position,
        pieces_per_cycle: fields.pieces_per_cycle,
        stations: fields
            .stations
            .into_iter()
            .map(|station| MachineStation {
                code: station.code,
                position: station.position,
                kind: station.kind,
                tool_face: station.tool_face,
                adjusters: station.adjusters,
            })
            .collect(),
        part,
        part_code: part_found.code,
        operations: part_found.fields.operations,
        settings,
    })
}
