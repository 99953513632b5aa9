//! What went wrong, as the caller may know it, apart from the cause, which only the log sees.
//!
//! A [`Problem`] knows nothing of HTTP beyond its code's status; [`render`] turns it into a response, in one place.

mod answer;
mod codes;
mod database;
mod page;

pub use answer::render;
pub use codes::ProblemCode;
pub(crate) use codes::{ASKS_FOR, NOTHING_HERE};
pub use page::explain;

use crate::throttle::Allowance;
use dovetally_core::{people::Permission, refusal::Refusal};
use serde::Serialize;
use serde_json::{Map, Value};
use std::{error::Error, fmt};

/// Where in the request a fault lies.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// A JSON pointer (RFC 6901) into the body; empty for the whole body.
    Pointer(String),
    /// A query field's name.
    Parameter(String),
    /// A header's name.
    Header(String),
}

/// One fault of the request.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Fault {
    /// One sentence.
    pub detail: String,
    /// Where.
    #[serde(flatten)]
    pub place: Place,
}

/// What the answer's headers have to tell besides the document.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Notice {
    /// Seconds after which another attempt makes sense.
    RetryAfter(u64),
    /// What is left of an allowance.
    RateLimit(Allowance),
    /// The methods an address takes.
    Allow(String),
    /// The media types an operation takes.
    Accept(&'static str),
    /// The media types a PATCH takes.
    AcceptPatch(&'static str),
    /// The content encodings an operation takes.
    AcceptEncoding(&'static str),
    /// That a token was sent but is not valid (RFC 6750, section 3.1).
    InvalidToken,
}

/// A refusal to do what was asked, or a failure to.
pub struct Problem(Box<Parts>);

pub(crate) struct Parts {
    pub(crate) code: ProblemCode,
    pub(crate) detail: String,
    pub(crate) errors: Vec<Fault>,
    pub(crate) refusals: Vec<Refusal>,
    pub(crate) members: Map<String, Value>,
    pub(crate) notices: Vec<Notice>,
    pub(crate) cause: Option<Box<dyn Error + Send + Sync>>,
}

impl Problem {
    /// A problem of a kind, with one sentence about this occurrence. Nothing private belongs in it.
    #[must_use]
    pub fn new(code: ProblemCode, detail: impl Into<String>) -> Self {
        Self(Box::new(Parts {
            code,
            detail: detail.into(),
            errors: Vec::new(),
            refusals: Vec::new(),
            members: Map::new(),
            notices: Vec::new(),
            cause: None,
        }))
    }

    /// A field of the body has a value it cannot have (422).
    #[must_use]
    pub fn field(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::faulty(ProblemCode::InvalidField, Place::Pointer(pointer.into()), detail)
    }

    /// A field of the body that nobody sets by hand (422).
    #[must_use]
    pub fn read_only_field(pointer: impl Into<String>) -> Self {
        let pointer = pointer.into();
        let detail = format!("{} follows from records and cannot be set", pointer.trim_start_matches('/'));
        Self::faulty(ProblemCode::ReadOnlyField, Place::Pointer(pointer), detail)
    }

    /// A field of the body that the operation does not have (422).
    #[must_use]
    pub fn unknown_field(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::faulty(ProblemCode::UnknownField, Place::Pointer(pointer.into()), detail)
    }

    /// A query field has a value it cannot have (400).
    #[must_use]
    pub fn query(parameter: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::faulty(ProblemCode::MalformedQuery, Place::Parameter(parameter.into()), detail)
    }

    /// A query field has a value that is well-formed and cannot be (422).
    #[must_use]
    pub fn impossible_query(parameter: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::faulty(ProblemCode::InvalidField, Place::Parameter(parameter.into()), detail)
    }

    /// A query field that the operation does not have (400).
    #[must_use]
    pub fn unknown_query_field(parameter: impl Into<String>) -> Self {
        let parameter = parameter.into();
        let detail = format!("there is no query field \"{parameter}\" here");
        Self::faulty(ProblemCode::UnknownQueryField, Place::Parameter(parameter), detail)
    }

    /// A header that does not follow its grammar (400).
    #[must_use]
    pub fn header(name: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::faulty(ProblemCode::MalformedHeader, Place::Header(name.into()), detail)
    }

    /// A cursor that this list did not hand out (400).
    #[must_use]
    pub fn cursor() -> Self {
        let place = Place::Parameter("cursor".to_owned());
        Self::faulty(ProblemCode::MalformedCursor, place, "the cursor is not one of this list with these filters")
    }

    fn faulty(code: ProblemCode, place: Place, detail: impl Into<String>) -> Self {
        let detail = detail.into();
        Self::new(code, detail.clone()).fault(place, detail)
    }

    /// Rules refuse what was asked (409). Every refusal is listed; the first one's sentence is the detail.
    #[must_use]
    pub fn refusals(refusals: Vec<Refusal>) -> Self {
        let detail = match refusals.as_slice() {
            [] => "a rule refuses this".to_owned(),
            [only] => only.sentence.clone(),
            [first, rest @ ..] => format!("{} ({} more)", first.sentence, rest.len()),
        };
        let mut problem = Self::new(ProblemCode::Refused, detail);
        problem.0.refusals = refusals;
        problem
    }

    /// Nothing under this code or id (404): "there is no machine M-7".
    #[must_use]
    pub fn not_found(what: &str, name: impl fmt::Display) -> Self {
        Self::new(ProblemCode::NotFound, format!("there is no {what} {name}"))
    }

    /// The address exists, but not with this method (405).
    #[must_use]
    pub fn method_not_allowed(method: &str, allow: impl Into<String>) -> Self {
        let allow = allow.into();
        Self::new(ProblemCode::MethodNotAllowed, format!("{method} is not one of {allow}")).notice(Notice::Allow(allow))
    }

    /// No credentials were sent (401).
    #[must_use]
    pub fn unauthenticated() -> Self {
        Self::new(ProblemCode::Unauthenticated, "the request carries no access token")
    }

    /// Credentials were sent that are not, or no longer, valid (401). Why is not told, only logged.
    #[must_use]
    pub fn invalid_token(cause: impl Into<Box<dyn Error + Send + Sync>>) -> Self {
        Self::new(ProblemCode::Unauthenticated, "the access token is not, or no longer, valid")
            .notice(Notice::InvalidToken)
            .because(cause)
    }

    /// Badge and secret do not belong together (401), whichever of them is at fault.
    #[must_use]
    pub fn sign_in_refused() -> Self {
        Self::new(ProblemCode::SignInRefused, "badge and secret do not belong together")
    }

    /// A permission is missing (403); the answer says which.
    #[must_use]
    pub fn forbidden(permission: Permission) -> Self {
        Self::new(ProblemCode::Forbidden, format!("{ASKS_FOR} {permission}")).with("permission", permission.name())
    }

    /// A browser session's cookie came from another origin (403).
    #[must_use]
    pub fn cross_site() -> Self {
        Self::new(ProblemCode::CrossSite, "the request's origin is not this server")
    }

    /// A code that is or was in use (409).
    #[must_use]
    pub fn code_taken(pointer: impl Into<String>, code: impl fmt::Display) -> Self {
        Self::faulty(ProblemCode::CodeTaken, Place::Pointer(pointer.into()), format!("the code {code} is taken"))
    }

    /// Something else depends on it (409).
    #[must_use]
    pub fn in_use(detail: impl Into<String>) -> Self {
        Self::new(ProblemCode::InUse, detail)
    }

    /// An integration client sent no key (400).
    #[must_use]
    pub fn idempotency_key_required() -> Self {
        let place = Place::Header("Idempotency-Key".to_owned());
        Self::faulty(ProblemCode::IdempotencyKeyRequired, place, "integration clients send an Idempotency-Key here")
    }

    /// The key came before with another query or body (422).
    #[must_use]
    pub fn idempotency_key_reused() -> Self {
        let place = Place::Header("Idempotency-Key".to_owned());
        Self::faulty(ProblemCode::IdempotencyKeyReused, place, "this key was used with another query or body")
    }

    /// The first request with this key has not finished (409).
    #[must_use]
    pub fn idempotency_key_in_progress(retry_after: u64) -> Self {
        Self::new(ProblemCode::IdempotencyKeyInProgress, "a request with this idempotency key is still at work")
            .notice(Notice::RetryAfter(retry_after))
    }

    /// The resource is not as the caller believed (412).
    #[must_use]
    pub fn precondition_failed() -> Self {
        Self::new(ProblemCode::PreconditionFailed, "the resource is not the version that the request names")
    }

    /// A change without `If-Match` (428).
    #[must_use]
    pub fn precondition_required() -> Self {
        Self::new(ProblemCode::PreconditionRequired, "send the resource's ETag as If-Match")
    }

    /// The body is larger than `limit` bytes (413).
    #[must_use]
    pub fn payload_too_large(limit: usize) -> Self {
        Self::new(ProblemCode::PayloadTooLarge, format!("the body may have at most {limit} bytes"))
    }

    /// The body's media type is not the one the operation takes (415).
    #[must_use]
    pub fn unsupported_media_type(accept: &'static str) -> Self {
        Self::new(ProblemCode::UnsupportedMediaType, format!("send the body as {accept}"))
            .notice(Notice::Accept(accept))
    }

    /// The patch's media type is not the one the operation takes (415).
    #[must_use]
    pub fn unsupported_patch_type(accept: &'static str) -> Self {
        Self::new(ProblemCode::UnsupportedMediaType, format!("send the patch as {accept}"))
            .notice(Notice::AcceptPatch(accept))
    }

    /// The body is compressed or otherwise encoded (415).
    #[must_use]
    pub fn unsupported_encoding() -> Self {
        Self::new(ProblemCode::UnsupportedMediaType, "send the body without content encoding")
            .notice(Notice::AcceptEncoding("identity"))
    }

    /// Tells what is left of an allowance.
    #[must_use]
    pub fn with_allowance(self, allowance: Allowance) -> Self {
        self.notice(Notice::RateLimit(allowance))
    }

    /// Too many attempts (429).
    #[must_use]
    pub fn too_many_requests(retry_after: u64) -> Self {
        Self::new(ProblemCode::TooManyRequests, format!("try again in {retry_after} s"))
            .notice(Notice::RetryAfter(retry_after))
            .with_allowance(Allowance::spent(retry_after))
    }

    /// Not done, and nothing stored (503).
    #[must_use]
    pub fn busy(retry_after: u64) -> Self {
        Self::new(ProblemCode::Busy, "the server could not do this now; nothing was stored")
            .notice(Notice::RetryAfter(retry_after))
    }

    /// No space left to store anything (507).
    #[must_use]
    pub fn storage_full() -> Self {
        Self::new(ProblemCode::StorageFull, "there is no space left to store this; nothing was stored")
    }

    /// The server failed (500). The cause is logged with the trace id and never answered.
    #[must_use]
    pub fn internal(cause: impl Into<Box<dyn Error + Send + Sync>>) -> Self {
        Self::new(ProblemCode::Internal, "the server failed; its log has the cause under the trace id").because(cause)
    }

    /// What a response from outside this crate's own code is answered as: same class of status, our form.
    #[must_use]
    pub fn foreign(status: u16) -> Self {
        let code = ProblemCode::for_status(status);
        Self::new(code, code.explains())
    }

    /// Adds one fault with its place.
    #[must_use]
    pub fn fault(mut self, place: Place, detail: impl Into<String>) -> Self {
        self.0.errors.push(Fault { detail: detail.into(), place });
        self
    }

    /// Adds another faulty field of the body: all are reported at once.
    #[must_use]
    pub fn and_field(self, pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        self.fault(Place::Pointer(pointer.into()), detail)
    }

    /// Adds an extension member of the document.
    #[must_use]
    pub fn with(mut self, name: &str, value: impl Into<Value>) -> Self {
        self.0.members.insert(name.to_owned(), value.into());
        self
    }

    /// Adds the cause, for the log only.
    #[must_use]
    pub fn because(mut self, cause: impl Into<Box<dyn Error + Send + Sync>>) -> Self {
        self.0.cause = Some(cause.into());
        self
    }

    pub(crate) fn notice(mut self, notice: Notice) -> Self {
        self.0.notices.push(notice);
        self
    }

    /// The problem's code.
    #[must_use]
    pub fn code(&self) -> ProblemCode {
        self.0.code
    }

    /// The faults found so far.
    #[must_use]
    pub fn faults(&self) -> &[Fault] {
        &self.0.errors
    }

    /// The refusals, if rules refused.
    #[must_use]
    pub fn refused_by(&self) -> &[Refusal] {
        &self.0.refusals
    }

    pub(crate) fn cause(&self) -> Option<&(dyn Error + Send + Sync + 'static)> {
        self.0.cause.as_deref()
    }

    pub(crate) fn parts(&self) -> &Parts {
        &self.0
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.0.code.code(), self.0.detail)
    }
}

impl fmt::Debug for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Problem")
            .field("code", &self.0.code)
            .field("detail", &self.0.detail)
            .field("errors", &self.0.errors)
            .field("refusals", &self.0.refusals)
            .field("cause", &self.0.cause)
            .finish()
    }
}

impl Error for Problem {
    fn source(&self) -> Option<&(dyn Error + 'static)> {
        self.0.cause.as_deref().map(|cause| cause as _)
    }
}
