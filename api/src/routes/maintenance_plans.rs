//! Maintenance plans.

use crate::{
    app::{
        maintenance_plans,
        registry::{self, MaintenancePlans},
    },
    extract::{IfNoneMatch, Json, MergePatch, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Guarded, Maintain, Read},
    problem::Problem,
    transport::maintenance_plan::{
        MaintenancePlanChange, MaintenancePlanFilters, MaintenancePlanRow, MaintenancePlanView, NewMaintenancePlan,
        StandingView,
    },
};
use actix_web::{HttpResponse, delete, get, patch, post};

/// Lists maintenance plans by code, each with how it stands
#[utoipa::path(tag = "maintenance-plans", security(("bearer" = ["read"])),
    params(PageParameters, MaintenancePlanFilters),
    responses((status = 200, description = "A page of plans", body = Page<MaintenancePlanRow>)))]
#[get("/v1/maintenance-plans")]
async fn list_maintenance_plans(
    guarded: Guarded<Read>,
    paging: Paging<MaintenancePlanFilters>,
) -> Result<HttpResponse, Problem> {
    maintenance_plans::list(&guarded, paging).await
}

/// Puts a maintenance plan on record
#[utoipa::path(tag = "maintenance-plans", security(("bearer" = ["maintain"])), request_body = NewMaintenancePlan,
    responses((status = 201, description = "The plan", body = MaintenancePlanView)))]
#[post("/v1/maintenance-plans")]
async fn create_maintenance_plan(
    guarded: Guarded<Maintain>,
    options: WriteOptions,
    body: Json<NewMaintenancePlan>,
) -> Result<HttpResponse, Problem> {
    registry::create::<MaintenancePlans, _>(&guarded, &options, body).await
}

/// Reads a maintenance plan
#[utoipa::path(tag = "maintenance-plans", security(("bearer" = ["read"])),
    responses((status = 200, description = "The plan", body = MaintenancePlanView)))]
#[get("/v1/maintenance-plans/{code}")]
async fn get_maintenance_plan(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    registry::get::<MaintenancePlans>(&guarded, path.into_inner(), &condition).await
}

/// Changes a maintenance plan, or retires it
///
/// What it is about stays; `retired` takes it out of use.
#[utoipa::path(tag = "maintenance-plans", security(("bearer" = ["maintain"])),
    request_body(content = MaintenancePlanChange, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396)"),
    responses((status = 200, description = "The plan as it is now", body = MaintenancePlanView)))]
#[patch("/v1/maintenance-plans/{code}")]
async fn change_maintenance_plan(
    guarded: Guarded<Maintain>,
    options: WriteOptions,
    path: Segments<Reference>,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    registry::change::<MaintenancePlans, _>(&guarded, &options, path.into_inner(), patch).await
}

/// Deletes a maintenance plan from which no order was ever opened
#[utoipa::path(tag = "maintenance-plans", security(("bearer" = ["maintain"])),
    responses((status = 204, description = "It is gone; its code stays taken")))]
#[delete("/v1/maintenance-plans/{code}")]
async fn remove_maintenance_plan(
    guarded: Guarded<Maintain>,
    options: WriteOptions,
    path: Segments<Reference>,
) -> Result<HttpResponse, Problem> {
    registry::remove::<MaintenancePlans, _>(&guarded, &options, path.into_inner()).await
}

/// Asks how a maintenance plan stands now
///
/// What was used of each interval since it was last done, and the day on which the first runs out at the rate of late.
#[utoipa::path(tag = "maintenance-plans", security(("bearer" = ["read"])),
    responses((status = 200, description = "How it stands", body = StandingView),
        (status = 409, description = "The plan is out of use", body = crate::openapi::ProblemSchema,
            content_type = "application/problem+json")))]
#[get("/v1/maintenance-plans/{code}/standing")]
async fn get_maintenance_standing(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    maintenance_plans::read_standing(&guarded, path.into_inner()).await
}

/// The routes of maintenance plans.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(list_maintenance_plans)
        .service(create_maintenance_plan)
        .service(get_maintenance_plan)
        .service(change_maintenance_plan)
        .service(remove_maintenance_plan)
        .service(get_maintenance_standing);
}
