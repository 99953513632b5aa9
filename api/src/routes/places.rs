//! Places.

use crate::{
    app::registry::{self, Places},
    extract::{IfNoneMatch, Json, MergePatch, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Guarded, Read, WriteRegistry},
    problem::Problem,
    transport::place::{PlaceBody, PlaceView},
};
use actix_web::{HttpResponse, delete, get, patch, post};

/// Lists places by code
#[utoipa::path(tag = "places", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of places", body = Page<PlaceView>)))]
#[get("/v1/places")]
async fn list_places(guarded: Guarded<Read>, paging: Paging) -> Result<HttpResponse, Problem> {
    registry::list::<Places>(&guarded, paging).await
}

/// Puts a place on record
#[utoipa::path(tag = "places", security(("bearer" = ["write-registry"])), request_body = PlaceBody,
    responses((status = 201, description = "The place", body = PlaceView)))]
#[post("/v1/places")]
async fn create_place(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    body: Json<PlaceBody>,
) -> Result<HttpResponse, Problem> {
    registry::create::<Places, _>(&guarded, &options, body).await
}

/// Reads a place
#[utoipa::path(tag = "places", security(("bearer" = ["read"])),
    responses((status = 200, description = "The place", body = PlaceView)))]
#[get("/v1/places/{code}")]
async fn get_place(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    registry::get::<Places>(&guarded, path.into_inner(), &condition).await
}

/// Changes a place
#[utoipa::path(tag = "places", security(("bearer" = ["write-registry"])),
    request_body(content = PlaceBody, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396)"),
    responses((status = 200, description = "The place as it is now", body = PlaceView)))]
#[patch("/v1/places/{code}")]
async fn change_place(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    registry::change::<Places, _>(&guarded, &options, path.into_inner(), patch).await
}

/// Deletes a place that was never used
#[utoipa::path(tag = "places", security(("bearer" = ["write-registry"])),
    responses((status = 204, description = "It is gone; its code stays taken")))]
#[delete("/v1/places/{code}")]
async fn remove_place(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
) -> Result<HttpResponse, Problem> {
    registry::remove::<Places, _>(&guarded, &options, path.into_inner()).await
}

/// The routes of places.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(list_places).service(create_place).service(get_place).service(change_place).service(remove_place);
}
