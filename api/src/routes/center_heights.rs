//! Measurements of machines' spindle centre heights.

use crate::{
    app::center_heights,
    extract::{Json, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Guarded, Maintain, Read},
    problem::Problem,
    transport::center_height::{CenterHeightBody, CenterHeightView},
};
use actix_web::{HttpResponse, get, post};

/// Lists a machine's spindle centre heights, newest first
#[utoipa::path(tag = "machines", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of measurements", body = Page<CenterHeightView>)))]
#[get("/v1/machines/{code}/center-heights")]
async fn list_center_heights(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    paging: Paging,
) -> Result<HttpResponse, Problem> {
    center_heights::list(&guarded, path.into_inner(), paging).await
}

/// Records a machine's spindle centre height
///
/// After work that can move the spindle centres, and after a height that departs from what was on record before, the
/// machine's centre gauges are stale until they are checked again. Heights further than 0.5 mm from the builder's, and an
/// uncertainty above 0.05 mm, are refused until they are confirmed.
#[utoipa::path(tag = "machines", security(("bearer" = ["maintain"])), request_body = CenterHeightBody,
    responses((status = 201, description = "The measurement", body = CenterHeightView)))]
#[post("/v1/machines/{code}/center-heights")]
async fn record_center_height(
    guarded: Guarded<Maintain>,
    options: WriteOptions,
    path: Segments<Reference>,
    body: Json<CenterHeightBody>,
) -> Result<HttpResponse, Problem> {
    center_heights::record(&guarded, &options, path.into_inner(), body).await
}

/// The routes of spindle centre heights.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(list_center_heights).service(record_center_height);
}
