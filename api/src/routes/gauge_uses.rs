//! What was set with which gauge.

use crate::{
    app::gauge_uses,
    page::{Page, PageParameters, Paging},
    principal::{Guarded, Read},
    problem::Problem,
    transport::gauge_use::{GaugeUseFilters, GaugeUseView},
};
use actix_web::{HttpResponse, get};

/// Lists what was set with which gauge, newest first
#[utoipa::path(tag = "gauge-uses", security(("bearer" = ["read"])), params(PageParameters, GaugeUseFilters),
    responses((status = 200, description = "A page of gauge uses", body = Page<GaugeUseView>)))]
#[get("/v1/gauge-uses")]
async fn list_gauge_uses(guarded: Guarded<Read>, paging: Paging<GaugeUseFilters>) -> Result<HttpResponse, Problem> {
    gauge_uses::list(&guarded, paging).await
}

/// The routes of gauge uses.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(list_gauge_uses);
}
