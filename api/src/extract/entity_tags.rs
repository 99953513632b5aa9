//! `If-Match` and `If-None-Match` (RFC 9110, section 13.1).

use crate::{conditional::ETag, problem::Problem};
use actix_web::{
    FromRequest, HttpRequest,
    dev::Payload,
    http::header::{self, HeaderName},
};
use std::future::{Ready, ready};

/// Entity tags as a condition names them.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Tags {
    /// `*`: whatever is there.
    Any,
    /// A list; each with whether it is weak.
    Listed(Vec<(bool, String)>),
}

impl Tags {
    fn of(request: &HttpRequest, name: &HeaderName) -> Result<Option<Self>, Problem> {
        let mut values = Vec::new();
        for value in request.headers().get_all(name) {
            values.push(value.to_str().map_err(|_| malformed(name))?);
        }
        if values.is_empty() {
            return Ok(None);
        }
        Self::parse(&values.join(",")).map(Some).ok_or_else(|| malformed(name))
    }

    fn parse(text: &str) -> Option<Self> {
        let mut rest = text.trim();
        if rest == "*" {
            return Some(Self::Any);
        }
        let mut tags = Vec::new();
        loop {
            // Empty elements of a list are allowed (RFC 9110, section 5.6.1.2).
            rest = rest.trim_start_matches([' ', '\t', ',']);
            if rest.is_empty() {
                return if tags.is_empty() { None } else { Some(Self::Listed(tags)) };
            }
            let weak = rest.starts_with("W/");
            let (tag, after) = rest.strip_prefix("W/").unwrap_or(rest).strip_prefix('"')?.split_once('"')?;
            if !tag.bytes().all(|b| b == 0x21 || (0x23..=0x7e).contains(&b)) {
                return None;
            }
            tags.push((weak, tag.to_owned()));
            rest = after.trim_start_matches([' ', '\t']);
            if !(rest.is_empty() || rest.starts_with(',')) {
                return None;
            }
        }
    }

    fn hold(&self, current: Option<&ETag>, weakly: bool) -> bool {
        match (self, current) {
            (_, None) => false,
            (Self::Any, Some(_)) => true,
            (Self::Listed(tags), Some(current)) => {
                tags.iter().any(|(weak, tag)| (weakly || !weak) && tag == current.opaque())
            }
        }
    }
}

fn malformed(name: &HeaderName) -> Problem {
    Problem::header(name.as_str(), "the header is * or a list of entity tags in double quotes")
}

/// `If-Match`: do it only to the version that the caller has seen. Weak tags never match.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IfMatch(Tags);

impl IfMatch {
    /// The condition of a request, if it has one.
    ///
    /// # Errors
    /// 400 when it is malformed.
    pub fn of(request: &HttpRequest) -> Result<Option<Self>, Problem> {
        Ok(Tags::of(request, &header::IF_MATCH)?.map(Self))
    }

    /// The condition of a form: the version with which it was shown, as it stood in it.
    #[must_use]
    pub(crate) fn shown(opaque: &str) -> Self {
        Self(Tags::Listed(vec![(false, opaque.to_owned())]))
    }

    /// Compares with the resource as it is; `None` when there is none. To be called inside the write's transaction.
    ///
    /// # Errors
    /// 412 when they differ.
    pub fn check(&self, current: Option<&ETag>) -> Result<(), Problem> {
        if self.0.hold(current, false) { Ok(()) } else { Err(Problem::precondition_failed()) }
    }
}

/// `If-None-Match`: on a read, answer only if the caller has not got it; on a write with `*`, only if nothing is there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IfNoneMatch(Option<Tags>);

impl IfNoneMatch {
    /// No condition.
    pub const ABSENT: Self = Self(None);

    /// The condition of a request.
    ///
    /// # Errors
    /// 400 when it is malformed.
    pub fn of(request: &HttpRequest) -> Result<Self, Problem> {
        Tags::of(request, &header::IF_NONE_MATCH).map(Self)
    }

    /// Whether the caller already has this version.
    #[must_use]
    pub fn has(&self, current: &ETag) -> bool {
        self.0.as_ref().is_some_and(|tags| tags.hold(Some(current), true))
    }

    /// For a write: compares with the resource as it is; `None` when there is none.
    ///
    /// # Errors
    /// 412 when something is there that must not be.
    pub fn check(&self, current: Option<&ETag>) -> Result<(), Problem> {
        match &self.0 {
            Some(tags) if tags.hold(current, true) => Err(Problem::precondition_failed()),
            _ => Ok(()),
        }
    }
}

impl FromRequest for IfNoneMatch {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(Self::of(request))
    }
}

#[cfg(test)]
mod tests {
    use super::{IfMatch, IfNoneMatch, Tags};
    use crate::conditional::ETag;
    use actix_web::test::TestRequest;

    #[test]
    fn the_grammar() {
        for (text, count) in [("\"a\"", 1), ("\"\"", 1), ("W/\"a\" , \"b,c\"", 2), (",\"a\",,\"b\",", 2)] {
            match Tags::parse(text) {
                Some(Tags::Listed(tags)) => assert_eq!(tags.len(), count, "{text}"),
                other => panic!("{text}: {other:?}"),
            }
        }
        assert_eq!(Tags::parse(" * "), Some(Tags::Any));
        for bad in ["", ",", "a", "\"a", "\"a\"b", "\"a\" \"b\"", "w/\"a\"", "*,\"a\"", "\"a b\""] {
            assert_eq!(Tags::parse(bad), None, "{bad}");
        }
    }

    #[test]
    fn comparison_is_strong_for_writes_and_weak_for_reads() {
        let (tag, other) = (ETag::of(b"one"), ETag::of(b"two"));
        let (shown, weak) = (tag.to_string(), format!("W/{tag}"));
        let write = |header: &str| {
            let request = TestRequest::put().insert_header(("if-match", header)).to_http_request();
            IfMatch::of(&request).unwrap().unwrap()
        };
        assert!(write(&shown).check(Some(&tag)).is_ok());
        assert!(write(&format!("{other}, {tag}")).check(Some(&tag)).is_ok());
        assert!(write("*").check(Some(&tag)).is_ok());
        for (header, current) in [("*", None), (&*shown, None), (&*shown, Some(&other)), (&*weak, Some(&tag))] {
            assert_eq!(write(header).check(current).unwrap_err().code().status(), 412, "{header}");
        }

        let read = |header: &str| {
            let request = TestRequest::get().insert_header(("if-none-match", header)).to_http_request();
            IfNoneMatch::of(&request).unwrap()
        };
        assert!(read(&weak).has(&tag) && read("*").has(&tag) && !read(&shown).has(&other));
        assert!(read("*").check(None).is_ok());
        assert_eq!(read("*").check(Some(&tag)).unwrap_err().code().status(), 412);
        assert!(!IfNoneMatch::ABSENT.has(&tag) && IfNoneMatch::ABSENT.check(Some(&tag)).is_ok());
    }

    #[test]
    fn several_header_lines_are_one_list_and_nonsense_is_told() {
        let tag = ETag::of(b"one");
        let request =
            TestRequest::put().append_header(("if-match", "\"x\"")).append_header(("if-match", tag.to_string()));
        assert!(IfMatch::of(&request.to_http_request()).unwrap().unwrap().check(Some(&tag)).is_ok());
        let request = TestRequest::put().insert_header(("if-match", "x")).to_http_request();
        assert_eq!(IfMatch::of(&request).unwrap_err().code().code(), "malformed-header");
        assert_eq!(IfMatch::of(&TestRequest::put().to_http_request()).unwrap(), None);
    }
}
