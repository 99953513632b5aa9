//! Checks of holders: what clears a holder, or blocks it.

use super::{
    occurred_at,
    perform::Done,
    registry::{Holders, find, no_faults, record_item, write_change},
};
use crate::{
    extract::{Json, Reference, WriteOptions},
    page::Paging,
    principal::{CheckHolders, Guarded, Principal, Read},
    problem::Problem,
    transport::holder_check::{HolderCheckView, NewHolderCheck},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    holder,
    ids::{HolderCheckId, ItemId},
};
use dovetally_db::{
    Connection, Tx, codes, custody,
    holders::{self, HolderCheck},
    items, people,
};

/// Records a check.
///
/// # Errors
/// 404 for what is no holder, 409 for an acceptance that what was found speaks against, 422 for what cannot be.
pub async fn record(
    guarded: &Guarded<CheckHolders>,
    options: &WriteOptions,
    holder: Reference,
    body: Json<NewHolderCheck>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| record_in(tx, who, &holder, &body)).await
}

/// The same inside a transaction.
pub(crate) fn record_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    holder: &Reference,
    body: &NewHolderCheck,
) -> Result<Done, Problem> {
    let id = find::<Holders>(tx.connection(), holder)?.item.id;
    codes::lock(tx.connection(), id.uuid())?;
    custody::lock(tx.connection(), &[id])?;
    let mut found = find::<Holders>(tx.connection(), holder)?;
    let mut fields = body.fields(occurred_at(body.performed_at, tx.now(), "/performed_at")?);
    no_faults(fields.check(&found.adjusters, found.check_interval_days))?;
    let last = holders::checks_page(tx.connection(), id, None, 1)?.pop();
    if last.as_ref().is_some_and(|last| fields.performed_at < last.fields.performed_at) {
        // An older finding must not cover a newer one.
        return Err(Problem::field("/performed_at", "lies before the last check on record"));
    }
    no_faults(found.item.fields.judged_before_blocked(fields.performed_at, "/performed_at"))?;
    tx.pause_point("check-read");
    let condition = holder::judge(&found.item.code, found.item.fields.condition, &fields).map_err(Problem::refusals)?;
    if fields.accepted {
        fields.next_check = fields.valid_until(found.check_interval_days);
        found.next_check = fields.next_check;
    }
    let check = HolderCheck {
        id: tx.new_id(),
        holder: id,
        condition,
        recorded_by: who.person,
        recorded_at: last.map_or_else(|| tx.now(), |last| tx.recorded_after(last.recorded_at)),
        fields,
    };
    holders::insert_check(tx.connection(), &check)?;
    found.item.fields.judge(condition, check.fields.performed_at.min(tx.now()));
    found.item.version += 1;
    found.item.updated_at = tx.now();
    holders::update(tx.connection(), &found)?;
    let view = show(tx.connection(), &check)?;
    let state = serde_json::to_value(&view).map_err(Problem::internal)?;
    write_change(tx, who, "holder_check", "dovetally.holder_check.recorded", check.id.uuid(), 1, state);
    record_item(tx, who, id, "dovetally.holder.changed")?;
    Done::created(&view, format!("/v1/holders/{}/checks", found.item.code))
}

/// A holder's checks, newest first.
///
/// # Errors
/// 404 for what is no holder, 400 for another list's cursor.
pub async fn list(guarded: &Guarded<Read>, holder: Reference, paging: Paging) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let holder = find::<Holders>(connection, &holder)?.item.id;
            let before: Option<(DateTime<Utc>, HolderCheckId)> = paging.after()?;
            let rows = holders::checks_page(connection, holder, before, paging.rows_to_fetch())?;
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

/// A holder's last check, if it was ever checked.
///
/// # Errors
/// A database error.
pub(crate) fn last_check(connection: &mut Connection, holder: ItemId) -> Result<Option<HolderCheckView>, Problem> {
    let last = holders::checks_page(connection, holder, None, 1)?.pop();
    last.map(|check| show(connection, &check)).transpose()
}

fn show(connection: &mut Connection, check: &HolderCheck) -> Result<HolderCheckView, Problem> {
    let holder = items::find(connection, check.holder)?;
    let recorded_by = people::find(connection, check.recorded_by)?;
    let fields = &check.fields;
    Ok(HolderCheckView {
        id: check.id.uuid(),
        holder: holder.ok_or_else(|| Problem::not_found("holder", check.holder))?.code,
        accepted: fields.accepted,
        found: fields.found.clone(),
        taper_adjuster_free: fields.taper_adjuster_free,
        height_adjuster_free: fields.height_adjuster_free,
        side_screw_free: fields.side_screw_free,
        seat_clean: fields.seat_clean,
        note: fields.note.clone(),
        condition: check.condition,
        next_check: fields.next_check,
        performed_at: fields.performed_at,
        recorded_by: recorded_by.map(|person| person.badge).unwrap_or_default(),
        recorded_at: check.recorded_at,
    })
}
