//! Items of every kind in one view; items of no kind of their own.

use crate::{
    app::{
        as_of, items,
        registry::{self, OtherItems},
    },
    extract::{IfNoneMatch, Json, MergePatch, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Guarded, Read, WriteRegistry},
    problem::Problem,
    transport::{
        as_of::AsOf,
        item::{ItemChange, ItemFilters, ItemView, NewItem},
        movement::MovementView,
    },
};
use actix_web::{HttpResponse, delete, get, patch, post};

/// Lists items of every kind by code
#[utoipa::path(tag = "items", security(("bearer" = ["read"])), params(PageParameters, ItemFilters),
    responses((status = 200, description = "A page of items of every kind", body = Page<ItemView>)))]
#[get("/v1/items")]
async fn list_items(guarded: Guarded<Read>, paging: Paging<ItemFilters>) -> Result<HttpResponse, Problem> {
    items::list(&guarded, paging).await
}

/// Puts an item of no kind of its own on record
#[utoipa::path(tag = "items", security(("bearer" = ["write-registry"])), request_body = NewItem,
    responses((status = 201, description = "The item", body = ItemView)))]
#[post("/v1/items")]
async fn create_item(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    body: Json<NewItem>,
) -> Result<HttpResponse, Problem> {
    registry::create::<OtherItems, _>(&guarded, &options, body).await
}

/// Reads an item
#[utoipa::path(tag = "items", security(("bearer" = ["read"])), params(AsOf),
    responses((status = 200, description = "The item", body = ItemView)))]
#[get("/v1/items/{code}")]
async fn get_item(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    condition: IfNoneMatch,
    query: Query<AsOf>,
) -> Result<HttpResponse, Problem> {
    as_of::item(&guarded, path.into_inner(), query.as_of, &condition).await
}

/// Changes an item of no kind of its own
#[utoipa::path(tag = "items", security(("bearer" = ["write-registry"])),
    request_body(content = ItemChange, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396)"),
    responses((status = 200, description = "The item as it is now", body = ItemView)))]
#[patch("/v1/items/{code}")]
async fn change_item(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    registry::change::<OtherItems, _>(&guarded, &options, path.into_inner(), patch).await
}

/// Deletes an item of no kind of its own that never moved
#[utoipa::path(tag = "items", security(("bearer" = ["write-registry"])),
    responses((status = 204, description = "It is gone; its code stays taken")))]
#[delete("/v1/items/{code}")]
async fn remove_item(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
) -> Result<HttpResponse, Problem> {
    registry::remove::<OtherItems, _>(&guarded, &options, path.into_inner()).await
}

/// Lists an item's movements, newest first
#[utoipa::path(tag = "items", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of movements", body = Page<MovementView>)))]
#[get("/v1/items/{code}/history")]
async fn list_item_history(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    paging: Paging,
) -> Result<HttpResponse, Problem> {
    items::history(&guarded, path.into_inner(), paging).await
}

/// The routes of items.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(list_items)
        .service(create_item)
        .service(get_item)
        .service(change_item)
        .service(remove_item)
        .service(list_item_history);
}
