//! The rules of the shop, in words.

use crate::{
    conditional::answer_read,
    extract::{IfNoneMatch, NoFields, Query},
    principal::{Guarded, Read},
    problem::Problem,
};
use actix_web::{HttpResponse, get};
use dovetally_core::refusal::Rule;
use serde::Serialize;
use utoipa::ToSchema;

/// All rules that can refuse or block.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"items": [{
    "id": "gauge-for-other-machine",
    "says": "A centre gauge serves only the machine, and where it lists stations only the stations, it was cut for.",
    "clears": "Fetch the gauge that belongs to this machine."
}]}))]
struct RuleList {
    /// The rules, by topic.
    items: Vec<RuleView>,
}

/// One rule.
#[derive(Serialize, ToSchema)]
struct RuleView {
    /// Its id: what a refusal names as `rule`. It keeps its meaning.
    #[schema(example = "gauge-stale")]
    id: &'static str,
    /// The rule in one sentence.
    says: &'static str,
    /// What clears it, when nothing more particular is known.
    clears: &'static str,
}

/// Lists every rule that can refuse or block
#[utoipa::path(tag = "rules", security(("bearer" = ["read"])),
    params(("If-None-Match" = Option<String>, Header, description = "The ETag the caller has: if it still holds, 304.")),
    responses(
        (status = 200, description = "The rules", body = RuleList,
            headers(("ETag" = String, description = "The version of the list, for If-None-Match."))),
        (status = 304, description = "The caller has this version."),
    ))]
#[get("/v1/rules")]
async fn list_rules(_: Guarded<Read>, condition: IfNoneMatch, _: Query<NoFields>) -> Result<HttpResponse, Problem> {
    let items = Rule::ALL.iter().map(|rule| RuleView { id: rule.id(), says: rule.says(), clears: rule.clears() });
    answer_read(&RuleList { items: items.collect() }, &condition)
}

/// The route of the rules.
pub(super) fn register(routes: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    routes.service(list_rules);
}
