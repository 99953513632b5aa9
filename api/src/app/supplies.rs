//! What moves supplies: withdrawals, receipts, counts; and when to order.
//!
//! Each begins by taking the supply's codes, as a change of its record does: so all that happens to one supply follows one
//! after the other, and what is judged on what is on hand still holds when it is stored.

use super::{
    occurred_at,
    perform::Done,
    registry::{Supplies, find, no_faults, resolve, write_change},
    setups::names,
};
use crate::{
    conditional::answer_fresh,
    extract::{Json, Reference, WriteOptions},
    page::Paging,
    principal::{Guarded, KeepSupplies, Principal, Read, WithdrawSupplies},
    problem::Problem,
    transport::{
        setup::{People, person},
        supply::{NewCount, NewReceipt, NewWithdrawal, ReorderQuery, ReorderView, SupplyMovementView},
    },
};
use actix_web::HttpResponse;
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::{
    field_error::FieldErrors,
    ids::{MachineId, WorkOrderId},
    refusal::{Refusal, Rule, Subject, SubjectKind},
    supply::{Demand, MOST, Supply, SupplyMovement, SupplyMovementKind, advise},
};
use dovetally_db::{Connection, Tx, codes, codes::CodeSubject, machines, supplies, work_orders};

/// What a movement carries besides its supply and its change.
#[derive(Clone, Debug, Default)]
pub(crate) struct MovementDetails {
    /// What a count found, and the moment it refers to; the time of recording when left out.
    pub(crate) counted: Option<(i64, Option<DateTime<Utc>>)>,
    /// When it was used, where that is not when it is recorded.
    pub(crate) used_at: Option<DateTime<Utc>>,
    /// For which work order.
    pub(crate) work_order: Option<WorkOrderId>,
    /// For which machine.
    pub(crate) machine: Option<MachineId>,
    /// What is said of it.
    pub(crate) note: Option<String>,
}

/// Withdraws some of a supply.
///
/// # Errors
/// 404 for what is no supply, 409 when there are fewer on hand or the order has ended, 422 for what cannot be.
pub async fn withdraw(
    guarded: &Guarded<WithdrawSupplies>,
    options: &WriteOptions,
    supply: Reference,
    body: Json<NewWithdrawal>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| withdraw_in(tx, who, &supply, &body)).await
}

/// The same inside a transaction.
pub(crate) fn withdraw_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    supply: &Reference,
    body: &NewWithdrawal,
) -> Result<Done, Problem> {
    let supply = taken(tx, supply)?;
    check(body.quantity, "/quantity", 1, body.note.as_deref())?;
    let named = body.machine.as_ref().map(|code| resolve(tx.connection(), CodeSubject::Machine, code, "/machine"));
    let named = named.transpose()?.map(MachineId::from_uuid);
    let (work_order, machine) = match body.work_order {
        None => (None, named),
        Some(id) => {
            let id = WorkOrderId::from_uuid(id);
            work_orders::lock(tx.connection(), id)?;
            let order = work_orders::find(tx.connection(), id)?;
            let order = order.ok_or_else(|| Problem::field("/work_order", format!("there is no work order {id}")))?;
            if order.has_ended() {
                let sentence = format!("The work order on {} is {} already.", order.subject.name(), order.state);
                let refusal = Refusal::new(Rule::WorkOrderEnded, sentence)
                    .clears("Withdraw it without the order, or for another one.")
                    .about(Subject::new(SubjectKind::WorkOrder, id.to_string()));
                return Err(Problem::refusals(vec![refusal]));
            }
            let own = order.subject.machine();
            if named.is_some() && named != own {
                return Err(Problem::field("/machine", "the work order is not on this machine"));
            }
            (Some(id), own)
        }
    };
    let change = supply.withdraw(body.quantity).map_err(Problem::refusals)?;
    let details = MovementDetails { work_order, machine, note: body.note.clone(), ..MovementDetails::default() };
    let movement = append(tx, who, &supply, SupplyMovementKind::Withdrawn, change, details)?;
    created(tx, &supply, &movement)
}

/// Takes a delivery in.
///
/// # Errors
/// 404 for what is no supply, 422 for what cannot be.
pub async fn receive(
    guarded: &Guarded<KeepSupplies>,
    options: &WriteOptions,
    supply: Reference,
    body: Json<NewReceipt>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| receive_in(tx, who, &supply, &body)).await
}

/// The same inside a transaction.
pub(crate) fn receive_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    supply: &Reference,
    body: &NewReceipt,
) -> Result<Done, Problem> {
    let supply = taken(tx, supply)?;
    check(body.quantity, "/quantity", 1, body.note.as_deref())?;
    let change = supply.receive(body.quantity).map_err(|fault| Problem::field(fault.pointer, fault.detail))?;
    let details = MovementDetails { note: body.note.clone(), ..MovementDetails::default() };
    let movement = append(tx, who, &supply, SupplyMovementKind::Received, change, details)?;
    created(tx, &supply, &movement)
}

/// Records a count.
///
/// # Errors
/// 404 for what is no supply, 409 when a later moment was counted or more was withdrawn since than was found, 422 for what
/// cannot be.
pub async fn count(
    guarded: &Guarded<KeepSupplies>,
    options: &WriteOptions,
    supply: Reference,
    body: Json<NewCount>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| count_in(tx, who, &supply, &body)).await
}

/// The same inside a transaction.
pub(crate) fn count_in(tx: &mut Tx<'_>, who: &Principal, supply: &Reference, body: &NewCount) -> Result<Done, Problem> {
    let supply = taken(tx, supply)?;
    check(body.counted, "/counted", 0, body.note.as_deref())?;
    tx.pause_point("supply-read");
    let id = supply.record.id;
    let said = body.counted_at.map(|at| occurred_at(Some(at), tx.now(), "/counted_at")).transpose()?;
    // Not ahead of what is recorded now: what follows in the ledger was not counted.
    let recorded_at = next_instant(tx, &supply)?;
    let counted_at = said.map_or(recorded_at, |at| at.min(recorded_at));
    let since = supplies::since(tx.connection(), id, counted_at)?;
    let change = supply.count(body.counted, counted_at, since).map_err(Problem::refusals)?;
    let details = MovementDetails {
        counted: Some((body.counted, Some(counted_at))),
        note: body.note.clone(),
        ..MovementDetails::default()
    };
    let movement = append(tx, who, &supply, SupplyMovementKind::Counted, change, details)?;
    created(tx, &supply, &movement)
}

/// Takes the supply that a path names for this transaction, and reads it as it is then.
fn taken(tx: &mut Tx<'_>, supply: &Reference) -> Result<Supply, Problem> {
    let id = find::<Supplies>(tx.connection(), supply)?.record.id;
    codes::lock(tx.connection(), id.uuid())?;
    find::<Supplies>(tx.connection(), &Reference::Id(id.uuid()))
}

fn check(quantity: i64, at: &str, least: i64, note: Option<&str>) -> Result<(), Problem> {
    let mut errors = FieldErrors::default();
    errors.require((least..=MOST).contains(&quantity), at, format!("must be {least} to {MOST}"));
    if let Some(note) = note {
        errors.require_text(note, 1000, "/note");
    }
    no_faults(errors.into_vec())
}

/// The instant of the next movement: never at or before the last one.
fn next_instant(tx: &mut Tx<'_>, supply: &Supply) -> Result<DateTime<Utc>, Problem> {
    let last = supplies::last_recorded_at(tx.connection(), supply.record.id)?;
    Ok(last.map_or_else(|| tx.now(), |last| tx.recorded_after(last)))
}

/// Appends a movement of a supply that is locked, and seals it.
///
/// # Errors
/// A constraint when somebody recorded one in between.
pub(crate) fn append(
    tx: &mut Tx<'_>,
    who: &Principal,
    supply: &Supply,
    kind: SupplyMovementKind,
    change: i64,
    details: MovementDetails,
) -> Result<SupplyMovement, Problem> {
    let recorded_at = next_instant(tx, supply)?;
    let counted_at = details.counted.and_then(|(_, at)| at);
    let movement = SupplyMovement {
        id: tx.new_id(),
        supply: supply.record.id,
        number: supply.movements + 1,
        kind,
        change,
        on_hand: supply.on_hand + change,
        counted: details.counted.map(|(counted, _)| counted),
        work_order: details.work_order,
        machine: details.machine,
        note: details.note,
        recorded_by: who.person,
        occurred_at: counted_at.or(details.used_at).map_or(recorded_at, |at| at.min(recorded_at)),
        recorded_at,
    };
    supplies::append(tx.connection(), &movement)?;
    let mut state = serde_json::to_value(&movement).map_err(Problem::internal)?;
    state["code"] = serde_json::to_value(&supply.record.code).map_err(Problem::internal)?;
    let id = movement.id.uuid();
    write_change(tx, who, "supply_movement", "dovetally.supply_movement.recorded", id, 1, state);
    Ok(movement)
}

fn created(tx: &mut Tx<'_>, supply: &Supply, movement: &SupplyMovement) -> Result<Done, Problem> {
    let people = names(tx.connection(), [movement.recorded_by])?;
    let view = show(tx.connection(), supply, movement, &people)?;
    Done::created(&view, format!("/v1/supplies/{}/movements", supply.record.code))
}

fn show(
    connection: &mut Connection,
    supply: &Supply,
    movement: &SupplyMovement,
    people: &People,
) -> Result<SupplyMovementView, Problem> {
    let machine = movement.machine.map(|id| machines::code_of(connection, id)).transpose()?.flatten();
    Ok(SupplyMovementView {
        id: movement.id.uuid(),
        supply: supply.record.code.clone(),
        number: movement.number,
        kind: movement.kind,
        change: movement.change,
        on_hand: movement.on_hand,
        counted: movement.counted,
        work_order: movement.work_order.map(WorkOrderId::uuid),
        machine,
        note: movement.note.clone(),
        recorded_by: person(people, movement.recorded_by),
        occurred_at: movement.occurred_at,
        recorded_at: movement.recorded_at,
    })
}

/// A supply's ledger, newest first.
///
/// # Errors
/// 404 for what is no supply, 400 for another list's cursor.
pub async fn movements(guarded: &Guarded<Read>, supply: Reference, paging: Paging) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let supply = find::<Supplies>(connection, &supply)?;
            let before: Option<i64> = paging.after()?;
            let shown = movements_of(connection, &supply, before, paging.rows_to_fetch())?;
            let page = paging.page(shown, |row| row.number, |row| row)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

/// A supply's movements before one, newest first.
///
/// # Errors
/// A database error.
pub(crate) fn movements_of(
    connection: &mut Connection,
    supply: &Supply,
    before: Option<i64>,
    limit: i64,
) -> Result<Vec<SupplyMovementView>, Problem> {
    let rows = supplies::movements_page(connection, supply.record.id, before, limit)?;
    let people = names(connection, rows.iter().map(|row| row.recorded_by))?;
    rows.iter().map(|row| show(connection, supply, row, &people)).collect()
}

/// The most weeks that a forecast looks back.
const WEEKS: i64 = 52;

/// When to order a supply.
///
/// # Errors
/// 404 for what is no supply, 400 for a service that is none.
pub async fn reorder(guarded: &Guarded<Read>, supply: Reference, query: ReorderQuery) -> Result<HttpResponse, Problem> {
    if !(0.5..=0.9999).contains(&query.service) {
        return Err(Problem::query("service", "must be 0.5 to 0.9999"));
    }
    let now = guarded.database().now();
    let view = guarded
        .database()
        .read(move |connection| {
            let supply = find::<Supplies>(connection, &supply)?;
            reorder_of(connection, &supply, query, now)
        })
        .await?;
    Ok(answer_fresh(&view))
}

/// When to order a supply that was found.
///
/// # Errors
/// 400 for a service that is none.
pub(crate) fn reorder_of(
    connection: &mut Connection,
    supply: &Supply,
    query: ReorderQuery,
    now: DateTime<Utc>,
) -> Result<ReorderView, Problem> {
    let demand = demand(connection, supply, now)?;
    let advice =
        advise(supply, &demand, query.service).map_err(|error| Problem::query("service", error.to_string()))?;
    Ok(ReorderView {
        supply: supply.record.code.clone(),
        on_hand: supply.on_hand,
        minimum: supply.record.fields.minimum,
        below_minimum: supply.is_below_minimum(),
        service: query.service,
        order_now: advice.order_now,
        order_quantity: advice.order_quantity,
        reorder_point: advice.policy.as_ref().map(|policy| policy.reorder_point),
        stock_out_probability: advice.policy.as_ref().map(|policy| policy.stock_out_probability),
        expected_per_week: advice.forecast.as_ref().map(|forecast| forecast.sba),
        weeks: demand.weeks,
        sentence: advice.sentence,
        assumed: advice.assumed,
        history_too_short: advice.too_short,
    })
}

/// What was withdrawn in each whole week up to now, as far back as the supply is on record, at most a year.
fn demand(connection: &mut Connection, supply: &Supply, now: DateTime<Utc>) -> Result<Demand, Problem> {
    let count = (now - supply.record.created_at).num_weeks().clamp(0, WEEKS);
    let mut weeks = vec![0; usize::try_from(count).map_err(Problem::internal)?];
    let from = now - TimeDelta::weeks(count);
    for (at, quantity) in supplies::withdrawn_since(connection, supply.record.id, from)? {
        let week = usize::try_from((at - from).num_weeks()).unwrap_or_default();
        if let Some(week) = weeks.get_mut(week) {
            *week += quantity;
        }
    }
    Ok(Demand { weeks })
}
