//! Idempotency keys and the fingerprint of what was asked with one.

use super::body::single;
use crate::problem::Problem;
use actix_web::{HttpRequest, http::header::HeaderName};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use sha2::{Digest, Sha256};
use std::fmt;

const HEADER: HeaderName = HeaderName::from_static("idempotency-key");

/// A caller's key for one piece of work: 1 to 64 characters of `[A-Za-z0-9._:-]`.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct IdempotencyKey(String);

impl IdempotencyKey {
    /// Reads a key, bare or quoted (the draft standard has it as a structured string).
    ///
    /// # Errors
    /// 400 when it is not one.
    pub fn parse(text: &str) -> Result<Self, Problem> {
        let bare = text.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')).unwrap_or(text);
        let alphabet = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | ':' | '-');
        if bare.is_empty() || bare.len() > 64 || !bare.chars().all(alphabet) {
            let detail = "an idempotency key has 1 to 64 characters of A-Z, a-z, 0-9, dot, underscore, colon, dash";
            return Err(Problem::header("Idempotency-Key", detail));
        }
        Ok(Self(bare.to_owned()))
    }

    /// The key of a request, if it has one.
    ///
    /// # Errors
    /// 400 when it is malformed or given twice.
    pub fn of(request: &HttpRequest) -> Result<Option<Self>, Problem> {
        single(request, &HEADER)?.map(Self::parse).transpose()
    }

    /// The key's text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// The SHA-256 of a request's query and body: whether two requests ask the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fingerprint([u8; 32]);

impl Fingerprint {
    /// Of a query, as it came, and a body.
    #[must_use]
    pub fn of(query: &str, body: &[u8]) -> Self {
        let mut hash = Sha256::new();
        // The length keeps a query's end and a body's beginning apart.
        hash.update((query.len() as u64).to_be_bytes());
        hash.update(query);
        hash.update(body);
        Self(hash.finalize().into())
    }

    /// The 32 bytes.
    #[must_use]
    pub const fn bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

impl fmt::Display for Fingerprint {
    /// As base64url text, for storage.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&URL_SAFE_NO_PAD.encode(self.0))
    }
}

#[cfg(test)]
mod tests {
    use super::{Fingerprint, IdempotencyKey};
    use actix_web::test::TestRequest;

    #[test]
    fn keys_are_taken_bare_or_quoted() {
        let longest = "k".repeat(64);
        for (text, key) in [("a:b.c_d-9", "a:b.c_d-9"), ("\"a\"", "a"), (&longest, &longest)] {
            assert_eq!(IdempotencyKey::parse(text).unwrap().as_str(), key);
        }
        for bad in ["", "\"\"", "\"a", "\"", "a b", "ä", "a,b", &"k".repeat(65)] {
            assert_eq!(IdempotencyKey::parse(bad).unwrap_err().code().code(), "malformed-header", "{bad}");
        }
    }

    #[test]
    fn a_malformed_key_is_never_taken_for_none() {
        let with = |values: &[&str]| {
            let request = values.iter().fold(TestRequest::post(), |r, v| r.append_header(("idempotency-key", *v)));
            IdempotencyKey::of(&request.to_http_request()).map(|key| key.map(|key| key.as_str().to_owned()))
        };
        assert_eq!(with(&[]).unwrap(), None);
        assert_eq!(with(&["k1"]).unwrap().as_deref(), Some("k1"));
        assert_eq!(with(&["k 1"]).unwrap_err().code().status(), 400);
        assert_eq!(with(&[""]).unwrap_err().code().status(), 400);
        assert_eq!(with(&["k1", "k2"]).unwrap_err().code().status(), 400);
    }

    #[test]
    fn fingerprints_keep_query_and_body_apart() {
        assert_eq!(Fingerprint::of("a", b"b"), Fingerprint::of("a", b"b"));
        assert_ne!(Fingerprint::of("a", b"b"), Fingerprint::of("ab", b""));
        assert_ne!(Fingerprint::of("a", b"b"), Fingerprint::of("", b"ab"));
        assert_eq!(Fingerprint::of("", b"").to_string().len(), 43);
    }
}
