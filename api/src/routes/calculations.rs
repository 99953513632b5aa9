//! Calculations: JSON in, an answer that shows its work out. Nothing is stored.

use crate::{
    app::registry::no_faults,
    extract::{Json, NoFields, Query, Segments, unfit},
    principal::{Guarded, Read},
    problem::{Problem, ProblemCode},
};
use actix_web::{
    HttpResponse, get,
    http::header::{self, ContentType},
    post,
};
use dovetally_core::{
    calc::{self, error::CalculationError},
    field_error::FieldError,
};
use serde::Serialize;
use serde_json::{Map, Value};
use utoipa::ToSchema;

/// A calculation that there is.
#[derive(Debug, Serialize, ToSchema)]
struct CalculationEntry {
    /// Its name in the path.
    #[schema(example = "slide-correction")]
    name: &'static str,
    /// Raised when the same request may give another answer.
    version: u32,
    /// What it answers.
    answers: &'static str,
}

/// All calculations.
#[derive(Debug, Serialize, ToSchema)]
struct CalculationList {
    /// By name.
    items: Vec<CalculationEntry>,
}

/// Lists the calculations
#[utoipa::path(tag = "calculations", security(("bearer" = ["read"])),
    responses((status = 200, description = "All of them", body = CalculationList)))]
#[get("/v1/calculations")]
async fn list_calculations(_: Guarded<Read>, _: Query<NoFields>) -> HttpResponse {
    let items = calc::ALL.iter().map(|entry| CalculationEntry {
        name: entry.name,
        version: entry.version,
        answers: entry.answers,
    });
    HttpResponse::Ok().json(CalculationList { items: items.collect() })
}

/// Calculates
///
/// The request names one `unit` (`in` or `mm`) for all its lengths. The answer holds the inputs as understood, the
/// result, the steps with their symbols, corrections as turns of a screw, cautions and sources. The same request gives
/// the same bytes.
#[utoipa::path(tag = "calculations", security(("bearer" = ["read"])),
    params(("name" = String, Path, description = "The calculation's name", example = "slide-correction")),
    request_body(content = Object, example = json!({"unit": "in", "target_diameter": 0.375,
        "measured_diameters": [0.3772, 0.3771], "adjuster": {"travel_per_turn": 0.05, "clockwise_moves": "tool_in",
        "seen_from": "operator's side"}, "diameter_limits": {"lower": -0.002, "upper": 0.0}})),
    responses((status = 200, description = "The answer", body = Object,
        example = json!({"calculation": "slide-correction", "unit": "in"}))))]
#[post("/v1/calculations/{name}")]
async fn calculate(
    _: Guarded<Read>,
    name: Segments<String>,
    _: Query<NoFields>,
    body: Json<Map<String, Value>>,
) -> Result<HttpResponse, Problem> {
    let name = name.into_inner();
    let entry = calc::find(&name).ok_or_else(|| Problem::not_found("calculation", &name))?;
    match (entry.calculate)(body.bytes()) {
        Ok(answer) => Ok(HttpResponse::Ok()
            .insert_header((header::CACHE_CONTROL, "private, no-cache"))
            .insert_header(ContentType::json())
            .body(answer)),
        Err(CalculationError::Malformed(detail)) => Err(Problem::new(ProblemCode::MalformedJson, detail)),
        Err(CalculationError::Refused(fields)) => Err(refused(fields)),
    }
}

/// A calculation's refusal, each field in the words of every other operation.
fn refused(fields: Vec<FieldError>) -> Problem {
    if let [FieldError { pointer, detail }] = &fields[..] {
        // What is said of a name is put at its place; the pointer may end in it already.
        return unfit(pointer.strip_suffix(&named_field(detail)).unwrap_or(pointer), detail);
    }
    match no_faults(fields) {
        Err(problem) => problem,
        Ok(()) => Problem::internal("a calculation refused without saying why"),
    }
}

/// The step of the field that is unknown, missing or given twice, if it is one of these.
fn named_field(detail: &str) -> String {
    let of = |prefix: &str| detail.strip_prefix(prefix).and_then(|rest| rest.split('`').next());
    let name = of("unknown field `").or_else(|| of("missing field `")).or_else(|| of("duplicate field `"));
    name.map(|name| format!("/{name}")).unwrap_or_default()
}

/// The routes of calculations.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(list_calculations).service(calculate);
}
