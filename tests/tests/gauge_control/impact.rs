//! The demo shop's machine M-102 runs on heights that were read on CG-102; then the gauge is found wrong.

use crate::{check, checked_at, checks_of, faults, instant, now, shop::*};
use serde_json::{Value, json};

fn entries(shop: &Shop, document: &str, query: &str) -> Vec<Value> {
    items(&shop.read(&format!("/v1/impacts/{document}/entries{query}"))).clone()
}

fn kinds(entries: &[Value]) -> Vec<String> {
    entries.iter().map(|entry| text(&entry["kind"])).collect()
}

pub(crate) fn from_the_check_to_the_closed_document(shop: &Shop) {
    let setup = text(&items(&shop.read("/v1/setups?machine=M-102&open=true"))[0]["id"]);
    let preview = shop.person("setter").get("/v1/center-gauges/CG-102/impact").send().expect(200);
    assert_eq!(preview.header("cache-control"), Some("no-store"));
    let preview = preview.json();
    assert_eq!(
        preview["counts"],
        json!({"setups": 1, "runs": 1, "jobs": 1, "tools": 2, "pieces": 0}),
        "the run still goes on: {preview}"
    );
    assert_eq!(preview["more"], 0);
    let later = shop.read("/v1/center-gauges/CG-102/impact?since=2026-01-01T00:00:00Z");
    assert_eq!(later["counts"], preview["counts"]);
    let ahead = shop.person("setter").get("/v1/center-gauges/CG-102/impact?since=2999-01-01T00:00:00Z").send();
    let _ = ahead.expect(400);

    // Undecided: in doubt only where somebody, or the shop, asks for it.
    let undecided = shop.done("inspector", &checks_of("CG-102"), &check(3.7523));
    assert_eq!(undecided["impact"], Value::Null);
    let found = shop.done("inspector", &checks_of("CG-102"), &check(3.7531));
    let id = text(&found["impact"]);
    let path = format!("/v1/impacts/{id}");
    let document = shop.read(&path);
    assert_eq!((&document["check"], &document["came_since"]), (&found["id"], &json!(0)));
    assert_eq!((&document["without_outcome"], &document["doubtful_until"]), (&json!(5), &Value::Null));
    assert_eq!(document["doubtful_since"], preview["since"], "since its last accepted check");
    let held = entries(shop, &id, "");
    assert_eq!(kinds(&held), ["setup", "run", "job", "tool", "tool"]);
    let run = &held[1];
    assert_eq!((&run["setup"], &run["machine"], &run["until"]), (&json!(setup), &json!("M-102"), &Value::Null));
    let events = shop.read(&events_of(&setup));
    let kind_of = |sequence: &Value| {
        let all = events["items"].as_array().or(events["events"].as_array()).expect("events");
        let event = all.iter().find(|event| event["sequence"] == *sequence).expect("an event of this number");
        event["kind"].as_str().or(event["event"]["kind"].as_str()).expect("a kind").to_owned()
    };
    let evidence = run["evidence"].as_array().expect("evidence");
    let shown: Vec<_> = evidence.iter().map(|event| (text(&event["kind"]), kind_of(&event["sequence"]))).collect();
    let both = |kind: &str| (kind.to_owned(), kind.to_owned());
    assert_eq!(shown, [both("height_read"), both("height_read"), both("run_released")]);
    assert_eq!((&evidence[0]["station"], &evidence[1]["station"]), (&json!("S1"), &json!("CUT")));
    assert_eq!((&held[2]["job"], &held[2]["pieces"]), (&json!("J-5002"), &json!(0)));
    assert_eq!(kinds(&entries(shop, &id, "?kind=tool&judged=false")), ["tool", "tool"]);

    let due = |shop: &Shop| column(&shop.read("/v1/due?kind=impact"), "record").contains(&id);
    assert!(due(shop));

    // A second one for the same doubt is none.
    let again = json!({"gauge": "CG-102", "reason": "once more"});
    let _ = shop.send("inspector", "/v1/impacts", &again).expect(409);
    assert_eq!(faults(shop, "inspector", "/v1/impacts", &json!({"gauge": "FT-001", "reason": "no gauge"})), ["/gauge"]);
    assert_eq!(faults(shop, "inspector", "/v1/impacts", &json!({"gauge": "CG-102", "reason": " "})), ["/reason"]);
    let _ = shop.send("setter", "/v1/impacts", &again).expect(403);
    shop.done("inspector", &checks_of("CG-102"), &check(3.7532));
    assert_eq!(items(&shop.read("/v1/impacts?gauge=CG-102")).len(), 1, "found wrong again, it is the same document");

    let outcomes = format!("{path}/outcomes");
    let judge = |entries: Value, outcome: &str| {
        let body = json!({"entries": entries, "outcome": outcome, "note": "Ten pieces of each spindle measured"});
        shop.send("inspector", &outcomes, &body)
    };
    let refused = judge(json!([1, 2]), "cleared").expect(409).json();
    assert_eq!(named(&refused["refusals"]), ["impact-run-going CG-102"]);
    for (body, pointer) in [(json!([1, 9]), "/entries/1"), (json!([1, 1]), "/entries/1"), (json!([]), "/entries")] {
        assert_eq!(judge(body, "cleared").expect(422).json()["errors"][0]["pointer"], pointer);
    }
    let _ = judge(json!([1]), "sold").expect(422);
    let judged = judge(json!([3, 4, 5]), "cleared").expect(200).json();
    assert_eq!(judged["without_outcome"], 2);
    let close = format!("{path}/close");
    let note = json!({"note": "Nothing left the shop"});
    assert_eq!(
        shop.refused("inspector", &close, &note),
        ["impact-not-worked-through CG-102", "impact-run-going CG-102"]
    );

    // The run stops: its pieces came since, for the run, its setup and its job.
    let stopped = json!({"kind": "run_stopped", "pieces": 640, "reason": "gauge in doubt", "confirmed": true});
    shop.event("setter-2", &setup, &stopped);
    assert_eq!(shop.read(&path)["came_since"], 3);
    let not_yet = shop.refused("inspector", &close, &note);
    assert_eq!(not_yet, ["impact-not-worked-through CG-102", "impact-not-worked-through CG-102"]);
    let refreshed = shop.person("inspector").post(&format!("{path}/refresh")).send().expect(200).json();
    assert_eq!((&refreshed["counts"]["pieces"], &refreshed["without_outcome"]), (&json!(640), &json!(3)));
    assert_eq!(shop.read(&path)["came_since"], 0);
    assert_eq!(entries(shop, &id, "?judged=false").iter().map(|entry| &entry["number"]).collect::<Vec<_>>(), [1, 2, 3]);
    let _ = judge(json!([1, 3]), "informed").expect(200);
    assert_eq!(shop.refused("inspector", &close, &note), ["impact-not-worked-through CG-102"]);
    let _ = judge(json!([2]), "reworked").expect(200);
    let closed = shop.send("inspector", &close, &note).expect(200).json();
    assert_eq!(
        (&closed["open"], &closed["closed_by"], &closed["without_outcome"]),
        (&json!(false), &json!("inspector"), &json!(0))
    );
    assert!(!due(shop), "it is closed");
    let held = entries(shop, &id, "?judged=true");
    assert_eq!(column_of(&held, "outcome"), ["informed", "reworked", "informed", "cleared", "cleared"]);
    assert_eq!(column_of(&held, "judged_by"), ["inspector"; 5]);
    for (path, body) in [(&close, &note), (&outcomes, &json!({"entries": [1], "outcome": "cleared", "note": "late"}))] {
        assert_eq!(shop.refused("inspector", path, body), ["impact-closed CG-102"]);
    }
    let refused = shop.person("inspector").post(&format!("{path}/refresh")).send().expect(409).json();
    assert_eq!(named(&refused["refusals"]), ["impact-closed CG-102"]);
    assert_eq!(column(&shop.read("/v1/impacts?gauge=CG-102&open=false"), "id"), [id]);
    assert_eq!(items(&shop.read("/v1/impacts?gauge=CG-102&open=true")).len(), 0);

    // By request, and by the shop's choice, undecided is enough.
    let mut asked = check(3.7523);
    asked["raise_impact"] = json!(true);
    let asked = shop.done("inspector", &checks_of("CG-102"), &asked);
    assert!(asked["impact"].is_string(), "{asked}");
    shop.patch("administrator", "/v1/settings/gauge-control", &json!({"impact_when_undecided": true}));
    let mut right = check(3.7523);
    right["as_left"] = inches(3.752);
    shop.done("inspector", &checks_of("CG-102"), &right);
    let ended = shop.read(&format!("/v1/impacts/{}", text(&asked["impact"])));
    assert!(ended["doubtful_until"].is_string(), "set right, the doubt ends: {ended}");
    let by_choice = shop.done("inspector", &checks_of("CG-102"), &check(3.7523));
    assert!(by_choice["impact"].is_string(), "{by_choice}");
    let none = shop.read(&format!("/v1/impacts/{}", text(&by_choice["impact"])));
    assert_eq!(none["counts"]["setups"], 0, "since it was set right nothing was done with it");
    let _ = shop.send("inspector", &format!("/v1/impacts/{}/close", text(&by_choice["impact"])), &note).expect(200);
    shop.patch("administrator", "/v1/settings/gauge-control", &json!({"impact_when_undecided": false}));
}

/// Somebody doubts a gauge from an instant on: a check that was done before it and is written up now does not end that.
pub(crate) fn a_doubt_ends_by_no_check_from_before_it(shop: &Shop) {
    let before = now();
    let raised = json!({"gauge": "CG-104", "reason": "Fell from the cart", "since": instant(now())});
    let path = format!("/v1/impacts/{}", text(&shop.done("inspector", "/v1/impacts", &raised)["id"]));
    let until = || {
        let refreshed = shop.person("inspector").post(&format!("{path}/refresh")).send().expect(200).json();
        refreshed["doubtful_until"].clone()
    };
    shop.done("inspector", &checks_of("CG-104"), &checked_at(3.75, before));
    assert_eq!(until(), Value::Null);
    let checked = shop.done("inspector", &checks_of("CG-104"), &check(3.75));
    assert_eq!(until(), checked["performed_at"]);
}

fn column_of(entries: &[Value], field: &str) -> Vec<String> {
    entries.iter().map(|entry| text(&entry[field])).collect()
}
