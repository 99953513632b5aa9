//! Form tools.

use crate::{
    app::registry::{self, FormTools},
    extract::{IfNoneMatch, Json, MergePatch, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Guarded, Read, WriteRegistry},
    problem::Problem,
    transport::form_tool::{FormToolChange, FormToolFilters, FormToolView, NewFormTool},
};
use actix_web::{HttpResponse, delete, get, patch, post};

/// Lists form tools by code
#[utoipa::path(tag = "form-tools", security(("bearer" = ["read"])), params(PageParameters, FormToolFilters),
    responses((status = 200, description = "A page of form tools", body = Page<FormToolView>)))]
#[get("/v1/form-tools")]
async fn list_form_tools(guarded: Guarded<Read>, paging: Paging<FormToolFilters>) -> Result<HttpResponse, Problem> {
    registry::list::<FormTools>(&guarded, paging).await
}

/// Puts a form tool on record
#[utoipa::path(tag = "form-tools", security(("bearer" = ["write-registry"])), request_body = NewFormTool,
    responses((status = 201, description = "The form tool", body = FormToolView)))]
#[post("/v1/form-tools")]
async fn create_form_tool(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    body: Json<NewFormTool>,
) -> Result<HttpResponse, Problem> {
    registry::create::<FormTools, _>(&guarded, &options, body).await
}

/// Reads a form tool
#[utoipa::path(tag = "form-tools", security(("bearer" = ["read"])),
    responses((status = 200, description = "The form tool", body = FormToolView)))]
#[get("/v1/form-tools/{code}")]
async fn get_form_tool(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    registry::get::<FormTools>(&guarded, path.into_inner(), &condition).await
}

/// Changes a form tool
#[utoipa::path(tag = "form-tools", security(("bearer" = ["write-registry"])),
    request_body(content = FormToolChange, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396)"),
    responses((status = 200, description = "The form tool as it is now", body = FormToolView)))]
#[patch("/v1/form-tools/{code}")]
async fn change_form_tool(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    registry::change::<FormTools, _>(&guarded, &options, path.into_inner(), patch).await
}

/// Deletes a form tool that never moved
#[utoipa::path(tag = "form-tools", security(("bearer" = ["write-registry"])),
    responses((status = 204, description = "It is gone; its code stays taken")))]
#[delete("/v1/form-tools/{code}")]
async fn remove_form_tool(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
) -> Result<HttpResponse, Problem> {
    registry::remove::<FormTools, _>(&guarded, &options, path.into_inner()).await
}

/// The routes of form tools.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(list_form_tools)
        .service(create_form_tool)
        .service(get_form_tool)
        .service(change_form_tool)
        .service(remove_form_tool);
}
