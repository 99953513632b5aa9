//! Centre gauges and their checks.

use crate::{
    app::{
        gauge_checks,
        registry::{self, CenterGauges},
    },
    extract::{IfNoneMatch, Json, MergePatch, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{ControlGauges, Guarded, Read, WriteRegistry},
    problem::Problem,
    transport::{
        center_gauge::{CenterGaugeChange, CenterGaugeFilters, CenterGaugeView, NewCenterGauge},
        gauge_check::{GaugeCheckView, NewGaugeCheck},
    },
};
use actix_web::{HttpResponse, delete, get, patch, post};

/// Lists centre gauges by code
#[utoipa::path(tag = "center-gauges", security(("bearer" = ["read"])), params(PageParameters, CenterGaugeFilters),
    responses((status = 200, description = "A page of centre gauges", body = Page<CenterGaugeView>)))]
#[get("/v1/center-gauges")]
async fn list_center_gauges(
    guarded: Guarded<Read>,
    paging: Paging<CenterGaugeFilters>,
) -> Result<HttpResponse, Problem> {
    registry::list::<CenterGauges>(&guarded, paging).await
}

/// Puts a centre gauge on record
#[utoipa::path(tag = "center-gauges", security(("bearer" = ["write-registry"])), request_body = NewCenterGauge,
    responses((status = 201, description = "The centre gauge", body = CenterGaugeView)))]
#[post("/v1/center-gauges")]
async fn create_center_gauge(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    body: Json<NewCenterGauge>,
) -> Result<HttpResponse, Problem> {
    registry::create::<CenterGauges, _>(&guarded, &options, body).await
}

/// Reads a centre gauge
#[utoipa::path(tag = "center-gauges", security(("bearer" = ["read"])),
    responses((status = 200, description = "The centre gauge", body = CenterGaugeView)))]
#[get("/v1/center-gauges/{code}")]
async fn get_center_gauge(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    registry::get::<CenterGauges>(&guarded, path.into_inner(), &condition).await
}

/// Changes a centre gauge
#[utoipa::path(tag = "center-gauges", security(("bearer" = ["write-registry"])),
    request_body(content = CenterGaugeChange, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396)"),
    responses((status = 200, description = "The centre gauge as it is now", body = CenterGaugeView)))]
#[patch("/v1/center-gauges/{code}")]
async fn change_center_gauge(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    registry::change::<CenterGauges, _>(&guarded, &options, path.into_inner(), patch).await
}

/// Deletes a centre gauge that never moved
#[utoipa::path(tag = "center-gauges", security(("bearer" = ["write-registry"])),
    responses((status = 204, description = "It is gone; its code stays taken")))]
#[delete("/v1/center-gauges/{code}")]
async fn remove_center_gauge(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
) -> Result<HttpResponse, Problem> {
    registry::remove::<CenterGauges, _>(&guarded, &options, path.into_inner()).await
}

/// Lists a centre gauge's checks, newest first
#[utoipa::path(tag = "center-gauges", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of checks", body = Page<GaugeCheckView>)))]
#[get("/v1/center-gauges/{code}/checks")]
async fn list_gauge_checks(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    paging: Paging,
) -> Result<HttpResponse, Problem> {
    gauge_checks::list(&guarded, path.into_inner(), paging).await
}

/// Records a check of a centre gauge
///
/// Proved to lie within its limits the gauge may be used until `next_check`; rejected or undecided it is out of use until an
/// accepted check. Found outside its limits it raises an impact document. A height further from nominal than ten widths
/// of the limits, and an uncertainty wider than them or below 0.0001 mm, are refused until they are confirmed.
#[utoipa::path(tag = "center-gauges", security(("bearer" = ["control-gauges"])), request_body = NewGaugeCheck,
    responses((status = 201, description = "The check", body = GaugeCheckView)))]
#[post("/v1/center-gauges/{code}/checks")]
async fn record_gauge_check(
    guarded: Guarded<ControlGauges>,
    options: WriteOptions,
    path: Segments<Reference>,
    body: Json<NewGaugeCheck>,
) -> Result<HttpResponse, Problem> {
    gauge_checks::record(&guarded, &options, path.into_inner(), body).await
}

/// The routes of centre gauges.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(list_center_gauges)
        .service(create_center_gauge)
        .service(get_center_gauge)
        .service(change_center_gauge)
        .service(remove_center_gauge)
        .service(list_gauge_checks)
        .service(record_gauge_check);
}
