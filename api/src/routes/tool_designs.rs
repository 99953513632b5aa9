//! Tool designs.

use crate::{
    app::registry::{self, ToolDesigns},
    extract::{IfNoneMatch, Json, MergePatch, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Guarded, Read, WriteRegistry},
    problem::Problem,
    transport::tool_design::{ToolDesignBody, ToolDesignView},
};
use actix_web::{HttpResponse, delete, get, patch, post};

/// Lists tool designs by code
#[utoipa::path(tag = "tool-designs", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of tool designs", body = Page<ToolDesignView>)))]
#[get("/v1/tool-designs")]
async fn list_tool_designs(guarded: Guarded<Read>, paging: Paging) -> Result<HttpResponse, Problem> {
    registry::list::<ToolDesigns>(&guarded, paging).await
}

/// Puts a tool design on record
#[utoipa::path(tag = "tool-designs", security(("bearer" = ["write-registry"])), request_body = ToolDesignBody,
    responses((status = 201, description = "The tool design", body = ToolDesignView)))]
#[post("/v1/tool-designs")]
async fn create_tool_design(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    body: Json<ToolDesignBody>,
) -> Result<HttpResponse, Problem> {
    registry::create::<ToolDesigns, _>(&guarded, &options, body).await
}

/// Reads a tool design
#[utoipa::path(tag = "tool-designs", security(("bearer" = ["read"])),
    responses((status = 200, description = "The tool design", body = ToolDesignView)))]
#[get("/v1/tool-designs/{code}")]
async fn get_tool_design(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    registry::get::<ToolDesigns>(&guarded, path.into_inner(), &condition).await
}

/// Changes a tool design
#[utoipa::path(tag = "tool-designs", security(("bearer" = ["write-registry"])),
    request_body(content = ToolDesignBody, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396)"),
    responses((status = 200, description = "The tool design as it is now", body = ToolDesignView)))]
#[patch("/v1/tool-designs/{code}")]
async fn change_tool_design(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    registry::change::<ToolDesigns, _>(&guarded, &options, path.into_inner(), patch).await
}

/// Deletes a tool design that was never used
#[utoipa::path(tag = "tool-designs", security(("bearer" = ["write-registry"])),
    responses((status = 204, description = "It is gone; its code stays taken")))]
#[delete("/v1/tool-designs/{code}")]
async fn remove_tool_design(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
) -> Result<HttpResponse, Problem> {
    registry::remove::<ToolDesigns, _>(&guarded, &options, path.into_inner()).await
}

/// The routes of tool designs.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(list_tool_designs)
        .service(create_tool_design)
        .service(get_tool_design)
        .service(change_tool_design)
        .service(remove_tool_design);
}
