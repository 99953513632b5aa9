//! How failures are answered.

use crate::shop::{MERGE_PATCH, Shop, place, problem};
use serde_json::{Value, json};

const JSON: &str = "application/json";

pub(crate) fn each_kind_of_failure_is_a_problem_document(shop: &Shop) {
    let post = |content_type: &str, body: &str| shop.supervisor.post("/v1/places").body(content_type, body).send();
    let get = |path: &str| shop.supervisor.get(path).send();
    let huge = format!(r#"{{"code":"P-1","name":"{}","kind":"shelf"}}"#, "x".repeat(1024 * 1024));
    let unknown = r#"{"code":"P-1","name":"x","kind":"shelf","colour":"red"}"#;
    let wrong_type = r#"{"code":"P-1","name":7,"kind":"shelf"}"#;
    let mut codes = Vec::new();
    for (answer, status, code, place) in [
        (post(JSON, "{\"code\":"), 400, "malformed-json", json!(null)),
        (post(JSON, "{} {}"), 400, "malformed-json", json!(null)),
        (post(JSON, unknown), 422, "unknown-field", json!({"pointer": "/colour"})),
        (post(JSON, wrong_type), 422, "invalid-field", json!({"pointer": "/name"})),
        (post(JSON, r#"{"code":"P-1","kind":"shelf"}"#), 422, "invalid-field", json!({"pointer": "/name"})),
        (post("text/plain", "{}"), 415, "unsupported-media-type", json!(null)),
        (post(JSON, &huge), 413, "payload-too-large", json!(null)),
        (get("/v1/places?colour=red"), 400, "unknown-query-field", json!({"parameter": "colour"})),
        (get("/v1/places/BIN-A1?colour=red"), 400, "unknown-query-field", json!({"parameter": "colour"})),
        (get("/v1/places/NOWHERE"), 404, "not-found", json!(null)),
        (get("/v1/nothing"), 404, "not-found", json!(null)),
        (get("/nothing/at/all"), 404, "not-found", json!(null)),
        (shop.supervisor.put("/v1/places").json(&json!({})).send(), 405, "method-not-allowed", json!(null)),
        (shop.server.anonymous().get("/v1/places").send(), 401, "unauthenticated", json!(null)),
        (shop.supervisor.with_token("x.y.z").get("/v1/places").send(), 401, "unauthenticated", json!(null)),
        (shop.clerk.post("/v1/places").json(&crate::shop::place("P-1")).send(), 403, "forbidden", json!(null)),
        (post(JSON, &crate::shop::place("BIN-A1").to_string()), 409, "code-taken", json!({"pointer": "/code"})),
    ] {
        let (answer, document) = problem(answer, status, code);
        let mut errors = document["errors"].clone();
        if let Some(fault) = errors.get_mut(0).and_then(Value::as_object_mut) {
            assert!(fault.remove("detail").is_some_and(|detail| detail.is_string()), "{document}");
        }
        assert_eq!(errors[0], place, "{document}");
        let header = match status {
            401 => Some(("www-authenticate", "Bearer realm=\"dovetally\"")),
            405 => Some(("allow", "GET, HEAD, POST")),
            415 => Some(("accept", JSON)),
            _ => None,
        };
        if let Some((name, value)) = header {
            let found = answer.header(name).unwrap_or_else(|| panic!("no {name}: {answer}"));
            assert!(found.starts_with(value), "{name}: {found}");
        }
        if status == 403 {
            assert_eq!(document["permission"], "write-registry");
        }
        codes.push(document["type"].as_str().expect("a type").to_owned());
    }
    // Each type resolves to a page that explains it.
    codes.sort();
    codes.dedup();
    for code in codes {
        let page = shop.server.anonymous().get(&code).send().expect(200);
        assert!(!page.body.is_empty(), "{code}");
    }
    let _ = shop.server.anonymous().get("/problems/no-such-code").send().expect(404);
}

pub(crate) fn a_refused_request_changes_nothing(shop: &Shop) {
    let before = shop.changes();
    let items = |shop: &Shop| shop.supervisor.get("/v1/items?limit=200").send().expect(200).body;
    let all = items(shop);
    let kit = json!({"items": ["FT-001", "FT-003", "XX-1"], "person": "setter", "purpose": "use"});
    let (_, document) = problem(shop.clerk.post("/v1/checkouts").json(&kit).send(), 409, "refused");
    let rules = shop.supervisor.get("/v1/rules").send().expect(200).json();
    let refusals = document["refusals"].as_array().expect("refusals");
    assert_eq!(refusals.len(), 2, "{document}");
    for refusal in refusals {
        for field in ["rule", "sentence", "clears"] {
            assert!(refusal[field].as_str().is_some_and(|text| !text.is_empty()), "no {field}: {refusal}");
        }
        assert!(refusal["subject"]["kind"].is_string() && refusal["subject"]["code"].is_string(), "{refusal}");
        let rule = refusal["rule"].to_string();
        assert!(rules.to_string().contains(&rule), "{rule} is not among the rules");
    }
    let bad: [(&str, Value); 3] = [
        ("/v1/places", place("BIN-A1")),
        ("/v1/setups", json!({"machine": "M-102", "part": "P-2001", "stations": [{"station": "S1"}]})),
        ("/v1/transfers", json!({"items": ["FT-001"], "to": {}})),
    ];
    for (path, body) in bad {
        assert!(shop.post(path, &body).status >= 400, "{path}");
    }
    let stale = shop.supervisor.patch("/v1/places/BIN-A1").header("If-Match", "\"old\"");
    let _ = stale.body(MERGE_PATCH, r#"{"name":"Other"}"#).send().expect(412);
    assert_eq!(shop.changes(), before);
    assert!(items(shop) == all, "an item is not as it was");
}

/// What people and programs ran into: each is told what is wrong, and nothing is changed.
pub(crate) fn what_cannot_be_is_told_apart(shop: &Shop) {
    let before = shop.changes();
    // An array is no object, at any depth.
    for (path, body, at) in [
        ("/v1/transfers", json!([["FT-005"], {"place": "BIN-A2"}]), ""),
        ("/v1/transfers", json!({"items": ["FT-005"], "to": [null, "BIN-A2", null]}), "/to"),
        (
            "/v1/center-gauges",
            json!({"code": "CG-9", "name": "x", "machine": "M-101", "nominal": [3.75, "in"], "place": "BIN-G1",
                "limits": {"lower": {"value": 0, "unit": "in"}, "upper": {"value": 0, "unit": "in"}}}),
            "/nominal",
        ),
    ] {
        let (_, found) = problem(shop.post(path, &body), 422, "invalid-field");
        assert_eq!(found["errors"][0]["pointer"], at, "{found}");
    }
    // A gauge is cut to its machine's spindle centre height.
    let far = json!({"code": "CG-9", "name": "x", "machine": "M-101", "nominal": {"value": 4.5, "unit": "in"},
        "place": "BIN-G1", "limits": {"lower": {"value": 0, "unit": "in"}, "upper": {"value": 0.001, "unit": "in"}}});
    let (_, found) = problem(shop.post("/v1/center-gauges", &far), 422, "invalid-field");
    assert_eq!(found["errors"][0]["pointer"], "/nominal");
    // What a setup under way stands on does not move.
    let height = json!({"center_height": {"nominal": {"value": 4.0, "unit": "in"}}});
    problem(shop.patch("/v1/machines/M-102", &height), 409, "in-use");
    let nominal = json!({"nominal": {"value": 110.2, "unit": "mm"}});
    problem(shop.patch("/v1/center-gauges/CG-103", &nominal), 409, "in-use");
    let worked = json!({"measured": {"value": 3.75, "unit": "in"}, "reason": "bearing", "after_work": true,
        "standard_uncertainty": {"value": 0.0001, "unit": "in"}});
    let maintainer = shop.server.person("maintainer");
    let running = maintainer.post("/v1/machines/M-102/center-heights").json(&worked).send();
    let (_, found) = problem(running, 409, "refused");
    assert_eq!(found["refusals"][0]["rule"], "machine-running");
    // Somebody administers.
    let administrator = shop.server.person("administrator");
    let tag = administrator.get("/v1/people/administrator").send().expect(200);
    let tag = tag.header("etag").expect("a tag").to_owned();
    for patch in [r#"{"disabled":true}"#, r#"{"roles":["clerk"]}"#] {
        let path = "/v1/people/administrator";
        problem(administrator.patch(path).header("If-Match", &tag).body(MERGE_PATCH, patch).send(), 409, "in-use");
    }
    let wide = r#"{"height_limit":{"value":100,"unit":"in"}}"#;
    let tag = administrator.get("/v1/settings").send().expect(200).header("etag").expect("a tag").to_owned();
    problem(
        administrator.patch("/v1/settings").header("If-Match", &tag).body(MERGE_PATCH, wide).send(),
        422,
        "invalid-field",
    );
    assert_eq!(shop.changes(), before, "something was changed");
    // Nothing is put into a place that is retired.
    let retired = json!({"code": "SHELF-90", "name": "Gone", "kind": "shelf", "retired": true});
    let _ = shop.post("/v1/places", &retired).expect(201);
    let into = json!({"items": ["CB-02"], "to": {"place": "SHELF-90"}});
    let (_, found) = problem(shop.clerk.post("/v1/transfers").json(&into).send(), 422, "invalid-field");
    assert_eq!(found["errors"][0]["pointer"], "/to/place");
}
