//! Jobs. A job's number is its code.

use super::{Registered, no_faults, resolve, resolve_in_query};
use crate::{
    app::planning::bookings,
    principal::Principal,
    problem::Problem,
    transport::job::{JobBody, JobView},
};
use dovetally_core::{
    code::Code,
    ids::{JobId, MachineId, PartId},
    registry::{
        Record,
        job::{Job, JobFields},
    },
};
use dovetally_db::{Connection, Tx, codes::CodeSubject, jobs};
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

/// What a list of jobs may be narrowed to.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct JobFilters {
    /// Of this machine.
    #[param(value_type = Option<String>)]
    machine: Option<Code>,
}

/// Jobs: so many of a part, on a machine, from a day on.
#[derive(Debug)]
pub struct Jobs;

impl Registered for Jobs {
    const RESOURCE: &'static str = "job";
    const COLLECTION: &'static str = "jobs";
    const SUBJECT: CodeSubject = CodeSubject::Job;
    const CHANGES: [&'static str; 3] = ["dovetally.job.created", "dovetally.job.changed", "dovetally.job.removed"];
    const CODE_POINTER: &'static str = "/number";
    const READ_ONLY: &'static [&'static str] = &["id", "progress", "created_at", "updated_at"];

    type Thing = Job;
    type New = JobBody;
    type Write = JobBody;
    type View = JobView;
    type Filter = JobFilters;

    fn code_of_new(new: &JobBody) -> &Code {
        &new.number
    }

    fn code_of(write: &JobBody) -> &Code {
        &write.number
    }

    fn record_of(job: &Job) -> (Uuid, &Code, i64) {
        (job.id.uuid(), &job.code, job.version)
    }

    fn find(connection: &mut Connection, id: Uuid) -> Result<Option<Job>, Problem> {
        Ok(jobs::find(connection, JobId::from_uuid(id))?)
    }

    fn page(
        connection: &mut Connection,
        filters: &JobFilters,
        after: Option<&Code>,
        limit: i64,
    ) -> Result<Vec<Job>, Problem> {
        let machine = resolve_in_query(connection, CodeSubject::Machine, filters.machine.as_ref(), "machine")?;
        Ok(jobs::page(connection, machine.map(MachineId::from_uuid), after, limit)?)
    }

    fn view(connection: &mut Connection, job: &Job) -> Result<JobView, Problem> {
        let made = jobs::made(connection, &[job.id])?;
        Ok(JobView::new(job, made.get(&job.id).copied().unwrap_or_default()))
    }

    fn write_form(job: &Job) -> JobBody {
        job.into()
    }

    fn insert(tx: &mut Tx<'_>, _: &Principal, id: Uuid, new: &JobBody) -> Result<Job, Problem> {
        let fields = fields(tx.connection(), new)?;
        let now = tx.now();
        let job = Record {
            id: JobId::from_uuid(id),
            code: new.number.clone(),
            fields,
            version: 1,
            created_at: now,
            updated_at: now,
        };
        jobs::insert(tx.connection(), &job)?;
        on_record(tx.connection(), job.id)
    }

    fn update(tx: &mut Tx<'_>, who: &Principal, job: Job, write: &JobBody) -> Result<Job, Problem> {
        let fields = fields(tx.connection(), write)?;
        let job = Record { code: write.number.clone(), fields, version: job.version + 1, updated_at: tx.now(), ..job };
        jobs::update(tx.connection(), &job)?;
        bookings::after_change_of(tx, who, job.id)?;
        on_record(tx.connection(), job.id)
    }

    fn delete(tx: &mut Tx<'_>, job: &Job) -> Result<(), Problem> {
        Ok(jobs::delete(tx.connection(), job.id)?)
    }
}

/// The trade's fields of a body, its codes looked up.
fn fields(connection: &mut Connection, body: &JobBody) -> Result<JobFields, Problem> {
    let part = resolve(connection, CodeSubject::Part, &body.part, "/part")?;
    let machine = resolve(connection, CodeSubject::Machine, &body.machine, "/machine")?;
    let fields = body.fields(PartId::from_uuid(part), MachineId::from_uuid(machine));
    no_faults(fields.check())?;
    Ok(fields)
}

/// A job as its row has it: part and machine by their present codes, whatever alias the body used, so that the answer
/// to a write has the entity tag of the next read.
fn on_record(connection: &mut Connection, id: JobId) -> Result<Job, Problem> {
    jobs::find(connection, id)?.ok_or_else(|| Problem::not_found("job", id))
}
