//! Every calculation over HTTP: its documented example is answered as documented, and what cannot be is refused at its field.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use dovetally_tests::server::{Backend, Server};
use serde_json::{Value, json};

const PREFIX: &str = "/v1/calculations/";

/// The calculations that the document has: path and the operation.
fn documented(document: &Value) -> Vec<(String, Value)> {
    let paths = document["paths"].as_object().expect("paths").iter();
    let found: Vec<_> = paths
        .filter(|(path, _)| path.starts_with(PREFIX))
        .map(|(path, item)| (path.clone(), item["post"].clone()))
        .collect();
    assert_eq!(found.len(), 25, "{found:?}");
    found
}

#[test]
fn each_calculation_answers_its_example_and_names_what_it_refuses() {
    let server = Server::on(Backend::Sqlite).demo().start();
    let (setter, document) =
        (server.person("setter"), server.anonymous().get("/openapi.json").send().expect(200).json());
    let listed = setter.get("/v1/calculations").send().expect(200).json();
    for (path, operation) in documented(&document) {
        let name = path.strip_prefix(PREFIX).expect("its name");
        assert!(listed["items"].as_array().expect("a list").iter().any(|entry| entry["name"] == name), "{name}");
        let example = &operation["requestBody"]["content"]["application/json"]["example"];
        let ask = |body: &Value| setter.post(&path).json(body).send();
        let answer = ask(example).expect(200);
        assert_eq!(answer.json(), operation["responses"]["200"]["content"]["application/json"]["example"], "{name}");
        assert_eq!(answer.body, ask(example).body, "{name}: the same request gives the same bytes");

        let refused_at = |body: &Value, code: &str| {
            let problem = ask(body).expect(422).json();
            assert_eq!(problem["type"], format!("/problems/{code}"), "{name}: {problem}");
            problem["errors"].as_array().expect("errors").iter().map(|e| e["pointer"].clone()).collect::<Vec<_>>()
        };
        let mut unknown = example.clone();
        unknown["colour"] = json!("red");
        assert_eq!(refused_at(&unknown, "unknown-field"), ["/colour"], "{name}");
        if example.get("unit").is_some() {
            let mut without = example.clone();
            without.as_object_mut().expect("an object").remove("unit");
            assert_eq!(refused_at(&without, "invalid-field"), ["/unit"], "{name}");
        }
        // Too large for any number, at the first field that is one.
        let fields = example.as_object().expect("an object");
        let Some((field, _)) = fields.iter().find(|(_, value)| value.is_number()) else { continue };
        let mut huge = example.clone();
        huge[field] = json!("HUGE");
        let text = huge.to_string().replace("\"HUGE\"", "1e999");
        let problem = setter.post(&path).body("application/json", text).send().expect(422).json();
        assert_eq!(problem["errors"][0]["pointer"], format!("/{field}"), "{name}: {problem}");
    }
    let _ = setter.post("/v1/calculations/astrology").json(&json!({})).send().expect(404);
    let _ = setter.get("/docs/calculations/form-diagnosis").send().expect(200);
    let page = server.anonymous().get("/docs/calculations").send().expect(200);
    assert!(page.header("content-type").is_some_and(|kind| kind.starts_with("text/html")), "{page}");
}
