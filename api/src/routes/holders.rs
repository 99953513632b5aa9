//! Holders and their checks.

use crate::{
    app::{
        holder_checks,
        registry::{self, Holders},
    },
    extract::{IfNoneMatch, Json, MergePatch, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{CheckHolders, Guarded, Read, WriteRegistry},
    problem::Problem,
    transport::{
        holder::{HolderChange, HolderFilters, HolderView, NewHolder},
        holder_check::{HolderCheckView, NewHolderCheck},
    },
};
use actix_web::{HttpResponse, delete, get, patch, post};

/// Lists holders by code
#[utoipa::path(tag = "holders", security(("bearer" = ["read"])), params(PageParameters, HolderFilters),
    responses((status = 200, description = "A page of holders", body = Page<HolderView>)))]
#[get("/v1/holders")]
async fn list_holders(guarded: Guarded<Read>, paging: Paging<HolderFilters>) -> Result<HttpResponse, Problem> {
    registry::list::<Holders>(&guarded, paging).await
}

/// Puts a holder on record
#[utoipa::path(tag = "holders", security(("bearer" = ["write-registry"])), request_body = NewHolder,
    responses((status = 201, description = "The holder", body = HolderView)))]
#[post("/v1/holders")]
async fn create_holder(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    body: Json<NewHolder>,
) -> Result<HttpResponse, Problem> {
    registry::create::<Holders, _>(&guarded, &options, body).await
}

/// Reads a holder
#[utoipa::path(tag = "holders", security(("bearer" = ["read"])),
    responses((status = 200, description = "The holder", body = HolderView)))]
#[get("/v1/holders/{code}")]
async fn get_holder(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    registry::get::<Holders>(&guarded, path.into_inner(), &condition).await
}

/// Changes a holder
#[utoipa::path(tag = "holders", security(("bearer" = ["write-registry"])),
    request_body(content = HolderChange, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396)"),
    responses((status = 200, description = "The holder as it is now", body = HolderView)))]
#[patch("/v1/holders/{code}")]
async fn change_holder(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    registry::change::<Holders, _>(&guarded, &options, path.into_inner(), patch).await
}

/// Deletes a holder that never moved
#[utoipa::path(tag = "holders", security(("bearer" = ["write-registry"])),
    responses((status = 204, description = "It is gone; its code stays taken")))]
#[delete("/v1/holders/{code}")]
async fn remove_holder(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
) -> Result<HttpResponse, Problem> {
    registry::remove::<Holders, _>(&guarded, &options, path.into_inner()).await
}

/// Lists a holder's checks, newest first
#[utoipa::path(tag = "holders", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of checks", body = Page<HolderCheckView>)))]
#[get("/v1/holders/{code}/checks")]
async fn list_holder_checks(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    paging: Paging,
) -> Result<HttpResponse, Problem> {
    holder_checks::list(&guarded, path.into_inner(), paging).await
}

/// Records a check of a holder
///
/// Accepted, the holder may be used until `next_check`; otherwise it is blocked until a check clears it.
#[utoipa::path(tag = "holders", security(("bearer" = ["check-holders"])), request_body = NewHolderCheck,
    responses((status = 201, description = "The check", body = HolderCheckView)))]
#[post("/v1/holders/{code}/checks")]
async fn record_holder_check(
    guarded: Guarded<CheckHolders>,
    options: WriteOptions,
    path: Segments<Reference>,
    body: Json<NewHolderCheck>,
) -> Result<HttpResponse, Problem> {
    holder_checks::record(&guarded, &options, path.into_inner(), body).await
}

/// The routes of holders.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(list_holders)
        .service(create_holder)
        .service(get_holder)
        .service(change_holder)
        .service(remove_holder)
        .service(list_holder_checks)
        .service(record_holder_check);
}
