//! How the floor stands, and who took it over.

use crate::{
    app::{floor, handovers},
    extract::{IfNoneMatch, Json, NoFields, Query, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Guarded, Read, TakeOver},
    problem::Problem,
    transport::{
        floor::FloorView,
        handover::{HandoverSummary, HandoverView, NewHandover},
    },
};
use actix_web::{HttpResponse, get, post};
use dovetally_core::ids::HandoverId;

/// Reads how every machine stands, those that need somebody first
///
/// State, open setup, gauges, tag-outs, and whether the records stand against running. Advice, not a safety function.
#[utoipa::path(tag = "handovers", security(("bearer" = ["read"])),
    responses((status = 200, description = "The floor", body = FloorView)))]
#[get("/v1/floor")]
async fn get_floor(
    guarded: Guarded<Read>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    floor::show(&guarded, &condition).await
}

/// Lists handovers, newest first
#[utoipa::path(tag = "handovers", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of handovers", body = Page<HandoverSummary>)))]
#[get("/v1/handovers")]
async fn list_handovers(guarded: Guarded<Read>, paging: Paging) -> Result<HttpResponse, Problem> {
    handovers::list(&guarded, paging).await
}

/// Takes the floor over as it was read
///
/// What was read stays on record. It is refused when anything on the list has changed since.
#[utoipa::path(tag = "handovers", security(("bearer" = ["take-over"])), request_body = NewHandover,
    responses((status = 201, description = "The handover", body = HandoverView)))]
#[post("/v1/handovers")]
async fn take_over(
    guarded: Guarded<TakeOver>,
    options: WriteOptions,
    body: Json<NewHandover>,
) -> Result<HttpResponse, Problem> {
    handovers::accept(&guarded, &options, body).await
}

/// Reads a handover, with the floor as it stood then
#[utoipa::path(tag = "handovers", security(("bearer" = ["read"])),
    responses((status = 200, description = "The handover", body = HandoverView)))]
#[get("/v1/handovers/{id}")]
async fn get_handover(
    guarded: Guarded<Read>,
    id: Segments<HandoverId>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    handovers::get(&guarded, id.into_inner(), &condition).await
}

/// The routes of the floor and of handovers.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(get_floor).service(list_handovers).service(take_over).service(get_handover);
}
