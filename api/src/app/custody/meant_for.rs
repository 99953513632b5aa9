//! What items are handed out for.

use crate::{app::registry::resolve, problem::Problem, transport::movement::CheckOut};
use dovetally_core::{
    gauge::GaugeMachine,
    ids::{JobId, MachineId},
    life::ownership::PartRef,
};
use dovetally_db::{Connection, codes::CodeSubject, jobs, machines};

/// What items are handed out for.
pub(super) struct Meant {
    pub(super) machine: Option<GaugeMachine>,
    pub(super) job: Option<JobId>,
    pub(super) part: Option<PartRef>,
}

/// The machine and the job that items are handed out for; a job has a machine of its own, and a part.
pub(super) fn meant_for(connection: &mut Connection, body: &CheckOut) -> Result<Meant, Problem> {
    let job = match &body.job {
        Some(code) => Some(JobId::from_uuid(resolve(connection, CodeSubject::Job, code, "/job")?)),
        None => None,
    };
    let machine = match &body.machine {
        Some(code) => Some(MachineId::from_uuid(resolve(connection, CodeSubject::Machine, code, "/machine")?)),
        None => None,
    };
    let planned = match job {
        Some(job) => jobs::find(connection, job)?.map(|job| job.fields),
        None => None,
    };
    let part = planned.as_ref().map(|job| PartRef { id: job.part, code: job.part_code.clone() });
    let planned = planned.map(|job| job.machine);
    let machine = match machine.or(planned) {
        Some(id) => machines::code_of(connection, id)?.map(|code| GaugeMachine { machine: id, code }),
        None => None,
    };
    if planned.is_some_and(|planned| machine.as_ref().is_some_and(|machine| machine.machine != planned)) {
        return Err(Problem::field("/machine", "the job is planned on another machine"));
    }
    Ok(Meant { machine, job, part })
}
