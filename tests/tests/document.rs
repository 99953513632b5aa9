//! The document: what is checked in is what is printed and served, every operation says what it needs, and the server
//! holds each of them to its documented query fields.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use dovetally_tests::{
    client::Client,
    program,
    server::{Backend, DEMO_SECRET, Server},
};
use serde_json::{Value, json};
use std::{fs, path::Path, process::Command};
use ureq::http::Method;

fn printed() -> Vec<u8> {
    let output = Command::new(program::dovetally()).arg("openapi").output().expect("the program runs");
    assert!(output.status.success(), "{output:?}");
    output.stdout
}

fn document() -> Value {
    serde_json::from_slice(&printed()).expect("the document is JSON")
}

/// Every operation with its method in capitals and its path.
fn operations(document: &Value) -> Vec<(String, String, Value)> {
    let paths = document["paths"].as_object().expect("paths").iter();
    let all = paths.flat_map(|(path, item)| {
        let operations = item.as_object().expect("operations").iter();
        operations.map(move |(method, operation)| (method.to_uppercase(), path.clone(), operation.clone()))
    });
    let all: Vec<_> = all.collect();
    assert!(all.len() > 80, "only {} operations", all.len());
    all
}

/// The value, or what it refers to.
fn resolved<'a>(document: &'a Value, value: &'a Value) -> &'a Value {
    match value["$ref"].as_str() {
        None => value,
        Some(reference) => {
            let at = reference.strip_prefix('#').expect("references stay in the document");
            document.pointer(at).unwrap_or_else(|| panic!("{reference} leads nowhere"))
        }
    }
}

#[test]
fn what_is_checked_in_is_what_is_printed() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../openapi/openapi.json");
    let checked_in = fs::read(&file).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
    assert!(checked_in == printed(), "openapi/openapi.json is not the program's document: run openapi/refresh");
}

#[test]
fn every_operation_has_summary_tag_permission_and_its_statuses() {
    let document = document();
    for (method, path, operation) in operations(&document) {
        let what = format!("{method} {path}");
        let summary = operation["summary"].as_str().unwrap_or_default();
        assert!(!summary.trim().is_empty() && !summary.ends_with('.'), "{what}: summary {summary:?}");
        assert!(operation["operationId"].is_string(), "{what}: operationId");
        assert_eq!(operation["tags"].as_array().map(Vec::len), Some(1), "{what}: one tag");
        let permission = operation["x-permission"].as_str().unwrap_or_else(|| panic!("{what}: x-permission"));

        let responses = operation["responses"].as_object().expect("responses");
        let has = |status: &str| responses.contains_key(status);
        assert!(responses.keys().any(|status| status.starts_with('2')), "{what}: a success");
        let mut needed = vec!["400", "500"];
        if permission != "none" {
            needed.extend(["401", "403", "503"]);
        }
        // A calculation is a POST for its body; it stores nothing.
        if method != "GET" && !path.starts_with("/v1/calculations/") {
            needed.extend(["503", "507"]);
        }
        if operation.get("requestBody").is_some() {
            needed.extend(["413", "415", "422"]);
        }
        if path.contains('{') {
            needed.push("404");
        }
        if matches!(method.as_str(), "PUT" | "PATCH" | "DELETE") && !path.starts_with("/v1/auth/") {
            needed.extend(["409", "412", "428"]);
        }
        for status in needed {
            assert!(has(status), "{what}: {status} is not documented");
        }
        for (status, response) in responses {
            let response = resolved(&document, response);
            assert!(response["description"].as_str().is_some_and(|words| !words.is_empty()), "{what}: {status}");
            if status.starts_with(['4', '5']) {
                let problem = &response["content"]["application/problem+json"];
                assert!(problem.is_object(), "{what}: {status} is a problem document");
            }
        }
    }
}

#[test]
fn a_browsers_session_opens_what_a_token_opens() {
    let document = document();
    let schemes = document["components"]["securitySchemes"].as_object().expect("schemes");
    let cookies: Vec<&String> = schemes.iter().filter(|(_, it)| it["in"] == "cookie").map(|(name, _)| name).collect();
    assert_eq!(cookies.len(), 2, "one for each way to the server");
    for (method, path, operation) in operations(&document) {
        let ways = operation["security"].as_array().unwrap_or_else(|| panic!("{method} {path}: security"));
        let roles = |scheme: &str| ways.iter().filter_map(|way| way.get(scheme)).collect::<Vec<_>>();
        for cookie in &cookies {
            assert_eq!(roles(cookie), roles("bearer"), "{method} {path} by {cookie}");
        }
    }
    // By the very cookie that is documented.
    let server = Server::on(Backend::Sqlite).demo().start();
    let form = format!("badge=setter&secret={DEMO_SECRET}&return=/");
    let anonymous = server.anonymous();
    let signing_in = anonymous.post("/sign-in").header("Origin", server.base());
    let answer = signing_in.body("application/x-www-form-urlencoded", form.as_str()).send().expect(303);
    let cookie = answer.header("Set-Cookie").and_then(|line| line.split(';').next()).expect("a cookie");
    let name = cookie.split('=').next().unwrap_or_default();
    assert!(cookies.iter().any(|scheme| schemes[*scheme]["name"] == name), "{name} is not in the document");
    let _ = anonymous.get("/v1/machines").header("Cookie", cookie).send().expect(200);
}

/// Whether a body shows an example: its own or its schema's.
fn has_example(document: &Value, body: &Value) -> bool {
    let schema = resolved(document, &body["schema"]);
    let shown = |value: &Value| {
        value.get("example").is_some_and(|example| !example.is_null())
            || value.get("examples").is_some_and(|examples| examples.as_array().is_none_or(|all| !all.is_empty()))
    };
    shown(body) || shown(schema)
}

#[test]
fn every_json_body_has_an_example() {
    let document = document();
    let mut without = Vec::new();
    for (method, path, operation) in operations(&document) {
        let responses = operation["responses"].as_object().expect("responses").iter();
        let responses = responses.map(|(status, response)| (status.as_str(), resolved(&document, response)));
        let bodies = [("request", resolved(&document, &operation["requestBody"]))].into_iter().chain(responses);
        for (which, holder) in bodies {
            for (media_type, body) in holder["content"].as_object().into_iter().flatten() {
                if media_type.ends_with("json") && !has_example(&document, body) {
                    without.push(format!("{method} {path}: {which} {media_type}"));
                }
            }
        }
    }
    assert!(without.is_empty(), "without an example:\n{}", without.join("\n"));
}

#[test]
fn the_server_serves_it_and_no_operation_takes_an_undocumented_query_field() {
    // Queries are read before any database is: one kind is enough.
    let server = Server::on(Backend::Sqlite).demo().start();
    let served = server.anonymous().get("/openapi.json").send().expect(200);
    assert!(served.body == printed(), "what is served is what is printed");
    let people = [server.person("supervisor"), server.person("administrator"), server.person("maintainer")];
    let [supervisor, administrator, maintainer] = &people;
    let (setter, inspector) = (server.person("setter"), server.person("inspector"));
    let grinder = server.person("grinder");
    let mut wrong = Vec::new();
    for (method, path, operation) in operations(&document()) {
        let client = match operation["x-permission"].as_str().expect("x-permission") {
            "administer" => administrator,
            "maintain" | "clear-tag-out" | "check-holders" => maintainer,
            "record-setup" => &setter,
            "control-gauges" | "check-tools" => &inspector,
            "grind" => &grinder,
            _ => supervisor,
        };
        // An id that nothing has: what is asked is judged before what it is asked of.
        let id = "0198f2c4-0000-7000-8000-000000000000";
        let target = path.replace("{code}", "M-101").replace("{id}", id).replace("{badge}", "setter-2");
        let target = target.replace("{name}", "taper");
        let query = match path.rsplit('/').next() {
            Some("gauge-check") => "gauge=CG-101&nonsense=1",
            Some("last-time") => "part=P-2001&nonsense=1",
            _ => "nonsense=1",
        };
        let call = client.call(method.parse::<Method>().expect("a method"), &format!("{target}?{query}"));
        let call = call.header("If-Match", "\"AAAA\"");
        let answer = match &operation["requestBody"]["content"] {
            Value::Object(bodies) if bodies.contains_key("application/merge-patch+json") => {
                call.body("application/merge-patch+json", "{}").send()
            }
            Value::Object(_) => call.json(&json!({})).send(),
            _ => call.send(),
        };
        let body: Value = serde_json::from_slice(&answer.body).unwrap_or_default();
        if answer.status != 400 || body["type"] != "/problems/unknown-query-field" {
            wrong.push(format!("{method} {path}: {} {}", answer.status, String::from_utf8_lossy(&answer.body)));
        }
    }
    assert!(wrong.is_empty(), "an undocumented query field is not refused:\n{}", wrong.join("\n"));
    other_methods_are_told_which_there_are(supervisor);
}

/// Every path, asked with a method that it does not take, answers 405 and lists those that it does.
fn other_methods_are_told_which_there_are(client: &Client) {
    let document = document();
    for (path, item) in document["paths"].as_object().expect("paths") {
        let documented: Vec<&str> = item.as_object().expect("operations").keys().map(String::as_str).collect();
        let other = ["put", "delete", "patch", "post", "get"].into_iter().find(|method| !documented.contains(method));
        let Some(other) = other else { continue };
        let target = path.replace(['{', '}'], "");
        let method = other.to_uppercase().parse::<Method>().expect("a method");
        let answer = client.call(method, &target).json(&json!({})).send();
        // A word in the place of a variable may be a path of its own; then its own methods are told.
        if path.contains('{') && answer.status == 404 {
            panic!("{other} {target}: {answer}");
        }
        let answer = answer.expect(405);
        let allow = answer.header("allow").expect("Allow").to_owned();
        let mut told: Vec<String> =
            allow.split(", ").map(str::to_lowercase).filter(|method| method != "head").collect();
        told.sort();
        let mut expected = documented.clone();
        expected.sort_unstable();
        assert_eq!(told, expected, "{path}");
    }
}
