//! What every write may carry besides its body.

use super::{
    entity_tags::{IfMatch, IfNoneMatch},
    idempotency::{Fingerprint, IdempotencyKey},
    query::{NoFields, claim, fields, rest},
};
use crate::problem::Problem;
use actix_web::{FromRequest, HttpRequest, dev::Payload, http::Method};
use serde::de::DeserializeOwned;
use std::future::{Ready, ready};

/// How a write is to be done. `Q` are the operation's own query fields; most have none.
#[derive(Clone, Debug)]
pub struct WriteOptions<Q = NoFields> {
    /// The caller's key for this piece of work. Only POST has one; other methods are idempotent by themselves.
    pub idempotency_key: Option<IdempotencyKey>,
    /// Judge it, roll it back, and say what it would have done.
    pub validate_only: bool,
    /// The version that the caller has seen.
    pub if_match: Option<IfMatch>,
    /// On a creation by the caller's own key: only if nothing is there.
    pub if_none_match: IfNoneMatch,
    /// The method, part of an idempotency key's scope.
    pub method: Method,
    /// The path, part of an idempotency key's scope.
    pub path: String,
    /// The query as it came, part of the fingerprint.
    pub query_string: String,
    /// The operation's own query fields.
    pub query: Q,
}

impl<Q> WriteOptions<Q> {
    /// The version that the caller has seen, on operations that change what is there.
    ///
    /// # Errors
    /// 428 without `If-Match`.
    pub fn required_match(&self) -> Result<&IfMatch, Problem> {
        self.if_match.as_ref().ok_or_else(Problem::precondition_required)
    }

    /// Insists on a key, which integration clients have to send.
    ///
    /// # Errors
    /// 400 without one. A dry run neither reads nor writes a record and needs none.
    pub fn require_key(&self) -> Result<(), Problem> {
        let needed = self.method == Method::POST && !self.validate_only;
        if needed && self.idempotency_key.is_none() { Err(Problem::idempotency_key_required()) } else { Ok(()) }
    }

    /// The fingerprint of this request with its body (`Json::bytes`, `MergePatch::bytes`, or empty).
    #[must_use]
    pub fn fingerprint(&self, body: &[u8]) -> Fingerprint {
        Fingerprint::of(&self.query_string, body)
    }
}

impl WriteOptions {
    /// Of a form that a page sent, with the key that came in it: it is kept, whatever version there is.
    #[must_use]
    pub(crate) fn of_form(request: &HttpRequest, key: Option<IdempotencyKey>) -> Self {
        Self {
            idempotency_key: key,
            validate_only: false,
            if_match: None,
            if_none_match: IfNoneMatch::ABSENT,
            method: request.method().clone(),
            path: request.path().to_owned(),
            query_string: request.query_string().to_owned(),
            query: NoFields {},
        }
    }
}

impl<Q: DeserializeOwned> WriteOptions<Q> {
    fn of(request: &HttpRequest) -> Result<Self, Problem> {
        let mut fields = fields(request.query_string())?;
        let validate_only = match claim(&mut fields, "validate_only").as_deref() {
            None | Some("false") => false,
            Some("true") => true,
            Some(_) => return Err(Problem::query("validate_only", "\"validate_only\" is true or false")),
        };
        let post = request.method() == Method::POST;
        Ok(Self {
            idempotency_key: if post { IdempotencyKey::of(request)? } else { None },
            validate_only,
            if_match: IfMatch::of(request)?,
            if_none_match: IfNoneMatch::of(request)?,
            method: request.method().clone(),
            path: request.path().to_owned(),
            query_string: request.query_string().to_owned(),
            query: rest(&fields)?,
        })
    }
}

impl<Q: DeserializeOwned> FromRequest for WriteOptions<Q> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(Self::of(request))
    }
}

#[cfg(test)]
mod tests {
    use super::WriteOptions;
    use crate::problem::Problem;
    use actix_web::{FromRequest, test::TestRequest};
    use serde::Deserialize;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Own {
        mode: Option<String>,
    }

    fn options(request: TestRequest) -> Result<WriteOptions, Problem> {
        let (request, mut payload) = request.to_http_parts();
        WriteOptions::from_request(&request, &mut payload).into_inner()
    }

    #[test]
    fn a_dry_run_is_asked_for_in_words() {
        assert!(!options(TestRequest::post().uri("/v1/places")).unwrap().validate_only);
        assert!(!options(TestRequest::post().uri("/v1/places?validate_only=false")).unwrap().validate_only);
        assert!(options(TestRequest::post().uri("/v1/places?validate_only=true")).unwrap().validate_only);
        for bad in [
            "validate_only=",
            "validate_only",
            "validate_only=1",
            "validate_only=TRUE",
            "Validate_only=true",
            "validate_only=true&validate_only=true",
            "x=1",
        ] {
            let problem = options(TestRequest::post().uri(&format!("/v1/places?{bad}"))).unwrap_err();
            assert_eq!(problem.code().status(), 400, "{bad}");
        }
    }

    #[test]
    fn an_operations_own_fields_stand_beside_it() {
        let own = |query: &str| {
            let (request, mut payload) = TestRequest::post().uri(&format!("/v1/x?{query}")).to_http_parts();
            WriteOptions::<Own>::from_request(&request, &mut payload).into_inner()
        };
        let options = own("mode=atomic&validate_only=true").unwrap();
        assert!(options.validate_only && options.query.mode.as_deref() == Some("atomic"));
        assert_eq!(own("colour=red").unwrap_err().code().code(), "unknown-query-field");
    }

    #[test]
    fn keys_belong_to_posts() {
        let post = options(TestRequest::post().insert_header(("idempotency-key", "k1"))).unwrap();
        assert_eq!(post.idempotency_key.as_ref().unwrap().as_str(), "k1");
        assert!(post.require_key().is_ok());
        assert_eq!(options(TestRequest::post()).unwrap().require_key().unwrap_err().code().status(), 400);
        assert!(options(TestRequest::post().uri("/?validate_only=true")).unwrap().require_key().is_ok());
        let put = options(TestRequest::put().insert_header(("idempotency-key", "not a key"))).unwrap();
        assert!(put.idempotency_key.is_none() && put.require_key().is_ok());
    }

    #[test]
    fn a_change_says_which_version_it_changes() {
        assert_eq!(options(TestRequest::put()).unwrap().required_match().unwrap_err().code().status(), 428);
        assert!(options(TestRequest::put().insert_header(("if-match", "\"a\""))).unwrap().required_match().is_ok());
    }

    #[test]
    fn the_fingerprint_has_query_and_body() {
        let of = |uri: &str| options(TestRequest::post().uri(uri)).unwrap();
        assert_eq!(of("/a").fingerprint(b"x"), of("/b").fingerprint(b"x"));
        assert_ne!(of("/a").fingerprint(b"x"), of("/a").fingerprint(b"y"));
        assert_ne!(of("/a").fingerprint(b"x"), of("/a?validate_only=false").fingerprint(b"x"));
    }
}
