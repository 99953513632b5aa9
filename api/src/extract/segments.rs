//! The variable segments of a path. What cannot name anything names nothing: 404, not 400.
//!
//! Not called `Path`: the document generator would ask for the schema of each segment's type of an argument of that name,
//! while ours are documented for all operations at once by `crate::openapi`.

use crate::problem::{NOTHING_HERE, Problem, ProblemCode};
use actix_web::{FromRequest, HttpRequest, dev::Payload, web};
use dovetally_core::code::{Code, CodeError};
use serde::{Deserialize, de::DeserializeOwned};
use std::{
    fmt,
    future::{Ready, ready},
    str::FromStr,
};
use uuid::Uuid;

/// How a path names a thing: by the code people scan, or by its id.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Deserialize)]
#[serde(try_from = "String")]
pub enum Reference {
    /// By code.
    Code(Code),
    /// By id. No code reads as one.
    Id(Uuid),
}

impl FromStr for Reference {
    type Err = CodeError;

    fn from_str(text: &str) -> Result<Self, CodeError> {
        match Uuid::try_parse(text) {
            Ok(id) => Ok(Self::Id(id)),
            Err(_) => Code::parse(text).map(Self::Code),
        }
    }
}

impl TryFrom<String> for Reference {
    type Error = CodeError;

    fn try_from(text: String) -> Result<Self, CodeError> {
        text.parse()
    }
}

impl fmt::Display for Reference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Code(code) => code.fmt(f),
            Self::Id(id) => id.fmt(f),
        }
    }
}

/// The path's variable segments: `Segments<Reference>`, `Segments<(Reference, Code)>`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Segments<T>(pub T);

impl<T> Segments<T> {
    /// The segments.
    #[must_use]
    pub fn into_inner(self) -> T {
        self.0
    }
}

impl<T: DeserializeOwned + 'static> FromRequest for Segments<T> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let nothing_there = || Problem::new(ProblemCode::NotFound, NOTHING_HERE);
        if request.match_info().iter().any(|(_, segment)| segment.contains("%00") || segment.contains('\0')) {
            return ready(Err(nothing_there().because("a segment holds the character U+0000")));
        }
        let segments = web::Path::<T>::from_request(request, payload).into_inner();
        ready(
            segments
                .map(|segments| Self(segments.into_inner()))
                .map_err(|error| nothing_there().because(error.to_string())),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::{Reference, Segments};
    use actix_web::{App, test, web};

    #[actix_web::test]
    async fn codes_and_ids_are_told_apart() {
        let show = async |Segments((machine, station)): Segments<(Reference, Reference)>| {
            let kind = |reference: &Reference| match reference {
                Reference::Code(_) => "code",
                Reference::Id(_) => "id",
            };
            format!("{} {machine} {} {station}", kind(&machine), kind(&station))
        };
        let app = test::init_service(App::new().route("/{machine}/{station}", web::get().to(show))).await;
        let id = "01890a5d-ac96-774b-bcce-b302099a8057";
        for (path, status, shown) in [
            ("/m-1/s2".to_owned(), 200, "code M-1 code S2".to_owned()),
            (format!("/{id}/s2"), 200, format!("id {id} code S2")),
            (format!("/M%2D1/{}", id.to_uppercase()), 200, format!("code M-1 id {id}")),
            ("/m@1/s2".to_owned(), 404, String::new()),
            ("/%FF/s2".to_owned(), 404, String::new()),
        ] {
            let response = test::call_service(&app, test::TestRequest::get().uri(&path).to_request()).await;
            assert_eq!(response.status().as_u16(), status, "{path}");
            let body = test::read_body(response).await;
            assert!(status != 200 || *body == *shown.as_bytes(), "{path}: {body:?}");
        }
    }
}
