//! Recording, withdrawing and listing owners' consents.

use super::{Taken, take};
use crate::{
    app::{
        perform::Done,
        registry::{FormTools, find, no_faults, resolve, write_change},
    },
    extract::{Json, Reference, WriteOptions},
    page::Paging,
    principal::{Guarded, Principal, Read, WriteRegistry},
    problem::Problem,
    transport::tool_consent::{NewToolConsent, ToolConsentView, WithdrawToolConsent},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    ids::{ItemId, PartId, ToolConsentId},
    life::ownership::ConsentFields,
};
use dovetally_db::{
    Connection, Tx,
    codes::CodeSubject,
    life::ownership::{self, ToolConsent},
    parts, people,
};

/// Records a consent.
///
/// # Errors
/// 404 for what is no form tool, 422 for what cannot be.
pub async fn record(
    guarded: &Guarded<WriteRegistry>,
    options: &WriteOptions,
    tool: Reference,
    body: Json<NewToolConsent>,
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
    body: &NewToolConsent,
) -> Result<Done, Problem> {
    let Taken { tool, .. } = take(tx, tool)?;
    let part = match &body.part {
        Some(code) => Some(PartId::from_uuid(resolve(tx.connection(), CodeSubject::Part, code, "/part")?)),
        None => None,
    };
    let fields = ConsentFields {
        kind: body.kind,
        part,
        given_by: body.given_by.clone(),
        valid_until: body.valid_until,
        note: body.note.clone(),
    };
    no_faults(fields.check(tx.now().date_naive()))?;
    if tool.belonging.owner.is_none() {
        return Err(Problem::field(
            "/kind",
            format!("tool {} is the shop's own: nobody has to consent", tool.item.code),
        ));
    }
    let last = ownership::page(tx.connection(), tool.item.id, None, 1)?.pop();
    let consent = ToolConsent {
        id: tx.new_id(),
        tool: tool.item.id,
        fields,
        recorded_by: who.person,
        recorded_at: last.map_or_else(|| tx.now(), |last| tx.recorded_after(last.recorded_at)),
        withdrawn: None,
        version: 1,
    };
    ownership::insert(tx.connection(), &consent)?;
    let view = show(tx.connection(), &consent, &tool.item.code)?;
    write(tx, who, &consent, &view, "dovetally.tool_consent.recorded")?;
    Done::created(&view, format!("/v1/form-tools/{}/consents", tool.item.code))
}

/// Records that a consent was withdrawn.
///
/// # Errors
/// 404, 409 when it was withdrawn before.
pub async fn withdraw(
    guarded: &Guarded<WriteRegistry>,
    options: &WriteOptions,
    id: ToolConsentId,
    body: Json<WithdrawToolConsent>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    guarded
        .perform(options, &bytes, move |tx, who| {
            let found = |found: Option<ToolConsent>| found.ok_or_else(|| Problem::not_found("consent", id));
            let tool = found(ownership::find(tx.connection(), id)?)?.tool;
            let Taken { tool, .. } = take(tx, &Reference::Id(tool.uuid()))?;
            let mut consent = found(ownership::find(tx.connection(), id)?)?;
            if consent.withdrawn.is_some() {
                return Err(Problem::in_use("this consent was withdrawn before"));
            }
            Done::ok(&end(tx, who, &mut consent, &tool.item.code)?)
        })
        .await
}

/// A consent holds no longer.
fn end(tx: &mut Tx<'_>, who: &Principal, consent: &mut ToolConsent, tool: &Code) -> Result<ToolConsentView, Problem> {
    consent.withdrawn = Some((who.person, tx.now()));
    consent.version += 1;
    ownership::withdraw(tx.connection(), consent)?;
    let view = show(tx.connection(), consent, tool)?;
    write(tx, who, consent, &view, "dovetally.tool_consent.withdrawn")?;
    Ok(view)
}

/// Ends the consents of a tool whose owner changes: they were that owner's to give. The tool's record is taken already, as
/// it is for a consent, so that none is given in between.
///
/// # Errors
/// A database error.
pub(crate) fn end_with_owner(tx: &mut Tx<'_>, who: &Principal, tool: ItemId, code: &Code) -> Result<(), Problem> {
    for mut consent in ownership::open(tx.connection(), tool)? {
        let _ = end(tx, who, &mut consent, code)?;
    }
    Ok(())
}

/// A tool's consents, newest first.
///
/// # Errors
/// 404 for what is no form tool, 400 for another list's cursor.
pub async fn list(guarded: &Guarded<Read>, tool: Reference, paging: Paging) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let tool = find::<FormTools>(connection, &tool)?;
            let before: Option<(DateTime<Utc>, ToolConsentId)> = paging.after()?;
            let rows = ownership::page(connection, tool.item.id, before, paging.rows_to_fetch())?;
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

fn show(connection: &mut Connection, consent: &ToolConsent, tool: &Code) -> Result<ToolConsentView, Problem> {
    let fields = &consent.fields;
    let part = match fields.part {
        Some(part) => parts::find(connection, part)?.map(|part| part.code),
        None => None,
    };
    let mut badge = |id| Ok::<_, Problem>(people::find(connection, id)?.map(|person| person.badge));
    Ok(ToolConsentView {
        id: consent.id.uuid(),
        tool: tool.clone(),
        kind: fields.kind,
        part,
        given_by: fields.given_by.clone(),
        valid_until: fields.valid_until,
        note: fields.note.clone(),
        recorded_by: badge(consent.recorded_by)?.unwrap_or_default(),
        recorded_at: consent.recorded_at,
        withdrawn_by: consent.withdrawn.map(|(by, _)| badge(by)).transpose()?.flatten(),
        withdrawn_at: consent.withdrawn.map(|(_, at)| at),
    })
}

fn write(
    tx: &mut Tx<'_>,
    who: &Principal,
    consent: &ToolConsent,
    view: &ToolConsentView,
    kind: &'static str,
) -> Result<(), Problem> {
    let state = serde_json::to_value(view).map_err(Problem::internal)?;
    write_change(tx, who, "tool_consent", kind, consent.id.uuid(), consent.version, state);
    Ok(())
}
