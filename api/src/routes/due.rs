//! What is due.

use crate::{
    app::due,
    extract::Query,
    principal::{Guarded, Read},
    problem::Problem,
    transport::due::{DueList, DueQuestion},
};
use actix_web::{HttpResponse, get};

/// Lists everything that is due or overdue, the most urgent first
#[utoipa::path(tag = "due", security(("bearer" = ["read"])), params(DueQuestion),
    responses((status = 200, description = "What is due", body = DueList)))]
#[get("/v1/due")]
async fn list_due(guarded: Guarded<Read>, question: Query<DueQuestion>) -> Result<HttpResponse, Problem> {
    due::list(&guarded, question.into_inner()).await
}

/// The routes of what is due.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(list_due);
}
