//! Jobs.

use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{jobs, machines, parts, runs},
};
use chrono::{NaiveDate, NaiveDateTime};
use diesel::{
    dsl::sql,
    prelude::*,
    sql_types::{BigInt, Nullable},
};
use dovetally_core::{
    code::Code,
    ids::{JobId, MachineId},
    registry::{
        Record,
        job::{Job, JobFields, JobState},
    },
    setup::runs::RunPieces,
};
use std::collections::{BTreeMap, BTreeSet};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = jobs)]
#[diesel(treat_none_as_null = true)]
pub(crate) struct Row {
    id: String,
    code: String,
    part_id: String,
    machine_id: String,
    quantity: i64,
    planned_start: NaiveDate,
    planned_end: Option<NaiveDate>,
    state: String,
    version: i64,
    created_at: NaiveDateTime,
    updated_at: NaiveDateTime,
}

impl From<&Job> for Row {
    fn from(job: &Job) -> Self {
        Self {
            id: job.id.to_string(),
            code: job.code.to_string(),
            part_id: job.fields.part.to_string(),
            machine_id: job.fields.machine.to_string(),
            quantity: job.fields.quantity,
            planned_start: job.fields.planned_start,
            planned_end: job.fields.planned_end,
            state: job.fields.state.name().to_owned(),
            version: job.version,
            created_at: job.created_at.naive_utc(),
            updated_at: job.updated_at.naive_utc(),
        }
    }
}

/// A job's row with the codes of its part and its machine.
pub(crate) type Found = (Row, String, String);

pub(crate) fn job((row, part_code, machine_code): Found) -> Result<Job> {
    Ok(Record {
        id: columns::read(&row.id)?,
        code: columns::code(&row.code)?,
        fields: JobFields {
            part: columns::read(&row.part_id)?,
            part_code: columns::code(&part_code)?,
            machine: columns::read(&row.machine_id)?,
            machine_code: columns::code(&machine_code)?,
            quantity: row.quantity,
            planned_start: row.planned_start,
            planned_end: row.planned_end,
            state: columns::named(&row.state, JobState::from_name)?,
        },
        version: row.version,
        created_at: columns::time(row.created_at),
        updated_at: columns::time(row.updated_at),
    })
}

/// Puts a job on record; its code must be taken already.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, job: &Job) -> Result<()> {
    diesel::insert_into(jobs::table).values(Row::from(job)).execute(connection)?;
    Ok(())
}

/// Writes a job's record over.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, job: &Job) -> Result<()> {
    diesel::update(jobs::table.find(job.id.to_string())).set(Row::from(job)).execute(connection)?;
    Ok(())
}

/// Deletes a job that nothing refers to.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] when something does.
pub fn delete(connection: &mut Connection, id: JobId) -> Result<()> {
    diesel::delete(jobs::table.find(id.to_string())).execute(connection)?;
    Ok(())
}

/// The codes of several jobs.
///
/// # Errors
/// A database error.
pub fn codes_of(connection: &mut Connection, ids: &BTreeSet<JobId>) -> Result<BTreeMap<JobId, Code>> {
    let ids: Vec<String> = ids.iter().map(JobId::to_string).collect();
    let mut codes = BTreeMap::new();
    for some in ids.chunks(columns::MOST_IDS) {
        let rows: Vec<(String, String)> =
            jobs::table.filter(jobs::id.eq_any(some)).select((jobs::id, jobs::code)).load(connection)?;
        for (id, code) in rows {
            codes.insert(columns::read(&id)?, columns::code(&code)?);
        }
    }
    Ok(codes)
}

/// One job.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: JobId) -> Result<Option<Job>> {
    let found = jobs::table
        .inner_join(parts::table.on(parts::id.eq(jobs::part_id)))
        .inner_join(machines::table.on(machines::id.eq(jobs::machine_id)))
        .filter(jobs::id.eq(id.to_string()))
        .select((Row::as_select(), parts::code, machines::code))
        .first(connection)
        .optional()?;
    found.map(job).transpose()
}

/// Jobs by code, after a code, of one machine or all.
///
/// # Errors
/// A database error.
pub fn page(
    connection: &mut Connection,
    machine: Option<MachineId>,
    after: Option<&Code>,
    limit: i64,
) -> Result<Vec<Job>> {
    let query = jobs::table
        .inner_join(parts::table.on(parts::id.eq(jobs::part_id)))
        .inner_join(machines::table.on(machines::id.eq(jobs::machine_id)))
        .filter(jobs::code.gt(after.map_or("", Code::as_str)))
        .order(jobs::code)
        .limit(limit)
        .select((Row::as_select(), parts::code, machines::code));
    let rows = match machine {
        Some(machine) => query.filter(jobs::machine_id.eq(machine.to_string())).load(connection)?,
        None => query.load(connection)?,
    };
    rows.into_iter().map(job).collect()
}

/// Pieces made for each of these jobs, as its runs were booked; a job that has none is left out. What is held for an
/// inspector, or was rejected, is not made for a job.
///
/// # Errors
/// A database error.
pub fn made(connection: &mut Connection, of: &[JobId]) -> Result<BTreeMap<JobId, i64>> {
    let ids: Vec<String> = of.iter().map(JobId::to_string).collect();
    // The sum of a BIGINT is a NUMERIC on PostgreSQL unless it is cast.
    let rows: Vec<(Option<String>, Option<i64>)> = runs::table
        .filter(runs::job_id.eq_any(ids))
        .filter(runs::pieces_are.eq(RunPieces::Free.name()))
        .group_by(runs::job_id)
        .select((runs::job_id, sql::<Nullable<BigInt>>("CAST(SUM(runs.pieces) AS BIGINT)")))
        .load(connection)?;
    let mut made = BTreeMap::new();
    for (job, pieces) in rows.into_iter().filter_map(|(job, pieces)| job.zip(pieces)) {
        made.insert(columns::read(&job)?, pieces);
    }
    Ok(made)
}
