//! Dry runs, entity tags, merge patches.

use crate::shop::{MERGE_PATCH, Shop, place, problem};
use serde_json::{Value, json};

pub(crate) fn a_dry_run_says_what_would_be_and_stores_nothing(shop: &Shop) {
    let before = shop.changes();
    let setter = shop.server.person("setter");
    let inspector = shop.server.person("inspector");
    let maintainer = shop.server.person("maintainer");
    let height = json!({"measured": {"value": 3.75, "unit": "in"}, "standard_uncertainty": {"value": 0.0001, "unit": "in"},
        "reason": "yearly", "after_work": true});
    let check = json!({"as_found": {"value": 3.75, "unit": "in"}, "standard_uncertainty": {"value": 0.0001, "unit": "in"},
        "next_check": "2999-01-01"});
    let setup = json!({"machine": "M-101", "part": "P-2001", "stations": [{"station": "S1"}]});
    for (client, path, body, status) in [
        (&shop.supervisor, "/v1/places", place("DRY-1"), 201),
        (&shop.supervisor, "/v1/places", place("BIN-A1"), 409),
        (
            &shop.supervisor,
            "/v1/items",
            json!({"code": "DRY-2", "kind": "other", "name": "x", "place": "SHELF-1"}),
            201,
        ),
        (&shop.supervisor, "/v1/form-tools", json!({"code": "DRY-3", "design": "TD-11", "place": "BIN-A1"}), 201),
        (&shop.clerk, "/v1/checkouts", json!({"items": ["FT-001"], "person": "setter", "purpose": "use"}), 201),
        (&shop.clerk, "/v1/checkouts", json!({"items": ["FT-003"], "person": "setter", "purpose": "use"}), 409),
        (&shop.clerk, "/v1/transfers", json!({"items": ["FT-001"], "to": {"place": "BIN-A2"}}), 201),
        (&shop.clerk, "/v1/tag-outs", json!({"machine": "M-102", "reason": "x"}), 201),
        (&setter, "/v1/setups", setup, 201),
        (&inspector, "/v1/center-gauges/CG-104/checks", check, 201),
        (&maintainer, "/v1/machines/M-101/center-heights", height, 201),
    ] {
        let dry = format!("{path}?validate_only=true");
        let answer = client.post(&dry).header("Idempotency-Key", "dry").json(&body).send();
        if status == 409 {
            let _ = answer.expect(409);
            continue;
        }
        let would = answer.expect(200).json();
        assert_eq!(would["would"]["status"], status, "{path}: {would}");
        let changes = would["would"]["changes"].as_array().expect("changes");
        assert!(!changes.is_empty() && !would.to_string().contains("\"id\""), "{path}: {would}");
        // It left no record of its key either: the same key with another body is judged as new.
        let other = json!({"nothing": 1});
        problem(client.post(&dry).header("Idempotency-Key", "dry").json(&other).send(), 422, "unknown-field");
    }
    let tag = shop.tag("/v1/places/BIN-A1");
    let patch = shop.supervisor.patch("/v1/places/BIN-A1?validate_only=true").header("If-Match", &tag);
    let would = patch.body(MERGE_PATCH, r#"{"name":"Other"}"#).send().expect(200).json();
    assert_eq!(would["would"]["status"], 200);
    assert_eq!(shop.tag("/v1/places/BIN-A1"), tag);
    assert_eq!(shop.changes(), before, "a dry run stored something");
    assert_eq!(shop.supervisor.get("/v1/machines/M-102").send().expect(200).json()["state"], "running");
}

pub(crate) fn a_version_is_read_once_and_changed_knowingly(shop: &Shop) {
    let path = "/v1/places/CART-1";
    let tag = shop.tag(path);
    assert!(tag.starts_with('"') && tag.ends_with('"'), "a strong tag: {tag}");
    let unchanged = shop.supervisor.get(path).header("If-None-Match", &format!("\"x\", W/{tag}")).send().expect(304);
    assert!(unchanged.body.is_empty() && unchanged.header("etag") == Some(&tag));
    let _ = shop.supervisor.get(path).header("If-None-Match", "\"x\"").send().expect(200);
    problem(shop.supervisor.get(path).header("If-None-Match", "x").send(), 400, "malformed-header");

    let name = r#"{"name":"Cart, renamed"}"#;
    let patch = || shop.supervisor.patch(path);
    problem(patch().body(MERGE_PATCH, name).send(), 428, "precondition-required");
    problem(patch().header("If-Match", "\"x\"").body(MERGE_PATCH, name).send(), 412, "precondition-failed");
    problem(patch().header("If-Match", &format!("W/{tag}")).body(MERGE_PATCH, name).send(), 412, "precondition-failed");
    problem(shop.supervisor.delete(path).send(), 428, "precondition-required");
    problem(shop.supervisor.delete(path).header("If-Match", "\"x\"").send(), 412, "precondition-failed");
    let changed = patch().header("If-Match", &tag).body(MERGE_PATCH, name).send().expect(200);
    assert_eq!(changed.header("etag"), Some(shop.tag(path).as_str()), "the answer's tag is the next read's");
    problem(patch().header("If-Match", &tag).body(MERGE_PATCH, name).send(), 412, "precondition-failed");
}

pub(crate) fn a_patch_is_a_merge_patch(shop: &Shop) {
    let path = "/v1/machines/M-103";
    let tag = shop.tag(path);
    let plain = shop.supervisor.patch(path).header("If-Match", &tag).json(&json!({"name": "x"})).send();
    let (answer, _) = problem(plain, 415, "unsupported-media-type");
    assert_eq!(answer.header("accept-patch"), Some(MERGE_PATCH));
    // A length is given whole: 4.33 alone would be of whatever unit was there.
    let (_, bare) =
        problem(shop.patch(path, &json!({"center_height": {"nominal": {"value": 4.33}}})), 422, "invalid-field");
    assert_eq!(bare["errors"][0]["pointer"], "/center_height/nominal/unit");
    for (path, field) in [
        (path, "state"),
        ("/v1/form-tools/FT-001", "height"),
        ("/v1/form-tools/FT-001", "pieces_total"),
        ("/v1/items/CB-03", "where"),
        ("/v1/center-gauges/CG-101", "next_check"),
        ("/v1/center-gauges/CG-101", "machine"),
        ("/v1/holders/HD-01", "condition"),
    ] {
        let (_, found) = problem(shop.patch(path, &json!({field: "x"})), 422, "read-only-field");
        assert_eq!(found["errors"][0]["pointer"], format!("/{field}"));
    }
    let machine = shop.supervisor.get(path).send().expect(200).json();
    let stations = machine["stations"].as_array().expect("stations");
    let without = |code: &str| -> Vec<Value> { stations.iter().filter(|s| s["code"] != code).cloned().collect() };
    // Its setup uses S3; nothing uses E2.
    problem(shop.patch(path, &json!({"stations": without("S3")})), 409, "in-use");
    let fewer = shop.patch(path, &json!({"stations": without("E2")})).expect(200).json();
    assert_eq!(fewer["stations"].as_array().map(Vec::len), Some(stations.len() - 1));
    let again = shop.patch(path, &json!({"stations": stations})).expect(200).json();
    assert_eq!(again["stations"].as_array().map(Vec::len), Some(stations.len()));
    // Null takes away what may be missing.
    let none = shop.patch(path, &json!({"spindle_center_spread": null})).expect(200).json();
    assert!(none["spindle_center_spread"].is_null());
}
