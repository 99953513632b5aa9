//! Dry runs of every write: what is foretold is what comes.

use crate::shop::{MERGE_PATCH, Shop};
use dovetally_tests::client::{Client, Predictions};
use serde_json::{Value, json};
use std::{collections::BTreeSet, sync::PoisonError};

/// Collections of the registry: what each is made from, as the document's example shows it, and what may be patched.
const COLLECTIONS: [(&str, &str, &str, &str); 10] = [
    ("/v1/places", "code", "NEW-PLACE", r#"{"name":"Renamed"}"#),
    ("/v1/machines", "code", "NEW-MACHINE", r#"{"name":"Renamed"}"#),
    ("/v1/tool-designs", "code", "NEW-DESIGN", r#"{"name":"Renamed"}"#),
    ("/v1/items", "code", "NEW-ITEM", r#"{"name":"Renamed"}"#),
    ("/v1/form-tools", "code", "NEW-TOOL", r#"{"name":"Renamed"}"#),
    ("/v1/holders", "code", "NEW-HOLDER", r#"{"style":"DT-B"}"#),
    ("/v1/center-gauges", "code", "NEW-GAUGE", r#"{"name":"Renamed"}"#),
    ("/v1/parts", "code", "NEW-PART", r#"{"name":"Renamed"}"#),
    ("/v1/jobs", "number", "NEW-JOB", r#"{"quantity":10}"#),
    ("/v1/supplies", "code", "NEW-SUPPLY", r#"{"minimum":7}"#),
];

/// Makes, changes and deletes one of each kind, and does every other write once; each foretold by a dry run.
pub(crate) fn every_write_is_foretold(shop: &Shop) {
    let document = shop.server.anonymous().get("/openapi.json").send().expect(200).json();
    let predictions = Predictions::default();
    let person = |badge: &str| shop.server.person(badge).predicting(&predictions);
    let supervisor = person("supervisor");

    for (path, key, code, patch) in COLLECTIONS {
        let mut body = example(&document, path);
        body[key] = json!(code);
        if path == "/v1/places" {
            body["retired"] = json!(false);
        }
        let _ = supervisor.post(path).json(&body).send().expect(201);
        let _ = supervisor.post(path).json(&body).send().expect(409);
        let record = format!("{path}/{code}");
        let _ = supervisor.patch(&record).body(MERGE_PATCH, patch).send().expect(428);
        let _ = supervisor.patch(&record).header("If-Match", "\"x\"").body(MERGE_PATCH, patch).send().expect(412);
        let tag = shop.tag(&record);
        let _ = supervisor.patch(&record).header("If-Match", &tag).body(MERGE_PATCH, patch).send().expect(200);
        let _ = supervisor.delete(&record).header("If-Match", &shop.tag(&record)).send().expect(204);
        let _ = supervisor.delete(&record).header("If-Match", &tag).send().expect(404);
    }
    people(&person("administrator"));
    custody(&person("clerk"));
    planning(&person("clerk"));
    machines(shop, &person);
    tool_life(shop, &document, &person);
    maintenance(&document, &person("maintainer"));
    supplies(&document, &person("clerk"));
    gauges(&person("inspector"));
    handovers(&person("setter"));

    let written: BTreeSet<(String, String)> = predictions
        .lock()
        .unwrap_or_else(PoisonError::into_inner)
        .iter()
        .filter(|(.., status)| (200..300).contains(status))
        .map(|(method, path, _)| (method.as_str().to_lowercase(), path.clone()))
        .collect();
    for (method, template) in writes_with_a_dry_run(&document) {
        let foretold = written.iter().any(|(written, path)| *written == method && is_of(path, &template));
        assert!(foretold, "no {method} {template} was foretold and done");
    }
}

fn people(administrator: &Client) {
    let body = json!({"badge": "new-person", "name": "Somebody new", "roles": ["setter"]});
    let _ = administrator.post("/v1/people").json(&body).send().expect(201);
    let record = "/v1/people/new-person";
    let tag = |path: &str| {
        let read = administrator.get(path).send().expect(200);
        read.header("etag").expect("an entity tag").to_owned()
    };
    let patch = |path: &str, patch: &str| {
        administrator.patch(path).header("If-Match", &tag(path)).body(MERGE_PATCH, patch).send().expect(200)
    };
    let _ = patch(record, r#"{"name":"Somebody else"}"#);
    let _ = administrator
        .post(&format!("{record}/secret"))
        .header("If-Match", &tag(record))
        .json(&json!({}))
        .send()
        .expect(200);
    let _ = patch("/v1/settings", r#"{"provisional_release":{"most_pieces":100,"most_minutes":60}}"#);
    let _ = patch("/v1/settings", r#"{"provisional_release":null}"#);
    let _ = patch("/v1/settings", r#"{"recheck_after_holder_move":"required"}"#);
    let _ = patch("/v1/settings", r#"{"recheck_after_holder_move":"advised"}"#);
    let _ = patch("/v1/settings/gauge-control", r#"{"impact_when_undecided":true}"#);
}

fn custody(clerk: &Client) {
    let out = json!({"items": ["FT-002"], "person": "setter", "purpose": "use"});
    let _ = clerk.post("/v1/checkouts").json(&out).send().expect(201);
    let on = json!({"items": ["FT-002"], "to": {"person": "setter-2"}});
    let _ = clerk.post("/v1/transfers").json(&on).send().expect(201);
    let back = json!({"items": [{"code": "FT-002", "place": "BIN-A1", "condition": "usable"}], "person": "setter-2"});
    let _ = clerk.post("/v1/checkins").json(&back).send().expect(201);
    let _ = clerk.post("/v1/checkins").json(&back).send().expect(409);
}

fn planning(clerk: &Client) {
    let path = "/v1/jobs/J-5006/bookings";
    let wanted = json!({"items": [{"station": "S3", "item": "FT-010"}]});
    let _ = clerk.post(path).json(&wanted).send().expect(201);
    let _ = clerk.post(path).json(&wanted).send().expect(409);
    let cancel = json!({"items": ["FT-010"], "reason": "only tried"});
    let _ = clerk.post(&format!("{path}/cancel")).json(&cancel).send().expect(200);
}

fn machines(shop: &Shop, person: &impl Fn(&str) -> Client) {
    let fine = json!({"value": 0.0001, "unit": "in"});
    let height = json!({"measured": {"value": 3.75, "unit": "in"}, "standard_uncertainty": fine,
        "reason": "yearly", "after_work": true});
    let _ = person("maintainer").post("/v1/machines/M-101/center-heights").json(&height).send().expect(201);
    let check = json!({"as_found": {"value": 3.75, "unit": "in"}, "standard_uncertainty": fine,
        "next_check": "2999-01-01"});
    let _ = person("inspector").post("/v1/center-gauges/CG-101/checks").json(&check).send().expect(201);

    let setup = json!({"machine": "M-101", "part": "P-2001", "stations": [{"station": "S1"}]});
    let opened = person("setter").post("/v1/setups").json(&setup).send().expect(201).json();
    let events = format!("/v1/setups/{}/events", opened["id"].as_str().expect("an id"));
    let _ = person("setter").post(&events).json(&json!({"kind": "run_released"})).send().expect(409);
    let abandoned = json!({"kind": "abandoned", "reason": "only tried"});
    let _ = person("setter").post(&events).json(&abandoned).send().expect(201);

    let tag_out = json!({"machine": "M-101", "reason": "guard rail loose"});
    let placed = person("clerk").post("/v1/tag-outs").json(&tag_out).send().expect(201).json();
    let clear = format!("/v1/tag-outs/{}/clear", placed["id"].as_str().expect("an id"));
    let _ = person("maintainer").post(&clear).json(&json!({"note": "Tightened"})).send().expect(200);
    assert_eq!(shop.supervisor.get("/v1/machines/M-101").send().expect(200).json()["state"], "idle");
}

/// Each as the document's example shows it, but for the height of the tool at hand.
fn tool_life(shop: &Shop, document: &Value, person: &impl Fn(&str) -> Client) {
    let tool = "/v1/form-tools/FT-002";
    let (consents, grinds) = (format!("{tool}/consents"), format!("{tool}/regrinds"));
    let example = |name: &str| example(document, &format!("/v1/form-tools/{{code}}/{name}"));
    let owner = r#"{"owner":"Ashby Pumps","reserved_for":"P-2001"}"#;
    let supervisor = person("supervisor");
    let owned = supervisor.patch(tool).header("If-Match", &shop.tag(tool)).body(MERGE_PATCH, owner);
    let _ = owned.send().expect(200);
    let mut grind = example("regrinds");
    grind["height_before"] = json!({"value": 1.0, "unit": "in"});
    grind["height_after"] = json!({"value": 0.985, "unit": "in"});
    let _ = person("grinder").post(&grinds).json(&grind).send().expect(409);
    let given = supervisor.post(&consents).json(&example("consents")).send().expect(201).json();
    let _ = person("grinder").post(&grinds).json(&grind).send().expect(201);
    let mut check = example("checks");
    check["height"] = json!({"value": 0.985, "unit": "in"});
    let _ = person("grinder").post(&format!("{tool}/checks")).json(&check).send().expect(409);
    let _ = person("inspector").post(&format!("{tool}/checks")).json(&check).send().expect(201);
    let withdraw = format!("/v1/tool-consents/{}/withdraw", given["id"].as_str().expect("an id"));
    let _ = supervisor.post(&withdraw).json(&json!({})).send().expect(200);
    let _ = supervisor.post(&withdraw).json(&json!({})).send().expect(409);
}

fn maintenance(document: &Value, maintainer: &Client) {
    let mut plan = example(document, "/v1/maintenance-plans");
    plan["code"] = json!("NEW-PLAN");
    let _ = maintainer.post("/v1/maintenance-plans").json(&plan).send().expect(201);
    let record = "/v1/maintenance-plans/NEW-PLAN";
    let tag = || maintainer.get(record).send().expect(200).header("etag").expect("an entity tag").to_owned();
    let _ =
        maintainer.patch(record).header("If-Match", &tag()).body(MERGE_PATCH, r#"{"name":"Other"}"#).send().expect(200);
    let _ = maintainer.delete(record).header("If-Match", &tag()).send().expect(204);

    let act = |order: &Value, act: &str, body: &Value| {
        let path = format!("/v1/work-orders/{}/{act}", order["id"].as_str().expect("an id"));
        maintainer.post(&path).json(body).send()
    };
    let new = example(document, "/v1/work-orders");
    let order = maintainer.post("/v1/work-orders").json(&new).send().expect(201).json();
    let _ = act(&order, "start", &json!({})).expect(200);
    let _ = act(&order, "start", &json!({})).expect(409);
    let done = json!({"note": "Mended", "touched": "nothing", "parts_used": [{"supply": "SUP-GREASE", "quantity": 1}]});
    let _ = act(&order, "done", &done).expect(200);
    let _ = act(&order, "done", &done).expect(409);
    let order = maintainer.post("/v1/work-orders").json(&new).send().expect(201).json();
    let _ = act(&order, "cancel", &json!({"note": "Reported twice"})).expect(200);
}

fn supplies(document: &Value, clerk: &Client) {
    for (action, body) in [
        ("receipts", json!({"quantity": 10})),
        ("withdrawals", json!({"quantity": 2})),
        ("counts", json!({"counted": 9})),
    ] {
        let path = format!("/v1/supplies/SUP-FILTER/{action}");
        let _ = clerk.post(&path).json(&body).send().expect(201);
        let shown = &document["paths"][format!("/v1/supplies/{{code}}/{action}")]["post"];
        assert!(shown["requestBody"]["content"]["application/json"]["example"].is_object(), "{action}: {shown}");
    }
    let _ = clerk.post("/v1/supplies/SUP-FILTER/withdrawals").json(&json!({"quantity": 99})).send().expect(409);
}

fn gauges(inspector: &Client) {
    let raised = json!({"gauge": "CG-101", "reason": "dropped"});
    let raised = inspector.post("/v1/impacts").json(&raised).send().expect(201).json();
    let impact = format!("/v1/impacts/{}", raised["id"].as_str().expect("an id"));
    let _ = inspector.post(&format!("{impact}/refresh")).send().expect(200);
    let close = json!({"note": "nothing was set with it"});
    let _ = inspector.post(&format!("{impact}/close")).json(&close).send().expect(200);

    let free = json!({"accepted": true, "taper_adjuster_free": true, "height_adjuster_free": true,
        "side_screw_free": true, "seat_clean": true});
    let _ = inspector.post("/v1/holders/HD-03/checks").json(&free).send().expect(201);

    // The demo shop has set a machine with this gauge: found far outside its limits, it calls that into doubt.
    let check = json!({"as_found": {"value": 3.7532, "unit": "in"}, "as_left": {"value": 3.752, "unit": "in"},
        "standard_uncertainty": {"value": 0.00005, "unit": "in"}, "next_check": "2999-01-01"});
    let found = inspector.post("/v1/center-gauges/CG-102/checks").json(&check).send().expect(201).json();
    let impact = format!("/v1/impacts/{}", found["impact"].as_str().expect("an impact document"));
    let entries = inspector.get(&format!("{impact}/entries")).send().expect(200).json();
    // A run that goes on gets no outcome yet.
    let ended = entries["items"].as_array().expect("entries").iter().filter(|entry| entry["kind"] != "run");
    let numbers: Vec<_> = ended.map(|entry| &entry["number"]).collect();
    let outcomes = json!({"entries": numbers, "outcome": "cleared", "note": "all measured"});
    let _ = inspector.post(&format!("{impact}/outcomes")).json(&outcomes).send().expect(200);
    let _ = inspector.post(&format!("{impact}/close")).json(&close).send().expect(409);

    let check = json!({"as_found": {"value": 3.75, "unit": "in"}, "as_left": {"value": 3.752, "unit": "in"},
        "standard_uncertainty": {"value": 0.00005, "unit": "in"}, "next_check": "2999-01-01"});
    let other = json!({"machine": "M-102", "nominal": {"value": 3.752, "unit": "in"}, "check": check});
    let _ = inspector.post("/v1/center-gauges/CG-104/rebind").json(&other).send().expect(201);
}

fn handovers(setter: &Client) {
    let floor = setter.get("/v1/floor").send().expect(200);
    let read = floor.header("etag").expect("a tag").trim_matches('"').to_owned();
    let taken = json!({"read": read, "note": "M-102 waits for bar"});
    let handover = setter.post("/v1/handovers").json(&taken).send().expect(201).json();
    assert_eq!(handover["machines"], floor.json()["machines"]);
    // A machine that is tagged out is another floor than was read.
    let tag_out = json!({"machine": "M-101", "reason": "guard rail loose"});
    let _ = setter.post("/v1/tag-outs").json(&tag_out).send().expect(201);
    let refused = setter.post("/v1/handovers").json(&taken).send().expect(409).json();
    assert_eq!(refused["refusals"][0]["rule"], "floor-changed");
    let path = format!("/v1/handovers/{}", handover["id"].as_str().expect("an id"));
    assert_eq!(setter.get(&path).send().expect(200).json(), handover, "what was taken over stays as it was");
}

/// The example that the document gives for a body.
fn example(document: &Value, path: &str) -> Value {
    document["paths"][path]["post"]["requestBody"]["content"]["application/json"]["example"].clone()
}

/// The writes that the document says can be tried.
fn writes_with_a_dry_run(document: &Value) -> BTreeSet<(String, String)> {
    let mut writes = BTreeSet::new();
    for (path, operations) in document["paths"].as_object().expect("paths") {
        for (method, operation) in operations.as_object().expect("operations") {
            let parameters = operation["parameters"].as_array().map(Vec::as_slice).unwrap_or_default();
            let named = |parameter: &Value| parameter["$ref"] == "#/components/parameters/ValidateOnly";
            if parameters.iter().any(named) {
                writes.insert((method.clone(), path.clone()));
            }
        }
    }
    assert!(writes.len() > 35, "{writes:?}");
    writes
}

/// Whether a path is one of a template's.
fn is_of(path: &str, template: &str) -> bool {
    let (path, template): (Vec<_>, Vec<_>) = (path.split('/').collect(), template.split('/').collect());
    path.len() == template.len()
        && path.iter().zip(&template).all(|(part, pattern)| pattern.starts_with('{') || part == pattern)
}
