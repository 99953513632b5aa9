//! Tag-outs: placing one withdraws a release in force; clearing the last one gives the machine back.
//!
//! A tag-out always succeeds. It is a record and not a lock: the local lockout rules keep people safe, not this.

use super::{
    perform::Done,
    registry::{resolve, resolve_in_query, write_change},
    setups::{load, store},
};
use crate::{
    conditional::answer_read,
    extract::{IfNoneMatch, Json, WriteOptions},
    page::Paging,
    principal::{ClearTagOut, Guarded, PlaceTagOut, Principal, Read},
    problem::Problem,
    transport::tag_out::{ClearTagOutBody, NewTagOut, TagOutFilters, TagOutView},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    ids::{MachineId, TagOutId},
    setup::decide::tag_out,
};
use dovetally_db::{
    Connection, Tx,
    codes::CodeSubject,
    machines, people, setups,
    tag_outs::{self, Clearing, TagOut, TagOutFilter},
};

/// The most that a page shows.
const MOST: i64 = 200;

/// Places a tag-out.
///
/// # Errors
/// 422 for a machine that is not on record.
pub async fn place(
    guarded: &Guarded<PlaceTagOut>,
    options: &WriteOptions,
    body: Json<NewTagOut>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let new = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| place_in(tx, who, &new)).await
}

/// The same inside a transaction.
pub(crate) fn place_in(tx: &mut Tx<'_>, who: &Principal, new: &NewTagOut) -> Result<Done, Problem> {
    let machine = MachineId::from_uuid(resolve(tx.connection(), CodeSubject::Machine, &new.machine, "/machine")?);
    if new.reason.trim().is_empty() || new.reason.chars().count() > 1000 {
        return Err(Problem::field("/reason", "needs words, at most 1000 characters"));
    }
    machines::take_guard(tx.connection(), machine)?;
    let placed = TagOut {
        id: tx.new_id(),
        machine,
        reason: new.reason.clone(),
        placed_by: who.person,
        placed_at: tx.now(),
        cleared: None,
        version: 1,
    };
    // First the release goes: the machine cannot be both running and tagged out, not even within a transaction.
    if let Some(open) = setups::open_on(tx.connection(), machine)? {
        let loaded = load(tx.connection(), open.id)?;
        tx.pause_point("tag-out-read");
        let decision = tag_out(&loaded.setup, placed.id);
        if !decision.events.is_empty() {
            let now = tx.now();
            store(tx, who, loaded, decision, now)?;
        }
    }
    machines::set_tagged_out(tx.connection(), machine, true)?;
    tag_outs::insert(tx.connection(), &placed)?;
    let view = show(tx.connection(), &placed)?;
    record(tx, who, &placed, &view, "dovetally.tag_out.placed")?;
    Done::created(&view, format!("/v1/tag-outs/{}", placed.id))
}

/// Clears a tag-out.
///
/// # Errors
/// 404, 409 when it was cleared before.
pub async fn clear(
    guarded: &Guarded<ClearTagOut>,
    options: &WriteOptions,
    id: TagOutId,
    body: Json<ClearTagOutBody>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let note = body.into_inner().note;
    guarded.perform(options, &bytes, move |tx, who| clear_in(tx, who, id, note.as_deref())).await
}

/// The same inside a transaction.
pub(crate) fn clear_in(tx: &mut Tx<'_>, who: &Principal, id: TagOutId, note: Option<&str>) -> Result<Done, Problem> {
    if note.is_some_and(|note| note.chars().count() > 1000) {
        return Err(Problem::field("/note", "must have at most 1000 characters"));
    }
    let found = |found: Option<TagOut>| found.ok_or_else(|| Problem::not_found("tag-out", id));
    let machine = found(tag_outs::find(tx.connection(), id)?)?.machine;
    machines::take_guard(tx.connection(), machine)?;
    let mut placed = found(tag_outs::find(tx.connection(), id)?)?;
    if placed.cleared.is_some() {
        return Err(Problem::in_use("this tag-out was cleared before"));
    }
    placed.cleared = Some(Clearing { by: who.person, at: tx.now(), note: note.map(str::to_owned) });
    placed.version += 1;
    tag_outs::update(tx.connection(), &placed)?;
    let tagged_out = !tag_outs::in_force(tx.connection(), machine)?.is_empty();
    machines::set_tagged_out(tx.connection(), machine, tagged_out)?;
    let view = show(tx.connection(), &placed)?;
    record(tx, who, &placed, &view, "dovetally.tag_out.cleared")?;
    Done::ok(&view)
}

/// Reads a tag-out.
///
/// # Errors
/// 404 when there is none.
pub async fn get(guarded: &Guarded<Read>, id: TagOutId, condition: &IfNoneMatch) -> Result<HttpResponse, Problem> {
    let view = guarded.database().read(move |connection| read(connection, id)).await?;
    answer_read(&view, condition)
}

/// One tag-out, as it is answered.
///
/// # Errors
/// 404 when there is none.
pub(crate) fn read(connection: &mut Connection, id: TagOutId) -> Result<TagOutView, Problem> {
    let found = tag_outs::find(connection, id)?.ok_or_else(|| Problem::not_found("tag-out", id))?;
    show(connection, &found)
}

/// The tag-outs in force, the newest first.
///
/// # Errors
/// A database error.
pub(crate) fn in_force(connection: &mut Connection) -> Result<Vec<TagOutView>, Problem> {
    let filter = TagOutFilter { in_force: Some(true), ..TagOutFilter::default() };
    let rows = tag_outs::page(connection, filter, None, MOST)?;
    rows.iter().map(|row| show(connection, row)).collect()
}

/// Tag-outs, newest first.
///
/// # Errors
/// 400 for a filter that names nothing, or another list's cursor.
pub async fn list(guarded: &Guarded<Read>, paging: Paging<TagOutFilters>) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let before: Option<(DateTime<Utc>, TagOutId)> = paging.after()?;
            let machine = paging.filters.machine.as_ref();
            let machine = resolve_in_query(connection, CodeSubject::Machine, machine, "machine")?;
            let filter = TagOutFilter { machine: machine.map(MachineId::from_uuid), in_force: paging.filters.in_force };
            let rows = tag_outs::page(connection, filter, before, paging.rows_to_fetch())?;
            let mut shown = Vec::with_capacity(rows.len());
            for row in rows {
                shown.push(((row.placed_at, row.id), show(connection, &row)?));
            }
            let page = paging.page(shown, |(key, _)| *key, |(_, view)| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

fn show(connection: &mut Connection, placed: &TagOut) -> Result<TagOutView, Problem> {
    let machine = machines::code_of(connection, placed.machine)?;
    let mut name = |id| Ok::<_, Problem>(people::find(connection, id)?.map(|person| person.badge));
    let cleared_by = match &placed.cleared {
        Some(cleared) => name(cleared.by)?,
        None => None,
    };
    Ok(TagOutView {
        id: placed.id.uuid(),
        machine: machine.ok_or_else(|| Problem::not_found("machine", placed.machine))?,
        reason: placed.reason.clone(),
        placed_by: name(placed.placed_by)?.unwrap_or_default(),
        placed_at: placed.placed_at,
        in_force: placed.cleared.is_none(),
        cleared_by,
        cleared_at: placed.cleared.as_ref().map(|cleared| cleared.at),
        note: placed.cleared.as_ref().and_then(|cleared| cleared.note.clone()),
        caution: TagOutView::CAUTION,
    })
}

fn record(
    tx: &mut Tx<'_>,
    who: &Principal,
    placed: &TagOut,
    view: &TagOutView,
    kind: &'static str,
) -> Result<(), Problem> {
    let state = serde_json::to_value(view).map_err(Problem::internal)?;
    write_change(tx, who, "tag_out", kind, placed.id.uuid(), placed.version, state);
    Ok(())
}
