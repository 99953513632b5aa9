//! Work orders: opening, starting, ending, reading.
//!
//! Every change of an order takes, in this order: the codes of its plan and of the supplies it uses, by id; its machine's
//! guard, where the machine is touched; the order's own row. Then it is read again and judged.

mod finish;
mod read;

pub use finish::finish;
pub(crate) use finish::finish_in;
use finish::note_touched;
pub(crate) use read::{ended_orders, open_orders, read};
pub use read::{get, list};

use super::{
    occurred_at,
    perform::Done,
    registry::{maintained, no_faults, resolve, write_change},
};
use crate::{
    extract::{Json, WriteOptions},
    principal::{Guarded, Maintain, OpenOrder, Principal},
    problem::Problem,
    transport::work_order::{CancelWorkOrder, NewWorkOrder, StartWorkOrder, WorkOrderView},
};
use actix_web::HttpResponse;
use dovetally_core::{
    code::Code,
    ids::{MaintenancePlanId, WorkOrderId},
    maintenance::{Maintained, MaintenancePlan},
    people::Permission,
    work_order::{PlanAtOpening, Stamp, WorkOrder, WorkOrderState, open_from, plan_order_open},
};
use dovetally_db::{
    Connection, Constraint, Error, Tx,
    codes::{self, CodeSubject},
    machines, maintenance_plans, work_orders,
};

/// Opens an order, from a plan or by hand.
///
/// # Errors
/// 403 for anything but a breakdown by those who do not maintain, 409 for a plan that is out of use or has an open order,
/// 422 for what cannot be.
pub async fn open(
    guarded: &Guarded<OpenOrder>,
    options: &WriteOptions,
    body: Json<NewWorkOrder>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let new = body.into_inner();
    may_open(&guarded.who, &new)?;
    guarded.perform(options, &bytes, move |tx, who| Ok(open_in(tx, who, &new)?.0)).await
}

/// Whether a person may open this order: who only saw it says what failed; what is to be done is for those who do it.
///
/// # Errors
/// 403.
pub(crate) fn may_open(who: &Principal, new: &NewWorkOrder) -> Result<(), Problem> {
    if new.breakdown && new.plan.is_none() { Ok(()) } else { who.require(Permission::Maintain) }
}

/// The same inside a transaction, with the new order's id.
pub(crate) fn open_in(tx: &mut Tx<'_>, who: &Principal, new: &NewWorkOrder) -> Result<(Done, WorkOrderId), Problem> {
    let plan = new.plan.as_ref().map(|code| usable_plan(tx, code)).transpose()?;
    let subject = match (&plan, &new.subject) {
        (Some(plan), None) => plan.record.fields.subject.clone(),
        (None, Some(named)) => maintained(tx.connection(), named)?,
        (Some(_), Some(_)) => return Err(Problem::field("/subject", "the plan says what it is about: leave it out")),
        (None, None) => return Err(Problem::field("/subject", "say what it is about, or name a plan")),
    };
    let what = match (&new.what, &plan) {
        (Some(what), _) => what.clone(),
        (None, Some(plan)) => plan.record.fields.name.clone(),
        (None, None) => return Err(Problem::field("/what", "say what is to be done, or what is wrong")),
    };
    let opened = Stamp { by: who.person, at: tx.now() };
    let said = new.down_from.map(|at| occurred_at(Some(at), tx.now(), "/down_from")).transpose()?;
    let down = new.breakdown && matches!(subject, Maintained::Machine { .. });
    let order = WorkOrder {
        id: tx.new_id(),
        plan: plan.map(|plan| (plan.record.id, plan.record.code)),
        subject,
        what,
        breakdown: new.breakdown,
        down_from: said.or(down.then_some(opened.at)),
        down_until: None,
        state: WorkOrderState::Open,
        opened,
        started: None,
        ended: None,
        done_at: None,
        note: None,
        touched: None,
        version: 1,
    };
    no_faults(order.check())?;
    work_orders::insert(tx.connection(), &order).map_err(|error| opened_meanwhile(error, &order))?;
    let view = record(tx, who, &order, "dovetally.work_order.opened")?;
    Ok((Done::created(&view, format!("/v1/work-orders/{}", order.id))?, order.id))
}

/// The plan of this code, taken for this transaction: an order may be opened from it.
fn usable_plan(tx: &mut Tx<'_>, code: &Code) -> Result<MaintenancePlan, Problem> {
    let id = resolve(tx.connection(), CodeSubject::MaintenancePlan, code, "/plan")?;
    codes::lock(tx.connection(), id)?;
    let id = MaintenancePlanId::from_uuid(id);
    let plan = maintenance_plans::find(tx.connection(), id)?;
    let plan = plan.ok_or_else(|| Problem::field("/plan", format!("there is no maintenance plan {code}")))?;
    let open_order = work_orders::open_of_plan(tx.connection(), id)?;
    let facts = PlanAtOpening { code: plan.record.code.clone(), retired: plan.record.fields.retired, open_order };
    open_from(&facts).map_err(Problem::refusals)?;
    Ok(plan)
}

/// The one open order of a plan is a constraint too; it says the same as the rule.
fn opened_meanwhile(error: Error, order: &WorkOrder) -> Problem {
    match (&order.plan, error.constraint()) {
        (Some((_, code)), Some(Constraint::OneOpenOrderOfPlan)) => {
            Problem::refusals(vec![plan_order_open(code)]).because(error)
        }
        _ => error.into(),
    }
}

/// Begins the work.
///
/// # Errors
/// 404, 409 when it began or ended before.
pub async fn start(
    guarded: &Guarded<Maintain>,
    options: &WriteOptions,
    id: WorkOrderId,
    body: Json<StartWorkOrder>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    guarded.perform(options, &bytes, move |tx, who| start_in(tx, who, id)).await
}

/// The same inside a transaction.
pub(crate) fn start_in(tx: &mut Tx<'_>, who: &Principal, id: WorkOrderId) -> Result<Done, Problem> {
    let stamp = Stamp { by: who.person, at: tx.now() };
    let order = taken(tx, id)?.start(stamp).map_err(Problem::refusals)?;
    work_orders::update(tx.connection(), &order)?;
    Done::ok(&record(tx, who, &order, "dovetally.work_order.started")?)
}

/// Calls an order off.
///
/// # Errors
/// 404; 409 when it ended before, when the spindle centres of a machine may have moved that is still released; 422 without a
/// reason, or without what work touched that was begun.
pub async fn cancel(
    guarded: &Guarded<Maintain>,
    options: &WriteOptions,
    id: WorkOrderId,
    body: Json<CancelWorkOrder>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| cancel_in(tx, who, id, &body)).await
}

/// The same inside a transaction.
pub(crate) fn cancel_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    id: WorkOrderId,
    body: &CancelWorkOrder,
) -> Result<Done, Problem> {
    // What an order is about never changes: this much may be read before it is taken.
    let machine = on_record(tx.connection(), id)?.subject.machine();
    let guard = machine.map(|machine| machines::take_guard(tx.connection(), machine)).transpose()?;
    let order = taken(tx, id)?;
    no_faults(order.check_cancellation(&body.note, body.touched))?;
    let stamp = Stamp { by: who.person, at: tx.now() };
    let order = order.cancel(body.note.clone(), body.touched, guard.map(|guard| guard.mode), stamp);
    let order = order.map_err(Problem::refusals)?;
    work_orders::update(tx.connection(), &order)?;
    if let Some(machine) = machine {
        note_touched(tx, &order, machine)?;
    }
    Done::ok(&record(tx, who, &order, "dovetally.work_order.cancelled")?)
}

fn on_record(connection: &mut Connection, id: WorkOrderId) -> Result<WorkOrder, Problem> {
    work_orders::find(connection, id)?.ok_or_else(|| Problem::not_found("work order", id))
}

/// An order, taken for this transaction and read as it is then.
fn taken(tx: &mut Tx<'_>, id: WorkOrderId) -> Result<WorkOrder, Problem> {
    work_orders::lock(tx.connection(), id)?;
    on_record(tx.connection(), id)
}

/// Writes an order's change, and shows it.
fn record(tx: &mut Tx<'_>, who: &Principal, order: &WorkOrder, kind: &'static str) -> Result<WorkOrderView, Problem> {
    let view = read::show(tx.connection(), order)?;
    let state = serde_json::to_value(&view).map_err(Problem::internal)?;
    write_change(tx, who, "work_order", kind, order.id.uuid(), order.version, state);
    Ok(view)
}
