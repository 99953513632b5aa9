//! Signing in, and the keys that verify what is signed.

use crate::{
    app::sign_in,
    extract::{Json, NoFields, Query},
    open::Open,
    principal::{Guarded, Read},
    problem::Problem,
    transport::auth::{Credentials, JwkSetSchema, RefreshBody, SessionView},
};
use actix_web::{HttpRequest, HttpResponse, delete, get, http::header, post};

/// Signs in
///
/// After a few wrong secrets for a badge each further attempt has to wait, longer each time; nobody is locked out.
#[utoipa::path(tag = "auth", request_body = Credentials,
    responses((status = 201, description = "The session's tokens", body = SessionView)))]
#[post("/v1/auth/sessions")]
async fn begin_session(
    open: Open,
    request: HttpRequest,
    _: Query<NoFields>,
    body: Json<Credentials>,
) -> Result<HttpResponse, Problem> {
    let address = request.peer_addr().map(|peer| peer.ip());
    sign_in::sign_in(open.service(), address, body.into_inner()).await
}

/// Changes a refresh token for the next pair of tokens
///
/// A refresh token is used once. Within 10 seconds the same token gets the same answer again; later it ends the session.
#[utoipa::path(tag = "auth", request_body = RefreshBody,
    responses((status = 200, description = "The session's next tokens", body = SessionView)))]
#[post("/v1/auth/refresh")]
async fn refresh_session(open: Open, _: Query<NoFields>, body: Json<RefreshBody>) -> Result<HttpResponse, Problem> {
    sign_in::refresh(open.service(), &body.refresh_token).await
}

/// Signs out: ends the session of the access token
#[utoipa::path(tag = "auth", security(("bearer" = ["read"])),
    responses((status = 204, description = "The session has ended; its tokens are worth nothing any more")))]
#[delete("/v1/auth/sessions/current")]
async fn end_session(guarded: Guarded<Read>, _: Query<NoFields>) -> Result<HttpResponse, Problem> {
    sign_in::sign_out(&guarded).await
}

/// The public keys that verify tokens, permits and receipts
#[utoipa::path(tag = "auth", responses((status = 200, description = "The keys (RFC 7517)", body = JwkSetSchema)))]
#[get("/.well-known/jwks.json")]
async fn public_keys(open: Open, _: Query<NoFields>) -> HttpResponse {
    // A verifier elsewhere asks again when it meets a key id that it does not know.
    HttpResponse::Ok().insert_header((header::CACHE_CONTROL, "public, max-age=300")).json(open.service().keys().jwks())
}

/// The routes of signing in.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(begin_session).service(refresh_session).service(end_session).service(public_keys);
}
