//! The one table of problem codes: each has its status, a title that never varies, an explanation and what to do.
//!
//! A code is what programs branch on; its page at `/problems/{code}` is what `type` in a problem document resolves to.

/// What is told of an address without anything.
pub(crate) const NOTHING_HERE: &str = "there is nothing at this address";

/// Before the permission that somebody lacks.
pub(crate) const ASKS_FOR: &str = "this asks for the permission";

macro_rules! problem_codes {
    ($($variant:ident = $code:literal, $status:literal, $title:literal, $explains:literal, $remedy:literal;)*) => {
        /// What kind of problem an answer reports. The codes are part of the contract and keep their meaning.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum ProblemCode {
            $(#[doc = $explains] $variant,)*
        }

        impl ProblemCode {
            /// All codes, in the order of the table.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The code on the wire.
            #[must_use]
            pub const fn code(self) -> &'static str {
                match self { $(Self::$variant => $code,)* }
            }

            /// The HTTP status it is answered with.
            #[must_use]
            pub const fn status(self) -> u16 {
                match self { $(Self::$variant => $status,)* }
            }

            /// A short title, the same every time.
            #[must_use]
            pub const fn title(self) -> &'static str {
                match self { $(Self::$variant => $title,)* }
            }

            /// What it means.
            #[must_use]
            pub const fn explains(self) -> &'static str {
                match self { $(Self::$variant => $explains,)* }
            }

            /// What the caller can do about it.
            #[must_use]
            pub const fn remedy(self) -> &'static str {
                match self { $(Self::$variant => $remedy,)* }
            }

            /// Reads a code; `None` for anything else.
            #[must_use]
            pub fn from_code(code: &str) -> Option<Self> {
                match code { $($code => Some(Self::$variant),)* _ => None }
            }

            /// The variant's name in the source, for the test that every code is used.
            #[cfg(test)]
            pub(crate) const fn variant(self) -> &'static str {
                match self { $(Self::$variant => stringify!($variant),)* }
            }
        }
    };
}

problem_codes! {
    MalformedRequest = "malformed-request", 400, "The request is malformed",
        "The request could not be read as HTTP: its path, its headers or its body's encoding are broken.",
        "Check how the request is put together; `detail` says what could not be read.";
    MalformedJson = "malformed-json", 400, "The body is not JSON",
        "The body does not follow the JSON grammar, or something follows the document.",
        "Send one well-formed JSON document in UTF-8; `detail` gives the line and column.";
    MalformedHeader = "malformed-header", 400, "A header is malformed",
        "A header of the request does not follow its grammar.",
        "Correct the header that `errors[].header` names.";
    MalformedQuery = "malformed-query", 400, "A query field is malformed",
        "A query field is given twice, is missing or has a value that it cannot have.",
        "Correct the field that `errors[].parameter` names.";
    UnknownQueryField = "unknown-query-field", 400, "A query field is unknown",
        "The query names a field that this operation does not have. It is refused, because a misspelt filter that is ignored answers a question nobody asked.",
        "Remove or correct the field that `errors[].parameter` names; the reference lists the fields of each operation.";
    MalformedCursor = "malformed-cursor", 400, "The cursor does not fit",
        "The cursor is damaged, of an older release, or was handed out by another list or with other filters.",
        "Start the list again without a cursor, or follow the `next` link as given.";
    IdempotencyKeyRequired = "idempotency-key-required", 400, "An idempotency key is required",
        "Integration clients must send an `Idempotency-Key` with every POST, so that a repeated request has one effect.",
        "Send a fresh `Idempotency-Key` of 1 to 64 characters of A-Z, a-z, 0-9, dot, underscore, colon and dash.";
    Unauthenticated = "unauthenticated", 401, "Sign in first",
        "The request carries no valid access token or session.",
        "Sign in and send the access token as `Authorization: Bearer …`; an expired one is renewed with the refresh token.";
    SignInRefused = "sign-in-refused", 401, "Badge and secret do not match",
        "The badge is unknown, the secret is wrong or the person is disabled. Which of these is not told.",
        "Check both. An administrator can set a new secret.";
    Forbidden = "forbidden", 403, "A permission is missing",
        "The person or client signed in lacks the permission that this operation asks for.",
        "Ask somebody who has the permission named in `permission`, or an administrator to give it.";
    CrossSite = "cross-site", 403, "The request came from another site",
        "A request with the browser session's cookie came from a page of another origin.",
        "Use the pages of this server, or an access token in the `Authorization` header.";
    NotFound = "not-found", 404, "Nothing is here",
        "There is nothing at this address, or nothing under this code or id.",
        "Check the spelling of the address and the code.";
    MethodNotAllowed = "method-not-allowed", 405, "The method is not allowed here",
        "The address exists, but not with this method.",
        "Use one of the methods in the `Allow` header.";
    Refused = "refused", 409, "A rule refuses this",
        "One or more rules of the shop refuse what was asked; nothing was stored. `refusals[]` lists them all.",
        "Each refusal says what it saw and what clears it.";
    CodeTaken = "code-taken", 409, "The code is taken",
        "The code is in use, or was once: codes are unique over everything that is scanned and are never used again.",
        "Choose another code.";
    InUse = "in-use", 409, "It is in use",
        "Something else depends on what was to be removed or changed; nothing was stored.",
        "Free it first, or retire it instead of deleting it.";
    IdempotencyKeyInProgress = "idempotency-key-in-progress", 409, "The same request is still at work",
        "A request with this idempotency key is being worked on and has not finished in time.",
        "Send the same request again after the time in `Retry-After`; it then gets the first one's answer.";
    PreconditionFailed = "precondition-failed", 412, "It has changed meanwhile",
        "The entity tag in `If-Match` or `If-None-Match` does not fit the resource as it is now; nothing was stored.",
        "Read the resource again, look at what changed, and send the change with the new entity tag.";
    PayloadTooLarge = "payload-too-large", 413, "The body is too large",
        "The body is larger than this operation takes.",
        "Send less at once; large amounts of records go through the imports.";
    UnsupportedMediaType = "unsupported-media-type", 415, "The media type is not supported",
        "The body's `Content-Type` or `Content-Encoding` is not one that this operation takes.",
        "Use a media type that the `Accept` or `Accept-Patch` header of the answer names, without content encoding.";
    UnknownField = "unknown-field", 422, "A field is unknown",
        "The body has a field that this operation does not know. It is refused, because a misspelt field that is ignored loses what it says.",
        "Remove or correct the field at `errors[].pointer`.";
    InvalidField = "invalid-field", 422, "A field has a value it cannot have",
        "The body is well-formed, but a field is missing, of the wrong kind or impossible.",
        "Correct the fields at `errors[].pointer`.";
    ReadOnlyField = "read-only-field", 422, "A field cannot be set",
        "The field follows from records (readings, counts, movements) and is not set by hand.",
        "Record the event that changes it, and leave the field out.";
    IdempotencyKeyReused = "idempotency-key-reused", 422, "The idempotency key was used for something else",
        "The same idempotency key came with another query or body.",
        "Use a fresh key for each new request; repeat a request unchanged.";
    PreconditionRequired = "precondition-required", 428, "Say which version you change",
        "Changing or deleting this needs `If-Match`, so that nobody overwrites what they have not seen.",
        "Read the resource and send its `ETag` as `If-Match`.";
    TooManyRequests = "too-many-requests", 429, "Too many attempts",
        "There were too many attempts in a short time. Nothing is locked: the wait ends by itself.",
        "Wait for the time in `Retry-After`.";
    Internal = "internal", 500, "The server failed",
        "Something went wrong in the server that the caller cannot mend. The cause is in its log under the trace id.",
        "Report the `trace_id`.";
    Busy = "busy", 503, "The server is busy",
        "The request was not worked on or not finished, and nothing of it was stored.",
        "Send it again after the time in `Retry-After`, with the same idempotency key.";
    StorageFull = "storage-full", 507, "The disk is full",
        "The server cannot store anything until somebody frees space; nothing of the request was stored.",
        "Tell whoever runs the server. Reading still works.";
}

impl ProblemCode {
    /// The `type` of a problem document: an absolute path that resolves to the code's page.
    #[must_use]
    pub fn path(self) -> String {
        format!("/problems/{}", self.code())
    }

    /// The code that fits a status that something outside this crate's own code answered with.
    #[must_use]
    pub const fn for_status(status: u16) -> Self {
        match status {
            401 => Self::Unauthenticated,
            403 => Self::Forbidden,
            404 => Self::NotFound,
            405 => Self::MethodNotAllowed,
            412 => Self::PreconditionFailed,
            413 => Self::PayloadTooLarge,
            415 => Self::UnsupportedMediaType,
            429 => Self::TooManyRequests,
            503 | 504 => Self::Busy,
            507 => Self::StorageFull,
            400..=499 => Self::MalformedRequest,
            _ => Self::Internal,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::ProblemCode;
    use std::{collections::BTreeSet, fs, path::Path};

    fn sources(folder: &Path, into: &mut String) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                sources(&path, into);
            } else if path.extension().is_some_and(|e| e == "rs") && !path.ends_with("problem/codes.rs") {
                // Tests do not count as use: everything before the test module does.
                let text = fs::read_to_string(&path).unwrap();
                into.push_str(text.split("#[cfg(test)]\nmod tests").next().unwrap_or(&text));
            }
        }
    }

    #[test]
    fn every_code_is_used() {
        let mut text = String::new();
        sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut text);
        let word = |c: char| c.is_ascii_alphanumeric() || c == '_';
        let used: BTreeSet<&str> =
            text.split("ProblemCode::").skip(1).map(|rest| rest.split(|c| !word(c)).next().unwrap()).collect();
        let unused: Vec<_> = ProblemCode::ALL.iter().filter(|code| !used.contains(code.variant())).collect();
        assert!(unused.is_empty(), "defined but never answered: {unused:?}");
    }

    #[test]
    fn codes_are_unique_and_come_back() {
        let mut seen = BTreeSet::new();
        for code in ProblemCode::ALL {
            assert!(seen.insert(code.code()));
            assert_eq!(ProblemCode::from_code(code.code()), Some(*code));
            assert!((400..600).contains(&code.status()));
            assert!(code.explains().ends_with('.') && code.remedy().ends_with('.') && !code.title().ends_with('.'));
        }
    }

    #[test]
    fn a_foreign_status_keeps_its_class() {
        for status in 400..600 {
            let code = ProblemCode::for_status(status);
            assert_eq!(code.status() / 100, status / 100, "{status} became {}", code.status());
        }
    }
}
