//! Documents of what a gauge has touched.

use crate::{
    app::impacts,
    extract::{IfNoneMatch, Json, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{ControlGauges, Guarded, Read},
    problem::Problem,
    transport::impact::{
        GaugeImpactView, ImpactClosing, ImpactEntryFilters, ImpactEntryView, ImpactFilters, ImpactQuery, ImpactView,
        NewImpact, NewOutcomes,
    },
};
use actix_web::{HttpResponse, get, post};
use dovetally_core::ids::ImpactId;

/// Asks what a gauge has touched since an instant
///
/// Setups in which it was, runs that rest on heights read on it, their jobs, and the tools set with it, each with the events
/// that show it. Computed now; nothing is stored.
#[utoipa::path(tag = "impacts", security(("bearer" = ["read"])), params(ImpactQuery),
    responses((status = 200, description = "What it has touched", body = GaugeImpactView)))]
#[get("/v1/center-gauges/{code}/impact")]
async fn get_gauge_impact(
    guarded: Guarded<Read>,
    gauge: Segments<Reference>,
    query: Query<ImpactQuery>,
) -> Result<HttpResponse, Problem> {
    impacts::preview(&guarded, gauge.into_inner(), query.into_inner()).await
}

/// Lists impact documents, newest first
#[utoipa::path(tag = "impacts", security(("bearer" = ["read"])), params(PageParameters, ImpactFilters),
    responses((status = 200, description = "A page of impact documents", body = Page<ImpactView>)))]
#[get("/v1/impacts")]
async fn list_impacts(guarded: Guarded<Read>, paging: Paging<ImpactFilters>) -> Result<HttpResponse, Problem> {
    impacts::list(&guarded, paging).await
}

/// Raises an impact document by hand
///
/// A check that finds a gauge wrong raises one by itself.
#[utoipa::path(tag = "impacts", security(("bearer" = ["control-gauges"])), request_body = NewImpact,
    responses((status = 201, description = "The document", body = ImpactView)))]
#[post("/v1/impacts")]
async fn raise_impact(
    guarded: Guarded<ControlGauges>,
    options: WriteOptions,
    body: Json<NewImpact>,
) -> Result<HttpResponse, Problem> {
    impacts::raise_by_hand(&guarded, &options, body).await
}

/// Reads an impact document
#[utoipa::path(tag = "impacts", security(("bearer" = ["read"])),
    responses((status = 200, description = "The document", body = ImpactView)))]
#[get("/v1/impacts/{id}")]
async fn get_impact(
    guarded: Guarded<Read>,
    id: Segments<ImpactId>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    impacts::get(&guarded, id.into_inner(), &condition).await
}

/// Lists an impact document's entries, by number
#[utoipa::path(tag = "impacts", security(("bearer" = ["read"])), params(PageParameters, ImpactEntryFilters),
    responses((status = 200, description = "A page of entries", body = Page<ImpactEntryView>)))]
#[get("/v1/impacts/{id}/entries")]
async fn list_impact_entries(
    guarded: Guarded<Read>,
    id: Segments<ImpactId>,
    paging: Paging<ImpactEntryFilters>,
) -> Result<HttpResponse, Problem> {
    impacts::entries(&guarded, id.into_inner(), paging).await
}

/// Says what became of entries of an impact document
///
/// All of them or none. Said again, the later word counts; a run gets its outcome once it has ended.
#[utoipa::path(tag = "impacts", security(("bearer" = ["control-gauges"])), request_body = NewOutcomes,
    responses((status = 200, description = "The document as it is now", body = ImpactView)))]
#[post("/v1/impacts/{id}/outcomes")]
async fn judge_impact_entries(
    guarded: Guarded<ControlGauges>,
    options: WriteOptions,
    id: Segments<ImpactId>,
    body: Json<NewOutcomes>,
) -> Result<HttpResponse, Problem> {
    impacts::judge(&guarded, &options, id.into_inner(), body).await
}

/// Brings an impact document up to date
///
/// Takes up what came since: runs that were released, pieces that were booked. An entry that changed is to be judged again.
#[utoipa::path(tag = "impacts", security(("bearer" = ["control-gauges"])),
    responses((status = 200, description = "The document as it is now", body = ImpactView)))]
#[post("/v1/impacts/{id}/refresh")]
async fn refresh_impact(
    guarded: Guarded<ControlGauges>,
    options: WriteOptions,
    id: Segments<ImpactId>,
) -> Result<HttpResponse, Problem> {
    impacts::bring_up_to_date(&guarded, &options, id.into_inner()).await
}

/// Closes an impact document
///
/// Only when every entry has an outcome and nothing came since.
#[utoipa::path(tag = "impacts", security(("bearer" = ["control-gauges"])), request_body = ImpactClosing,
    responses((status = 200, description = "The document, closed", body = ImpactView)))]
#[post("/v1/impacts/{id}/close")]
async fn close_impact(
    guarded: Guarded<ControlGauges>,
    options: WriteOptions,
    id: Segments<ImpactId>,
    body: Json<ImpactClosing>,
) -> Result<HttpResponse, Problem> {
    impacts::close(&guarded, &options, id.into_inner(), body).await
}

/// The routes of impact documents.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(get_gauge_impact)
        .service(list_impacts)
        .service(raise_impact)
        .service(get_impact)
        .service(list_impact_entries)
        .service(judge_impact_entries)
        .service(refresh_impact)
        .service(close_impact);
}
