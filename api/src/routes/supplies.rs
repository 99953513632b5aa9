//! Supplies.

use crate::{
    app::{
        registry::{self, Supplies},
        supplies,
    },
    extract::{IfNoneMatch, Json, MergePatch, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Guarded, KeepSupplies, Read, WithdrawSupplies},
    problem::Problem,
    transport::supply::{
        NewCount, NewReceipt, NewWithdrawal, ReorderQuery, ReorderView, SupplyBody, SupplyFilters, SupplyMovementView,
        SupplyView,
    },
};
use actix_web::{HttpResponse, delete, get, patch, post};

/// Lists supplies by code
#[utoipa::path(tag = "supplies", security(("bearer" = ["read"])), params(PageParameters, SupplyFilters),
    responses((status = 200, description = "A page of supplies", body = Page<SupplyView>)))]
#[get("/v1/supplies")]
async fn list_supplies(guarded: Guarded<Read>, paging: Paging<SupplyFilters>) -> Result<HttpResponse, Problem> {
    registry::list::<Supplies>(&guarded, paging).await
}

/// Puts a supply on record, with nothing on hand
#[utoipa::path(tag = "supplies", security(("bearer" = ["keep-supplies"])), request_body = SupplyBody,
    responses((status = 201, description = "The supply", body = SupplyView)))]
#[post("/v1/supplies")]
async fn create_supply(
    guarded: Guarded<KeepSupplies>,
    options: WriteOptions,
    body: Json<SupplyBody>,
) -> Result<HttpResponse, Problem> {
    registry::create::<Supplies, _>(&guarded, &options, body).await
}

/// Reads a supply
#[utoipa::path(tag = "supplies", security(("bearer" = ["read"])),
    responses((status = 200, description = "The supply", body = SupplyView)))]
#[get("/v1/supplies/{code}")]
async fn get_supply(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    registry::get::<Supplies>(&guarded, path.into_inner(), &condition).await
}

/// Changes a supply
#[utoipa::path(tag = "supplies", security(("bearer" = ["keep-supplies"])),
    request_body(content = SupplyBody, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396)"),
    responses((status = 200, description = "The supply as it is now", body = SupplyView)))]
#[patch("/v1/supplies/{code}")]
async fn change_supply(
    guarded: Guarded<KeepSupplies>,
    options: WriteOptions,
    path: Segments<Reference>,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    registry::change::<Supplies, _>(&guarded, &options, path.into_inner(), patch).await
}

/// Deletes a supply that never moved
#[utoipa::path(tag = "supplies", security(("bearer" = ["keep-supplies"])),
    responses((status = 204, description = "It is gone; its code stays taken")))]
#[delete("/v1/supplies/{code}")]
async fn remove_supply(
    guarded: Guarded<KeepSupplies>,
    options: WriteOptions,
    path: Segments<Reference>,
) -> Result<HttpResponse, Problem> {
    registry::remove::<Supplies, _>(&guarded, &options, path.into_inner()).await
}

/// Withdraws some of a supply
#[utoipa::path(tag = "supplies", security(("bearer" = ["keep-supplies"]), ("bearer" = ["maintain"])),
    request_body = NewWithdrawal,
    responses((status = 201, description = "The movement", body = SupplyMovementView)))]
#[post("/v1/supplies/{code}/withdrawals")]
async fn withdraw_supply(
    guarded: Guarded<WithdrawSupplies>,
    options: WriteOptions,
    path: Segments<Reference>,
    body: Json<NewWithdrawal>,
) -> Result<HttpResponse, Problem> {
    supplies::withdraw(&guarded, &options, path.into_inner(), body).await
}

/// Takes a delivery in
#[utoipa::path(tag = "supplies", security(("bearer" = ["keep-supplies"])), request_body = NewReceipt,
    responses((status = 201, description = "The movement", body = SupplyMovementView)))]
#[post("/v1/supplies/{code}/receipts")]
async fn receive_supply(
    guarded: Guarded<KeepSupplies>,
    options: WriteOptions,
    path: Segments<Reference>,
    body: Json<NewReceipt>,
) -> Result<HttpResponse, Problem> {
    supplies::receive(&guarded, &options, path.into_inner(), body).await
}

/// Records what was counted on the shelf
///
/// It corrects what was on hand at the moment of the count; what was withdrawn or received since stays.
#[utoipa::path(tag = "supplies", security(("bearer" = ["keep-supplies"])), request_body = NewCount,
    responses((status = 201, description = "The movement", body = SupplyMovementView)))]
#[post("/v1/supplies/{code}/counts")]
async fn count_supply(
    guarded: Guarded<KeepSupplies>,
    options: WriteOptions,
    path: Segments<Reference>,
    body: Json<NewCount>,
) -> Result<HttpResponse, Problem> {
    supplies::count(&guarded, &options, path.into_inner(), body).await
}

/// Lists a supply's movements, newest first
#[utoipa::path(tag = "supplies", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of movements", body = Page<SupplyMovementView>)))]
#[get("/v1/supplies/{code}/movements")]
async fn list_supply_movements(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    paging: Paging,
) -> Result<HttpResponse, Problem> {
    supplies::movements(&guarded, path.into_inner(), paging).await
}

/// Asks when to order a supply, and how many
///
/// From what was withdrawn week by week. It says what it assumed, and when the history is too short.
#[utoipa::path(tag = "supplies", security(("bearer" = ["read"])), params(ReorderQuery),
    responses((status = 200, description = "The advice", body = ReorderView)))]
#[get("/v1/supplies/{code}/reorder")]
async fn get_reorder_advice(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    query: Query<ReorderQuery>,
) -> Result<HttpResponse, Problem> {
    supplies::reorder(&guarded, path.into_inner(), query.into_inner()).await
}

/// The routes of supplies.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(list_supplies)
        .service(create_supply)
        .service(get_supply)
        .service(change_supply)
        .service(remove_supply)
        .service(withdraw_supply)
        .service(receive_supply)
        .service(count_supply)
        .service(list_supply_movements)
        .service(get_reorder_advice);
}
