//! Gauge control: how checks are decided, how gauges drift, and which machine has which.

use crate::{
    app::{gauge_bindings, gauge_control, gauge_drift},
    extract::{IfNoneMatch, Json, MergePatch, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Administer, ControlGauges, Guarded, Read},
    problem::Problem,
    transport::{
        gauge_check::{GaugeBindingView, Rebinding, ReboundView},
        gauge_control::GaugeControlBody,
        gauge_drift::GaugeDriftView,
    },
};
use actix_web::{HttpResponse, get, patch, post};

/// Reads how checks of gauges are decided
#[utoipa::path(tag = "settings", security(("bearer" = ["read"])),
    responses((status = 200, description = "The choices", body = GaugeControlBody)))]
#[get("/v1/settings/gauge-control")]
async fn get_gauge_control(
    guarded: Guarded<Read>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    gauge_control::get(&guarded, &condition).await
}

/// Changes how checks of gauges are decided
///
/// Checks on record keep the rule by which they were decided.
#[utoipa::path(tag = "settings", security(("bearer" = ["administer"])),
    request_body(content = GaugeControlBody, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396); null takes one away"),
    responses((status = 200, description = "The choices as they are now", body = GaugeControlBody)))]
#[patch("/v1/settings/gauge-control")]
async fn change_gauge_control(
    guarded: Guarded<Administer>,
    options: WriteOptions,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    gauge_control::change(&guarded, &options, patch).await
}

/// Asks how a centre gauge drifts from check to check
///
/// A straight line through what was found, adjustments taken off, the interval to be expected at the next check, and the day
/// on which it reaches a limit.
#[utoipa::path(tag = "center-gauges", security(("bearer" = ["read"])),
    responses((status = 200, description = "The drift, or how many checks are missing", body = GaugeDriftView)))]
#[get("/v1/center-gauges/{code}/drift")]
async fn get_gauge_drift(
    guarded: Guarded<Read>,
    gauge: Segments<Reference>,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    gauge_drift::get(&guarded, gauge.into_inner()).await
}

/// Lists the machines that a centre gauge was bound to, newest first
#[utoipa::path(tag = "center-gauges", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of bindings", body = Page<GaugeBindingView>)))]
#[get("/v1/center-gauges/{code}/bindings")]
async fn list_gauge_bindings(
    guarded: Guarded<Read>,
    gauge: Segments<Reference>,
    paging: Paging,
) -> Result<HttpResponse, Problem> {
    gauge_bindings::list(&guarded, gauge.into_inner(), paging).await
}

/// Gives a centre gauge to another machine
///
/// Only with an accepted check against that machine in the same request, and while nobody relies on the gauge.
#[utoipa::path(tag = "center-gauges", security(("bearer" = ["control-gauges"])), request_body = Rebinding,
    responses((status = 201, description = "The gauge, and the check", body = ReboundView)))]
#[post("/v1/center-gauges/{code}/rebind")]
async fn rebind_gauge(
    guarded: Guarded<ControlGauges>,
    options: WriteOptions,
    gauge: Segments<Reference>,
    body: Json<Rebinding>,
) -> Result<HttpResponse, Problem> {
    gauge_bindings::bind(&guarded, &options, gauge.into_inner(), body).await
}

/// The routes of gauge control.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(get_gauge_control)
        .service(change_gauge_control)
        .service(get_gauge_drift)
        .service(list_gauge_bindings)
        .service(rebind_gauge);
}
