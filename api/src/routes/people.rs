//! People.

use crate::{
    app::people,
    extract::{IfNoneMatch, Json, MergePatch, NoFields, Query, Segments, WriteOptions},
    page::{Page, PageParameters, Paging},
    principal::{Administer, Guarded},
    problem::Problem,
    transport::person::{NewPerson, NewSecret, PersonChange, PersonView, PersonWithSecret},
};
use actix_web::{HttpResponse, get, patch, post};

/// Lists people by badge
#[utoipa::path(tag = "people", security(("bearer" = ["administer"])), params(PageParameters),
    responses((status = 200, description = "A page of people", body = Page<PersonView>)))]
#[get("/v1/people")]
async fn list_people(guarded: Guarded<Administer>, paging: Paging) -> Result<HttpResponse, Problem> {
    people::list(&guarded, paging).await
}

/// Puts a person on record
///
/// Without a secret in the body the server makes one and answers it this once; such a request is done anew each time it
/// comes, and its `Idempotency-Key` is ignored.
#[utoipa::path(tag = "people", security(("bearer" = ["administer"])), request_body = NewPerson,
    responses((status = 201, description = "The person", body = PersonWithSecret)))]
#[post("/v1/people")]
async fn create_person(
    guarded: Guarded<Administer>,
    options: WriteOptions,
    body: Json<NewPerson>,
) -> Result<HttpResponse, Problem> {
    people::create(&guarded, options, body).await
}

/// Reads a person
#[utoipa::path(tag = "people", security(("bearer" = ["administer"])),
    params(("badge" = String, Path, description = "The person's badge, or their id.", example = "setter-2")),
    responses((status = 200, description = "The person", body = PersonView)))]
#[get("/v1/people/{badge}")]
async fn get_person(
    guarded: Guarded<Administer>,
    path: Segments<String>,
    condition: IfNoneMatch,
    _: Query<NoFields>,
) -> Result<HttpResponse, Problem> {
    people::get(&guarded, path.into_inner(), &condition).await
}

/// Changes a person
///
/// Disabling ends all their sessions.
#[utoipa::path(tag = "people", security(("bearer" = ["administer"])),
    params(("badge" = String, Path, description = "The person's badge, or their id.", example = "setter-2")),
    request_body(content = PersonChange, content_type = "application/merge-patch+json",
        description = "The fields to change (RFC 7396)"),
    responses((status = 200, description = "The person as they are now on record", body = PersonView)))]
#[patch("/v1/people/{badge}")]
async fn change_person(
    guarded: Guarded<Administer>,
    options: WriteOptions,
    path: Segments<String>,
    patch: MergePatch,
) -> Result<HttpResponse, Problem> {
    people::change(&guarded, &options, path.into_inner(), patch).await
}

/// Gives a person a new secret
///
/// It ends all their sessions. Without a secret in the body the server makes one and answers it this once; such a
/// request is done anew each time it comes, and its `Idempotency-Key` is ignored.
#[utoipa::path(tag = "people", security(("bearer" = ["administer"])), request_body = NewSecret,
    params(("badge" = String, Path, description = "The person's badge, or their id.", example = "setter-2")),
    responses((status = 200, description = "The person, and the secret if it was made", body = PersonWithSecret)))]
#[post("/v1/people/{badge}/secret")]
async fn replace_secret(
    guarded: Guarded<Administer>,
    options: WriteOptions,
    path: Segments<String>,
    body: Json<NewSecret>,
) -> Result<HttpResponse, Problem> {
    people::replace_secret(&guarded, options, path.into_inner(), body).await
}

/// The routes of people.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes
        .service(list_people)
        .service(create_person)
        .service(get_person)
        .service(change_person)
        .service(replace_secret);
}
