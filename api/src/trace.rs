//! The outermost layer around every request: a trace id, a span, and the promise that what goes wrong is answered as a
//! problem document, wherever it went wrong.
//!
//! The id is the caller's, from a W3C `traceparent` header, or a fresh one. It is a task-local value and not an argument,
//! so that a problem raised anywhere, also by an extractor or the router, carries it.

use crate::problem::{Problem, render};
use actix_web::{
    Error, HttpResponse,
    body::{BoxBody, MessageBody},
    dev::{ServiceRequest, ServiceResponse},
    error::InternalError,
    http::{
        Method,
        header::{self, HeaderMap, HeaderName, HeaderValue},
    },
    middleware::Next,
};
use futures_util::FutureExt;
use std::{fmt, panic::AssertUnwindSafe, time::Instant};
use tracing::Instrument;

/// The header of an answer that tells the trace id.
pub const TRACE_HEADER: HeaderName = HeaderName::from_static("trace-id");

tokio::task_local! {
    static CURRENT: TraceId;
}

/// A W3C trace id: 16 bytes, shown as 32 lower-case hexadecimal digits, never all zero.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TraceId(u128);

impl TraceId {
    /// A fresh random id.
    #[must_use]
    pub fn fresh() -> Self {
        let mut bytes = [0; 16];
        // Without randomness ids are all alike, which is bad for reading logs and for nothing else.
        let _ = getrandom::fill(&mut bytes);
        Self(u128::from_be_bytes(bytes).max(1))
    }

    /// The trace id of a `traceparent` header's value; `None` when it is not valid by the W3C recommendation.
    #[must_use]
    pub fn from_traceparent(value: &str) -> Option<Self> {
        let hex = |text: &str, length: usize| {
            text.len() == length && text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'))
        };
        let mut fields = value.trim().split('-');
        let (version, trace, parent, flags) = (fields.next()?, fields.next()?, fields.next()?, fields.next()?);
        let shape = hex(version, 2) && hex(trace, 32) && hex(parent, 16) && hex(flags, 2);
        // Later versions may append fields; version 00 has exactly four.
        if !shape || version == "ff" || (version == "00" && fields.next().is_some()) || parent == "0000000000000000" {
            return None;
        }
        u128::from_str_radix(trace, 16).ok().filter(|id| *id != 0).map(Self)
    }
}

impl fmt::Display for TraceId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:032x}", self.0)
    }
}

/// The trace id of the request at work; outside of one, a fresh id.
#[must_use]
pub fn current() -> TraceId {
    CURRENT.try_with(|id| *id).unwrap_or_else(|_| TraceId::fresh())
}

/// Marks a response whose error form another standard fixes (the token endpoint's, RFC 6749), so that it stays as it is.
#[derive(Clone, Copy, Debug)]
pub struct OwnErrorForm;

/// The middleware, for `App::wrap(from_fn(trace_request))`, outermost.
///
/// # Errors
/// Only what an inner middleware raised, already rendered as a problem.
pub async fn trace_request<B: MessageBody + 'static>(
    mut request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let id = request
        .headers()
        .get("traceparent")
        .and_then(|value| value.to_str().ok())
        .and_then(TraceId::from_traceparent)
        .unwrap_or_else(TraceId::fresh);
    let span = tracing::info_span!("request", trace_id = %id, method = %request.method(), path = request.path());
    // Every GET answers HEAD too; the protocol layer drops the body, because it remembers what was asked.
    if request.method() == Method::HEAD {
        request.head_mut().method = Method::GET;
    }
    CURRENT.scope(id, answer(request, next, id).instrument(span)).await
}

async fn answer<B: MessageBody + 'static>(
    request: ServiceRequest,
    next: Next<B>,
    id: TraceId,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let started = Instant::now();
    // A panic would take the worker and everybody's connections on it along.
    let answered = AssertUnwindSafe(next.call(request)).catch_unwind().await;
    let mut answered = match answered {
        Ok(Ok(response)) => Ok(in_our_form(response)),
        Ok(Err(error)) => Err(rendered(error)),
        Err(panic) => {
            let words = panic.downcast_ref::<&str>().map(|words| (*words).to_owned());
            let words = words.or_else(|| panic.downcast_ref::<String>().cloned()).unwrap_or_default();
            let problem = Problem::internal(format!("panicked: {words}"));
            Err((render(&problem), problem.to_string()))
        }
    };
    let headers = match &mut answered {
        Ok(response) => response.headers_mut(),
        Err((response, _)) => response.headers_mut(),
    };
    if let Ok(value) = HeaderValue::try_from(id.to_string()) {
        headers.insert(TRACE_HEADER, value);
    }
    let status = match &answered {
        Ok(response) => response.status(),
        Err((response, _)) => response.status(),
    };
    tracing::debug!(status = status.as_u16(), microseconds = started.elapsed().as_micros(), "answered");
    answered.map_err(|(response, cause)| InternalError::from_response(cause, response).into())
}

/// An error that no handler turned into a response, rendered now, while the trace id is at hand.
fn rendered(error: Error) -> (HttpResponse, String) {
    let cause = error.to_string();
    match error.as_error::<Problem>() {
        Some(problem) => (render(problem), cause),
        None => {
            let status = error.as_response_error().status_code();
            (render(&Problem::foreign(status.as_u16()).because(cause.clone())), cause)
        }
    }
}

/// Leaves problem documents and successes alone; everything else becomes a problem document of the same status class.
fn in_our_form<B: MessageBody + 'static>(response: ServiceResponse<B>) -> ServiceResponse<BoxBody> {
    let status = response.status();
    let fits = !(status.is_client_error() || status.is_server_error())
        || response.headers().get(header::CONTENT_TYPE).is_some_and(|it| it == "application/problem+json")
        || response.response().extensions().get::<OwnErrorForm>().is_some();
    if fits {
        return response.map_into_boxed_body();
    }
    let mut problem = Problem::foreign(status.as_u16());
    if let Some(error) = response.response().error() {
        problem = problem.because(error.to_string());
    }
    let mut replacement = render(&problem);
    keep(response.headers(), replacement.headers_mut());
    let (request, _) = response.into_parts();
    ServiceResponse::new(request, replacement)
}

/// Headers that belong to the status and not to the replaced body.
fn keep(from: &HeaderMap, to: &mut HeaderMap) {
    for name in [header::ALLOW, header::RETRY_AFTER, header::SET_COOKIE] {
        for value in from.get_all(&name) {
            to.append(name.clone(), value.clone());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{TraceId, current, trace_request};
    use crate::problem::Problem;
    use actix_web::{App, HttpResponse, middleware::from_fn, test, web};
    use serde_json::Value;

    const PARENT: &str = "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01";

    #[core::prelude::v1::test]
    fn traceparents_by_the_recommendation() {
        // The recommendation's own example (W3C Trace Context, section 3.2.2; recalled).
        let id = TraceId::from_traceparent(PARENT).unwrap();
        assert_eq!(id.to_string(), "0af7651916cd43dd8448eb211c80319c");
        let later = "cc-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01-what-the-future-holds";
        assert_eq!(TraceId::from_traceparent(later), Some(id));
        for bad in [
            "",
            "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331",
            "00-00000000000000000000000000000000-b7ad6b7169203331-01",
            "00-0af7651916cd43dd8448eb211c80319c-0000000000000000-01",
            "00-0AF7651916CD43DD8448EB211C80319C-b7ad6b7169203331-01",
            "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01-more",
            "ff-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01",
        ] {
            assert_eq!(TraceId::from_traceparent(bad), None, "{bad}");
        }
        assert_ne!(TraceId::fresh(), TraceId::fresh());
    }

    async fn get(path: &str, parent: Option<&str>) -> (u16, String, Value) {
        let app = test::init_service(
            App::new()
                .route("/problem", web::get().to(async || Err::<HttpResponse, _>(Problem::busy(2))))
                .route("/panic", web::get().to(async || -> HttpResponse { panic!("a secret") }))
                .route("/plain", web::get().to(async || HttpResponse::BadGateway().body("inner words")))
                .route("/number/{n}", web::get().to(async |n: web::Path<u8>| n.to_string()))
                .route("/raised", web::get().to(HttpResponse::Ok))
                .route("/id", web::get().to(async || current().to_string()))
                .wrap(from_fn(async |request, next: actix_web::middleware::Next<_>| {
                    let request: actix_web::dev::ServiceRequest = request;
                    if request.path() == "/raised" {
                        Err(Problem::cross_site().into())
                    } else {
                        next.call(request).await
                    }
                }))
                .wrap(from_fn(trace_request)),
        )
        .await;
        let mut request = test::TestRequest::get().uri(path);
        if let Some(parent) = parent {
            request = request.insert_header(("traceparent", parent));
        }
        match test::try_call_service(&app, request.to_request()).await {
            Ok(response) => {
                let (status, id) = (response.status().as_u16(), response.headers().get("trace-id").cloned());
                let body = test::read_body(response).await;
                let body =
                    serde_json::from_slice(&body).unwrap_or_else(|_| Value::from(&*String::from_utf8_lossy(&body)));
                (status, id.unwrap().to_str().unwrap().to_owned(), body)
            }
            Err(error) => {
                let response = error.error_response();
                let id = response.headers().get("trace-id").unwrap().to_str().unwrap().to_owned();
                let status = response.status().as_u16();
                let body = actix_web::body::to_bytes(response.into_body()).await.unwrap();
                (status, id, serde_json::from_slice(&body).unwrap())
            }
        }
    }

    #[actix_web::test]
    async fn the_callers_trace_goes_on() {
        let (_, header, body) = get("/id", Some(PARENT)).await;
        assert_eq!(header, "0af7651916cd43dd8448eb211c80319c");
        assert_eq!(body, Value::from(header.as_str()));
    }

    #[actix_web::test]
    async fn whatever_goes_wrong_is_a_problem_with_the_same_trace_id() {
        for (path, status, code) in [
            ("/problem", 503, "busy"),
            ("/panic", 500, "internal"),
            ("/plain", 500, "internal"),
            ("/number/many", 404, "not-found"),
            ("/raised", 403, "cross-site"),
            ("/nowhere", 404, "not-found"),
        ] {
            let (got, header, body) = get(path, None).await;
            assert_eq!(got, status, "{path}");
            assert_eq!(body["type"], format!("/problems/{code}"), "{path}");
            assert_eq!(body["trace_id"], header.as_str(), "{path}");
            assert!(!body.to_string().contains("secret") && !body.to_string().contains("inner"), "{path}: {body}");
        }
    }

    /// Sends raw requests over one connection of a real server, and returns everything it answers.
    async fn over_one_connection(requests: &'static str) -> String {
        use std::io::{Read, Write};
        let app = || {
            App::new()
                .route("/words", web::get().to(async || "a few words"))
                .route("/panic", web::get().to(async || -> HttpResponse { panic!("in a handler") }))
                .wrap(from_fn(trace_request))
        };
        let server = actix_web::HttpServer::new(app).workers(1).bind(("127.0.0.1", 0)).unwrap();
        let address = server.addrs()[0];
        let server = server.run();
        let handle = server.handle();
        actix_web::rt::spawn(server);
        let answers = web::block(move || {
            let mut connection = std::net::TcpStream::connect(address).unwrap();
            connection.write_all(requests.as_bytes()).unwrap();
            let mut answers = String::new();
            connection.read_to_string(&mut answers).unwrap();
            answers
        });
        let answers = answers.await.unwrap();
        handle.stop(false).await;
        answers
    }

    #[actix_web::test]
    async fn a_head_has_the_headers_of_a_get_and_no_body() {
        let requests =
            "HEAD /words HTTP/1.1\r\nhost: x\r\n\r\nGET /words HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\r\n";
        let answers = over_one_connection(requests).await;
        assert_eq!(answers.matches("content-length: 11\r\n").count(), 2, "{answers}");
        assert_eq!(answers.matches("a few words").count(), 1, "{answers}");
        assert!(answers.ends_with("a few words"));
    }

    #[actix_web::test]
    async fn a_panic_leaves_the_connection_and_the_worker_alive() {
        let requests =
            "GET /panic HTTP/1.1\r\nhost: x\r\n\r\nGET /words HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\r\n";
        let answers = over_one_connection(requests).await;
        assert!(answers.starts_with("HTTP/1.1 500") && answers.ends_with("a few words"), "{answers}");
        assert!(answers.contains("/problems/internal"));
    }
}
