//! Recording and listing checks of form tools.

use super::{Taken, end_edge_with_its_tool, latest, record_view, take};
use crate::{
    app::{
        occurred_at,
        perform::Done,
        registry::{FormTools, design_of, faulty, find, no_faults, record_item, write_change},
    },
    extract::{Json, Reference, WriteOptions},
    page::{Keyed, Paging},
    principal::{CheckTools, Guarded, Principal, Read},
    problem::Problem,
    transport::{
        tool_check::{NewToolCheck, ToolCheckView},
        tool_record::FaceView,
    },
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    ids::ToolCheckId,
    item::Condition,
    life::check::{Checker, check},
    people::Permission,
    registry::tool_design::ToolDesignFields,
};
use dovetally_db::{
    Connection, Tx, form_tools,
    life::{
        checks::{self, ToolCheck},
        regrinds,
    },
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
    let fields = body.fields(&design.fields).map_err(faulty)?;
    no_faults(fields.check(&design.fields))?;
    let performed_at = occurred_at(body.performed_at, tx.now(), "/performed_at")?;
    let (grind, last, latest) = latest(tx.connection(), id)?;
    no_faults(latest.faults(performed_at, "/performed_at"))?;
    no_faults(tool.item.fields.judged_before_blocked(performed_at, "/performed_at"))?;
    let since = regrinds::since_passed(tx.connection(), id)?;
    let checker = Checker { person: who.person, inspects: who.may(Permission::ControlGauges) };
    let on = performed_at.date_naive();
    let checked = check(&life, &design.fields, &since, &fields, checker, on).map_err(Problem::refusals)?;
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
    tool.item.fields.judge(checked.condition, performed_at.min(tx.now()));
    tool.item.version += 1;
    tool.item.updated_at = tx.now();
    form_tools::update(tx.connection(), &tool)?;
    let view = show(tx.connection(), &row, &tool.item.code, &design.fields)?;
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
            let before = paging.after()?;
            let shown = rows(connection, &tool, before, paging.rows_to_fetch())?;
            let page = paging.page(shown, |(key, _)| *key, |(_, view)| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

/// A tool's checks before one, newest first, with their places in the list.
///
/// # Errors
/// 404 for what is no form tool.
pub(crate) fn rows(
    connection: &mut Connection,
    tool: &Reference,
    before: Option<(DateTime<Utc>, ToolCheckId)>,
    limit: i64,
) -> Result<Keyed<(DateTime<Utc>, ToolCheckId), ToolCheckView>, Problem> {
    let tool = find::<FormTools>(connection, tool)?;
    let design = design_of(connection, &tool)?;
    let found = checks::page(connection, tool.item.id, before, limit)?;
    let mut shown = Vec::with_capacity(found.len());
    for row in found {
        shown.push(((row.recorded_at, row.id), show(connection, &row, &tool.item.code, &design.fields)?));
    }
    Ok(shown)
}

fn show(
    connection: &mut Connection,
    check: &ToolCheck,
    tool: &Code,
    design: &ToolDesignFields,
) -> Result<ToolCheckView, Problem> {
    let fields = &check.fields;
    let said = (check.remarks.as_slice(), fields.note.as_ref());
    Ok(ToolCheckView {
        record: record_view(connection, check.id.uuid(), tool, said, (check.recorded_by, check.recorded_at))?,
        face: FaceView {
            profile_checked: fields.profile_checked,
            rake_deg: fields.rake_deg,
            face_offset: fields.face_offset,
        },
        after_grind: check.after_grind,
        accepted: fields.accepted,
        condition: check.condition,
        edge_sound: fields.edge_sound,
        edge_cleared: fields.edge_cleared.clone(),
        height: fields.height,
        usable_angle_deg: fields.height.and_then(|height| design.usable_angle_of(height)),
        found: fields.found.clone(),
        performed_at: check.performed_at,
    })
}
