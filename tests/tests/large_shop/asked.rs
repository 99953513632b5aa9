//! What is asked of the large shop: every read that the document has, with what is busiest there in the place of its
//! parameters.

use dovetally_tests::client::Client;
use serde_json::Value;
use std::collections::BTreeMap;

/// What stands in a path's place, by the collection before it.
fn busiest(reader: &Client) -> BTreeMap<&'static str, String> {
    let first = |path: &str, field: &str| {
        let page = reader.get(path).send().expect(200).json();
        let found = page["items"][0][field].as_str().map(str::to_owned);
        found.unwrap_or_else(|| panic!("nothing under {path}"))
    };
    BTreeMap::from([
        ("items", "IT-100123".to_owned()),
        ("form-tools", "IT-100123".to_owned()),
        ("holders", "IT-106123".to_owned()),
        ("center-gauges", "IT-109123".to_owned()),
        ("machines", "MA-100007".to_owned()),
        ("tool-designs", "TD-100007".to_owned()),
        ("parts", "PT-100007".to_owned()),
        ("jobs", "JB-100007".to_owned()),
        ("places", "PL-100007".to_owned()),
        ("maintenance-plans", "MP-101-CARRIER".to_owned()),
        ("supplies", "SU-100007".to_owned()),
        ("work-orders", first("/v1/work-orders", "id")),
        ("setups", first("/v1/setups?machine=MA-100007", "id")),
        ("impacts", first("/v1/impacts?open=true", "id")),
        ("tag-outs", first("/v1/tag-outs", "id")),
    ])
}

/// Reads that are not asked: the one that is meant to walk through everything, those of a few people, which only an
/// administrator may, and the handover of a shop that has none.
const LEFT_OUT: [&str; 4] = ["/v1/movements/verify", "/v1/people", "/v1/people/{badge}", "/v1/handovers/{id}"];

/// Narrowed lists, and the past, beside what the document names.
const NARROWED: [&str; 42] = [
    "/v1/items?limit=200",
    "/v1/items?person=person-7",
    "/v1/items?place=PL-100007",
    "/v1/items?kind=center_gauge&limit=200",
    "/v1/items?condition=needs_grinding",
    "/v1/items?job=JB-100007",
    "/v1/items?overdue=true",
    "/v1/items?as_of=2026-03-01T12:00:00Z",
    "/v1/items?as_of=2026-03-01T12:00:00Z&person=person-7",
    "/v1/items/IT-100123?as_of=2026-03-01T12:00:00Z",
    "/v1/form-tools?design=TD-100007&limit=200",
    "/v1/movements?item=IT-100123&limit=200",
    "/v1/movements?person=person-7",
    "/v1/movements?since=2026-01-01T00:00:00Z&until=2026-01-02T00:00:00Z",
    "/v1/setups?machine=MA-100007",
    "/v1/setups?part=PT-100007",
    "/v1/gauge-uses?gauge=IT-109123",
    "/v1/gauge-uses?tool=IT-100123",
    "/v1/maintenance-plans?machine=M-101",
    "/v1/maintenance-plans?item=HD-01",
    "/v1/work-orders?open=true",
    "/v1/work-orders?breakdown=true",
    "/v1/work-orders?machine=M-101",
    "/v1/supplies?below_minimum=true",
    "/v1/machines/MA-100007/gauge-check?gauge=IT-109123",
    "/v1/machines/MA-100007/last-time?part=PT-100007",
    "/v1/impacts?open=true",
    "/v1/work-orders?machine=MA-100007",
    "/v1/due?days=366",
    "/v1/center-gauges?machine=MA-100007",
    "/v1/gauge-uses?machine=MA-100007&as_of=2026-03-01T12:00:00Z",
    "/v1/holders?limit=200",
    "/v1/items?machine=MA-100007",
    "/v1/jobs?machine=MA-100007",
    "/v1/jobs/JB-100007/kit?allow_regrind_during_lot=true",
    "/v1/jobs/JB-100007/readiness?allow_regrind_during_lot=true",
    "/v1/movements?place=PL-100007",
    "/v1/movements?machine=MA-100007",
    "/v1/readiness?allow_regrind_during_lot=true",
    "/v1/setups?open=true",
    "/v1/tag-outs?machine=MA-100007",
    "/v1/tag-outs?in_force=true",
];

/// The paths to read.
pub(crate) fn everything(reader: &Client) -> Vec<String> {
    let document = reader.get("/openapi.json").send().expect(200).json();
    let busiest = busiest(reader);
    let paths = document["paths"].as_object().expect("paths").iter();
    let read = paths.filter(|(path, operations)| {
        path.starts_with("/v1/")
            && operations.get("get").is_some()
            && !path.starts_with("/v1/calculations")
            && !LEFT_OUT.contains(&path.as_str())
            && needs_no_query(&operations["get"])
    });
    let mut wanted: Vec<String> = read.map(|(path, _)| filled(path, &busiest)).collect();
    wanted.extend(NARROWED.map(str::to_owned));
    assert!(wanted.len() > 40, "little is asked: {wanted:?}");
    wanted
}

fn needs_no_query(operation: &Value) -> bool {
    let parameters = operation["parameters"].as_array().map(Vec::as_slice).unwrap_or_default();
    !parameters.iter().any(|parameter| parameter["in"] == "query" && parameter["required"] == true)
}

/// A path with its parameters filled in.
fn filled(path: &str, busiest: &BTreeMap<&'static str, String>) -> String {
    let mut filled = Vec::new();
    let mut before = "";
    for segment in path.split('/') {
        let known = || busiest.get(before).unwrap_or_else(|| panic!("{path}: what stands after {before} here?"));
        filled.push(if segment.starts_with('{') { known().as_str() } else { segment });
        before = segment;
    }
    filled.join("/")
}
