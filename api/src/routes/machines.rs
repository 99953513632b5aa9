//! Machines.

use crate::{
    app::{
        as_of,
        registry::{self, Machines},
    },
    extract::{IfNoneMatch, Json, MergePatch, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Guarded, Read, WriteRegistry},
    problem::Problem,
    transport::{
        as_of::AsOf,
        machine::{MachineBody, MachineView},
    },
};
use actix_web::{HttpResponse, delete, get, patch, post};

/// Lists machines by code
#[utoipa::path(tag = "machines", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of machines", body = Page<MachineView>)))]
#[get("/v1/machines")]
async fn list_machines(guarded: Guarded<Read>, paging: Paging) -> Result<HttpResponse, Problem> {
    registry::list::<Machines>(&guarded, paging).await
}

/// Puts a machine on record
#[utoipa::path(tag = "machines", security(("bearer" = ["write-registry"])), request_body = MachineBody,
    responses((status = 201, description = "The machine", body = MachineView)))]
#[post("/v1/machines")]
async fn create_machine(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    body: Json<MachineBody>,
) -> Result<HttpResponse, Problem> {
    registry::create::<Machines, _>(&guarded, &options, body).await
}

/// Reads a machine
#[utoipa::path(tag = "machines", security(("bearer" = ["read"])), params(AsOf),
    responses((status = 200, description = "The machine", body = MachineView)))]
#[get("/v1/machines/{code}")]
async fn get_machine(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    condition: IfNoneMatch,
    query: Query<AsOf>,
) -> Result<HttpResponse, Problem> {
    as_of::machine(&guarded, path.into_inner(), query.as_of, &condition).await
}

/// Changes a machine
#[utoipa::path(tag = "machines", security(("bearer" = ["write-registry"])),
    request_body(content = MachineBody, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396)"),
    responses((status = 200, description = "The machine as it is now", body = MachineView)))]
#[patch("/v1/machines/{code}")]
async fn change_machine(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    registry::change::<Machines, _>(&guarded, &options, path.into_inner(), patch).await
}

/// Deletes a machine that was never used
#[utoipa::path(tag = "machines", security(("bearer" = ["write-registry"])),
    responses((status = 204, description = "It is gone; its code stays taken")))]
#[delete("/v1/machines/{code}")]
async fn remove_machine(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
) -> Result<HttpResponse, Problem> {
    registry::remove::<Machines, _>(&guarded, &options, path.into_inner()).await
}

/// The routes of machines.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(list_machines)
        .service(create_machine)
        .service(get_machine)
        .service(change_machine)
        .service(remove_machine);
}
