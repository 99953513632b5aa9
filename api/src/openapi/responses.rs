//! One reusable answer for each status that operations have in common, made of the table of problem codes.

use crate::problem::ProblemCode;
use serde_json::json;
use utoipa::openapi::{
    ContentBuilder, Header, Ref, RefOr, Response, ResponseBuilder, Schema,
    schema::{ObjectBuilder, Type},
};

/// The component's name of a status.
pub(super) fn name(status: u16) -> &'static str {
    match status {
        304 => "NotModified",
        400 => "Malformed",
        401 => "Unauthenticated",
        403 => "Forbidden",
        404 => "NotFound",
        409 => "Conflict",
        412 => "PreconditionFailed",
        413 => "PayloadTooLarge",
        415 => "UnsupportedMediaType",
        422 => "Unprocessable",
        428 => "PreconditionRequired",
        429 => "TooManyRequests",
        503 => "Busy",
        507 => "StorageFull",
        _ => "Internal",
    }
}

/// All reusable answers.
pub(super) fn all() -> Vec<(String, RefOr<Response>)> {
    let statuses = [400, 401, 403, 404, 409, 412, 413, 415, 422, 428, 429, 500, 503, 507];
    let problems = statuses.into_iter().map(|status| (name(status).to_owned(), RefOr::T(problem(status))));
    let unchanged = Response::new("The caller has this version.");
    problems.chain([(name(304).to_owned(), RefOr::T(unchanged))]).collect()
}

fn problem(status: u16) -> Response {
    let codes: Vec<ProblemCode> = ProblemCode::ALL.iter().copied().filter(|code| code.status() == status).collect();
    let words: Vec<String> = codes.iter().map(|code| format!("`{}`: {}.", code.code(), code.title())).collect();
    let content =
        ContentBuilder::new().schema(Some(Ref::from_schema_name("Problem"))).example(codes.first().map(|code| {
            let mut example = json!({
                "type": code.path(),
                "title": code.title(),
                "status": status,
                "detail": code.explains(),
                "trace_id": "0af7651916cd43dd8448eb211c80319c",
            });
            if *code == ProblemCode::Refused {
                example["refusals"] = json!([{
                    "rule": "gauge-for-other-machine",
                    "sentence": "Gauge CG-102 is cut for machine M-102.",
                    "saw": "CG-102, for M-102",
                    "clears": "Fetch the gauge that belongs to this machine.",
                    "subject": {"kind": "center_gauge", "code": "CG-102"},
                }]);
            }
            example
        }));
    let header = match status {
        401 => Some(("WWW-Authenticate", Type::String, "How to authenticate.")),
        415 => None,
        429 | 503 => Some(("Retry-After", Type::Integer, "Seconds after which another attempt makes sense.")),
        _ => None,
    };
    let response =
        ResponseBuilder::new().description(words.join(" ")).content("application/problem+json", content.build());
    match header {
        Some((name, schema_type, words)) => {
            let schema: RefOr<Schema> = ObjectBuilder::new().schema_type(schema_type).into();
            let mut header = Header::new(schema);
            header.description = Some(words.to_owned());
            response.header(name, header).build()
        }
        None => response.build(),
    }
}

#[cfg(test)]
mod tests {
    use super::{all, name, problem};
    use crate::problem::ProblemCode;

    #[test]
    fn every_code_is_documented_except_405_which_no_operation_answers() {
        let text = serde_json::to_string(&all()).unwrap();
        for code in ProblemCode::ALL {
            assert_eq!(text.contains(&format!("`{}`", code.code())), code.status() != 405, "{}", code.code());
        }
    }

    #[test]
    fn each_status_has_its_own_name() {
        let statuses = [304, 400, 401, 403, 404, 409, 412, 413, 415, 422, 428, 429, 500, 503, 507];
        let names: std::collections::BTreeSet<_> = statuses.into_iter().map(name).collect();
        assert_eq!(names.len(), statuses.len());
        assert_eq!(all().len(), statuses.len());
        assert!(problem(409).description.starts_with("`refused`"));
    }
}
