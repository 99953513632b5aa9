//! Reading setups.

use super::load::{load, load_as_of, names, show, show_as_of};
use crate::{
    app::{as_of::past, registry::resolve_in_query},
    conditional::answer_read,
    extract::IfNoneMatch,
    page::Paging,
    principal::{Guarded, Read},
    problem::Problem,
    transport::setup_history::{EventList, EventView, SetupSummary},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    ids::{MachineId, PartId, SetupId},
};
use dovetally_db::{
    codes::CodeSubject,
    setups::{self, SetupFilter},
};
use serde::Deserialize;
use utoipa::IntoParams;

/// What a list of setups may be narrowed to.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct SetupFilters {
    /// Of this machine.
    #[param(value_type = Option<String>)]
    machine: Option<Code>,
    /// Of this part.
    #[param(value_type = Option<String>)]
    part: Option<Code>,
    /// Only open ones, or only closed ones.
    open: Option<bool>,
}

/// Reads a setup, now or as it stood.
///
/// # Errors
/// 404 when there is none, or was none then; 422 for an instant ahead.
pub async fn get(
    guarded: &Guarded<Read>,
    id: SetupId,
    at: Option<DateTime<Utc>>,
    condition: &IfNoneMatch,
) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let at = at.map(|at| past(at, now)).transpose()?;
    let view = guarded
        .database()
        .read(move |connection| match at {
            None => {
                let loaded = load(connection, id)?;
                show(connection, &loaded, now)
            }
            Some(at) => {
                let loaded = load_as_of(connection, id, at)?;
                show_as_of(connection, &loaded, at)
            }
        })
        .await?;
    answer_read(&view, condition)
}

/// A setup's events in order, unpaged.
///
/// # Errors
/// 404 when there is no such setup.
pub async fn events(guarded: &Guarded<Read>, id: SetupId, condition: &IfNoneMatch) -> Result<HttpResponse, Problem> {
    let list = guarded
        .database()
        .read(move |connection| {
            let loaded = load(connection, id)?;
            event_list(connection, &loaded)
        })
        .await?;
    answer_read(&list, condition)
}

/// The events as they are answered.
pub(super) fn event_list(
    connection: &mut dovetally_db::Connection,
    loaded: &super::Loaded,
) -> Result<EventList, Problem> {
    let people = names(connection, loaded.events.iter().map(|recorded| recorded.by))?;
    let items = loaded.events.iter().map(|recorded| EventView::of(recorded, &people));
    Ok(EventList { items: items.collect::<Result<_, _>>().map_err(Problem::internal)? })
}

/// Setups, newest first.
///
/// # Errors
/// 400 for a filter that names nothing, or another list's cursor.
pub async fn list(guarded: &Guarded<Read>, paging: Paging<SetupFilters>) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let before: Option<(DateTime<Utc>, SetupId)> = paging.after()?;
            let filters = &paging.filters;
            let machine = resolve_in_query(connection, CodeSubject::Machine, filters.machine.as_ref(), "machine")?;
            let part = resolve_in_query(connection, CodeSubject::Part, filters.part.as_ref(), "part")?;
            let filter = SetupFilter {
                machine: machine.map(MachineId::from_uuid),
                part: part.map(PartId::from_uuid),
                open: filters.open,
            };
            let rows = setups::page(connection, filter, before, paging.rows_to_fetch())?;
            let page = paging.page(
                rows,
                |row| (row.opened_at, row.id),
                |row| SetupSummary {
                    id: row.id.uuid(),
                    machine: row.plan.machine_code,
                    part: row.plan.part_code,
                    state: row.state,
                    opened_at: row.opened_at,
                    closed_at: row.closed_at,
                },
            )?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}
