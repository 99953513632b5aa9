//! Every list of the document has an item.

use dovetally_tests::{client::Client, server::Server};
use serde_json::Value;

/// A thing of the shop for each path parameter, by the collection before it: one that something happened to.
const OF: [(&str, &str); 7] = [
    ("center-gauges", "CG-107"),
    ("form-tools", "FT-091"),
    ("holders", "HD-25"),
    ("items", "FT-021"),
    ("jobs", "J-6007"),
    ("machines", "M-104"),
    ("supplies", "SUP-GREASE"),
];

/// Those whose ids the program gave: the newest.
const NEWEST: [&str; 3] = ["impacts", "setups", "work-orders"];

fn id_of(reader: &Client, collection: &str) -> Option<String> {
    let known = OF.iter().find(|(name, _)| *name == collection).map(|(_, code)| (*code).to_owned());
    known.or_else(|| {
        let page =
            NEWEST.contains(&collection).then(|| reader.get(&format!("/v1/{collection}")).send().expect(200).json());
        page?["items"][0]["id"].as_str().map(str::to_owned)
    })
}

fn filled(reader: &Client, path: &str) -> Option<String> {
    let mut filled = Vec::new();
    let mut before = "";
    for segment in path.split('/') {
        filled.push(if segment.starts_with('{') { id_of(reader, before)? } else { segment.to_owned() });
        before = segment;
    }
    Some(filled.join("/"))
}

pub(crate) fn everything_has_something_to_show(server: &Server) {
    let (supervisor, administrator) = (server.person("supervisor"), server.person("administrator"));
    let document = supervisor.get("/openapi.json").send().expect(200).json();
    let (mut asked, mut empty) = (0, Vec::new());
    for (path, operations) in document["paths"].as_object().expect("paths") {
        if !path.starts_with("/v1/") || operations.get("get").is_none() || needs_a_question(&operations["get"]) {
            continue;
        }
        let Some(filled) = filled(&supervisor, path) else { continue };
        let reader = if path.starts_with("/v1/people") { &administrator } else { &supervisor };
        let answer = reader.get(&filled).send().expect(200).json();
        let Some(items) = answer.get("items").and_then(Value::as_array) else { continue };
        asked += 1;
        if items.is_empty() {
            empty.push(filled);
        }
    }
    assert!(asked > 25, "only {asked} lists were asked");
    assert!(empty.is_empty(), "nothing to show: {empty:?}");
}

fn needs_a_question(operation: &Value) -> bool {
    let parameters = operation["parameters"].as_array().map(Vec::as_slice).unwrap_or_default();
    parameters.iter().any(|parameter| parameter["in"] == "query" && parameter["required"] == true)
}
