//! Problems as HTTP answers: `application/problem+json` (RFC 9457), and the headers that go with a status.

use super::{Notice, Problem, ProblemCode};
use crate::trace::{self, TraceId};
use actix_web::{
    HttpResponse, ResponseError,
    http::{
        StatusCode,
        header::{self, HeaderName, HeaderValue},
    },
};
use serde_json::{Map, Value, json};

const MEDIA_TYPE: &str = "application/problem+json";

/// The problem as a response. Logs the cause of what the caller cannot mend.
#[must_use]
pub fn render(problem: &Problem) -> HttpResponse {
    let parts = problem.parts();
    let status = StatusCode::from_u16(parts.code.status()).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    let trace = trace::current();
    log(problem, status, trace);

    let mut response = HttpResponse::build(status);
    response.insert_header((header::CONTENT_TYPE, MEDIA_TYPE));
    response.insert_header((header::CACHE_CONTROL, "no-store"));
    if status == StatusCode::UNAUTHORIZED {
        let invalid = parts.notices.contains(&Notice::InvalidToken);
        let challenge = match (parts.code, invalid) {
            (_, true) => r#"Bearer realm="dovetally", error="invalid_token""#,
            _ => r#"Bearer realm="dovetally""#,
        };
        response.insert_header((header::WWW_AUTHENTICATE, challenge));
    }
    for notice in &parts.notices {
        let (name, value): (HeaderName, String) = match notice {
            Notice::RetryAfter(seconds) => (header::RETRY_AFTER, seconds.to_string()),
            Notice::Allow(methods) => (header::ALLOW, methods.clone()),
            Notice::Accept(types) => (header::ACCEPT, (*types).to_owned()),
            Notice::AcceptPatch(types) => (HeaderName::from_static("accept-patch"), (*types).to_owned()),
            Notice::AcceptEncoding(encodings) => (header::ACCEPT_ENCODING, (*encodings).to_owned()),
            Notice::RateLimit(allowance) => {
                for field in allowance.fields() {
                    response.insert_header(field);
                }
                continue;
            }
            Notice::InvalidToken => continue,
        };
        if let Ok(value) = HeaderValue::try_from(value) {
            response.insert_header((name, value));
        }
    }
    // A server that is busy or still at work says when to come again, even if nobody thought of it.
    if matches!(parts.code, ProblemCode::Busy | ProblemCode::TooManyRequests | ProblemCode::IdempotencyKeyInProgress)
        && !parts.notices.iter().any(|notice| matches!(notice, Notice::RetryAfter(_)))
    {
        response.insert_header((header::RETRY_AFTER, "1"));
    }
    response.body(document(problem, trace).to_string())
}

/// The problem document.
fn document(problem: &Problem, trace: TraceId) -> Value {
    let parts = problem.parts();
    let mut document = Map::new();
    document.insert("type".to_owned(), parts.code.path().into());
    document.insert("title".to_owned(), parts.code.title().into());
    document.insert("status".to_owned(), parts.code.status().into());
    document.insert("detail".to_owned(), parts.detail.as_str().into());
    document.insert("trace_id".to_owned(), trace.to_string().into());
    if !parts.errors.is_empty() {
        document.insert("errors".to_owned(), json!(parts.errors));
    }
    if parts.code == ProblemCode::Refused {
        document.insert("refusals".to_owned(), json!(parts.refusals));
    }
    for (name, value) in &parts.members {
        document.entry(name.clone()).or_insert_with(|| value.clone());
    }
    Value::Object(document)
}

fn log(problem: &Problem, status: StatusCode, trace: TraceId) {
    let parts = problem.parts();
    let code = parts.code.code();
    match (&parts.cause, status.is_server_error()) {
        (Some(cause), true) => {
            tracing::error!(trace_id = %trace, code, detail = parts.detail, cause = ?cause, "failed");
        }
        (None, true) => tracing::error!(trace_id = %trace, code, detail = parts.detail, "failed"),
        (Some(cause), false) => tracing::info!(trace_id = %trace, code, cause = %cause, "refused"),
        (None, false) => tracing::debug!(trace_id = %trace, code, detail = parts.detail, "refused"),
    }
}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.code().status()).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    fn error_response(&self) -> HttpResponse {
        render(self)
    }
}

#[cfg(test)]
mod tests {
    use super::{Problem, ProblemCode, render};
    use actix_web::{body::MessageBody, http::header};
    use dovetally_core::{
        people::Permission,
        refusal::{Refusal, Rule},
    };
    use serde_json::{Value, json};

    fn parts(problem: &Problem) -> (u16, header::HeaderMap, Value) {
        let response = render(problem);
        let (status, headers) = (response.status().as_u16(), response.headers().clone());
        let body = response.into_body().try_into_bytes().unwrap();
        (status, headers, serde_json::from_slice(&body).unwrap())
    }

    #[test]
    fn a_document_has_what_rfc_9457_names() {
        let problem = Problem::field("/height/value", "a height is above zero").and_field("/code", "a code is needed");
        let (status, headers, body) = parts(&problem);
        assert_eq!(status, 422);
        assert_eq!(headers.get(header::CONTENT_TYPE).unwrap(), "application/problem+json");
        assert_eq!(body["type"], "/problems/invalid-field");
        assert_eq!(body["status"], 422);
        assert_eq!(
            body["errors"],
            json!([
                {"detail": "a height is above zero", "pointer": "/height/value"},
                {"detail": "a code is needed", "pointer": "/code"},
            ])
        );
        assert_eq!(body["trace_id"].as_str().unwrap().len(), 32);
        assert!(body.get("refusals").is_none());
    }

    #[test]
    fn refusals_are_data() {
        let refusal = Refusal::new(Rule::GaugeStale, "Gauge CG-1 is stale.");
        let (status, _, body) = parts(&Problem::refusals(vec![refusal]));
        assert_eq!(status, 409);
        assert_eq!(body["detail"], "Gauge CG-1 is stale.");
        assert_eq!(body["refusals"][0]["rule"], "gauge-stale");
    }

    #[test]
    fn the_cause_is_not_answered() {
        let (status, _, body) = parts(&Problem::internal("SELECT secret FROM people"));
        assert_eq!(status, 500);
        assert!(!body.to_string().contains("SELECT"));
        let (_, _, body) = parts(&Problem::invalid_token("kid unknown"));
        assert!(!body.to_string().contains("kid"));
    }

    #[test]
    fn statuses_bring_their_headers() {
        let header = |problem: &Problem, name: &str| {
            parts(problem).1.get(name).map(|value| value.to_str().unwrap().to_owned()).unwrap_or_default()
        };
        assert_eq!(header(&Problem::unauthenticated(), "www-authenticate"), r#"Bearer realm="dovetally""#);
        assert!(header(&Problem::invalid_token("x"), "www-authenticate").contains("invalid_token"));
        assert_eq!(header(&Problem::busy(3), "retry-after"), "3");
        assert_eq!(header(&Problem::new(ProblemCode::Busy, "disk"), "retry-after"), "1");
        assert_eq!(header(&Problem::foreign(503), "retry-after"), "1");
        assert_eq!(header(&Problem::too_many_requests(8), "retry-after"), "8");
        assert_eq!(header(&Problem::method_not_allowed("PUT", "GET, HEAD"), "allow"), "GET, HEAD");
        assert_eq!(header(&Problem::unsupported_media_type("application/json"), "accept"), "application/json");
        let patch = Problem::unsupported_patch_type("application/merge-patch+json");
        assert_eq!(header(&patch, "accept-patch"), "application/merge-patch+json");
        assert_eq!(parts(&Problem::forbidden(Permission::Grind)).2["permission"], "grind");
    }

    #[test]
    fn an_extension_member_cannot_replace_a_standard_one() {
        let (_, _, body) = parts(&Problem::storage_full().with("status", 200).with("oldest", "12"));
        assert_eq!((&body["status"], &body["oldest"]), (&json!(507), &json!("12")));
    }
}
