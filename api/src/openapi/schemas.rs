//! The schemas of problem documents. They only describe: what is answered is written by `crate::problem` and core.

use serde::Serialize;
use utoipa::ToSchema;

/// A problem document (RFC 9457).
#[derive(Serialize, ToSchema)]
#[schema(as = Problem)]
pub struct ProblemSchema {
    /// The kind of problem: a path on this server that explains it.
    #[serde(rename = "type")]
    #[schema(example = "/problems/refused")]
    kind: String,
    /// A short title, the same for every problem of this kind.
    title: String,
    /// The HTTP status.
    #[schema(minimum = 400, maximum = 599)]
    status: u16,
    /// One sentence about this occurrence.
    detail: String,
    /// The request's trace id, which the server's log has too.
    #[schema(pattern = "^[0-9a-f]{32}$", example = "0af7651916cd43dd8448eb211c80319c")]
    trace_id: String,
    /// The faults of the request, each with its place.
    #[schema(required = false, nullable = false)]
    errors: Option<Vec<FaultSchema>>,
    /// The rules that refuse what was asked, all of them.
    #[schema(required = false, nullable = false)]
    refusals: Option<Vec<RefusalSchema>>,
    /// The permission that is missing (403).
    #[schema(required = false, nullable = false)]
    permission: Option<String>,
}

/// One fault of a request, with the one of the three that says where.
#[derive(Serialize, ToSchema)]
#[schema(as = Fault)]
pub struct FaultSchema {
    /// One sentence.
    detail: String,
    /// A JSON pointer (RFC 6901) into the body.
    #[schema(required = false, nullable = false)]
    pointer: Option<String>,
    /// The name of a query field.
    #[schema(required = false, nullable = false)]
    parameter: Option<String>,
    /// The name of a header.
    #[schema(required = false, nullable = false)]
    header: Option<String>,
}

/// A rule's refusal, or what blocks a step.
#[derive(Serialize, ToSchema)]
#[schema(as = Refusal)]
pub struct RefusalSchema {
    /// The rule's id; `GET /v1/rules` lists them.
    #[schema(example = "gauge-stale")]
    rule: String,
    /// One sentence for the person who asked.
    sentence: String,
    /// What the rule saw.
    #[schema(required = false, nullable = false)]
    saw: Option<String>,
    /// What clears it.
    clears: String,
    /// What it concerns.
    #[schema(required = false, nullable = false)]
    subject: Option<SubjectSchema>,
}

/// What a refusal concerns.
#[derive(Serialize, ToSchema)]
#[schema(as = Subject)]
pub struct SubjectSchema {
    /// What kind of thing.
    #[schema(example = "center_gauge")]
    kind: String,
    /// Its code.
    code: String,
}

#[cfg(test)]
mod tests {
    use super::{ProblemSchema, RefusalSchema};
    use crate::problem::{Place, Problem, render};
    use actix_web::body::MessageBody;
    use dovetally_core::{
        people::Permission,
        refusal::{Refusal, Rule, Subject, SubjectKind},
    };
    use serde_json::Value;
    use utoipa::PartialSchema;

    fn members(schema: &Value) -> Vec<&String> {
        schema["properties"].as_object().unwrap().keys().collect()
    }

    #[test]
    fn what_is_answered_is_what_is_described() {
        let refusal =
            Refusal::new(Rule::GaugeStale, "Stale.").saw("x").about(Subject::new(SubjectKind::CenterGauge, "G"));
        let forbidden = Problem::forbidden(Permission::Read).fault(Place::Header("x".to_owned()), "y");
        let mut seen = std::collections::BTreeSet::new();
        for problem in [Problem::refusals(vec![refusal.clone()]), forbidden] {
            let body = render(&problem).into_body().try_into_bytes().unwrap();
            let body: Value = serde_json::from_slice(&body).unwrap();
            seen.extend(body.as_object().unwrap().keys().cloned());
        }
        let schema = serde_json::to_value(ProblemSchema::schema()).unwrap();
        assert_eq!(members(&schema), seen.iter().collect::<Vec<_>>());
        let required: Vec<&str> = schema["required"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
        assert_eq!(required, ["type", "title", "status", "detail", "trace_id"]);

        let refusal = serde_json::to_value(refusal).unwrap();
        let schema = serde_json::to_value(RefusalSchema::schema()).unwrap();
        let mut described = members(&schema);
        described.sort();
        assert_eq!(described, refusal.as_object().unwrap().keys().collect::<Vec<_>>());
    }
}
