//! Custody: hand-outs, returns, transfers, the ledger.

use crate::{
    app::{custody, verification},
    extract::{Json, NoFields, Query, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Audit, Guarded, Move, Read},
    problem::Problem,
    transport::movement::{CheckIn, CheckOut, Moved, MovementFilters, MovementView, Transfer, VerificationView},
};
use actix_web::{HttpResponse, get, post};

/// Hands items out
///
/// All or none. For anyone with `move-for-anyone`, for oneself with `move-for-oneself`. For use, a stale gauge
/// is refused, and where a job is named, a tool that is kept for another part and not lent for the job's.
#[utoipa::path(tag = "custody", security(("bearer" = ["move-for-anyone"]), ("bearer" = ["move-for-oneself"])),
    request_body = CheckOut, responses((status = 201, description = "The movements", body = Moved)))]
#[post("/v1/checkouts")]
async fn check_out(
    guarded: Guarded<Move>,
    options: WriteOptions,
    body: Json<CheckOut>,
) -> Result<HttpResponse, Problem> {
    custody::check_out(&guarded, &options, body).await
}

/// Takes items back
///
/// All or none. For anyone with `move-for-anyone`, for oneself with `move-for-oneself`.
#[utoipa::path(tag = "custody", security(("bearer" = ["move-for-anyone"]), ("bearer" = ["move-for-oneself"])),
    request_body = CheckIn, responses((status = 201, description = "The movements", body = Moved)))]
#[post("/v1/checkins")]
async fn check_in(guarded: Guarded<Move>, options: WriteOptions, body: Json<CheckIn>) -> Result<HttpResponse, Problem> {
    custody::check_in(&guarded, &options, body).await
}

/// Passes items on to a person, place or machine
///
/// All or none. What others hold moves only with `move-for-anyone`.
#[utoipa::path(tag = "custody", security(("bearer" = ["move-for-anyone"]), ("bearer" = ["move-for-oneself"])),
    request_body = Transfer, responses((status = 201, description = "The movements", body = Moved)))]
#[post("/v1/transfers")]
async fn transfer(
    guarded: Guarded<Move>,
    options: WriteOptions,
    body: Json<Transfer>,
) -> Result<HttpResponse, Problem> {
    custody::transfer(&guarded, &options, body).await
}

/// Lists the ledger, newest first
#[utoipa::path(tag = "custody", security(("bearer" = ["read"])), params(PageParameters, MovementFilters),
    responses((status = 200, description = "A page of movements", body = Page<MovementView>)))]
#[get("/v1/movements")]
async fn list_movements(guarded: Guarded<Read>, paging: Paging<MovementFilters>) -> Result<HttpResponse, Problem> {
    custody::list(&guarded, paging).await
}

/// Verifies the chain of changes and holds custody against the ledger
#[utoipa::path(tag = "custody", security(("bearer" = ["audit"])),
    responses((status = 200, description = "What was found", body = VerificationView)))]
#[get("/v1/movements/verify")]
async fn verify_movements(guarded: Guarded<Audit>, _: Query<NoFields>) -> Result<HttpResponse, Problem> {
    verification::verify(&guarded).await
}

/// The routes of custody.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(check_out).service(check_in).service(transfer).service(list_movements).service(verify_movements);
}
