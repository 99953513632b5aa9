//! Whether the server can do its work. That the process lives is answered elsewhere, without the database.

use crate::{
    conditional::answer_fresh,
    extract::{NoFields, Query},
    open::Open,
    openapi::ProblemSchema,
    problem::Problem,
};
use actix_web::{HttpResponse, get};
use dovetally_db::people;
use serde::Serialize;
use std::time::Duration;
use tokio::time::timeout;
use utoipa::ToSchema;

/// A balancer that asks gives up about then.
const PATIENCE: Duration = Duration::from_secs(3);

/// That the database answers.
#[derive(Serialize, ToSchema)]
struct Ready {
    /// Always `ready`.
    #[schema(example = "ready")]
    status: &'static str,
}

/// Whether the server can do its work now
///
/// It reads from the database. A server that is not ready may become so again by itself: send it no requests, and do not
/// restart it for this.
#[utoipa::path(tag = "operations",
    responses(
        (status = 200, description = "It can.", body = Ready),
        (status = 503, description = "The database does not answer.", body = ProblemSchema,
            content_type = "application/problem+json",
            headers(("Retry-After" = i32, description = "Seconds after which another attempt makes sense."))),
    ))]
#[get("/readyz")]
async fn ready(open: Open, _: Query<NoFields>) -> Result<HttpResponse, Problem> {
    match timeout(PATIENCE, open.service().database().read(people::any)).await {
        Ok(Ok(_)) => Ok(answer_fresh(&Ready { status: "ready" })),
        Ok(Err(error)) => Err(Problem::busy(1).because(error)),
        Err(elapsed) => Err(Problem::busy(1).because(elapsed)),
    }
}

/// The route of readiness.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(ready);
}
