//! Answers for requests that no route takes: 405 with `Allow` where the path exists, 404 where it does not.
//!
//! The router only knows "no route"; which methods a path takes is read from the document, which is made of the routes.

use crate::problem::{NOTHING_HERE, Problem, ProblemCode};
use actix_web::{HttpRequest, dev::ResourceDef, web};
use std::sync::Arc;
use utoipa::openapi::OpenApi;

/// Which methods the paths take.
#[derive(Clone)]
pub struct Methods(Arc<[(ResourceDef, String)]>);

impl Methods {
    /// The methods of a document's paths.
    #[must_use]
    pub fn of(api: &OpenApi) -> Self {
        let allow = |item: &utoipa::openapi::PathItem| {
            let methods = [
                (item.get.is_some(), "GET, HEAD"),
                (item.post.is_some(), "POST"),
                (item.put.is_some(), "PUT"),
                (item.patch.is_some(), "PATCH"),
                (item.delete.is_some(), "DELETE"),
            ];
            let allowed: Vec<_> = methods.into_iter().filter_map(|(is, method)| is.then_some(method)).collect();
            allowed.join(", ")
        };
        // Words before variables: `/v1/x/verify` is another path than `/v1/x/{code}`.
        let mut paths: Vec<_> = api.paths.paths.iter().collect();
        paths.sort_by_key(|(path, _)| path.matches('{').count());
        Self(paths.into_iter().map(|(path, item)| (ResourceDef::new(path.as_str()), allow(item))).collect())
    }

    /// The methods that a path takes, as `Allow` lists them; `None` when there is no such path.
    #[must_use]
    pub fn allowed(&self, path: &str) -> Option<&str> {
        self.0.iter().find(|(pattern, _)| pattern.is_match(path)).map(|(_, methods)| methods.as_str())
    }
}

/// The app's default service.
///
/// # Errors
/// Always: 405 or 404.
pub async fn unmatched(request: HttpRequest, methods: web::Data<Methods>) -> Result<String, Problem> {
    Err(match methods.allowed(request.path()) {
        Some(allowed) => Problem::method_not_allowed(request.method().as_str(), allowed),
        None => Problem::new(ProblemCode::NotFound, NOTHING_HERE),
    })
}

#[cfg(test)]
mod tests {
    use super::{Methods, unmatched};
    use crate::trace::trace_request;
    use actix_web::{App, HttpResponse, get, http::Method, middleware::from_fn, post, test, web};
    use utoipa_actix_web::{AppExt, service_config::ServiceConfig};

    #[utoipa::path(responses((status = 200, description = "Read")))]
    #[get("/v1/things/{code}")]
    async fn read() -> HttpResponse {
        HttpResponse::Ok().body("a thing")
    }

    #[utoipa::path(responses((status = 200, description = "Verified")))]
    #[post("/v1/things/verify")]
    async fn verify() -> HttpResponse {
        HttpResponse::Ok().finish()
    }

    fn routes(config: &mut ServiceConfig<'_>) {
        config.service(read).service(verify);
    }

    #[actix_web::test]
    async fn a_path_that_exists_says_what_it_takes() {
        let methods = Methods::of(&crate::openapi::document(routes, &[]));
        let (app, _) = App::new()
            .into_utoipa_app()
            .configure(routes)
            .app_data(web::Data::new(methods))
            .default_service(web::to(unmatched))
            .map(|app| app.wrap(from_fn(trace_request)))
            .split_for_parts();
        let app = test::init_service(app).await;
        for (method, path, status, allow) in [
            (Method::GET, "/v1/things/A", 200, None),
            (Method::HEAD, "/v1/things/A", 200, None),
            (Method::POST, "/v1/things/verify", 200, None),
            (Method::PUT, "/v1/things/A", 405, Some("GET, HEAD")),
            (Method::OPTIONS, "/v1/things/A", 405, Some("GET, HEAD")),
            (Method::DELETE, "/v1/things/verify", 405, Some("POST")),
            (Method::GET, "/v1/things", 404, None),
            (Method::GET, "/v1/things/A/B", 404, None),
        ] {
            let request = test::TestRequest::default().method(method.clone()).uri(path).to_request();
            let response = test::call_service(&app, request).await;
            assert_eq!(response.status().as_u16(), status, "{method} {path}");
            assert_eq!(response.headers().get("allow").map(|value| value.to_str().unwrap()), allow, "{method} {path}");
        }
    }
}
