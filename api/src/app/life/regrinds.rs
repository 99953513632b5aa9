//! Recording and listing grinds.

use super::{Taken, latest, record_view, take, turn_over};
use crate::{
    app::{
        custody::{Staff, by_badge},
        occurred,
        perform::Done,
        registry::{FormTools, design_of, faulty, find, no_faults, record_item, write_change},
    },
    extract::{Json, Reference, WriteOptions},
    page::{Keyed, Paging},
    principal::{Grind, Guarded, Principal, Read},
    problem::Problem,
    transport::{
        regrind::{NewRegrind, RegrindView},
        tool_record::FaceView,
    },
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    ids::RegrindId,
    item::Condition,
    life::regrind::{GroundBy, Removal, grind, height_loss},
    people::Permission,
    registry::tool_design::ToolDesignFields,
};
use dovetally_db::{
    Connection, Tx, form_tools,
    life::{
        edges,
        regrinds::{self, Regrind},
    },
    people,
};

/// Records a grind.
///
/// # Errors
/// 404 for what is no form tool, 409 with every refusal, 422 for what cannot be.
pub async fn record(
    guarded: &Guarded<Grind>,
    options: &WriteOptions,
    tool: Reference,
    body: Json<NewRegrind>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| record_in(tx, who, &tool, &body)).await
}

/// The same inside a transaction.
pub(crate) fn record_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    tool: &Reference,
    body: &NewRegrind,
) -> Result<Done, Problem> {
    let Taken { mut tool, design, life } = take(tx, tool)?;
    let id = tool.item.id;
    let ground_by = ground_by(tx.connection(), who, body)?;
    let fields = body.fields(&design.fields, ground_by).map_err(faulty)?;
    no_faults(fields.check(&design.fields))?;
    let occurred_at = occurred(body.occurred_at, tx.now())?;
    let (last, _, latest) = latest(tx.connection(), id)?;
    no_faults(latest.faults(occurred_at, "/occurred_at"))?;
    let before = fields.height_before.unwrap_or(tool.height);
    let loss = match fields.removal {
        Some(removal) => height_loss(&design.fields, removal, before).map_err(faulty)?,
        None => None,
    };
    let on = occurred_at.date_naive();
    let ground = grind(&life, &fields, loss, on).map_err(Problem::refusals)?;
    let regrind = Regrind {
        id: tx.new_id(),
        tool: id,
        number: last.as_ref().map_or(1, |last| last.number + 1),
        fields,
        height_on_record: tool.height,
        height_before: ground.height_before,
        height_after: ground.height_after,
        regrind_count: ground.regrind_count,
        pieces_on_edge: tool.pieces_since_grind,
        retired: ground.condition == Condition::Retired,
        remarks: ground.remarks,
        occurred_at,
        recorded_by: who.person,
        recorded_at: last.map_or_else(|| tx.now(), |last| tx.recorded_after(last.recorded_at)),
    };
    turn_over(tx, id, &tool.item.code)?;
    regrinds::insert(tx.connection(), &regrind)?;
    if let Some(edge) = ground.ended {
        tool.begun_before = false;
        edges::insert(tx.connection(), id, tool.design, edge, regrind.recorded_at)?;
    }
    tool.height = ground.height_after;
    tool.regrind_count = ground.regrind_count;
    tool.pieces_since_grind = ground.pieces_since_grind;
    tool.last_ground_at = Some(occurred_at);
    tool.checked_after_grind = false;
    tool.item.fields.judge(ground.condition, occurred_at.min(tx.now()));
    tool.item.version += 1;
    tool.item.updated_at = tx.now();
    form_tools::update(tx.connection(), &tool)?;
    let view = show(tx.connection(), &regrind, &tool.item.code, &design.fields)?;
    let state = serde_json::to_value(&view).map_err(Problem::internal)?;
    write_change(tx, who, "regrind", "dovetally.regrind.recorded", regrind.id.uuid(), 1, state);
    record_item(tx, who, id, "dovetally.form_tool.changed")?;
    Done::created(&view, format!("/v1/form-tools/{}/regrinds", tool.item.code))
}

/// Who did it: a grinder of the shop says so for the shop; what was done outside, whoever keeps the tools may record too.
fn ground_by(connection: &mut Connection, who: &Principal, body: &NewRegrind) -> Result<GroundBy, Problem> {
    match (&body.ground_outside, &body.ground_by) {
        (Some(_), Some(_)) => Err(Problem::field("/ground_outside", "give it or ground_by, one of the two")),
        (Some(words), None) => Ok(GroundBy::Outside(words.clone())),
        (None, badge) => {
            who.require(Permission::Grind)?;
            let badge = badge.as_ref().filter(|badge| **badge != who.badge);
            let person = badge.map(|badge| by_badge(connection, badge, "/ground_by", Staff::Ever)).transpose()?;
            Ok(GroundBy::Person(person.unwrap_or(who.person)))
        }
    }
}

/// A tool's grinds, newest first.
///
/// # Errors
/// 404 for what is no form tool, 400 for another list's cursor.
pub async fn list(guarded: &Guarded<Read>, tool: Reference, paging: Paging) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let before = paging.after()?;
            let shown = rows(connection, &tool, before, paging.rows_to_fetch())?;
            let page = paging.page(shown, |(key, _)| *key, |(_, view)| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

/// A tool's grinds before one, newest first, with their places in the list.
///
/// # Errors
/// 404 for what is no form tool.
pub(crate) fn rows(
    connection: &mut Connection,
    tool: &Reference,
    before: Option<(DateTime<Utc>, RegrindId)>,
    limit: i64,
) -> Result<Keyed<(DateTime<Utc>, RegrindId), RegrindView>, Problem> {
    let tool = find::<FormTools>(connection, tool)?;
    let design = design_of(connection, &tool)?;
    let found = regrinds::page(connection, tool.item.id, before, limit)?;
    let mut shown = Vec::with_capacity(found.len());
    for row in found {
        shown.push(((row.recorded_at, row.id), show(connection, &row, &tool.item.code, &design.fields)?));
    }
    Ok(shown)
}

fn show(
    connection: &mut Connection,
    regrind: &Regrind,
    tool: &Code,
    design: &ToolDesignFields,
) -> Result<RegrindView, Problem> {
    let fields = &regrind.fields;
    let (ground_by, ground_outside) = match &fields.ground_by {
        GroundBy::Person(person) => (people::find(connection, *person)?.map(|person| person.badge), None),
        GroundBy::Outside(words) => (None, Some(words.clone())),
    };
    let said = (regrind.remarks.as_slice(), fields.note.as_ref());
    let record = record_view(connection, regrind.id.uuid(), tool, said, (regrind.recorded_by, regrind.recorded_at))?;
    let (stock, wear_land, clean_up) = match fields.removal {
        Some(Removal::Stock(stock)) => (Some(stock), None, None),
        Some(Removal::WearLand { width, clean_up }) => (None, Some(width), Some(clean_up)),
        Some(Removal::Down(_)) | None => (None, None, None),
    };
    Ok(RegrindView {
        record,
        face: FaceView {
            profile_checked: fields.profile_checked,
            rake_deg: fields.rake_deg,
            face_offset: fields.face_offset,
        },
        ground_by,
        ground_outside,
        number: regrind.number,
        kind: fields.kind,
        height_on_record: regrind.height_on_record,
        height_before: regrind.height_before,
        height_after: regrind.height_after,
        usable_angle_before_deg: design.usable_angle_of(regrind.height_before),
        usable_angle_deg: design.usable_angle_of(regrind.height_after),
        stock,
        wear_land,
        clean_up,
        regrind_count: regrind.regrind_count,
        pieces_on_edge: regrind.pieces_on_edge,
        edge_ended: fields.edge_ended,
        wheel: fields.wheel.clone(),
        dressed: fields.dressed,
        burn_seen: fields.burn_seen,
        retired: regrind.retired,
        occurred_at: regrind.occurred_at,
        caution: RegrindView::caution_of(regrind.retired || regrind.height_after < design.minimum_height),
    })
}
