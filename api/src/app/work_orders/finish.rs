//! Ending an order as done: its plan begins anew, what it used is withdrawn, and a machine whose spindle centres may have
//! moved says so. All of it or nothing.

use super::{on_record, record, taken};
use crate::{
    app::{
        AHEAD, occurred_at,
        perform::Done,
        registry::{MaintenancePlans, Registered as _, no_faults, resolve, write_change},
        supplies::{MovementDetails, append},
    },
    extract::{Json, WriteOptions},
    principal::{Guarded, Maintain, Principal},
    problem::Problem,
    transport::work_order::{FinishWorkOrder, PartUsed},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    field_error::FieldErrors,
    ids::{MachineId, MaintenancePlanId, SupplyId, WorkOrderId},
    refusal::Refusal,
    supply::{MOST, PartsUsed, Supply, SupplyMovementKind},
    work_order::{Stamp, WorkOrder},
};
use dovetally_db::{
    Tx,
    codes::{self, CodeSubject},
    machines, maintenance_plans,
    supplies::{self, CountedParts},
    work_orders,
};
use std::collections::BTreeSet;
use uuid::Uuid;

/// No work uses more kinds of supplies than this.
const MOST_PARTS: usize = 100;

/// Ends an order as done.
///
/// # Errors
/// 404; 409 when it ended before, when there is less on hand than was used, when the spindle centres of a machine may have
/// moved that is still released; 422 for what cannot be.
pub async fn finish(
    guarded: &Guarded<Maintain>,
    options: &WriteOptions,
    id: WorkOrderId,
    body: Json<FinishWorkOrder>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| finish_in(tx, who, id, &body)).await
}

/// The same inside a transaction.
pub(crate) fn finish_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    id: WorkOrderId,
    body: &FinishWorkOrder,
) -> Result<Done, Problem> {
    // What an order is about and which plan it is of never changes: this much may be read before it is taken.
    let known = on_record(tx.connection(), id)?;
    let parts = parts_named(tx, &body.parts_used)?;
    let mut codes_of: Vec<Uuid> = parts.iter().map(|(supply, _)| supply.uuid()).collect();
    codes_of.extend(known.plan.as_ref().map(|(plan, _)| plan.uuid()));
    codes_of.sort_unstable();
    for id in codes_of {
        codes::lock(tx.connection(), id)?;
    }
    let machine = known.subject.machine();
    let guard = machine.map(|machine| machines::take_guard(tx.connection(), machine)).transpose()?;
    let order = taken(tx, id)?;

    let now = tx.now();
    let completion = body.completion(occurred_at(body.done_at, now, "/done_at")?);
    no_faults(order.check_completion(&completion, now + AHEAD))?;
    let done_at = completion.done_at;
    let finished = order.finish(completion, guard.map(|guard| guard.mode), Stamp { by: who.person, at: now });
    let mut refusals = Vec::new();
    let finished = finished.map_err(|found| refusals.extend(found));
    let used = used(tx, &parts, body.done_at.map(|_| done_at), &mut refusals)?;
    let Ok(order) = finished else { return Err(Problem::refusals(refusals)) };
    if !refusals.is_empty() {
        return Err(Problem::refusals(refusals));
    }
    work_orders::update(tx.connection(), &order)?;
    for (supply, quantity, becomes) in used {
        match becomes {
            PartsUsed::Withdrawn(change) => {
                let used_at = Some(done_at);
                let details = MovementDetails { used_at, work_order: Some(id), machine, ..MovementDetails::default() };
                append(tx, who, &supply, SupplyMovementKind::Withdrawn, change, details)?;
            }
            PartsUsed::Counted(count) => {
                let parts = CountedParts { supply: supply.record.id, quantity, used_at: done_at, count };
                supplies::keep_counted_parts(tx.connection(), id, &parts)?;
            }
        }
    }
    if let Some((plan, _)) = &order.plan {
        begin_anew(tx, who, *plan, done_at)?;
    }
    if let Some(machine) = machine {
        note_touched(tx, &order, machine)?;
    }
    Done::ok(&record(tx, who, &order, "dovetally.work_order.done")?)
}

/// The supplies that a body names, each once.
fn parts_named(tx: &mut Tx<'_>, parts: &[PartUsed]) -> Result<Vec<(SupplyId, i64)>, Problem> {
    let mut errors = FieldErrors::default();
    errors.require(parts.len() <= MOST_PARTS, "/parts_used", format!("at most {MOST_PARTS}"));
    let (mut named, mut seen) = (Vec::with_capacity(parts.len()), BTreeSet::new());
    for (index, part) in parts.iter().enumerate() {
        let at = format!("/parts_used/{index}");
        let id = resolve(tx.connection(), CodeSubject::Supply, &part.supply, &format!("{at}/supply"))?;
        errors.require(seen.insert(id), format!("{at}/supply"), "name each supply once");
        errors.require((1..=MOST).contains(&part.quantity), format!("{at}/quantity"), format!("must be 1 to {MOST}"));
        named.push((SupplyId::from_uuid(id), part.quantity));
    }
    no_faults(errors.into_vec())?;
    Ok(named)
}

/// What becomes of each supply that was used, `used_at` where that was said; what stands against any of them is added to
/// `refusals`.
fn used(
    tx: &mut Tx<'_>,
    parts: &[(SupplyId, i64)],
    used_at: Option<DateTime<Utc>>,
    refusals: &mut Vec<Refusal>,
) -> Result<Vec<(Supply, i64, PartsUsed)>, Problem> {
    let mut used = Vec::with_capacity(parts.len());
    for (id, quantity) in parts {
        let supply = supplies::find(tx.connection(), *id)?.ok_or_else(|| Problem::not_found("supply", id))?;
        let last_count = supplies::last_count(tx.connection(), *id)?;
        match supply.use_parts(*quantity, used_at, last_count) {
            Ok(becomes) => used.push((supply, *quantity, becomes)),
            Err(found) => refusals.extend(found),
        }
    }
    Ok(used)
}

/// The plan counts from when the work was done.
fn begin_anew(
    tx: &mut Tx<'_>,
    who: &Principal,
    plan: MaintenancePlanId,
    done_at: DateTime<Utc>,
) -> Result<(), Problem> {
    let plan = maintenance_plans::find(tx.connection(), plan)?;
    let mut plan = plan.ok_or_else(|| Problem::internal("an order of a plan that is not on record"))?;
    // What was caught up late does not undo what was done since.
    plan.last_done_at = plan.last_done_at.max(Some(done_at));
    plan.record.version += 1;
    plan.record.updated_at = tx.now();
    maintenance_plans::update(tx.connection(), &plan)?;
    let view = MaintenancePlans::view(tx.connection(), &plan)?;
    let state = serde_json::to_value(&view).map_err(Problem::internal)?;
    let (id, version) = (plan.record.id.uuid(), plan.record.version);
    write_change(tx, who, MaintenancePlans::RESOURCE, "dovetally.maintenance_plan.done", id, version, state);
    Ok(())
}

/// After work on carrier or slides nobody knows where the spindle centres are: gauges are stale, heights are read again.
pub(super) fn note_touched(tx: &mut Tx<'_>, order: &WorkOrder, machine: MachineId) -> Result<(), Problem> {
    if !order.touched.is_some_and(|touched| touched.may_move_centers()) {
        return Ok(());
    }
    let now = tx.now();
    Ok(machines::note_centers_moved(tx, machine, now)?)
}
