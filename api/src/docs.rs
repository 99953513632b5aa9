//! The server about itself: the document, the interactive reference, the pages about calculations, the problem pages,
//! and whether it lives.

mod calculations;

use crate::{
    conditional::ETag,
    extract::{IfNoneMatch, NoFields, Query},
    problem::{Problem, ProblemCode},
};
use actix_web::{
    HttpResponse, get,
    http::header,
    web::{self, Bytes},
};
use serde::Serialize;
use std::sync::Arc;
use utoipa::{ToSchema, openapi::OpenApi};
use utoipa_actix_web::service_config::ServiceConfig;
use utoipa_swagger_ui::{Config, SwaggerUi};

/// The document as it is served: written once, shared by all workers.
#[derive(Clone, Debug)]
pub struct ServedDocument(Arc<(Bytes, ETag)>);

impl ServedDocument {
    /// Writes the document.
    ///
    /// # Errors
    /// When it cannot be shown as JSON.
    pub fn new(api: &OpenApi) -> Result<Self, serde_json::Error> {
        let mut text = api.to_pretty_json()?;
        text.push('\n');
        let tag = ETag::of(text.as_bytes());
        Ok(Self(Arc::new((Bytes::from(text), tag))))
    }

    /// The document's text, as it is checked in and as `dovetally openapi` prints it.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        &self.0.0
    }
}

/// The topic of this file's operations.
pub const TAG: (&str, &str) = ("operations", "The server about itself.");

/// Registers the documented routes of this file. The app's data needs a [`ServedDocument`].
pub fn operations(config: &mut ServiceConfig<'_>) {
    config.service(alive).service(openapi_json).service(problem_page);
}

/// Registers the pages about calculations and the interactive reference: their files are compiled in, and they ask no
/// other server for anything.
pub fn reference(config: &mut web::ServiceConfig) {
    // Before the reference, which takes every other path below its own.
    calculations::register(config);
    let to_reference = async || HttpResponse::PermanentRedirect().insert_header((header::LOCATION, "/docs/")).finish();
    // Without "none" the page sends the document to a validator on the internet.
    let pages = SwaggerUi::new("/docs/{_:.*}").config(Config::from("/openapi.json").validator_url("none"));
    config.route("/docs", web::get().to(to_reference)).service(pages);
}

/// That the process answers.
#[derive(Serialize, ToSchema)]
struct Alive {
    /// Always `alive`.
    #[schema(example = "alive")]
    status: &'static str,
}

/// Whether the process answers
///
/// It says nothing about the database: a process that waits for one must not be restarted for it.
#[utoipa::path(tag = "operations", responses((status = 200, description = "It does.", body = Alive, example = json!({"status": "alive"}))))]
#[get("/livez")]
async fn alive(_: Query<NoFields>) -> HttpResponse {
    crate::conditional::answer_fresh(&Alive { status: "alive" })
}

/// This document
#[utoipa::path(
    tag = "operations",
    params(("If-None-Match" = Option<String>, Header, description = "The ETag the caller has: if it still holds, 304.")),
    responses(
        (status = 200, description = "The OpenAPI 3.1 document.", body = Object, content_type = "application/json",
            headers(("ETag" = String, description = "The document's version.")),
            example = json!({"openapi": "3.1.0", "info": {"title": "dovetally"}})),
        (status = 304, description = "The caller has this version."),
    ),
)]
#[get("/openapi.json")]
async fn openapi_json(_: Query<NoFields>, document: web::Data<ServedDocument>, condition: IfNoneMatch) -> HttpResponse {
    let (text, tag) = &*document.0;
    let mut response = if condition.has(tag) { HttpResponse::NotModified() } else { HttpResponse::Ok() };
    response.insert_header((header::ETAG, tag.to_string())).insert_header((header::CACHE_CONTROL, "no-cache"));
    if condition.has(tag) {
        return response.finish();
    }
    response.insert_header(header::ContentType::json()).body(text.clone())
}

/// What a problem's type means
///
/// The `type` of every problem document is the address of such a page: as HTML for a browser, otherwise as text.
#[utoipa::path(
    tag = "operations",
    params(("code" = String, Path, description = "The problem's code.", example = "refused")),
    responses((status = 200, description = "The explanation.", content((String = "text/plain"), (String = "text/html")))),
)]
#[get("/problems/{code}")]
async fn problem_page(
    _: Query<NoFields>,
    code: web::Path<String>,
    request: actix_web::HttpRequest,
) -> Result<HttpResponse, Problem> {
    let code = ProblemCode::from_code(&code).ok_or_else(|| Problem::not_found("problem code", &*code))?;
    let accept = request.headers().get(header::ACCEPT).and_then(|value| value.to_str().ok()).unwrap_or_default();
    Ok(crate::problem::explain(code, accept.contains("text/html")))
}

#[cfg(test)]
mod tests {
    use super::{ServedDocument, TAG, operations, reference};
    use crate::{openapi::document, problem::ProblemCode};
    use actix_web::{
        App,
        http::header::{self, HeaderMap},
        test::{self, TestRequest},
        web,
    };
    use serde_json::Value;
    use utoipa_actix_web::AppExt;

    async fn get(path: &str, headers: &[(header::HeaderName, &str)]) -> (u16, HeaderMap, String) {
        let served = ServedDocument::new(&document(operations, &[TAG])).unwrap();
        let (app, _) = App::new()
            .into_utoipa_app()
            .configure(operations)
            .app_data(web::Data::new(served))
            .map(|app| app.configure(reference))
            .split_for_parts();
        let app = test::init_service(app).await;
        let request =
            headers.iter().fold(TestRequest::get().uri(path), |request, header| request.insert_header(header.clone()));
        let response = test::call_service(&app, request.to_request()).await;
        let (status, headers) = (response.status().as_u16(), response.headers().clone());
        let body = test::read_body(response).await;
        (status, headers, String::from_utf8_lossy(&body).into_owned())
    }

    #[actix_web::test]
    async fn the_document_is_served_with_its_version() {
        let (_, headers, body) = get("/openapi.json", &[]).await;
        assert_eq!(body.as_bytes(), ServedDocument::new(&document(operations, &[TAG])).unwrap().bytes());
        let body: Value = serde_json::from_str(&body).unwrap();
        let paths: Vec<_> = body["paths"].as_object().unwrap().keys().collect();
        assert_eq!(paths, ["/livez", "/openapi.json", "/problems/{code}"]);
        let tag = headers.get(header::ETAG).unwrap().to_str().unwrap();
        let (status, _, body) = get("/openapi.json", &[(header::IF_NONE_MATCH, tag)]).await;
        assert_eq!((status, body.as_str()), (304, ""));
    }

    #[actix_web::test]
    async fn the_reference_is_complete_and_asks_nobody_else() {
        let (_, headers, _) = get("/docs", &[]).await;
        assert_eq!(headers.get(header::LOCATION).unwrap(), "/docs/");
        let (_, _, page) = get("/docs/", &[]).await;
        let linked: Vec<&str> =
            page.split(['"', '\'']).filter(|text| text.ends_with(".js") || text.ends_with(".css")).collect();
        assert!(linked.len() >= 3, "{page}");
        for file in linked {
            assert!(!file.contains("//"), "{file} comes from elsewhere");
            let (status, _, _) = get(&format!("/docs/{}", file.trim_start_matches("./")), &[]).await;
            assert_eq!(status, 200, "{file}");
        }
        let (_, _, start) = get("/docs/swagger-initializer.js", &[]).await;
        assert!(start.contains(r#""url": "/openapi.json""#) && start.contains(r#""validatorUrl": "none""#), "{start}");
        assert!(!start.contains("://"), "{start}");
    }

    #[actix_web::test]
    async fn every_problem_type_resolves() {
        for code in ProblemCode::ALL {
            let (status, _, text) = get(&code.path(), &[]).await;
            assert!(status == 200 && text.contains(code.remedy()), "{}", code.code());
        }
        let (_, headers, _) = get("/problems/refused", &[(header::ACCEPT, "text/html,*/*;q=0.8")]).await;
        assert_eq!(headers.get(header::CONTENT_TYPE).unwrap(), "text/html; charset=utf-8");
        assert_eq!(get("/problems/no-such-code", &[]).await.0, 404);
    }

    #[actix_web::test]
    async fn it_lives() {
        let (status, headers, body) = get("/livez", &[]).await;
        assert_eq!((status, body.as_str()), (200, r#"{"status":"alive"}"#));
        assert_eq!(headers.get(header::CACHE_CONTROL).unwrap(), "no-store");
    }
}
