//! Handovers: taking the floor over as it was read, and reading what was taken over.

use super::{
    floor,
    perform::Done,
    registry::{no_faults, write_change},
    setups::names,
};
use crate::{
    conditional::{ETag, answer_read},
    extract::{IfNoneMatch, Json, WriteOptions},
    page::Paging,
    principal::{Guarded, Principal, Read, TakeOver},
    problem::Problem,
    transport::{
        floor::FloorView,
        handover::{HandoverSummary, HandoverView, NewHandover},
        setup::{People, PersonRef, person},
    },
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    handover::{check_note, take_over},
    ids::HandoverId,
};
use dovetally_db::{
    Connection, Tx,
    handovers::{self, Handover},
};

/// Takes the floor over.
///
/// # Errors
/// 409 when it has changed since it was read, 422 for a note that cannot be.
pub async fn accept(
    guarded: &Guarded<TakeOver>,
    options: &WriteOptions,
    body: Json<NewHandover>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let new = body.into_inner();
    guarded
        .perform(options, &bytes, move |tx, who| {
            let view = accept_in(tx, who, &new)?;
            Done::created(&view, format!("/v1/handovers/{}", view.summary.id))
        })
        .await
}

/// The same inside a transaction. What is stored is what was read, for the tags are the same.
pub(crate) fn accept_in(tx: &mut Tx<'_>, who: &Principal, new: &NewHandover) -> Result<HandoverView, Problem> {
    no_faults(check_note(new.note.as_deref()))?;
    let now = tx.now();
    let floor = floor::as_it_stands(tx.connection(), now)?;
    take_over(&new.read, &tag(&floor)?).map_err(Problem::refusals)?;
    let handover = Handover { id: tx.new_id(), taken_by: who.person, taken_at: now, note: new.note.clone() };
    let machines = serde_json::to_value(&floor.machines).map_err(Problem::internal)?;
    handovers::insert(tx.connection(), &handover, &machines)?;
    let (id, by) = (handover.id.uuid(), PersonRef { badge: who.badge.clone(), name: who.name.clone() });
    let view = HandoverView { summary: summary(handover, by), machines: floor.machines };
    let state = serde_json::to_value(&view).map_err(Problem::internal)?;
    write_change(tx, who, "handover", "dovetally.handover.accepted", id, 1, state);
    Ok(view)
}

/// What names a floor as it was read: its entity tag, without the quotation marks.
pub(crate) fn tag(floor: &FloorView) -> Result<String, Problem> {
    Ok(ETag::of_resource(floor)?.opaque().to_owned())
}

/// Reads a handover, with the floor as it stood then.
///
/// # Errors
/// 404 when there is none.
pub async fn get(guarded: &Guarded<Read>, id: HandoverId, condition: &IfNoneMatch) -> Result<HttpResponse, Problem> {
    let view = guarded.database().read(move |connection| on_record(connection, id)).await?;
    answer_read(&view, condition)
}

/// A handover on record.
///
/// # Errors
/// 404 when there is none.
pub(crate) fn on_record(connection: &mut Connection, id: HandoverId) -> Result<HandoverView, Problem> {
    let found = handovers::find(connection, id)?;
    let (handover, machines) = found.ok_or_else(|| Problem::not_found("handover", id))?;
    let people = names(connection, [handover.taken_by])?;
    let by = person(&people, handover.taken_by);
    let machines = serde_json::from_value(machines).map_err(Problem::internal)?;
    Ok(HandoverView { summary: summary(handover, by), machines })
}

/// Handovers, newest first.
///
/// # Errors
/// 400 for another list's cursor.
pub async fn list(guarded: &Guarded<Read>, paging: Paging) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let before: Option<(DateTime<Utc>, HandoverId)> = paging.after()?;
            let rows = handovers::page(connection, before, paging.rows_to_fetch())?;
            let people = names(connection, rows.iter().map(|row| row.taken_by))?;
            let page = paging.page(rows, |row| (row.taken_at, row.id), |row| named(row, &people))?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

/// The last ones.
///
/// # Errors
/// A database error.
pub(crate) fn last(connection: &mut Connection, count: i64) -> Result<Vec<HandoverSummary>, Problem> {
    let rows = handovers::page(connection, None, count)?;
    let people = names(connection, rows.iter().map(|row| row.taken_by))?;
    Ok(rows.into_iter().map(|row| named(row, &people)).collect())
}

fn named(handover: Handover, people: &People) -> HandoverSummary {
    let by = person(people, handover.taken_by);
    summary(handover, by)
}

fn summary(handover: Handover, taken_by: PersonRef) -> HandoverSummary {
    HandoverSummary { id: handover.id.uuid(), taken_by, taken_at: handover.taken_at, note: handover.note }
}
