//! Maintenance plans.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{items, machines, maintenance_plans},
};
use chrono::NaiveDateTime;
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{ItemId, MachineId, MaintenancePlanId},
    maintenance::{Interval, Maintained, MaintenancePlan, MaintenancePlanFields},
    registry::Record,
};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = maintenance_plans)]
#[diesel(treat_none_as_null = true)]
struct Row {
    id: String,
    code: String,
    name: String,
    machine_id: Option<String>,
    item_id: Option<String>,
    other: Option<String>,
    steps: String,
    cautions: String,
    every_days: Option<i64>,
    every_pieces: Option<i64>,
    every_setups: Option<i64>,
    every_running_hours: Option<i64>,
    due_from_percent: i32,
    last_done_at: Option<NaiveDateTime>,
    retired: bool,
    version: i64,
    created_at: NaiveDateTime,
    updated_at: NaiveDateTime,
}

/// What is maintained, in its three columns: machine, item, words.
pub(crate) fn split(subject: &Maintained) -> (Option<String>, Option<String>, Option<String>) {
    match subject {
        Maintained::Machine { id, .. } => (Some(id.to_string()), None, None),
        Maintained::Item { id, .. } => (None, Some(id.to_string()), None),
        Maintained::Other(words) => (None, None, Some(words.clone())),
    }
}

/// The other way round, with the codes of machine and item.
pub(crate) fn join(
    machine: Option<(&str, &str)>,
    item: Option<(&str, &str)>,
    other: Option<&str>,
) -> Result<Maintained> {
    match (machine, item, other) {
        (Some((id, code)), None, None) => {
            Ok(Maintained::Machine { id: columns::read(id)?, code: columns::code(code)? })
        }
        (None, Some((id, code)), None) => Ok(Maintained::Item { id: columns::read(id)?, code: columns::code(code)? }),
        (None, None, Some(words)) => Ok(Maintained::Other(words.to_owned())),
        _ => Err(Error::unreadable("a plan or order about nothing, or about two things")),
    }
}

fn row(plan: &MaintenancePlan) -> Result<Row> {
    let (record, fields) = (&plan.record, &plan.record.fields);
    let (machine_id, item_id, other) = split(&fields.subject);
    Ok(Row {
        id: record.id.to_string(),
        code: record.code.to_string(),
        name: fields.name.clone(),
        machine_id,
        item_id,
        other,
        steps: columns::document(&fields.steps)?,
        cautions: columns::document(&fields.cautions)?,
        every_days: fields.interval.days,
        every_pieces: fields.interval.pieces,
        every_setups: fields.interval.setups,
        every_running_hours: fields.interval.running_hours,
        due_from_percent: fields.due_from_percent.into(),
        last_done_at: plan.last_done_at.map(|at| at.naive_utc()),
        retired: fields.retired,
        version: record.version,
        created_at: record.created_at.naive_utc(),
        updated_at: record.updated_at.naive_utc(),
    })
}

fn plan((row, machine, item): (Row, Option<String>, Option<String>)) -> Result<MaintenancePlan> {
    let subject = join(
        row.machine_id.as_deref().zip(machine.as_deref()),
        row.item_id.as_deref().zip(item.as_deref()),
        row.other.as_deref(),
    )?;
    Ok(MaintenancePlan {
        record: Record {
            id: columns::read(&row.id)?,
            code: columns::code(&row.code)?,
            fields: MaintenancePlanFields {
                name: row.name,
                subject,
                steps: columns::from_document(&row.steps)?,
                cautions: columns::from_document(&row.cautions)?,
                interval: Interval {
                    days: row.every_days,
                    pieces: row.every_pieces,
                    setups: row.every_setups,
                    running_hours: row.every_running_hours,
                },
                due_from_percent: u8::try_from(row.due_from_percent).map_err(Error::unreadable)?,
                retired: row.retired,
            },
            version: row.version,
            created_at: columns::time(row.created_at),
            updated_at: columns::time(row.updated_at),
        },
        last_done_at: row.last_done_at.map(columns::time),
    })
}

/// Puts a plan on record; its code must be taken already.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, plan: &MaintenancePlan) -> Result<()> {
    diesel::insert_into(maintenance_plans::table).values(row(plan)?).execute(connection)?;
    Ok(())
}

/// Writes a plan's record over.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, plan: &MaintenancePlan) -> Result<()> {
    let id = plan.record.id.to_string();
    diesel::update(maintenance_plans::table.find(id)).set(row(plan)?).execute(connection)?;
    Ok(())
}

/// Deletes a plan that no order was opened from.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] when one was.
pub fn delete(connection: &mut Connection, id: MaintenancePlanId) -> Result<()> {
    diesel::delete(maintenance_plans::table.find(id.to_string())).execute(connection)?;
    Ok(())
}

/// One plan.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: MaintenancePlanId) -> Result<Option<MaintenancePlan>> {
    let found = maintenance_plans::table
        .left_join(machines::table.on(maintenance_plans::machine_id.eq(machines::id.nullable())))
        .left_join(items::table.on(maintenance_plans::item_id.eq(items::id.nullable())))
        .filter(maintenance_plans::id.eq(id.to_string()))
        .select((Row::as_select(), machines::code.nullable(), items::code.nullable()))
        .first(connection)
        .optional()?;
    found.map(plan).transpose()
}

/// What a list of plans is narrowed to.
#[derive(Clone, Copy, Debug, Default)]
pub struct MaintenancePlanFilter {
    /// One machine's.
    pub machine: Option<MachineId>,
    /// One item's.
    pub item: Option<ItemId>,
    /// In use or out of use only.
    pub retired: Option<bool>,
}

/// Plans by code, after a code.
///
/// # Errors
/// A database error.
pub fn page(
    connection: &mut Connection,
    filter: MaintenancePlanFilter,
    after: Option<&Code>,
    limit: i64,
) -> Result<Vec<MaintenancePlan>> {
    use maintenance_plans as p;
    let mut query = p::table
        .left_join(machines::table.on(p::machine_id.eq(machines::id.nullable())))
        .left_join(items::table.on(p::item_id.eq(items::id.nullable())))
        .filter(p::code.gt(after.map_or("", Code::as_str).to_owned()))
        .order(p::code)
        .limit(limit)
        .select((Row::as_select(), machines::code.nullable(), items::code.nullable()))
        .into_boxed();
    if let Some(machine) = filter.machine {
        query = query.filter(p::machine_id.eq(machine.to_string()));
    }
    if let Some(item) = filter.item {
        query = query.filter(p::item_id.eq(item.to_string()));
    }
    if let Some(retired) = filter.retired {
        query = query.filter(p::retired.eq(retired));
    }
    let rows: Vec<(Row, Option<String>, Option<String>)> = query.load(connection)?;
    rows.into_iter().map(plan).collect()
}
