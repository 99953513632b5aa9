//! Readiness, kits and bookings.

use crate::{
    app::planning::{bookings, read},
    extract::{IfNoneMatch, Json, NoFields, Query, Reference, Segments, WriteOptions},
    principal::{BookItems, Guarded, Read},
    problem::Problem,
    transport::{
        booking::{Bookings, CancelBookings, NewBookings},
        planning::{JobReadiness, Kit, PlanQuery, ReadinessList, ReadinessQuery},
    },
};
use actix_web::{HttpResponse, get, post};

/// Asks whether a job has what it needs
///
/// What would serve each of its needs, what is missing and why. It is judged beside all other open jobs: an item that
/// two jobs want on the same days is a conflict that both see until one has booked it, and so is an item that a job keeps
/// which runs over. The pieces that are left in a tool are promised once: a job that finds them used up by the jobs
/// before it is told by which.
#[utoipa::path(tag = "planning", security(("bearer" = ["read"])), params(PlanQuery),
    responses((status = 200, description = "How it stands", body = JobReadiness)))]
#[get("/v1/jobs/{code}/readiness")]
async fn get_job_readiness(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    query: Query<PlanQuery>,
) -> Result<HttpResponse, Problem> {
    read::readiness(&guarded, path.into_inner(), query.into_inner()).await
}

/// Asks which jobs can begin
///
/// The open jobs that begin until a day, in the order in which they are planned.
#[utoipa::path(tag = "planning", security(("bearer" = ["read"])), params(ReadinessQuery),
    responses((status = 200, description = "How they stand", body = ReadinessList)))]
#[get("/v1/readiness")]
async fn list_readiness(guarded: Guarded<Read>, query: Query<ReadinessQuery>) -> Result<HttpResponse, Problem> {
    read::list(&guarded, query.into_inner()).await
}

/// Proposes serial numbers for a job
///
/// Those that suffice with the least waste of life, kept for no other job on the same days, with what the jobs before it
/// leave in them. How long an edge is counted on, and what that rests on, stands in `assumptions`.
#[utoipa::path(tag = "planning", security(("bearer" = ["read"])), params(PlanQuery),
    responses((status = 200, description = "The proposal", body = Kit)))]
#[get("/v1/jobs/{code}/kit")]
async fn get_job_kit(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    query: Query<PlanQuery>,
) -> Result<HttpResponse, Problem> {
    read::kit(&guarded, path.into_inner(), query.into_inner()).await
}

/// Lists what is kept for a job
#[utoipa::path(tag = "planning", security(("bearer" = ["read"])),
    responses((status = 200, description = "The bookings in force", body = Bookings)))]
#[get("/v1/jobs/{code}/bookings")]
async fn list_bookings(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    bookings::list(&guarded, path.into_inner(), &condition).await
}

/// Keeps items for a job
///
/// All or none, for every day of the job. With `proposal` everything that the kit proposes now.
#[utoipa::path(tag = "planning", security(("bearer" = ["book-items"])), request_body = NewBookings,
    responses((status = 201, description = "All that is kept for the job now", body = Bookings)))]
#[post("/v1/jobs/{code}/bookings")]
async fn book_items(
    guarded: Guarded<BookItems>,
    options: WriteOptions,
    path: Segments<Reference>,
    body: Json<NewBookings>,
) -> Result<HttpResponse, Problem> {
    bookings::book(&guarded, &options, path.into_inner(), body).await
}

/// Lets items go that were kept for a job
#[utoipa::path(tag = "planning", security(("bearer" = ["book-items"])), request_body = CancelBookings,
    responses((status = 200, description = "The bookings, ended", body = Bookings)))]
#[post("/v1/jobs/{code}/bookings/cancel")]
async fn cancel_bookings(
    guarded: Guarded<BookItems>,
    options: WriteOptions,
    path: Segments<Reference>,
    body: Json<CancelBookings>,
) -> Result<HttpResponse, Problem> {
    bookings::cancel(&guarded, &options, path.into_inner(), body).await
}

/// The routes of planning.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(get_job_readiness)
        .service(list_readiness)
        .service(get_job_kit)
        .service(list_bookings)
        .service(book_items)
        .service(cancel_bookings);
}
