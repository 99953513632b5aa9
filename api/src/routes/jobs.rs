//! Jobs.

use crate::{
    app::registry::{self, JobFilters, Jobs},
    extract::{IfNoneMatch, Json, MergePatch, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Guarded, Read, WriteRegistry},
    problem::Problem,
    transport::job::{JobBody, JobView},
};
use actix_web::{HttpResponse, delete, get, patch, post};

/// Lists jobs by number
#[utoipa::path(tag = "jobs", security(("bearer" = ["read"])), params(PageParameters, JobFilters),
    responses((status = 200, description = "A page of jobs", body = Page<JobView>)))]
#[get("/v1/jobs")]
async fn list_jobs(guarded: Guarded<Read>, paging: Paging<JobFilters>) -> Result<HttpResponse, Problem> {
    registry::list::<Jobs>(&guarded, paging).await
}

/// Puts a job on record
#[utoipa::path(tag = "jobs", security(("bearer" = ["write-registry"])), request_body = JobBody,
    responses((status = 201, description = "The job", body = JobView)))]
#[post("/v1/jobs")]
async fn create_job(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    body: Json<JobBody>,
) -> Result<HttpResponse, Problem> {
    registry::create::<Jobs, _>(&guarded, &options, body).await
}

/// Reads a job
#[utoipa::path(tag = "jobs", security(("bearer" = ["read"])),
    responses((status = 200, description = "The job", body = JobView)))]
#[get("/v1/jobs/{code}")]
async fn get_job(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    registry::get::<Jobs>(&guarded, path.into_inner(), &condition).await
}

/// Changes a job
#[utoipa::path(tag = "jobs", security(("bearer" = ["write-registry"])),
    request_body(content = JobBody, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396)"),
    responses((status = 200, description = "The job as it is now", body = JobView)))]
#[patch("/v1/jobs/{code}")]
async fn change_job(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    registry::change::<Jobs, _>(&guarded, &options, path.into_inner(), patch).await
}

/// Deletes a job that was never used
#[utoipa::path(tag = "jobs", security(("bearer" = ["write-registry"])),
    responses((status = 204, description = "It is gone; its number stays taken")))]
#[delete("/v1/jobs/{code}")]
async fn remove_job(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
) -> Result<HttpResponse, Problem> {
    registry::remove::<Jobs, _>(&guarded, &options, path.into_inner()).await
}

/// The routes of jobs.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(list_jobs).service(create_job).service(get_job).service(change_job).service(remove_job);
}
