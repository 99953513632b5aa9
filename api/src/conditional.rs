//! Entity tags, and reads that are answered only when something changed.

use crate::{extract::IfNoneMatch, problem::Problem};
use actix_web::{
    HttpResponse,
    http::{StatusCode, header},
};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use serde::Serialize;
use sha2::{Digest, Sha256};
use std::fmt;

/// A strong entity tag: the SHA-256 of a representation's bytes, base64url, shown in double quotes.
///
/// The bytes are the serialized representation, whose field order is its type's. So equal resources have equal tags in
/// every process, and nothing has to store or count versions for it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ETag(String);

impl ETag {
    /// The tag of these bytes.
    #[must_use]
    pub fn of(representation: &[u8]) -> Self {
        Self(URL_SAFE_NO_PAD.encode(Sha256::digest(representation)))
    }

    /// The tag of a resource as it is answered.
    ///
    /// # Errors
    /// 500 when it cannot be shown as JSON.
    pub fn of_resource<T: Serialize>(resource: &T) -> Result<Self, Problem> {
        serde_json::to_vec(resource).map(|bytes| Self::of(&bytes)).map_err(Problem::internal)
    }

    /// The tag without its quotes.
    #[must_use]
    pub fn opaque(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for ETag {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "\"{}\"", self.0)
    }
}

/// Answers a read of one resource: 200 with its `ETag`, or 304 when the caller has this version.
///
/// # Errors
/// 500 when it cannot be shown as JSON.
pub fn answer_read<T: Serialize>(resource: &T, condition: &IfNoneMatch) -> Result<HttpResponse, Problem> {
    let bytes = serde_json::to_vec(resource).map_err(Problem::internal)?;
    let tag = ETag::of(&bytes);
    if condition.has(&tag) {
        return Ok(headed(StatusCode::NOT_MODIFIED, &tag).finish());
    }
    Ok(headed(StatusCode::OK, &tag).insert_header(header::ContentType::json()).body(bytes))
}

/// Answers a write with the resource as it is now and its `ETag`; with `Location`, as created (201).
///
/// # Errors
/// 500 when it cannot be shown as JSON.
pub fn answer_write<T: Serialize>(resource: &T, location: Option<&str>) -> Result<HttpResponse, Problem> {
    let bytes = serde_json::to_vec(resource).map_err(Problem::internal)?;
    let status = if location.is_some() { StatusCode::CREATED } else { StatusCode::OK };
    let mut response = headed(status, &ETag::of(&bytes));
    if let Some(location) = location {
        response.insert_header((header::LOCATION, location));
    }
    Ok(response.insert_header(header::ContentType::json()).body(bytes))
}

/// Answers what must not be kept: verdicts, permits, what is due.
#[must_use]
pub fn answer_fresh<T: Serialize>(answer: &T) -> HttpResponse {
    HttpResponse::Ok().insert_header((header::CACHE_CONTROL, "no-store")).json(answer)
}

fn headed(status: StatusCode, tag: &ETag) -> actix_web::HttpResponseBuilder {
    let mut response = HttpResponse::build(status);
    // A browser may keep it, for this person only, and asks each time whether it still holds.
    response.insert_header((header::ETAG, tag.to_string())).insert_header((header::CACHE_CONTROL, "private, no-cache"));
    response
}

#[cfg(test)]
mod tests {
    use super::{ETag, answer_fresh, answer_read, answer_write};
    use crate::extract::IfNoneMatch;
    use actix_web::{body::MessageBody, http::header, test::TestRequest};
    use serde_json::json;

    #[test]
    fn the_tag_is_the_bytes_sha_256() {
        // SHA-256 of "abc" (FIPS 180-2, appendix B.1; recalled): ba7816bf 8f01cfea 414140de …, as base64url.
        assert_eq!(ETag::of(b"abc").to_string(), "\"ungWv48Bz-pBQUDeXa4iI7ADYaOWF3qctBD_YfIAFa0\"");
    }

    #[test]
    fn a_read_is_answered_once() {
        let resource = json!({"code": "M-1"});
        let first = answer_read(&resource, &IfNoneMatch::ABSENT).unwrap();
        assert_eq!(first.status(), 200);
        let tag = first.headers().get(header::ETAG).unwrap().clone();
        assert_eq!(tag.to_str().unwrap(), ETag::of_resource(&resource).unwrap().to_string());

        let request = TestRequest::get().insert_header((header::IF_NONE_MATCH, tag.clone())).to_http_request();
        let condition = IfNoneMatch::of(&request).unwrap();
        let second = answer_read(&resource, &condition).unwrap();
        assert_eq!((second.status().as_u16(), second.headers().get(header::ETAG)), (304, Some(&tag)));
        assert!(second.into_body().try_into_bytes().unwrap().is_empty());
        assert_eq!(answer_read(&json!({"code": "M-2"}), &condition).unwrap().status(), 200);
    }

    #[test]
    fn a_creation_says_where() {
        let created = answer_write(&json!({}), Some("/v1/places/B-1")).unwrap();
        assert_eq!(created.status(), 201);
        assert_eq!(created.headers().get(header::LOCATION).unwrap(), "/v1/places/B-1");
        assert_eq!(answer_write(&json!({}), None).unwrap().status(), 200);
        assert_eq!(answer_fresh(&json!({})).headers().get(header::CACHE_CONTROL).unwrap(), "no-store");
    }
}
