//! Reading a body, within its limit and without surprises in its encoding.

use crate::problem::{Problem, ProblemCode};
use actix_web::{
    FromRequest, HttpRequest,
    dev::Payload,
    http::header::{self, HeaderName},
    web::{self, Bytes},
};

/// Bodies have at most this many bytes; imports are streamed and have their own limit.
pub const MAX_BODY: usize = 1024 * 1024;

/// A header's only value as text; `None` when it is absent.
///
/// # Errors
/// 400 when it is given twice or is not ASCII.
pub(super) fn single<'r>(request: &'r HttpRequest, name: &HeaderName) -> Result<Option<&'r str>, Problem> {
    let mut values = request.headers().get_all(name);
    match (values.next(), values.next()) {
        (None, _) => Ok(None),
        (Some(value), None) => match value.to_str() {
            Ok(text) => Ok(Some(text.trim())),
            Err(_) => Err(Problem::header(name.as_str(), "the header holds more than visible ASCII")),
        },
        (Some(_), Some(_)) => Err(Problem::header(name.as_str(), "the header is given more than once")),
    }
}

/// Whether `Content-Type` is this media type, in UTF-8 as far as it says.
///
/// # Errors
/// 400 when the header is given twice.
pub(super) fn is_media_type(request: &HttpRequest, media_type: &str) -> Result<bool, Problem> {
    let Some(value) = single(request, &header::CONTENT_TYPE)? else { return Ok(false) };
    let mut parts = value.split(';');
    let essence = parts.next().unwrap_or_default().trim();
    let utf8 = parts.all(|parameter| match parameter.split_once('=') {
        Some((name, charset)) if name.trim().eq_ignore_ascii_case("charset") => {
            charset.trim().trim_matches('"').eq_ignore_ascii_case("utf-8")
        }
        _ => true,
    });
    Ok(essence.eq_ignore_ascii_case(media_type) && utf8)
}

/// Reads the whole body.
///
/// # Errors
/// 413 above the limit, 415 for an encoded body, 400 when the connection or the encoding broke.
pub(crate) async fn read(request: HttpRequest, mut payload: Payload, limit: usize) -> Result<Bytes, Problem> {
    let encoding = single(&request, &header::CONTENT_ENCODING)?;
    if encoding.is_some_and(|encoding| !encoding.eq_ignore_ascii_case("identity")) {
        return Err(Problem::unsupported_encoding());
    }
    let announced = single(&request, &header::CONTENT_LENGTH)?.and_then(|length| length.parse::<u64>().ok());
    if announced.is_some_and(|length| usize::try_from(length).map_or(true, |length| length > limit)) {
        return Err(Problem::payload_too_large(limit));
    }
    let broken = |cause: actix_web::Error| {
        Problem::new(ProblemCode::MalformedRequest, "the body could not be read to its end").because(cause.to_string())
    };
    let payload = web::Payload::from_request(&request, &mut payload).await.map_err(broken)?;
    match payload.to_bytes_limited(limit).await {
        Ok(read) => read.map_err(broken),
        Err(_) => Err(Problem::payload_too_large(limit)),
    }
}
