//! The OpenAPI document, made of the routes themselves: registering a route is documenting it.
//!
//! A handler documents what is its own: summary, bodies, successes, its permission. What every operation has by the
//! conventions (problem answers, entity tags, idempotency keys, dry runs, path parameters) is added here once, so that
//! no handler repeats it and none forgets it.

mod calculations;
mod conventions;
mod examples;
mod responses;
mod schemas;

pub use schemas::{FaultSchema, ProblemSchema, RefusalSchema, SubjectSchema};

use crate::browser::{HTTPS_COOKIE, PLAIN_HTTP_COOKIE};
use actix_web::App;
use utoipa::{
    PartialSchema, ToSchema,
    openapi::{
        Components, InfoBuilder, LicenseBuilder, OpenApi, PathItem, ServerBuilder,
        path::{HttpMethod, Operation},
        security::{ApiKey, ApiKeyValue, HttpAuthScheme, HttpBuilder, SecurityScheme},
        tag::TagBuilder,
    },
};
use utoipa_actix_web::{AppExt, service_config::ServiceConfig};

/// The name of the security scheme that handlers name. A handler writes `security(("bearer" = ["write-registry"]))`: the permission it
/// asks for, which the document also shows as `x-permission`. Without a name between the brackets being signed in is
/// enough (`signed-in`), without `security` nobody has to be (`none`).
pub const BEARER: &str = "bearer";

/// The schemes by which the same is open to a browser: the cookie of its session, with a name for each way to the server.
const SESSIONS: [(&str, &str, &str); 2] = [
    (
        "session",
        HTTPS_COOKIE,
        "The cookie of a browser that signed in at `/sign-in`, where the server is known by an https address. What changes \
         anything must come from the server's own origin.",
    ),
    ("session-over-plain-http", PLAIN_HTTP_COOKIE, "The same over plain HTTP, where that is switched on."),
];

/// The extension that names an operation's permission.
pub const PERMISSION: &str = "x-permission";

/// The document of these routes. `tags` are the topics they are sorted by, in order, each with its description.
pub fn document(routes: impl FnOnce(&mut ServiceConfig<'_>), tags: &[(&str, &str)]) -> OpenApi {
    let (_, mut api) = App::new().into_utoipa_app().configure(routes).split_for_parts();
    let tag =
        |(name, description): &(&str, &str)| TagBuilder::new().name(*name).description(Some(*description)).build();
    api.tags = Some(tags.iter().map(tag).collect());
    finish(api)
}

/// Adds what all operations have in common.
fn finish(mut api: OpenApi) -> OpenApi {
    api.info = InfoBuilder::new()
        .title("dovetally")
        .version(env!("CARGO_PKG_VERSION"))
        .description(Some(
            "Tooling, setting gauges and setups of multi-spindle automatic bar machines. The records and answers are \
             advice: they replace no guard, interlock, lockout procedure or machine builder's instruction.",
        ))
        .license(Some(LicenseBuilder::new().name("MIT OR Apache-2.0").identifier(Some("MIT OR Apache-2.0")).build()))
        .build();
    api.servers = Some(vec![ServerBuilder::new().url("/").description(Some("This server")).build()]);

    let components = api.components.get_or_insert_with(Components::new);
    components.add_security_scheme(
        BEARER,
        SecurityScheme::Http(
            HttpBuilder::new()
                .scheme(HttpAuthScheme::Bearer)
                .bearer_format("JWT")
                .description(Some("The access token of a session: `Authorization: Bearer …`"))
                .build(),
        ),
    );
    for (scheme, cookie, words) in SESSIONS {
        let cookie = ApiKey::Cookie(ApiKeyValue::with_description(cookie, words));
        components.add_security_scheme(scheme, SecurityScheme::ApiKey(cookie));
    }
    let mut schemas = vec![(ProblemSchema::name().into_owned(), ProblemSchema::schema())];
    ProblemSchema::schemas(&mut schemas);
    components.schemas.extend(schemas);
    components.responses.extend(responses::all());
    components.parameters.extend(conventions::parameters());

    for (path, item) in &mut api.paths.paths {
        for (method, operation) in operations(item) {
            conventions::apply(path, &method, operation);
        }
    }
    drop_unused(&mut api);
    completed(&api).unwrap_or(api)
}

/// Drops the common parts that no operation uses: a document lists what there is.
fn drop_unused(api: &mut OpenApi) {
    let Ok(paths) = serde_json::to_string(&api.paths) else { return };
    let Some(components) = &mut api.components else { return };
    let used = |kind: &str, name: &str| paths.contains(&format!("\"#/components/{kind}/{name}\""));
    components.responses.retain(|name, _| used("responses", name));
    components.parameters.retain(|name, _| used("parameters", name));
}

/// The document with what follows from it; nothing if it cannot be read back, which the lint then shows.
fn completed(api: &OpenApi) -> Option<OpenApi> {
    let mut document = serde_json::to_value(api).ok()?;
    calculations::expand(&mut document);
    examples::complete(&mut document);
    serde_json::from_value(document).ok()
}

/// An item's operations with their methods.
fn operations(item: &mut PathItem) -> impl Iterator<Item = (HttpMethod, &mut Operation)> {
    [
        (HttpMethod::Get, &mut item.get),
        (HttpMethod::Post, &mut item.post),
        (HttpMethod::Put, &mut item.put),
        (HttpMethod::Patch, &mut item.patch),
        (HttpMethod::Delete, &mut item.delete),
    ]
    .into_iter()
    .filter_map(|(method, operation)| operation.as_mut().map(|operation| (method, operation)))
}

#[cfg(test)]
mod tests {
    use super::{SESSIONS, document};
    use crate::{
        extract::{Json, NoFields, Query, Reference, Segments, WriteOptions},
        page::{PageParameters, Paging},
        problem::Problem,
    };
    use actix_web::{HttpResponse, delete, get, patch, post};
    use serde::Deserialize;
    use serde_json::{Value, json};
    use utoipa::{IntoParams, ToSchema};
    use utoipa_actix_web::service_config::ServiceConfig;

    #[derive(Deserialize, ToSchema)]
    #[expect(dead_code, reason = "only its schema is looked at")]
    struct NewSample {
        /// Its code.
        code: String,
    }

    #[derive(Deserialize, IntoParams)]
    #[into_params(parameter_in = Query)]
    #[expect(dead_code, reason = "only its documentation is looked at")]
    struct Filters {
        /// Only of this kind.
        kind: Option<String>,
    }

    /// Puts a sample on record
    #[utoipa::path(tag = "samples", security(("bearer" = ["write-registry"])), responses((status = 201, description = "On record")))]
    #[post("/v1/samples")]
    async fn create(_: WriteOptions, _body: Json<NewSample>) -> Result<HttpResponse, Problem> {
        Ok(HttpResponse::Created().finish())
    }

    /// Lists samples
    #[utoipa::path(
        tag = "samples", security(("bearer" = ["read"])), params(PageParameters, Filters),
        responses((status = 200, description = "A page", body = NewSample)),
    )]
    #[get("/v1/samples")]
    async fn list(_: Paging<Filters>) -> Result<HttpResponse, Problem> {
        Ok(HttpResponse::Ok().finish())
    }

    /// Reads one sample
    #[utoipa::path(tag = "samples", security(("bearer" = ["read"])), responses((status = 200, description = "It")))]
    #[get("/v1/samples/{code}")]
    async fn read(_: Segments<Reference>, _: Query<NoFields>) -> Result<HttpResponse, Problem> {
        Ok(HttpResponse::Ok().finish())
    }

    /// Changes one sample
    #[utoipa::path(
        tag = "samples", security(("bearer" = ["write-registry"])),
        request_body(content = NewSample, content_type = "application/merge-patch+json"),
        responses((status = 200, description = "As it is now")),
    )]
    #[patch("/v1/samples/{code}")]
    async fn change(_: Segments<Reference>, _: WriteOptions) -> Result<HttpResponse, Problem> {
        Ok(HttpResponse::Ok().finish())
    }

    /// Asks something about a sample
    #[utoipa::path(
        tag = "samples", security(("bearer" = ["read"])), params(Filters),
        responses((status = 200, description = "The answer"), (status = 404, description = "Our own words")),
    )]
    #[get("/v1/samples/{code}/answer")]
    async fn ask(_: Segments<Reference>, _: Query<Filters>) -> Result<HttpResponse, Problem> {
        Ok(HttpResponse::Ok().finish())
    }

    /// Ends a session
    #[utoipa::path(tag = "auth", security(("bearer" = [])), responses((status = 204, description = "Ended")))]
    #[delete("/v1/auth/sessions/current")]
    async fn sign_out() -> Result<HttpResponse, Problem> {
        Ok(HttpResponse::NoContent().finish())
    }

    /// Signs in
    #[utoipa::path(tag = "auth", responses((status = 201, description = "Signed in")))]
    #[post("/v1/auth/sessions")]
    async fn sign_in(_body: Json<NewSample>) -> Result<HttpResponse, Problem> {
        Ok(HttpResponse::Created().finish())
    }

    fn routes(config: &mut ServiceConfig<'_>) {
        config
            .service(create)
            .service(list)
            .service(read)
            .service(change)
            .service(ask)
            .service(sign_out)
            .service(sign_in);
    }

    const TAGS: &[(&str, &str)] = &[("samples", "Samples.")];

    fn served() -> Value {
        serde_json::to_value(document(routes, TAGS)).unwrap()
    }

    fn statuses(operation: &Value) -> Vec<&str> {
        operation["responses"].as_object().unwrap().keys().map(String::as_str).collect()
    }

    fn parameters(operation: &Value) -> Vec<String> {
        let name = |parameter: &Value| match &parameter["$ref"] {
            Value::String(reference) => reference.rsplit('/').next().unwrap().to_owned(),
            _ => format!("{}:{}", parameter["in"].as_str().unwrap(), parameter["name"].as_str().unwrap()),
        };
        operation["parameters"].as_array().map(|all| all.iter().map(name).collect()).unwrap_or_default()
    }

    #[test]
    fn every_operation_gets_what_its_kind_has() {
        let api = served();
        let paths = &api["paths"];
        for (path, method, permission, expected, names) in [
            (
                "/v1/samples",
                "post",
                json!("write-registry"),
                "201 400 401 403 409 413 415 422 500 503 507",
                vec!["ValidateOnly", "IdempotencyKey"],
            ),
            (
                "/v1/samples",
                "get",
                json!("read"),
                "200 400 401 403 500 503",
                vec!["query:limit", "query:cursor", "query:kind"],
            ),
            (
                "/v1/samples/{code}",
                "get",
                json!("read"),
                "200 304 400 401 403 404 500 503",
                vec!["Code", "IfNoneMatch"],
            ),
            (
                "/v1/samples/{code}",
                "patch",
                json!("write-registry"),
                "200 400 401 403 404 409 412 413 415 422 428 500 503 507",
                vec!["Code", "ValidateOnly", "IfMatch"],
            ),
            (
                "/v1/samples/{code}/answer",
                "get",
                json!("read"),
                "200 400 401 403 404 500 503",
                vec!["query:kind", "Code"],
            ),
            ("/v1/auth/sessions/current", "delete", json!("signed-in"), "204 400 401 403 500 503 507", vec![]),
            ("/v1/auth/sessions", "post", json!("none"), "201 400 401 413 415 422 429 500 503 507", vec![]),
        ] {
            let operation = &paths[path][method];
            assert_eq!(statuses(operation).join(" "), expected, "{method} {path}");
            assert_eq!(parameters(operation), names, "{method} {path}");
            assert_eq!(operation["x-permission"], permission, "{method} {path}");
        }
        let own = &paths["/v1/samples/{code}/answer"]["get"]["responses"]["404"];
        assert_eq!(own["description"], "Our own words", "what a handler documents stays");
        assert!(paths["/v1/samples/{code}"]["get"]["responses"]["200"]["headers"].get("ETag").is_some());
        assert!(paths["/v1/samples"]["get"]["responses"]["200"]["headers"].get("Link").is_some());
        assert!(paths["/v1/samples"]["post"]["responses"]["201"]["headers"].get("Location").is_some());
        let body = &paths["/v1/samples"]["post"]["requestBody"]["content"]["application/json"]["schema"]["$ref"];
        assert_eq!(body, "#/components/schemas/NewSample");
    }

    #[test]
    fn every_reference_resolves() {
        fn references(value: &Value, found: &mut Vec<String>) {
            match value {
                Value::Object(members) => {
                    found.extend(members.get("$ref").and_then(Value::as_str).map(str::to_owned));
                    members.values().for_each(|value| references(value, found));
                }
                Value::Array(items) => items.iter().for_each(|value| references(value, found)),
                _ => {}
            }
        }
        let api = served();
        let mut found = Vec::new();
        references(&api, &mut found);
        assert!(found.len() > 50);
        for kind in ["parameters", "responses"] {
            for name in api["components"][kind].as_object().unwrap().keys() {
                let reference = format!("#/components/{kind}/{name}");
                assert!(found.contains(&reference), "{reference} is not used");
            }
        }
        for reference in found {
            assert!(api.pointer(reference.strip_prefix('#').unwrap()).is_some(), "{reference}");
        }
    }

    #[test]
    fn the_document_says_what_it_is_and_is_the_same_each_time() {
        let api = served();
        assert_eq!((&api["openapi"], &api["info"]["title"]), (&json!("3.1.0"), &json!("dovetally")));
        assert_eq!(api["info"]["license"]["identifier"], "MIT OR Apache-2.0");
        let schemes = &api["components"]["securitySchemes"];
        assert_eq!(schemes["bearer"]["scheme"], "bearer");
        for (scheme, cookie, _) in SESSIONS {
            let known = &schemes[scheme];
            assert_eq!((&known["in"], &known["name"]), (&json!("cookie"), &json!(cookie)), "{scheme}");
        }
        assert_eq!(api["tags"], json!([{"name": "samples", "description": "Samples."}]));
        let text = || document(routes, TAGS).to_pretty_json().unwrap();
        let first = text();
        (0..8).for_each(|_| assert_eq!(text(), first));
    }
}
