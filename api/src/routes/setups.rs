//! Setups and their events.

use crate::{
    app::setups::{self, SetupFilters},
    extract::{IfNoneMatch, Json, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Guarded, Read, RecordEvent, RecordSetup},
    problem::Problem,
    transport::{
        as_of::AsOf,
        last_time::{LastTimeQuestion, LastTimeView},
        setup::{NewSetup, SetupView},
        setup_event::EventBody,
        setup_history::{EventList, SetupSummary},
        wear::{WearQuestion, WearView},
    },
};
use actix_web::{HttpResponse, get, post};
use dovetally_core::ids::SetupId;

/// Lists setups, newest first
#[utoipa::path(tag = "setups", security(("bearer" = ["read"])), params(PageParameters, SetupFilters),
    responses((status = 200, description = "A page of setups", body = Page<SetupSummary>)))]
#[get("/v1/setups")]
async fn list_setups(guarded: Guarded<Read>, paging: Paging<SetupFilters>) -> Result<HttpResponse, Problem> {
    setups::list(&guarded, paging).await
}

/// Opens a setup on a machine
#[utoipa::path(tag = "setups", security(("bearer" = ["record-setup"])), request_body = NewSetup,
    responses((status = 201, description = "The setup, with what may come next and what blocks a release",
        body = SetupView)))]
#[post("/v1/setups")]
async fn open_setup(
    guarded: Guarded<RecordSetup>,
    options: WriteOptions,
    body: Json<NewSetup>,
) -> Result<HttpResponse, Problem> {
    setups::open(&guarded, &options, body).await
}

/// Reads a setup
#[utoipa::path(tag = "setups", security(("bearer" = ["read"])), params(AsOf),
    responses((status = 200, description = "The setup", body = SetupView)))]
#[get("/v1/setups/{id}")]
async fn get_setup(
    guarded: Guarded<Read>,
    id: Segments<SetupId>,
    condition: IfNoneMatch,
    query: Query<AsOf>,
) -> Result<HttpResponse, Problem> {
    setups::get(&guarded, id.into_inner(), query.as_of, &condition).await
}

/// Reads a setup's events in order
#[utoipa::path(tag = "setups", security(("bearer" = ["read"])),
    responses((status = 200, description = "All events", body = EventList)))]
#[get("/v1/setups/{id}/events")]
async fn list_setup_events(
    guarded: Guarded<Read>,
    id: Segments<SetupId>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    setups::events(&guarded, id.into_inner(), &condition).await
}

/// Records an event of a setup
///
/// The permission depends on the kind: `record-setup`, `judge-first-piece` for a first piece, `judge-held-pieces` for
/// what a provisional release made, `close-any-setup` to close somebody else's. A refusal lists every rule that stands against it and stores nothing.
#[utoipa::path(tag = "setups",
    security(("bearer" = ["record-setup"]), ("bearer" = ["judge-first-piece"]), ("bearer" = ["close-any-setup"]),
        ("bearer" = ["judge-held-pieces"])),
    params(("If-Match" = Option<String>, Header, description = "The ETag of the events that were read: if more were recorded \
        since, 412. Never required.")),
    request_body = EventBody,
    responses((status = 201, description = "The setup as it is now", body = SetupView)))]
#[post("/v1/setups/{id}/events")]
async fn record_setup_event(
    guarded: Guarded<RecordEvent>,
    options: WriteOptions,
    id: Segments<SetupId>,
    body: Json<serde_json::Map<String, serde_json::Value>>,
) -> Result<HttpResponse, Problem> {
    setups::append(&guarded, &options, id.into_inner(), body).await
}

/// Reads what the last setups of a part on a machine tell the next one
///
/// Of finished setups only, newest first: at each station what was turned, heights, gaps and first sizes; what went wrong,
/// and every stop with its reason; who, and how long it took from opening to release.
#[utoipa::path(tag = "setups", security(("bearer" = ["read"])), params(LastTimeQuestion),
    responses((status = 200, description = "The last setups; none where the part was never set up there",
        body = LastTimeView)))]
#[get("/v1/machines/{code}/last-time")]
async fn get_last_time(
    guarded: Guarded<Read>,
    machine: Segments<Reference>,
    question: Query<LastTimeQuestion>,
) -> Result<HttpResponse, Problem> {
    setups::last_time(&guarded, machine.into_inner(), question.into_inner()).await
}

/// Reads how sizes drift in a setup, and when a tool wants grinding
///
/// One straight line for each feature and spindle through the sizes since the last setting, with the pieces until it meets
/// a limit and, by the pace of the run, the time of day. Spindles are never mixed. What was assumed is said in `notes`.
/// Advice from what was measured: it replaces no measurement.
#[utoipa::path(tag = "setups", security(("bearer" = ["read"])), params(WearQuestion),
    responses((status = 200, description = "The drift at each station, as far as it is known", body = WearView)))]
#[get("/v1/setups/{id}/wear")]
async fn get_wear(
    guarded: Guarded<Read>,
    id: Segments<SetupId>,
    question: Query<WearQuestion>,
) -> Result<HttpResponse, Problem> {
    setups::wear(&guarded, id.into_inner(), question.into_inner()).await
}

/// The routes of setups.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(list_setups)
        .service(open_setup)
        .service(get_setup)
        .service(list_setup_events)
        .service(record_setup_event)
        .service(get_wear)
        .service(get_last_time);
}
