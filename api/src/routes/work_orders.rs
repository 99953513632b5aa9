//! Work orders, and what breakdowns tell of a machine.

use crate::{
    app::{reliability, work_orders},
    extract::{IfNoneMatch, Json, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Guarded, Maintain, OpenOrder, Read},
    problem::Problem,
    transport::{
        reliability::{ReliabilityQuery, ReliabilityView},
        work_order::{
            CancelWorkOrder, FinishWorkOrder, NewWorkOrder, StartWorkOrder, WorkOrderFilters, WorkOrderSummary,
            WorkOrderView,
        },
    },
};
use actix_web::{HttpResponse, get, post};
use dovetally_core::ids::WorkOrderId;

/// Lists work orders, newest first
#[utoipa::path(tag = "work-orders", security(("bearer" = ["read"])), params(PageParameters, WorkOrderFilters),
    responses((status = 200, description = "A page of work orders", body = Page<WorkOrderSummary>)))]
#[get("/v1/work-orders")]
async fn list_work_orders(guarded: Guarded<Read>, paging: Paging<WorkOrderFilters>) -> Result<HttpResponse, Problem> {
    work_orders::list(&guarded, paging).await
}

/// Opens a work order, or reports a breakdown
///
/// From a plan or by hand with `maintain`; every person with `report-fault` may report a breakdown. It stops no machine and
/// places no tag-out.
#[utoipa::path(tag = "work-orders", security(("bearer" = ["maintain"]), ("bearer" = ["report-fault"])),
    request_body = NewWorkOrder, responses((status = 201, description = "The work order", body = WorkOrderView)))]
#[post("/v1/work-orders")]
async fn open_work_order(
    guarded: Guarded<OpenOrder>,
    options: WriteOptions,
    body: Json<NewWorkOrder>,
) -> Result<HttpResponse, Problem> {
    work_orders::open(&guarded, &options, body).await
}

/// Reads a work order
///
/// With what its plan says to do, what it used, and the tag-outs in force on its machine: records, not locks.
#[utoipa::path(tag = "work-orders", security(("bearer" = ["read"])),
    responses((status = 200, description = "The work order", body = WorkOrderView)))]
#[get("/v1/work-orders/{id}")]
async fn get_work_order(
    guarded: Guarded<Read>,
    id: Segments<WorkOrderId>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    work_orders::get(&guarded, id.into_inner(), &condition).await
}

/// Starts the work
#[utoipa::path(tag = "work-orders", security(("bearer" = ["maintain"])), request_body = StartWorkOrder,
    responses((status = 200, description = "The work order, started", body = WorkOrderView)))]
#[post("/v1/work-orders/{id}/start")]
async fn start_work_order(
    guarded: Guarded<Maintain>,
    options: WriteOptions,
    id: Segments<WorkOrderId>,
    body: Json<StartWorkOrder>,
) -> Result<HttpResponse, Problem> {
    work_orders::start(&guarded, &options, id.into_inner(), body).await
}

/// Ends a work order as done
///
/// Its plan counts anew, the parts it used are withdrawn, and work on a slide or the spindle carrier makes the machine's gauges
/// stale until they are checked against it again. It clears no tag-out.
#[utoipa::path(tag = "work-orders", security(("bearer" = ["maintain"])), request_body = FinishWorkOrder,
    responses((status = 200, description = "The work order, done", body = WorkOrderView)))]
#[post("/v1/work-orders/{id}/done")]
async fn finish_work_order(
    guarded: Guarded<Maintain>,
    options: WriteOptions,
    id: Segments<WorkOrderId>,
    body: Json<FinishWorkOrder>,
) -> Result<HttpResponse, Problem> {
    work_orders::finish(&guarded, &options, id.into_inner(), body).await
}

/// Calls a work order off
#[utoipa::path(tag = "work-orders", security(("bearer" = ["maintain"])), request_body = CancelWorkOrder,
    responses((status = 200, description = "The work order, cancelled", body = WorkOrderView)))]
#[post("/v1/work-orders/{id}/cancel")]
async fn cancel_work_order(
    guarded: Guarded<Maintain>,
    options: WriteOptions,
    id: Segments<WorkOrderId>,
    body: Json<CancelWorkOrder>,
) -> Result<HttpResponse, Problem> {
    work_orders::cancel(&guarded, &options, id.into_inner(), body).await
}

/// Asks how reliable a machine is
///
/// Mean time between failures with confidence limits, from the breakdowns on record and the hours under a release, in a time
/// fixed beforehand; and the mean time to repair. It says what the records do not allow.
#[utoipa::path(tag = "work-orders", security(("bearer" = ["read"])), params(ReliabilityQuery),
    responses((status = 200, description = "What the records tell", body = ReliabilityView)))]
#[get("/v1/machines/{code}/reliability")]
async fn get_reliability(
    guarded: Guarded<Read>,
    machine: Segments<Reference>,
    query: Query<ReliabilityQuery>,
) -> Result<HttpResponse, Problem> {
    reliability::read(&guarded, machine.into_inner(), query.into_inner()).await
}

/// The routes of work orders.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(list_work_orders)
        .service(open_work_order)
        .service(get_work_order)
        .service(start_work_order)
        .service(finish_work_order)
        .service(cancel_work_order)
        .service(get_reliability);
}
