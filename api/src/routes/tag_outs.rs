//! Tag-outs and run permits.

use crate::{
    app::{run_permit, tag_outs},
    extract::{IfNoneMatch, Json, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{ClearTagOut, Guarded, PlaceTagOut, Read},
    problem::Problem,
    transport::{
        run_permit::{PermitQuery, RunPermitView},
        tag_out::{ClearTagOutBody, NewTagOut, TagOutFilters, TagOutView},
    },
};
use actix_web::{HttpRequest, HttpResponse, get, http::header, post};
use dovetally_core::ids::TagOutId;

/// Lists tag-outs, newest first
#[utoipa::path(tag = "tag-outs", security(("bearer" = ["read"])), params(PageParameters, TagOutFilters),
    responses((status = 200, description = "A page of tag-outs", body = Page<TagOutView>)))]
#[get("/v1/tag-outs")]
async fn list_tag_outs(guarded: Guarded<Read>, paging: Paging<TagOutFilters>) -> Result<HttpResponse, Problem> {
    tag_outs::list(&guarded, paging).await
}

/// Places a tag-out on a machine
///
/// It always succeeds and withdraws a release in force. It is a record, not a lock.
#[utoipa::path(tag = "tag-outs", security(("bearer" = ["place-tag-out"])), request_body = NewTagOut,
    responses((status = 201, description = "The tag-out", body = TagOutView)))]
#[post("/v1/tag-outs")]
async fn place_tag_out(
    guarded: Guarded<PlaceTagOut>,
    options: WriteOptions,
    body: Json<NewTagOut>,
) -> Result<HttpResponse, Problem> {
    tag_outs::place(&guarded, &options, body).await
}

/// Reads a tag-out
#[utoipa::path(tag = "tag-outs", security(("bearer" = ["read"])),
    responses((status = 200, description = "The tag-out", body = TagOutView)))]
#[get("/v1/tag-outs/{id}")]
async fn get_tag_out(
    guarded: Guarded<Read>,
    id: Segments<TagOutId>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    tag_outs::get(&guarded, id.into_inner(), &condition).await
}

/// Clears a tag-out
#[utoipa::path(tag = "tag-outs", security(("bearer" = ["clear-tag-out"])), request_body = ClearTagOutBody,
    responses((status = 200, description = "The tag-out, cleared", body = TagOutView)))]
#[post("/v1/tag-outs/{id}/clear")]
async fn clear_tag_out(
    guarded: Guarded<ClearTagOut>,
    options: WriteOptions,
    id: Segments<TagOutId>,
    body: Json<ClearTagOutBody>,
) -> Result<HttpResponse, Problem> {
    tag_outs::clear(&guarded, &options, id.into_inner(), body).await
}

/// Asks whether the records stand against running a machine
///
/// Advice, not a safety function. With `Accept: application/jwt` the same is answered signed.
#[utoipa::path(tag = "setups", security(("bearer" = ["read"])), params(PermitQuery),
    responses((status = 200, description = "The permit, or what stands against it",
        content((RunPermitView = "application/json"), (String = "application/jwt")))))]
#[get("/v1/machines/{code}/run-permit")]
async fn get_run_permit(
    guarded: Guarded<Read>,
    machine: Segments<Reference>,
    query: Query<PermitQuery>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let accept = request.headers().get(header::ACCEPT).and_then(|value| value.to_str().ok()).unwrap_or_default();
    run_permit::judge(&guarded, machine.into_inner(), query.into_inner(), accept.contains("application/jwt")).await
}

/// The routes of tag-outs.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(list_tag_outs)
        .service(place_tag_out)
        .service(get_tag_out)
        .service(clear_tag_out)
        .service(get_run_permit);
}
