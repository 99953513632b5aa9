//! Giving a gauge to another machine, and the trail of that.

use super::{
    facts::scanned_gauge,
    gauge_checks::{self, apply, judge, record_change, taken},
    impacts,
    perform::Done,
    registry::{CenterGauges, Registered, find, height_is_the_machines, no_faults, record_item, resolve, station_ids},
};
use crate::{
    extract::{Json, Reference, WriteOptions},
    page::Paging,
    principal::{ControlGauges, Guarded, Principal, Read},
    problem::Problem,
    transport::gauge_check::{GaugeBindingView, Rebinding as RebindingBody, ReboundView},
};
use actix_web::HttpResponse;
use dovetally_core::{
    gauge::{
        GaugeMachine,
        rebind::{Rebinding, rebind},
    },
    ids::MachineId,
    registry::item::{CenterGauge, CenterGaugeFields},
};
use dovetally_db::{
    Connection, Tx,
    center_gauges::{self, GaugeBinding},
    codes::CodeSubject,
    gauge_uses::{self, GaugeUseFilter},
    machines, people,
};

/// Gives a gauge to another machine.
///
/// # Errors
/// 404 for what is no centre gauge, 409 with everything that speaks against it, 422 for what cannot be.
pub async fn bind(
    guarded: &Guarded<ControlGauges>,
    options: &WriteOptions,
    gauge: Reference,
    body: Json<RebindingBody>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| bind_in(tx, who, &gauge, &body)).await
}

/// The same inside a transaction.
pub(crate) fn bind_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    gauge: &Reference,
    body: &RebindingBody,
) -> Result<Done, Problem> {
    let before = taken(tx, gauge)?;
    let id = before.item.id;
    let machine = MachineId::from_uuid(resolve(tx.connection(), CodeSubject::Machine, &body.machine, "/machine")?);
    if machine == before.machine {
        return Err(Problem::field("/machine", "the gauge is bound to this machine already"));
    }
    let to = machines::find(tx.connection(), machine)?.ok_or_else(|| Problem::not_found("machine", machine))?;
    if to.record.fields.retired {
        return Err(Problem::field("/machine", "is retired"));
    }
    let stations = station_ids(tx.connection(), machine, &body.stations)?;
    let against = CenterGaugeFields {
        nominal: body.nominal.unwrap_or(before.nominal),
        limits: body.limits.unwrap_or(before.limits),
    };
    no_faults(against.check())?;
    height_is_the_machines(tx.connection(), machine, against.nominal)?;
    let judged = judge(tx, who, &before, &against, machine, &body.check, "/check")?;
    let facts = scanned_gauge(tx.connection(), before.item.code.as_str())?;
    let facts = facts.known().ok_or_else(|| Problem::not_found("centre gauge", &before.item.code))?;
    let uses = GaugeUseFilter { gauge: Some(id), ..GaugeUseFilter::default() };
    let last_use = gauge_uses::page(tx.connection(), uses, None, 1)?.pop();
    rebind(&Rebinding {
        gauge: facts,
        to: &GaugeMachine { machine, code: to.record.code.clone() },
        centers_may_have_moved_at: to.centers_may_have_moved_at,
        accepted: judged.check.accepted,
        checked_at: judged.check.fields.performed_at.min(tx.now()),
        last_used_at: last_use.and_then(|last| last.removed_at),
        who: who.person,
    })
    .map_err(Problem::refusals)?;

    let doubt = judged.doubt(tx, body.check.raise_impact)?;
    let check = judged.check;
    center_gauges::insert_check(tx.connection(), &check)?;
    let mut after = CenterGauge {
        machine,
        machine_code: to.record.code.clone(),
        centers_may_have_moved_at: to.centers_may_have_moved_at,
        stations: body.stations.clone(),
        nominal: against.nominal,
        limits: against.limits,
        ..before.clone()
    };
    apply(tx, &mut after, &check);
    let from = check.recorded_at.max(center_gauges::bound_since(tx.connection(), id)?);
    let binding =
        GaugeBinding { gauge: id, number: 1, machine, from, until: None, by: Some(who.person), check: Some(check.id) };
    center_gauges::rebind(tx.connection(), &after, &stations, binding)?;
    if let Some(doubt) = doubt {
        // What it was found as is a finding about the machine that it comes from.
        impacts::raise(tx, who, &before, doubt)?;
    }
    let check = gauge_checks::show(tx.connection(), &check)?;
    record_change(tx, who, &check)?;
    record_item(tx, who, id, "dovetally.center_gauge.rebound")?;
    let gauge = find::<CenterGauges>(tx.connection(), &Reference::Id(id.uuid()))?;
    let location = format!("/v1/center-gauges/{}/bindings", gauge.item.code);
    let gauge = CenterGauges::view(tx.connection(), &gauge)?;
    Done::created(&ReboundView { gauge, check }, location)
}

/// The machines that a gauge was bound to, newest first.
///
/// # Errors
/// 404 for what is no centre gauge, 400 for another list's cursor.
pub async fn list(guarded: &Guarded<Read>, gauge: Reference, paging: Paging) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let gauge = find::<CenterGauges>(connection, &gauge)?.item.id;
            let before: Option<i32> = paging.after()?;
            let rows = center_gauges::bindings_page(connection, gauge, before, paging.rows_to_fetch())?;
            let mut shown = Vec::with_capacity(rows.len());
            for row in rows {
                shown.push(show(connection, &row)?);
            }
            let page = paging.page(shown, |view| view.number, |view| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

fn show(connection: &mut Connection, binding: &GaugeBinding) -> Result<GaugeBindingView, Problem> {
    let machine = machines::code_of(connection, binding.machine)?;
    let by = match binding.by {
        Some(person) => people::find(connection, person)?.map(|person| person.badge),
        None => None,
    };
    Ok(GaugeBindingView {
        number: binding.number,
        machine: machine.ok_or_else(|| Problem::not_found("machine", binding.machine))?,
        from: binding.from,
        until: binding.until,
        by,
        check: binding.check.map(|check| check.uuid()),
    })
}
