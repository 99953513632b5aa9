//! The life of form tools: grinds, checks, owners' consents, outlook, and the traveller.

use crate::{
    app::life::{checks, consents, outlook, regrinds, traveller},
    extract::{Json, NoFields, Query, Reference, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{CheckTools, Grind, Guarded, Read, WriteRegistry},
    problem::Problem,
    transport::{
        regrind::{NewRegrind, RegrindView},
        tool_check::{NewToolCheck, ToolCheckView},
        tool_consent::{NewToolConsent, ToolConsentView, WithdrawToolConsent},
        tool_outlook::{DesignOutlookView, ToolOutlookView},
        traveller::TravellerView,
    },
};
use actix_web::{HttpResponse, get, post};
use dovetally_core::ids::ToolConsentId;

/// Lists a form tool's grinds, newest first
#[utoipa::path(tag = "form-tools", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of grinds", body = Page<RegrindView>)))]
#[get("/v1/form-tools/{code}/regrinds")]
async fn list_regrinds(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    paging: Paging,
) -> Result<HttpResponse, Problem> {
    regrinds::list(&guarded, path.into_inner(), paging).await
}

/// Records a grind of a form tool
///
/// A ground tool waits for a check by somebody else. Below its design's minimum height it is retired with the grind, a
/// customer's tool only with their consent. A full grind ends the edge and starts the count of pieces anew; a touch-up and a
/// partial grind do not. Refused while a run with the tool is not booked, and a height far below what is expected until it is
/// confirmed. What somebody outside the shop did may be recorded by whoever keeps the tools.
#[utoipa::path(tag = "form-tools", security(("bearer" = ["grind"]), ("bearer" = ["move-for-anyone"])), request_body = NewRegrind,
    responses((status = 201, description = "The grind", body = RegrindView)))]
#[post("/v1/form-tools/{code}/regrinds")]
async fn record_regrind(
    guarded: Guarded<Grind>,
    options: WriteOptions,
    path: Segments<Reference>,
    body: Json<NewRegrind>,
) -> Result<HttpResponse, Problem> {
    regrinds::record(&guarded, &options, path.into_inner(), body).await
}

/// Lists a form tool's checks, newest first
#[utoipa::path(tag = "form-tools", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of checks", body = Page<ToolCheckView>)))]
#[get("/v1/form-tools/{code}/checks")]
async fn list_tool_checks(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    paging: Paging,
) -> Result<HttpResponse, Problem> {
    checks::list(&guarded, path.into_inner(), paging).await
}

/// Records a check of a form tool
///
/// Accepted, the tool is usable again, after a grind as after a crash; not accepted, it is as the check says. Who ground a
/// tool does not pass it. Passing asks for the profile, and after a grind for height, rake and a circular tool's face offset
/// as this check measured them, the last two within the design's tolerance. Burn or a crack that a check found stays on
/// record until the edge was found sound: after a grind that took height, or by an inspector who says what was done.
#[utoipa::path(tag = "form-tools", security(("bearer" = ["check-tools"])), request_body = NewToolCheck,
    responses((status = 201, description = "The check", body = ToolCheckView)))]
#[post("/v1/form-tools/{code}/checks")]
async fn record_tool_check(
    guarded: Guarded<CheckTools>,
    options: WriteOptions,
    path: Segments<Reference>,
    body: Json<NewToolCheck>,
) -> Result<HttpResponse, Problem> {
    checks::record(&guarded, &options, path.into_inner(), body).await
}

/// Lists the consents of a form tool's owner, newest first
#[utoipa::path(tag = "form-tools", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of consents", body = Page<ToolConsentView>)))]
#[get("/v1/form-tools/{code}/consents")]
async fn list_tool_consents(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    paging: Paging,
) -> Result<HttpResponse, Problem> {
    consents::list(&guarded, path.into_inner(), paging).await
}

/// Records a consent of a form tool's owner
#[utoipa::path(tag = "form-tools", security(("bearer" = ["write-registry"])), request_body = NewToolConsent,
    responses((status = 201, description = "The consent", body = ToolConsentView)))]
#[post("/v1/form-tools/{code}/consents")]
async fn record_tool_consent(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    path: Segments<Reference>,
    body: Json<NewToolConsent>,
) -> Result<HttpResponse, Problem> {
    consents::record(&guarded, &options, path.into_inner(), body).await
}

/// Records that an owner withdrew a consent
#[utoipa::path(tag = "form-tools", security(("bearer" = ["write-registry"])), request_body = WithdrawToolConsent,
    responses((status = 200, description = "The consent, withdrawn", body = ToolConsentView)))]
#[post("/v1/tool-consents/{id}/withdraw")]
async fn withdraw_tool_consent(
    guarded: Guarded<WriteRegistry>,
    options: WriteOptions,
    id: Segments<ToolConsentId>,
    body: Json<WithdrawToolConsent>,
) -> Result<HttpResponse, Problem> {
    consents::withdraw(&guarded, &options, id.into_inner(), body).await
}

/// Asks what a form tool has left
///
/// Grinds, and pieces on the edge in use and in all, with a 90 % interval learned from the design's own edges (a Weibull
/// distribution by maximum likelihood, edges that did not wear out as suspensions; what is left on the edge in use is
/// conditional on what it has made). With fewer than five worn edges the design's expected figure is answered,
/// without an interval; `basis` says which.
#[utoipa::path(tag = "form-tools", security(("bearer" = ["read"])),
    responses((status = 200, description = "What is left", body = ToolOutlookView)))]
#[get("/v1/form-tools/{code}/outlook")]
async fn get_tool_outlook(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    outlook::of_tool(&guarded, path.into_inner()).await
}

/// Asks for the traveller that a form tool takes along to the grinder
#[utoipa::path(tag = "form-tools", security(("bearer" = ["read"])),
    responses((status = 200, description = "What to grind it to, what to check, what to be careful of", body = TravellerView)))]
#[get("/v1/form-tools/{code}/traveller")]
async fn get_traveller(
    guarded: Guarded<Read>,
    path: Segments<Reference>,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    traveller::write(&guarded, path.into_inner()).await
}

/// Asks what each design's tools have left beside what is booked, by code
///
/// Planned jobs are served in the order of their starts, counted by the lower bound of the pieces left where there is
/// one; the job in which they run out, less the design's lead time, is the day to order by.
#[utoipa::path(tag = "form-tools", security(("bearer" = ["read"])), params(PageParameters),
    responses((status = 200, description = "A page of designs", body = Page<DesignOutlookView>)))]
#[get("/v1/outlook/tools")]
async fn list_design_outlooks(guarded: Guarded<Read>, paging: Paging) -> Result<HttpResponse, Problem> {
    outlook::of_designs(&guarded, paging).await
}

/// The routes of tool life.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(list_regrinds)
        .service(record_regrind)
        .service(list_tool_checks)
        .service(record_tool_check)
        .service(list_tool_consents)
        .service(record_tool_consent)
        .service(withdraw_tool_consent)
        .service(get_tool_outlook)
        .service(get_traveller)
        .service(list_design_outlooks);
}
