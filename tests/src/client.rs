//! A blocking HTTP client that speaks to one server as one person (or as nobody) and hides no status.

use serde_json::{Value, json};
use std::{
    sync::{Arc, Mutex, PoisonError},
    time::Duration,
};
use ureq::{
    Agent, Body,
    http::{HeaderMap, Method, Request, Response, Uri},
};

/// Speaks to one server, signed in or not. Cheap to clone; clones share the kept connections.
#[derive(Clone, Debug)]
pub struct Client {
    agent: Agent,
    base: String,
    token: Option<String>,
    predictions: Option<Predictions>,
}

/// What dry runs foretold, and what came of it: method, path, status.
pub type Predictions = Arc<Mutex<Vec<(Method, String, u16)>>>;

impl Client {
    /// A client of the server at `base` (`http://127.0.0.1:PORT`) that is signed in as nobody.
    #[must_use]
    pub fn new(base: &str) -> Self {
        let agent = Agent::config_builder()
            .http_status_as_error(false)
            .max_redirects(0)
            .proxy(None)
            .timeout_global(Some(Duration::from_secs(60)))
            // The server closes what has been idle for five seconds: a connection is given up before that.
            .max_idle_age(Duration::from_secs(3))
            .build()
            .new_agent();
        Self { agent, base: base.to_owned(), token: None, predictions: None }
    }

    /// The same server, signed in with this badge and secret.
    ///
    /// # Panics
    /// When the server does not answer with an access token.
    #[must_use]
    pub fn sign_in(&self, badge: &str, secret: &str) -> Self {
        let answer = self.anonymous().post("/v1/auth/sessions").json(&json!({"badge": badge, "secret": secret})).send();
        assert!(matches!(answer.status, 200 | 201), "signing in as {badge}: {answer}");
        let session = answer.json();
        let token = session["access_token"].as_str().unwrap_or_else(|| panic!("no access token in {session}"));
        self.with_token(token)
    }

    /// The same server, with this access token, valid or not.
    #[must_use]
    pub fn with_token(&self, token: &str) -> Self {
        Self { token: Some(token.to_owned()), ..self.clone() }
    }

    /// The same server, signed in as nobody.
    #[must_use]
    pub fn anonymous(&self) -> Self {
        Self { token: None, ..self.clone() }
    }

    /// The same client, which asks for a dry run before every write that has one, and fails its test when the real
    /// answer is another than foretold. What came true is listed in `predictions`.
    #[must_use]
    pub fn predicting(&self, predictions: &Predictions) -> Self {
        Self { predictions: Some(Arc::clone(predictions)), ..self.clone() }
    }

    /// The access token that this client sends.
    #[must_use]
    pub fn token(&self) -> Option<&str> {
        self.token.as_deref()
    }

    /// Begins a call with any method. The path starts with `/` and may carry a query.
    pub fn call(&self, method: Method, path: &str) -> Call<'_> {
        let uri = format!("{}{path}", self.base);
        let uri = uri.parse::<Uri>().unwrap_or_else(|error| panic!("{uri} is no address: {error}"));
        let mut request = Request::new(());
        *request.method_mut() = method;
        *request.uri_mut() = uri;
        let call = Call { client: self, request, body: None };
        match &self.token {
            Some(token) => call.header("Authorization", &format!("Bearer {token}")),
            None => call,
        }
    }

    /// Begins a GET.
    pub fn get(&self, path: &str) -> Call<'_> {
        self.call(Method::GET, path)
    }

    /// Begins a POST.
    pub fn post(&self, path: &str) -> Call<'_> {
        self.call(Method::POST, path)
    }

    /// Begins a PUT.
    pub fn put(&self, path: &str) -> Call<'_> {
        self.call(Method::PUT, path)
    }

    /// Begins a PATCH.
    pub fn patch(&self, path: &str) -> Call<'_> {
        self.call(Method::PATCH, path)
    }

    /// Begins a DELETE.
    pub fn delete(&self, path: &str) -> Call<'_> {
        self.call(Method::DELETE, path)
    }
}

/// One call, not sent yet.
#[derive(Debug)]
#[must_use = "a call does nothing until it is sent"]
pub struct Call<'a> {
    client: &'a Client,
    request: Request<()>,
    body: Option<Vec<u8>>,
}

impl Call<'_> {
    /// Adds a header; the same name again sends it twice.
    ///
    /// # Panics
    /// When HTTP does not allow the name or the value.
    pub fn header(mut self, name: &str, value: &str) -> Self {
        let name = name.parse::<ureq::http::HeaderName>().unwrap_or_else(|error| panic!("header {name}: {error}"));
        let value = value.parse().unwrap_or_else(|error| panic!("header {name}: {value}: {error}"));
        self.request.headers_mut().append(name, value);
        self
    }

    /// Sends this as `application/json`.
    pub fn json(self, body: &Value) -> Self {
        self.body("application/json", body.to_string())
    }

    /// Sends these bytes as this content type.
    pub fn body(mut self, content_type: &str, bytes: impl Into<Vec<u8>>) -> Self {
        self.body = Some(bytes.into());
        self.header("Content-Type", content_type)
    }

    /// Sends the call.
    ///
    /// # Panics
    /// When no whole answer comes back. Any status is an answer.
    #[must_use]
    #[track_caller]
    pub fn send(self) -> Answer {
        let what = format!("{} {}", self.request.method(), self.request.uri());
        let foretold =
            self.client.predictions.clone().filter(|_| self.has_a_dry_run()).map(|list| (list, self.rehearse()));
        let (method, path) = (self.request.method().clone(), self.request.uri().path().to_owned());
        let answer = self.try_send().unwrap_or_else(|error| panic!("{what}: no answer: {error}"));
        if let Some((list, rehearsal)) = foretold {
            assert_foretold(&what, &rehearsal, &answer);
            list.lock().unwrap_or_else(PoisonError::into_inner).push((method, path, answer.status));
        }
        answer
    }

    fn has_a_dry_run(&self) -> bool {
        let path = self.request.uri().path();
        let exempt = ["/v1/auth/", "/v1/calculations/"].iter().any(|prefix| path.starts_with(prefix));
        self.request.method() != Method::GET && !exempt && self.request.uri().query().is_none()
    }

    /// Sends the same as a dry run.
    fn rehearse(&self) -> Answer {
        let mut request = self.request.clone();
        let uri = format!("{}?validate_only=true", request.uri());
        *request.uri_mut() = uri.parse().unwrap_or_else(|error| panic!("{uri} is no address: {error}"));
        let call = Call { client: self.client, request, body: self.body.clone() };
        call.try_send().unwrap_or_else(|error| panic!("{uri}: no answer: {error}"))
    }

    /// Sends the call, where the server may be gone.
    ///
    /// # Errors
    /// When no whole answer comes back. Any status is an answer.
    pub fn try_send(self) -> Result<Answer, ureq::Error> {
        let agent = &self.client.agent;
        let response = match self.body {
            // Not only where a body is usual: a test may send one to any method.
            Some(body) => {
                let request =
                    agent.configure_request(self.request.map(|()| body)).allow_non_standard_methods(true).build();
                agent.run(request)?
            }
            None => agent.run(self.request)?,
        };
        Answer::read(response)
    }
}

/// A success was foretold with its status and at least one change; a problem word for word.
#[track_caller]
fn assert_foretold(what: &str, rehearsal: &Answer, answer: &Answer) {
    if (200..300).contains(&answer.status) {
        assert!(rehearsal.status == 200, "{what}: the dry run said {rehearsal}, but then came {answer}");
        let would = &rehearsal.json()["would"];
        assert!(would["status"] == answer.status, "{what}: the dry run said {would}, but then came {answer}");
        assert!(would["changes"].is_array(), "{what}: the dry run named no changes: {would}");
        return;
    }
    let without_trace = |answer: &Answer| {
        let mut problem = answer.json();
        problem.as_object_mut().and_then(|problem| problem.remove("trace_id"));
        (answer.status, problem)
    };
    let (foretold, came) = (without_trace(rehearsal), without_trace(answer));
    assert!(foretold == came, "{what}: the dry run said {rehearsal}, but then came {answer}");
}

/// A whole answer, whatever its status.
#[derive(Clone, Debug)]
pub struct Answer {
    /// The HTTP status.
    pub status: u16,
    /// The header fields.
    pub headers: HeaderMap,
    /// The body's bytes.
    pub body: Vec<u8>,
}

impl Answer {
    /// The largest body that a test reads: an export can be large, a runaway stream must end.
    const BODY_LIMIT: u64 = 256 * 1024 * 1024;

    fn read(mut response: Response<Body>) -> Result<Self, ureq::Error> {
        let body = response.body_mut().with_config().limit(Self::BODY_LIMIT).read_to_vec()?;
        Ok(Self { status: response.status().as_u16(), headers: response.headers().clone(), body })
    }

    /// This answer, which must have this status.
    ///
    /// # Panics
    /// When the status is another; the message shows the whole answer.
    #[track_caller]
    #[must_use]
    pub fn expect(self, status: u16) -> Self {
        assert!(self.status == status, "expected {status}, got {self}");
        self
    }

    /// A header's value, if it is there once and is text.
    #[must_use]
    pub fn header(&self, name: &str) -> Option<&str> {
        let mut values = self.headers.get_all(name).iter();
        match (values.next(), values.next()) {
            (Some(value), None) => value.to_str().ok(),
            _ => None,
        }
    }

    /// The body as JSON.
    ///
    /// # Panics
    /// When it is not; the message shows the whole answer.
    #[track_caller]
    #[must_use]
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|error| panic!("not JSON ({error}): {self}"))
    }
}

impl std::fmt::Display for Answer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} with {:?}\n{}", self.status, self.headers, String::from_utf8_lossy(&self.body))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::{
        io::{Read, Write},
        net::{Shutdown, TcpListener},
        thread,
    };

    /// Answers one request with these bytes and gives back what was asked.
    fn answer_once(answer: &'static str) -> (String, thread::JoinHandle<String>) {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let asked = thread::spawn(move || {
            let (mut stream, _) = listener.accept().unwrap();
            stream.set_read_timeout(Some(Duration::from_millis(500))).unwrap();
            let mut asked = Vec::new();
            let mut buffer = [0; 4096];
            // The time-out ends the reading of a request whose length this does not work out.
            while let Ok(count @ 1..) = stream.read(&mut buffer) {
                asked.extend_from_slice(&buffer[..count]);
            }
            stream.write_all(answer.as_bytes()).unwrap();
            stream.shutdown(Shutdown::Write).unwrap();
            String::from_utf8(asked).unwrap()
        });
        (base, asked)
    }

    #[test]
    fn a_refusal_is_an_answer_and_not_an_error() {
        let (base, asked) = answer_once(
            "HTTP/1.1 409 Conflict\r\nContent-Type: application/problem+json\r\nContent-Length: 14\r\n\r\n{\"status\":409}",
        );
        let client = Client::new(&base).with_token("abc");
        let answer = client
            .post("/v1/checkouts?validate_only=true")
            .header("Idempotency-Key", "k1")
            .json(&json!({"a": 1}))
            .send();
        let asked = asked.join().unwrap().to_lowercase();
        let answer = answer.expect(409);
        assert_eq!(answer.header("content-type"), Some("application/problem+json"));
        assert_eq!(answer.json()["status"], 409);
        assert!(asked.starts_with("post /v1/checkouts?validate_only=true http/1.1\r\n"), "{asked}");
        for field in ["authorization: bearer abc", "idempotency-key: k1", "content-type: application/json"] {
            assert!(asked.contains(field), "no {field} in {asked}");
        }
        assert!(asked.ends_with("{\"a\":1}"), "{asked}");
    }

    #[test]
    fn any_method_may_carry_a_body_and_a_broken_answer_is_an_error() {
        let (base, asked) = answer_once("HTTP/1.1 200 OK\r\nContent-Length: 99\r\n\r\ncut short");
        let result = Client::new(&base).delete("/v1/places/BIN-1").body("text/plain", "why").try_send();
        let asked = asked.join().unwrap().to_lowercase();
        assert!(asked.starts_with("delete /v1/places/bin-1 http/1.1\r\n") && asked.ends_with("why"), "{asked}");
        assert!(!asked.contains("authorization"), "{asked}");
        assert!(result.is_err(), "{result:?}");
    }

    #[test]
    fn signing_in_sends_badge_and_secret_and_keeps_the_token() {
        let (base, asked) = answer_once("HTTP/1.1 201 Created\r\nContent-Length: 22\r\n\r\n{\"access_token\":\"t-1\"}");
        let client = Client::new(&base).with_token("old").sign_in("setter-2", "secret");
        assert_eq!(client.token(), Some("t-1"));
        let asked = asked.join().unwrap();
        assert!(asked.starts_with("POST /v1/auth/sessions HTTP/1.1\r\n"), "{asked}");
        assert!(asked.ends_with(r#"{"badge":"setter-2","secret":"secret"}"#), "{asked}");
        assert!(!asked.to_lowercase().contains("authorization"), "{asked}");
    }
}
