//! Checks of centre gauges: what makes a gauge usable, or takes it out of use.

use super::{
    occurred_at,
    perform::Done,
    registry::{CenterGauges, find, record_item, write_change},
};
use crate::{
    extract::{Json, Reference, WriteOptions},
    page::Paging,
    principal::{ControlGauges, Guarded, Principal, Read},
    problem::Problem,
    transport::center_gauge::{GaugeCheckView, NewGaugeCheck},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    ids::GaugeCheckId,
    item::Condition,
    registry::item::{CenterGaugeFields, GaugeCheckFields},
};
use dovetally_db::{
    Connection, Tx,
    center_gauges::{self, GaugeCheck},
    codes, custody, machines, people,
};

/// Records a check.
///
/// # Errors
/// 404 for what is no centre gauge, 422 for what cannot be.
pub async fn record(
    guarded: &Guarded<ControlGauges>,
    options: &WriteOptions,
    gauge: Reference,
    body: Json<NewGaugeCheck>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| record_in(tx, who, &gauge, &body)).await
}

/// The same inside a transaction.
pub(crate) fn record_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    gauge: &Reference,
    body: &NewGaugeCheck,
) -> Result<Done, Problem> {
    let id = find::<CenterGauges>(tx.connection(), gauge)?.item.id;
    // Placing a gauge takes the same row: a check and a placing follow each other.
    codes::lock(tx.connection(), id.uuid())?;
    custody::lock(tx.connection(), &[id])?;
    let mut found = find::<CenterGauges>(tx.connection(), gauge)?;
    let fields = GaugeCheckFields {
        as_found: body.as_found,
        as_left: body.as_left,
        standard_uncertainty: body.standard_uncertainty,
        certificate: body.certificate.clone(),
        next_check: body.next_check,
        performed_at: occurred_at(body.performed_at, tx.now(), "/performed_at")?,
    };
    super::registry::no_faults(fields.check())?;
    let last = center_gauges::checks_page(tx.connection(), id, None, 1)?.pop();
    if last.as_ref().is_some_and(|last| fields.performed_at < last.fields.performed_at) {
        // An older finding must not cover a newer one.
        return Err(Problem::field("/performed_at", "lies before the last check on record"));
    }
    let accepted = fields.is_within(&CenterGaugeFields { nominal: found.nominal, limits: found.limits });
    let check = GaugeCheck {
        id: tx.new_id(),
        gauge: id,
        machine: found.machine,
        accepted,
        recorded_by: who.person,
        recorded_at: last.map_or_else(|| tx.now(), |last| tx.recorded_after(last.recorded_at)),
        fields,
    };
    center_gauges::insert_check(tx.connection(), &check)?;
    if accepted {
        // Never ahead of the server: work done in between would not be seen.
        found.last_accepted_check_at = Some(check.fields.performed_at.min(tx.now()));
        found.next_check = Some(check.fields.next_check);
        if found.item.fields.condition == Condition::NeedsCheck {
            found.item.fields.condition = Condition::Usable;
        }
    } else if found.item.fields.condition == Condition::Usable {
        found.item.fields.condition = Condition::NeedsCheck;
    }
    found.item.version += 1;
    found.item.updated_at = tx.now();
    center_gauges::update_record(tx.connection(), &found)?;
    let view = show(tx.connection(), &check)?;
    let state = serde_json::to_value(&view).map_err(Problem::internal)?;
    write_change(tx, who, "gauge_check", "dovetally.gauge_check.recorded", check.id.uuid(), 1, state);
    record_item(tx, who, id, "dovetally.center_gauge.changed")?;
    Done::created(&view, format!("/v1/center-gauges/{}/checks", found.item.code))
}

/// A gauge's checks, newest first.
///
/// # Errors
/// 404 for what is no centre gauge, 400 for another list's cursor.
pub async fn list(guarded: &Guarded<Read>, gauge: Reference, paging: Paging) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let gauge = find::<CenterGauges>(connection, &gauge)?.item.id;
            let before: Option<(DateTime<Utc>, GaugeCheckId)> = paging.after()?;
            let rows = center_gauges::checks_page(connection, gauge, before, paging.rows_to_fetch())?;
            let mut shown = Vec::with_capacity(rows.len());
            for row in rows {
                shown.push(((row.recorded_at, row.id), show(connection, &row)?));
            }
            let page = paging.page(shown, |(key, _)| *key, |(_, view)| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

fn show(connection: &mut Connection, check: &GaugeCheck) -> Result<GaugeCheckView, Problem> {
    let gauge = dovetally_db::items::find(connection, check.gauge)?;
    let machine = machines::code_of(connection, check.machine)?;
    let recorded_by = people::find(connection, check.recorded_by)?;
    let fields = &check.fields;
    Ok(GaugeCheckView {
        id: check.id.uuid(),
        gauge: gauge.ok_or_else(|| Problem::not_found("centre gauge", check.gauge))?.code,
        machine: machine.ok_or_else(|| Problem::not_found("machine", check.machine))?,
        as_found: fields.as_found,
        as_left: fields.as_left,
        standard_uncertainty: fields.standard_uncertainty,
        accepted: check.accepted,
        certificate: fields.certificate.clone(),
        next_check: fields.next_check,
        performed_at: fields.performed_at,
        recorded_by: recorded_by.map(|person| person.badge).unwrap_or_default(),
        recorded_at: check.recorded_at,
    })
}
