//! The gauge question.

use crate::{
    app::gauge_question,
    extract::{Query, Reference, Segments},
    principal::{Guarded, Read},
    problem::Problem,
    transport::gauge_question::{GaugeAnswer, GaugeQuestion},
};
use actix_web::{HttpResponse, get};

/// Asks whether a gauge is the right one for a machine
///
/// Every verdict is answered with 200, also for a code that is not on record. `wrong` outranks `not_usable`, and all
/// that speaks against the gauge is listed. In its bin it is right, and the answer shows where that is; with another
/// person or in another machine it is not.
#[utoipa::path(tag = "machines", security(("bearer" = ["read"])), params(GaugeQuestion),
    responses((status = 200, description = "The verdict", body = GaugeAnswer)))]
#[get("/v1/machines/{code}/gauge-check")]
async fn check_gauge(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    question: Query<GaugeQuestion>,
) -> Result<HttpResponse, Problem> {
    gauge_question::ask(&guarded, path.into_inner(), question.into_inner().gauge).await
}

/// The route of the gauge question.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(check_gauge);
}
