//! Headers that tell a browser what our answers never are: another type than they say, framed, or a source of scripts.

use actix_web::{
    Error,
    body::MessageBody,
    dev::{ServiceRequest, ServiceResponse},
    http::header::{self, HeaderName, HeaderValue},
    middleware::Next,
};

/// Documents and data load nothing at all; our own pages only what they need, of this server alone.
const DATA: &str = "default-src 'none'; frame-ancestors 'none'; base-uri 'none'";
const PAGES: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; \
                     form-action 'self'; frame-ancestors 'none'; base-uri 'none'";
/// The interactive reference is third-party code with inline styles, a start script and data images.
const REFERENCE: &str = "default-src 'self'; script-src 'self' 'unsafe-inline'; style-src 'self' 'unsafe-inline'; \
                         img-src 'self' data:; frame-ancestors 'none'; base-uri 'none'";

/// The middleware, for `App::wrap(from_fn(security_headers))`. A header that a handler set itself stays.
///
/// # Errors
/// Only what the inner service raised.
pub async fn security_headers<B: MessageBody>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<B>, Error> {
    let path = request.path();
    // The pages about calculations are our own and need no exception.
    let reference = (path == "/docs" || path.starts_with("/docs/")) && !path.starts_with("/docs/calculations");
    let mut response = next.call(request).await?;
    let page = response
        .headers()
        .get(header::CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .is_some_and(|value| value.starts_with("text/html"));
    let policy = match (reference, page) {
        (true, _) => REFERENCE,
        (false, true) => PAGES,
        (false, false) => DATA,
    };
    let headers = response.headers_mut();
    let mut set = |name: HeaderName, value: &'static str| {
        if !headers.contains_key(&name) {
            headers.insert(name, HeaderValue::from_static(value));
        }
    };
    set(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    set(header::CONTENT_SECURITY_POLICY, policy);
    set(header::REFERRER_POLICY, "same-origin");
    set(header::X_FRAME_OPTIONS, "DENY");
    set(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    Ok(response)
}

#[cfg(test)]
mod tests {
    use super::security_headers;
    use actix_web::{App, HttpResponse, http::header, middleware::from_fn, test, web};

    #[actix_web::test]
    async fn each_kind_of_answer_has_its_policy() {
        let html =
            async || HttpResponse::Ok().insert_header((header::CONTENT_TYPE, "text/html; charset=utf-8")).body("");
        let own = async || HttpResponse::Ok().insert_header((header::CONTENT_SECURITY_POLICY, "sandbox")).finish();
        let app = test::init_service(
            App::new()
                .wrap(from_fn(security_headers))
                .route("/page", web::get().to(html))
                .route("/docs/index.html", web::get().to(html))
                .route("/docs/calculations/taper", web::get().to(html))
                .route("/own", web::get().to(own)),
        )
        .await;
        for (path, expected) in [
            ("/page", "default-src 'none'; script-src 'self'; style-src 'self'"),
            ("/docs/index.html", "default-src 'self'; script-src 'self' 'unsafe-inline'"),
            ("/docs/calculations/taper", "default-src 'none'; script-src 'self'; style-src 'self'"),
            ("/own", "sandbox"),
            ("/v1/nothing", "default-src 'none'; frame-ancestors"),
        ] {
            let response = test::call_service(&app, test::TestRequest::get().uri(path).to_request()).await;
            let policy = response.headers().get(header::CONTENT_SECURITY_POLICY).unwrap().to_str().unwrap();
            assert!(policy.starts_with(expected), "{path}: {policy}");
            assert_eq!(response.headers().get(header::X_CONTENT_TYPE_OPTIONS).unwrap(), "nosniff");
        }
    }
}
