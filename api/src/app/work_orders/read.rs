//! Reading work orders.

use super::on_record;
use crate::{
    app::{registry::resolve_in_query, setups::names},
    conditional::answer_read,
    extract::IfNoneMatch,
    page::Paging,
    principal::{Guarded, Read},
    problem::Problem,
    transport::{
        setup::{People, person},
        work_order::{PartWithdrawn, TagOutInForce, WorkOrderFilters, WorkOrderSummary, WorkOrderView},
    },
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    ids::{ItemId, MachineId, MaintenancePlanId, PersonId, WorkOrderId},
    work_order::WorkOrder,
};
use dovetally_db::{
    Connection,
    codes::CodeSubject,
    maintenance_plans, supplies, tag_outs,
    work_orders::{self, WorkOrderFilter},
};

/// Reads an order.
///
/// # Errors
/// 404 when there is none.
pub async fn get(guarded: &Guarded<Read>, id: WorkOrderId, condition: &IfNoneMatch) -> Result<HttpResponse, Problem> {
    let view = guarded.database().read(move |connection| read(connection, id)).await?;
    answer_read(&view, condition)
}

/// Orders, newest first.
///
/// # Errors
/// 400 for a filter that names nothing, or another list's cursor.
pub async fn list(guarded: &Guarded<Read>, paging: Paging<WorkOrderFilters>) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let before: Option<(DateTime<Utc>, WorkOrderId)> = paging.after()?;
            let filters = &paging.filters;
            let machine = resolve_in_query(connection, CodeSubject::Machine, filters.machine.as_ref(), "machine")?;
            let item = resolve_in_query(connection, CodeSubject::Item, filters.item.as_ref(), "item")?;
            let plan = resolve_in_query(connection, CodeSubject::MaintenancePlan, filters.plan.as_ref(), "plan")?;
            let filter = WorkOrderFilter {
                machine: machine.map(MachineId::from_uuid),
                item: item.map(ItemId::from_uuid),
                plan: plan.map(MaintenancePlanId::from_uuid),
                open: filters.open,
                breakdown: filters.breakdown,
            };
            let rows = work_orders::page(connection, filter, before, paging.rows_to_fetch())?;
            let keys: Vec<_> = rows.iter().map(|row| (row.opened.at, row.id)).collect();
            let shown = keys.into_iter().zip(summaries(connection, &rows)?).collect();
            let page = paging.page(shown, |(key, _)| *key, |(_, view)| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

/// The most orders that a page shows.
const MOST: i64 = 200;

/// The orders that have not ended, the most urgent first.
///
/// # Errors
/// A database error.
pub(crate) fn open_orders(connection: &mut Connection) -> Result<Vec<WorkOrderSummary>, Problem> {
    let filter = WorkOrderFilter { open: Some(true), ..WorkOrderFilter::default() };
    let mut rows = work_orders::page(connection, filter, None, MOST)?;
    rows.sort_by_key(WorkOrder::urgency);
    summaries(connection, &rows)
}

/// The orders that ended of late, the newest first.
///
/// # Errors
/// A database error.
pub(crate) fn ended_orders(connection: &mut Connection, count: i64) -> Result<Vec<WorkOrderSummary>, Problem> {
    let filter = WorkOrderFilter { open: Some(false), ..WorkOrderFilter::default() };
    let rows = work_orders::page(connection, filter, None, count)?;
    summaries(connection, &rows)
}

/// One order, as it is answered.
///
/// # Errors
/// 404 when there is none.
pub(crate) fn read(connection: &mut Connection, id: WorkOrderId) -> Result<WorkOrderView, Problem> {
    let order = on_record(connection, id)?;
    show(connection, &order)
}

fn summaries(connection: &mut Connection, orders: &[WorkOrder]) -> Result<Vec<WorkOrderSummary>, Problem> {
    let people = names(connection, orders.iter().flat_map(people_of))?;
    Ok(orders.iter().map(|order| summary(order, &people)).collect())
}

fn people_of(order: &WorkOrder) -> impl Iterator<Item = PersonId> {
    [Some(order.opened), order.started, order.ended].into_iter().flatten().map(|stamp| stamp.by)
}

fn summary(order: &WorkOrder, people: &People) -> WorkOrderSummary {
    WorkOrderSummary {
        id: order.id.uuid(),
        plan: order.plan.as_ref().map(|(_, code)| code.clone()),
        subject: (&order.subject).into(),
        what: order.what.clone(),
        breakdown: order.breakdown,
        down_from: order.down_from,
        down_until: order.down_until,
        state: order.state,
        opened_by: person(people, order.opened.by),
        opened_at: order.opened.at,
        started_by: order.started.map(|stamp| person(people, stamp.by)),
        started_at: order.started.map(|stamp| stamp.at),
        ended_by: order.ended.map(|stamp| person(people, stamp.by)),
        ended_at: order.ended.map(|stamp| stamp.at),
        done_at: order.done_at,
        note: order.note.clone(),
        touched: order.touched,
    }
}

/// An order as it is answered: with what its plan says, what it used, and the tag-outs in force on its machine.
///
/// # Errors
/// A database error.
pub(super) fn show(connection: &mut Connection, order: &WorkOrder) -> Result<WorkOrderView, Problem> {
    let people = names(connection, people_of(order))?;
    let plan = match &order.plan {
        Some((id, _)) => maintenance_plans::find(connection, *id)?.map(|plan| plan.record.fields),
        None => None,
    };
    let tag_outs = match order.subject.machine() {
        Some(machine) => tag_outs::in_force(connection, machine)?,
        None => Vec::new(),
    };
    let withdrawn = supplies::used_for(connection, order.id)?.into_iter().map(|(supply, moved)| PartWithdrawn {
        supply,
        quantity: -moved.change,
        movement: moved.number,
        seen_by_count: false,
    });
    let counted = supplies::counted_parts_of(connection, order.id)?.into_iter().map(|(supply, parts)| PartWithdrawn {
        supply,
        quantity: parts.quantity,
        movement: parts.count,
        seen_by_count: true,
    });
    let (steps, cautions) = plan.map(|plan| (plan.steps, plan.cautions)).unwrap_or_default();
    Ok(WorkOrderView {
        order: summary(order, &people),
        steps,
        cautions,
        parts_used: withdrawn.chain(counted).collect(),
        tag_outs: tag_outs
            .into_iter()
            .map(|placed| TagOutInForce { id: placed.id.uuid(), reason: placed.reason, placed_at: placed.placed_at })
            .collect(),
        caution: WorkOrderView::CAUTION,
    })
}
