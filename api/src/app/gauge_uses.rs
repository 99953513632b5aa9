//! What was set with which gauge.

use super::{as_of::past, registry::resolve_in_query};
use crate::{
    page::Paging,
    principal::{Guarded, Read},
    problem::Problem,
    transport::gauge_use::{GaugeUseFilters, GaugeUseView},
};
use actix_web::HttpResponse;
use dovetally_core::{
    code::Code,
    ids::{ItemId, MachineId},
};
use dovetally_db::{
    Connection, Error,
    codes::CodeSubject,
    gauge_uses::{self, GaugeUseFilter, GaugeUseOnRecord, Place},
    items, machines,
};

/// Gauge uses, newest first.
///
/// # Errors
/// 400 for a filter that names nothing, or another list's cursor; 422 for an instant ahead.
pub async fn list(guarded: &Guarded<Read>, paging: Paging<GaugeUseFilters>) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let in_machine_at = paging.filters.as_of.map(|at| past(at, now)).transpose()?;
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let before: Option<Place> = paging.after()?;
            let filters = &paging.filters;
            let gauge = resolve_in_query(connection, CodeSubject::Item, filters.gauge.as_ref(), "gauge")?;
            let tool = resolve_in_query(connection, CodeSubject::Item, filters.tool.as_ref(), "tool")?;
            let machine = resolve_in_query(connection, CodeSubject::Machine, filters.machine.as_ref(), "machine")?;
            let filter = GaugeUseFilter {
                gauge: gauge.map(ItemId::from_uuid),
                machine: machine.map(MachineId::from_uuid),
                tool: tool.map(ItemId::from_uuid),
                in_machine_at,
            };
            let rows = gauge_uses::page(connection, filter, before, paging.rows_to_fetch())?;
            let mut shown = Vec::with_capacity(rows.len());
            for row in rows {
                shown.push(((row.placed_at, row.setup, row.placed_sequence), show(connection, row)?));
            }
            let page = paging.page(shown, |(key, _)| *key, |(_, view)| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

fn show(connection: &mut Connection, row: GaugeUseOnRecord) -> Result<GaugeUseView, Problem> {
    let machine = machines::code_of(connection, row.machine)?;
    Ok(GaugeUseView {
        setup: row.setup.uuid(),
        placed_sequence: row.placed_sequence,
        gauge: code_of(connection, row.gauge)?,
        machine: machine.ok_or_else(|| Problem::not_found("machine", row.machine))?,
        station: row.station,
        tool: row.tool.map(|tool| code_of(connection, tool)).transpose()?,
        placed_at: row.placed_at,
        removed_at: row.removed_at,
    })
}

fn code_of(connection: &mut Connection, item: ItemId) -> Result<Code, Problem> {
    let found = items::find(connection, item)?;
    Ok(found.ok_or_else(|| Error::unreadable("a gauge use of an item that is not on record"))?.code)
}
