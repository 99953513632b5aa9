//! Parts.

use crate::{
    app::registry::{self, Parts},
    extract::{IfNoneMatch, Json, MergePatch, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Guarded, Read, WriteRegistry},
    problem::Problem,
    transport::part::{PartBody, PartView},
};
use actix_web::{HttpResponse, delete, get, patch, post};

/// Lists parts by code
#[utoipa::path(tag = "parts", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of parts", body = Page<PartView>)))]
#[get("/v1/parts")]
async fn list_parts(guarded: Guarded<Read>, paging: Paging) -> Result<HttpResponse, Problem> {
    registry::list::<Parts>(&guarded, paging).await
}

/// Puts a part on record
#[utoipa::path(tag = "parts", security(("bearer" = ["write-registry"])), request_body = PartBody,
    responses((status = 201, description = "The part", body = PartView)))]
#[post("/v1/parts")]
async fn create_part(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    body: Json<PartBody>,
) -> Result<HttpResponse, Problem> {
    registry::create::<Parts, _>(&guarded, &options, body).await
}

/// Reads a part
#[utoipa::path(tag = "parts", security(("bearer" = ["read"])),
    responses((status = 200, description = "The part", body = PartView)))]
#[get("/v1/parts/{code}")]
async fn get_part(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    registry::get::<Parts>(&guarded, path.into_inner(), &condition).await
}

/// Changes a part
#[utoipa::path(tag = "parts", security(("bearer" = ["write-registry"])),
    request_body(content = PartBody, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396)"),
    responses((status = 200, description = "The part as it is now", body = PartView)))]
#[patch("/v1/parts/{code}")]
async fn change_part(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    registry::change::<Parts, _>(&guarded, &options, path.into_inner(), patch).await
}

/// Deletes a part that was never used
#[utoipa::path(tag = "parts", security(("bearer" = ["write-registry"])),
    responses((status = 204, description = "It is gone; its code stays taken")))]
#[delete("/v1/parts/{code}")]
async fn remove_part(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
) -> Result<HttpResponse, Problem> {
    registry::remove::<Parts, _>(&guarded, &options, path.into_inner()).await
}

/// The routes of parts.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(list_parts).service(create_part).service(get_part).service(change_part).service(remove_part);
}
