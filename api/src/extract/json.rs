//! JSON bodies.

use super::{
    body::{MAX_BODY, is_media_type, read},
    fault, objects,
};
use crate::problem::{Problem, ProblemCode};
use actix_web::{FromRequest, HttpRequest, dev::Payload, web::Bytes};
use serde::de::{DeserializeOwned, IgnoredAny};
use std::{future::Future, ops::Deref, pin::Pin};

const JSON: &str = "application/json";

/// A JSON body as `T`. The type should deny unknown fields; the bytes are kept for the idempotency fingerprint.
#[derive(Debug)]
pub struct Json<T> {
    value: T,
    bytes: Bytes,
}

impl<T> Json<T> {
    /// The value.
    #[must_use]
    pub fn into_inner(self) -> T {
        self.value
    }

    /// The body exactly as it came.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }
}

impl<T> Deref for Json<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.value
    }
}

/// Parses one JSON document.
///
/// # Errors
/// 400 for what is not one JSON document, 422 for one that does not fit `T`.
pub(super) fn parse<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Problem> {
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return Err(Problem::new(ProblemCode::MalformedJson, "the body is empty"));
    }
    let mut deserializer = serde_json::Deserializer::from_slice(bytes);
    match serde_path_to_error::deserialize(&mut deserializer) {
        Ok(value) => {
            deserializer.end().map_err(|error| fault::malformed(&error))?;
            // serde takes an array for a struct, its fields by position: no caller is to rely on that.
            let document: serde_json::Value =
                serde_json::from_slice(bytes).map_err(|error| fault::malformed(&error))?;
            objects::refuse_positional::<T>(document)?;
            Ok(value)
        }
        // A body can be unfit at its beginning and broken further on; what is not JSON is malformed in the first place.
        Err(error) => Err(match serde_json::from_slice::<IgnoredAny>(bytes) {
            Err(broken) => fault::malformed(&broken),
            // Well-formed, but no number that a computer holds.
            Ok(_) if error.inner().to_string().starts_with("number out of range") => {
                fault::unfit(&fault::pointer(error.path()), "is too large a number")
            }
            Ok(_) if !error.inner().is_data() => fault::malformed(error.inner()),
            Ok(_) => fault::unfit(&fault::pointer(error.path()), &error.inner().to_string()),
        }),
    }
}

impl<T: DeserializeOwned + 'static> FromRequest for Json<T> {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let (request, payload) = (request.clone(), payload.take());
        Box::pin(async move {
            if !is_media_type(&request, JSON)? {
                return Err(Problem::unsupported_media_type(JSON));
            }
            let bytes = read(request, payload, MAX_BODY).await?;
            Ok(Self { value: parse(&bytes)?, bytes })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::{Json, MAX_BODY, parse};
    use crate::problem::{Fault, Place, Problem};
    use actix_web::{FromRequest, http::header, test::TestRequest, web::Bytes};
    use dovetally_core::{code::Code, length::Length};
    use serde::Deserialize;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct NewTool {
        code: Code,
        height: Length,
        #[serde(default)]
        steps: Vec<Step>,
        #[serde(default)]
        kind: Option<Kind>,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Step {
        #[expect(dead_code, reason = "only its parsing is looked at")]
        diameter: f64,
    }

    #[derive(Debug, Deserialize)]
    #[serde(rename_all = "snake_case")]
    enum Kind {
        Flat,
        Circular(#[expect(dead_code, reason = "only its parsing is looked at")] u8),
    }

    const HEIGHT: &str = r#""height":{"value":0.75,"unit":"in"}"#;

    #[test]
    fn what_fits_is_taken() {
        let tool: NewTool = parse(format!(r#" {{"code":"ft-1",{HEIGHT},"kind":"flat"}} "#).as_bytes()).unwrap();
        assert_eq!(tool.code.as_str(), "FT-1");
        assert_eq!(tool.height.picometres(), 19_050_000_000);
        assert!(tool.steps.is_empty() && matches!(tool.kind, Some(Kind::Flat)));
    }

    #[test]
    fn what_is_not_one_json_document_is_malformed() {
        let deep = "[".repeat(100_000);
        let trailing = format!(r#"{{"code":"A",{HEIGHT}}} x"#);
        let unfit_then_broken = r#"{"two":1,}"#;
        for text in ["", "  ", "{", "{]", "\u{feff}{}", "{} {}", "nul", &deep, &trailing, unfit_then_broken] {
            assert_eq!(parse::<NewTool>(text.as_bytes()).unwrap_err().code().code(), "malformed-json", "{text:.40}");
        }
        assert_eq!(parse::<NewTool>(b"{\"code\":\"\xff\"}").unwrap_err().code().code(), "malformed-json");
        assert!(parse::<NewTool>(b"{\n  \"code\" 1}").unwrap_err().to_string().ends_with("line 2 column 10"));
    }

    #[test]
    fn an_object_is_an_object() {
        for (text, at) in [
            (format!(r#"["A",{}]"#, &HEIGHT[9..]), ""),
            (r#"{"code":"A","height":[0.75,"in"]}"#.to_owned(), "/height"),
            (format!(r#"{{"code":"A",{HEIGHT},"steps":[{{"diameter":1}},[1]]}}"#), "/steps/1"),
            (format!(r#"{{"code":"A",{HEIGHT},"kind":"\u0000"}}"#), "/kind"),
        ] {
            let problem = parse::<NewTool>(text.as_bytes()).unwrap_err();
            let faults = problem.faults();
            assert_eq!(faults.first().map(|fault| fault.place.clone()), Some(Place::Pointer(at.to_owned())), "{text}");
        }
    }

    #[test]
    fn what_does_not_fit_says_where() {
        for (text, code, at) in [
            (r#"{"code":"A","two":1}"#.to_owned(), "unknown-field", "/two"),
            (r#"{"code":"A","a/b~c":1}"#.to_owned(), "unknown-field", "/a~1b~0c"),
            (r#"{"code":"A"}"#.to_owned(), "invalid-field", "/height"),
            (r#"{"code":"-A"}"#.to_owned(), "invalid-field", "/code"),
            (r#"{"code":7}"#.to_owned(), "invalid-field", "/code"),
            (r#"{"code":"A","code":"B"}"#.to_owned(), "invalid-field", "/code"),
            (r#"{"code":"A","height":{"value":1}}"#.to_owned(), "invalid-field", "/height/unit"),
            (
                format!(r#"{{"code":"A",{HEIGHT},"steps":[{{"diameter":1}},{{"width":2}}]}}"#),
                "unknown-field",
                "/steps/1/width",
            ),
            (
                format!(r#"{{"code":"A",{HEIGHT},"steps":[{{"diameter":1}},{{}}]}}"#),
                "invalid-field",
                "/steps/1/diameter",
            ),
            (format!(r#"{{"code":"A",{HEIGHT},"kind":{{"circular":"x"}}}}"#), "invalid-field", "/kind/circular"),
            ("[]".to_owned(), "invalid-field", ""),
        ] {
            let problem = parse::<NewTool>(text.as_bytes()).unwrap_err();
            let [Fault { place: Place::Pointer(pointer), .. }] = problem.faults() else {
                panic!("{text}: {problem:?}")
            };
            assert_eq!((problem.code().code(), pointer.as_str()), (code, at), "{text}");
        }
    }

    async fn extract(headers: &[(header::HeaderName, &str)], body: impl Into<Bytes>) -> Result<Json<Step>, Problem> {
        // The payload sets its true length; the headers come after it, to be able to claim another.
        let request = TestRequest::post().set_payload(body);
        let request = headers.iter().fold(request, |r, (name, value)| r.insert_header((name, *value)));
        let (request, mut payload) = request.to_http_parts();
        Json::from_request(&request, &mut payload).await
    }

    #[actix_web::test]
    async fn the_media_type_is_json_in_utf_8() {
        for good in ["application/json", "Application/JSON; charset=UTF-8", "application/json;charset=\"utf-8\""] {
            let json = extract(&[(header::CONTENT_TYPE, good)], r#"{"diameter":1}"#).await.unwrap();
            assert_eq!(json.bytes(), br#"{"diameter":1}"#);
        }
        for bad in ["", "text/plain", "application/json; charset=latin-1", "application/jsonp"] {
            let problem = extract(&[(header::CONTENT_TYPE, bad)], r#"{"diameter":1}"#).await.unwrap_err();
            assert_eq!(problem.code().status(), 415, "{bad}");
        }
        assert_eq!(extract(&[], r#"{"diameter":1}"#).await.unwrap_err().code().status(), 415);
        let gzip = [(header::CONTENT_TYPE, "application/json"), (header::CONTENT_ENCODING, "gzip")];
        assert_eq!(extract(&gzip, r#"{"diameter":1}"#).await.unwrap_err().code().status(), 415);
    }

    #[actix_web::test]
    async fn a_body_over_the_limit_is_refused_announced_or_not() {
        let json = [(header::CONTENT_TYPE, "application/json")];
        let padded = |length: usize| [br#"{"diameter":1}"#.to_vec(), vec![b' '; length - 14]].concat();
        assert!(extract(&json, padded(MAX_BODY)).await.is_ok());
        assert_eq!(extract(&json, padded(MAX_BODY + 1)).await.unwrap_err().code().status(), 413);
        let announced = [json[0].clone(), (header::CONTENT_LENGTH, "18446744073709551615")];
        assert_eq!(extract(&announced, r#"{"diameter":1}"#).await.unwrap_err().code().status(), 413);
    }
}
