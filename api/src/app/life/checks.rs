//! Recording and listing checks of form tools.

use super::{Taken, end_edge_with_its_tool, take};
use crate::{
    app::{
        occurred_at,
        perform::Done,
        registry::{FormTools, find, no_faults, record_item, write_change},
    },
    extract::{Json, Reference, WriteOptions},
    page::Paging,
    principal::{CheckTools, Guarded, Principal, Read},
    problem::Problem,
    transport::tool_check::{NewToolCheck, ToolCheckView},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{code::Code, ids::ToolCheckId, item::Condition, life::check::check};
use dovetally_db::{
    Connection, Tx, form_tools,
    life::{
        checks::{self, ToolCheck},
        regrinds,
    },
    people,
};

/// Records a check.
///
/// # Errors
/// 404 for what is no form tool, 409 with every refusal, 422 for what cannot be.
pub async fn record(
    guarded: &Guarded<CheckTools>,
    options: &WriteOptions,
    tool: Reference,
    body: Json<NewToolCheck>,
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
    body: &NewToolCheck,
) -> Result<Done, Problem> {
    let Taken { mut tool, design, life } = take(tx, tool)?;
    let id = tool.item.id;
    let fields = body.fields();
    no_faults(fields.check(&design.fields))?;
    let performed_at = occurred_at(body.performed_at, tx.now(), "/performed_at")?;
    let last = checks::page(tx.connection(), id, None, 1)?.pop();
    let grind = regrinds::page(tx.connection(), id, None, 1)?.pop();
    let latest = last.as_ref().map(|last| last.performed_at).max(grind.as_ref().map(|grind| grind.occurred_at));
    if latest.is_some_and(|latest| performed_at < latest) {
        // An older finding must not cover a newer grind.
        return Err(Problem::field("/performed_at", "lies before the last grind or check on record"));
    }
    let since = regrinds::since_passed(tx.connection(), id)?;
    let checked = check(&life, design.fields.kind, &since, &fields, who.person).map_err(Problem::refusals)?;
    let row = ToolCheck {
        id: tx.new_id(),
        tool: id,
        after_grind: grind.map_or(0, |grind| grind.number),
        fields,
        condition: checked.condition,
        remarks: checked.remarks,
        performed_at,
        recorded_by: who.person,
        recorded_at: last.map_or_else(|| tx.now(), |last| tx.recorded_after(last.recorded_at)),
    };
    checks::insert(tx.connection(), &row)?;
    if checked.condition == Condition::Retired {
        end_edge_with_its_tool(tx, id)?;
    }
    tool.height = checked.height;
    tool.checked_after_grind |= checked.passed;
    tool.item.fields.condition = checked.condition;
    tool.item.version += 1;
    tool.item.updated_at = tx.now();
    form_tools::update(tx.connection(), &tool)?;
    let view = show(tx.connection(), &row, &tool.item.code)?;
    let state = serde_json::to_value(&view).map_err(Problem::internal)?;
    write_change(tx, who, "tool_check", "dovetally.tool_check.recorded", row.id.uuid(), 1, state);
    record_item(tx, who, id, "dovetally.form_tool.changed")?;
    Done::created(&view, format!("/v1/form-tools/{}/checks", tool.item.code))
}

/// A tool's checks, newest first.
///
/// # Errors
/// 404 for what is no form tool, 400 for another list's cursor.
pub async fn list(guarded: &Guarded<Read>, tool: Reference, paging: Paging) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let tool = find::<FormTools>(connection, &tool)?;
            let before: Option<(DateTime<Utc>, ToolCheckId)> = paging.after()?;
            let rows = checks::page(connection, tool.item.id, before, paging.rows_to_fetch())?;
            let mut shown = Vec::with_capacity(rows.len());
            for row in rows {
                shown.push(((row.recorded_at, row.id), show(connection, &row, &tool.item.code)?));
            }
            let page = paging.page(shown, |(key, _)| *key, |(_, view)| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

fn show(connection: &mut Connection, check: &ToolCheck, tool: &Code) -> Result<ToolCheckView, Problem> {
    let recorded_by = people::find(connection, check.recorded_by)?;
    let fields = &check.fields;
    Ok(ToolCheckView {
        id: check.id.uuid(),
        tool: tool.clone(),
        after_grind: check.after_grind,
        accepted: fields.accepted,
        condition: check.condition,
        profile_checked: fields.profile_checked,
        edge_sound: fields.edge_sound,
        height: fields.height,
        rake_deg: fields.rake_deg,
        face_offset: fields.face_offset,
        found: fields.found.clone(),
        remarks: check.remarks.clone(),
        note: fields.note.clone(),
        performed_at: check.performed_at,
        recorded_by: recorded_by.map(|person| person.badge).unwrap_or_default(),
        recorded_at: check.recorded_at,
    })
}
