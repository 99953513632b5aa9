//! Work orders.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    maintenance_plans::{join, split},
    schema::{items, machines, maintenance_plans, work_called_off, work_orders},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    ids::{ItemId, MachineId, MaintenancePlanId, PersonId, WorkOrderId},
    planning::needs::OpenBreakdown,
    work_order::{Stamp, Touched, WorkOrder, WorkOrderState},
};
use std::collections::BTreeMap;

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = work_orders)]
#[diesel(treat_none_as_null = true)]
struct Row {
    id: String,
    plan_id: Option<String>,
    machine_id: Option<String>,
    item_id: Option<String>,
    other: Option<String>,
    what: String,
    breakdown: bool,
    down_from: Option<NaiveDateTime>,
    down_until: Option<NaiveDateTime>,
    state: String,
    opened_by: String,
    opened_at: NaiveDateTime,
    started_by: Option<String>,
    started_at: Option<NaiveDateTime>,
    ended_by: Option<String>,
    ended_at: Option<NaiveDateTime>,
    done_at: Option<NaiveDateTime>,
    note: Option<String>,
    touched: Option<String>,
    version: i64,
}

/// A row with the codes of its plan, machine and item.
type Found = (Row, Option<String>, Option<String>, Option<String>);

impl From<&WorkOrder> for Row {
    fn from(order: &WorkOrder) -> Self {
        let (machine_id, item_id, other) = split(&order.subject);
        let naive = |at: Option<DateTime<Utc>>| at.map(|at| at.naive_utc());
        Self {
            id: order.id.to_string(),
            plan_id: order.plan.as_ref().map(|(id, _)| id.to_string()),
            machine_id,
            item_id,
            other,
            what: order.what.clone(),
            breakdown: order.breakdown,
            down_from: naive(order.down_from),
            down_until: naive(order.down_until),
            state: order.state.name().to_owned(),
            opened_by: order.opened.by.to_string(),
            opened_at: order.opened.at.naive_utc(),
            started_by: order.started.map(|stamp| stamp.by.to_string()),
            started_at: naive(order.started.map(|stamp| stamp.at)),
            ended_by: order.ended.map(|stamp| stamp.by.to_string()),
            ended_at: naive(order.ended.map(|stamp| stamp.at)),
            done_at: naive(order.done_at),
            note: order.note.clone(),
            // Of what was called off it is kept beside the order.
            touched: order
                .touched
                .filter(|_| order.state == WorkOrderState::Done)
                .map(|touched| touched.name().to_owned()),
            version: order.version,
        }
    }
}

fn order((row, plan, machine, item): Found) -> Result<WorkOrder> {
    let subject = join(
        row.machine_id.as_deref().zip(machine.as_deref()),
        row.item_id.as_deref().zip(item.as_deref()),
        row.other.as_deref(),
    )?;
    let plan = row.plan_id.zip(plan).map(|(id, code)| Ok::<_, Error>((columns::read(&id)?, columns::code(&code)?)));
    let stamp = |by: Option<String>, at: Option<NaiveDateTime>| {
        by.zip(at)
            .map(|(by, at)| Ok::<_, Error>(Stamp { by: columns::read::<PersonId>(&by)?, at: columns::time(at) }))
            .transpose()
    };
    Ok(WorkOrder {
        id: columns::read(&row.id)?,
        plan: plan.transpose()?,
        subject,
        what: row.what,
        breakdown: row.breakdown,
        down_from: row.down_from.map(columns::time),
        down_until: row.down_until.map(columns::time),
        state: columns::named(&row.state, WorkOrderState::from_name)?,
        opened: Stamp { by: columns::read(&row.opened_by)?, at: columns::time(row.opened_at) },
        started: stamp(row.started_by, row.started_at)?,
        ended: stamp(row.ended_by, row.ended_at)?,
        done_at: row.done_at.map(columns::time),
        note: row.note,
        touched: row.touched.map(|name| columns::named(&name, Touched::from_name)).transpose()?,
        version: row.version,
    })
}

/// Puts an order on record.
///
/// # Errors
/// [`crate::Constraint::OneOpenOrderOfPlan`] when its plan has an open one.
pub fn insert(connection: &mut Connection, order: &WorkOrder) -> Result<()> {
    diesel::insert_into(work_orders::table).values(Row::from(order)).execute(connection)?;
    Ok(())
}

/// Writes an order over.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, order: &WorkOrder) -> Result<()> {
    diesel::update(work_orders::table.find(order.id.to_string())).set(Row::from(order)).execute(connection)?;
    if let (WorkOrderState::Cancelled, Some(touched)) = (order.state, order.touched) {
        let row =
            (work_called_off::work_order_id.eq(order.id.to_string()), work_called_off::touched.eq(touched.name()));
        diesel::insert_into(work_called_off::table).values(row).execute(connection)?;
    }
    Ok(())
}

/// The orders of rows, with what was touched by those that were called off.
fn orders(connection: &mut Connection, rows: Vec<Found>) -> Result<Vec<WorkOrder>> {
    let ids: Vec<&str> = rows.iter().map(|(row, ..)| row.id.as_str()).collect();
    let called_off: Vec<(String, String)> = work_called_off::table
        .filter(work_called_off::work_order_id.eq_any(&ids))
        .select((work_called_off::work_order_id, work_called_off::touched))
        .load(connection)?;
    let rows = rows.into_iter().map(|mut found| {
        if let Some((_, touched)) = called_off.iter().find(|(id, _)| *id == found.0.id) {
            found.0.touched = Some(touched.clone());
        }
        order(found)
    });
    rows.collect()
}

/// Takes an order for this transaction: whoever else is to change it waits. After codes and the machine's guard.
///
/// # Errors
/// A database error.
pub fn lock(connection: &mut Connection, id: WorkOrderId) -> Result<()> {
    // Writing a column over with itself takes the row on both databases.
    diesel::update(work_orders::table.find(id.to_string()))
        .set(work_orders::version.eq(work_orders::version))
        .execute(connection)?;
    Ok(())
}

/// One order.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: WorkOrderId) -> Result<Option<WorkOrder>> {
    use work_orders as w;
    let found: Option<Found> = w::table
        .left_join(maintenance_plans::table.on(w::plan_id.eq(maintenance_plans::id.nullable())))
        .left_join(machines::table.on(w::machine_id.eq(machines::id.nullable())))
        .left_join(items::table.on(w::item_id.eq(items::id.nullable())))
        .filter(w::id.eq(id.to_string()))
        .select((
            Row::as_select(),
            maintenance_plans::code.nullable(),
            machines::code.nullable(),
            items::code.nullable(),
        ))
        .first(connection)
        .optional()?;
    Ok(orders(connection, found.into_iter().collect())?.pop())
}

/// A plan's open order.
///
/// # Errors
/// A database error.
pub fn open_of_plan(connection: &mut Connection, plan: MaintenancePlanId) -> Result<Option<WorkOrderId>> {
    let id: Option<String> = work_orders::table
        .filter(work_orders::plan_id.eq(plan.to_string()))
        .filter(work_orders::ended_at.is_null())
        .select(work_orders::id)
        .first(connection)
        .optional()?;
    columns::read_optional(id.as_deref())
}

/// The open orders of plans, by plan.
///
/// # Errors
/// A database error.
pub fn open_of_plans(
    connection: &mut Connection,
    plans: &[MaintenancePlanId],
) -> Result<BTreeMap<MaintenancePlanId, WorkOrderId>> {
    let mut open = BTreeMap::new();
    for some in plans.chunks(columns::MOST_IDS) {
        let rows: Vec<(Option<String>, String)> = work_orders::table
            .filter(work_orders::plan_id.eq_any(some.iter().map(ToString::to_string)))
            .filter(work_orders::ended_at.is_null())
            .select((work_orders::plan_id, work_orders::id))
            .load(connection)?;
        for (plan, order) in rows {
            if let Some(plan) = columns::read_optional(plan.as_deref())? {
                open.insert(plan, columns::read(&order)?);
            }
        }
    }
    Ok(open)
}

/// The breakdowns of machines whose orders have not ended, by machine, oldest first.
///
/// # Errors
/// A database error.
pub fn open_breakdowns(connection: &mut Connection) -> Result<BTreeMap<MachineId, Vec<OpenBreakdown>>> {
    use work_orders as w;
    let rows: Vec<(Option<String>, bool, Option<NaiveDateTime>, String)> = w::table
        .filter(w::ended_at.is_null())
        .order((w::opened_at, w::id))
        .select((w::machine_id, w::breakdown, w::down_from, w::what))
        .load(connection)?;
    let mut breakdowns: BTreeMap<MachineId, Vec<OpenBreakdown>> = BTreeMap::new();
    // Told apart here, so that the index of open orders serves it, and none that grows with the years.
    for (machine, breakdown, down_from, what) in rows {
        if let (Some(machine), true, Some(down_from)) = (machine, breakdown, down_from) {
            let down_from = columns::time(down_from);
            breakdowns.entry(columns::read(&machine)?).or_default().push(OpenBreakdown { down_from, what });
        }
    }
    Ok(breakdowns)
}

/// What a list of orders is narrowed to.
#[derive(Clone, Copy, Debug, Default)]
pub struct WorkOrderFilter {
    /// One machine's.
    pub machine: Option<MachineId>,
    /// One item's.
    pub item: Option<ItemId>,
    /// One plan's.
    pub plan: Option<MaintenancePlanId>,
    /// Only those that have not ended, or only those that have.
    pub open: Option<bool>,
    /// Breakdowns only, or all but breakdowns.
    pub breakdown: Option<bool>,
}

/// Orders, newest first, before one.
///
/// # Errors
/// A database error.
pub fn page(
    connection: &mut Connection,
    filter: WorkOrderFilter,
    before: Option<(DateTime<Utc>, WorkOrderId)>,
    limit: i64,
) -> Result<Vec<WorkOrder>> {
    use work_orders as w;
    let (at, id) = columns::before_or_newest(before);
    let mut query = w::table
        .left_join(maintenance_plans::table.on(w::plan_id.eq(maintenance_plans::id.nullable())))
        .left_join(machines::table.on(w::machine_id.eq(machines::id.nullable())))
        .left_join(items::table.on(w::item_id.eq(items::id.nullable())))
        .filter(w::opened_at.lt(at).or(w::opened_at.eq(at).and(w::id.lt(id))))
        .order((w::opened_at.desc(), w::id.desc()))
        .limit(limit)
        .select((
            Row::as_select(),
            maintenance_plans::code.nullable(),
            machines::code.nullable(),
            items::code.nullable(),
        ))
        .into_boxed();
    if let Some(machine) = filter.machine {
        query = query.filter(w::machine_id.eq(machine.to_string()));
    }
    if let Some(item) = filter.item {
        query = query.filter(w::item_id.eq(item.to_string()));
    }
    if let Some(plan) = filter.plan {
        query = query.filter(w::plan_id.eq(plan.to_string()));
    }
    query = match filter.open {
        None => query,
        Some(true) => query.filter(w::ended_at.is_null()),
        Some(false) => query.filter(w::ended_at.is_not_null()),
    };
    query = match filter.breakdown {
        None => query,
        // Not compared with true: so the index of breakdowns serves it.
        Some(true) => query.filter(w::breakdown),
        Some(false) => query.filter(w::breakdown.eq(false)),
    };
    let rows: Vec<Found> = query.load(connection)?;
    orders(connection, rows)
}

/// From when a machine was down, and until when if it is mended.
pub type Downtime = (DateTime<Utc>, Option<DateTime<Utc>>);

/// The breakdowns of a machine that began in some time (from the first instant on, before the second) and were not called
/// off.
///
/// # Errors
/// A database error.
pub fn failures(
    connection: &mut Connection,
    machine: MachineId,
    from: DateTime<Utc>,
    until: DateTime<Utc>,
) -> Result<Vec<Downtime>> {
    use work_orders as w;
    let rows: Vec<(Option<NaiveDateTime>, Option<NaiveDateTime>)> = w::table
        .filter(w::machine_id.eq(machine.to_string()))
        .filter(w::breakdown)
        .filter(w::down_from.ge(from.naive_utc()))
        .filter(w::down_from.lt(until.naive_utc()))
        .filter(w::state.ne(WorkOrderState::Cancelled.name()))
        .order(w::down_from)
        .select((w::down_from, w::down_until))
        .load(connection)?;
    let known = |(from, until): (Option<NaiveDateTime>, Option<NaiveDateTime>)| {
        from.map(|from| (columns::time(from), until.map(columns::time)))
    };
    Ok(rows.into_iter().filter_map(known).collect())
}
