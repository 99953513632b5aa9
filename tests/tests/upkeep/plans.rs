//! Maintenance plans: what is written of them, and what is counted.

use crate::shop::{Shop, event, items, open_setup, text};
use serde_json::{Value, json};

fn standing(shop: &Shop, plan: &str) -> Value {
    let answer = shop.person("clerk").get(&format!("/v1/maintenance-plans/{plan}/standing")).send().expect(200);
    assert_eq!(answer.header("cache-control"), Some("no-store"));
    answer.json()
}

fn counter(standing: &Value, measure: &str) -> Value {
    let counters = standing["counters"].as_array().expect("counters");
    counters.iter().find(|counter| counter["measure"] == measure).unwrap_or_else(|| panic!("{standing}")).clone()
}

pub(crate) fn a_plan_is_kept_and_retired(shop: &Shop) {
    let plans = "/v1/maintenance-plans";
    let mut plan = json!({"code": "MP-BELT", "name": "Look at the belt", "subject": {"machine": "M-101"},
        "steps": ["Lock out", "Look"], "interval": {"days": 30}, "last_done_at": "2020-01-01T08:00:00+01:00"});
    let made = shop.done("maintainer", plans, &plan);
    assert_eq!((&made["last_done_at"], &made["due_from_percent"]), (&json!("2020-01-01T07:00:00Z"), &json!(90)));
    assert_eq!(shop.read("/v1/maintenance-plans/MP-BELT"), made);
    let now = standing(shop, "MP-BELT");
    assert_eq!((&now["state"], &now["open_order"]), (&json!("overdue"), &Value::Null), "{now}");
    assert!(text(&now["judged_on"]).contains("it was last done, 2020-01-01"), "{now}");

    // The list says the same, and is narrowed by machine and item.
    let list = shop.read("/v1/maintenance-plans?machine=M-101");
    let codes: Vec<_> = items(&list).iter().map(|row| text(&row["code"])).collect();
    assert_eq!(codes, ["MP-101-CARRIER", "MP-BELT"]);
    assert_eq!(items(&list)[1]["standing"]["state"], "overdue");
    assert_eq!(items(&list)[0]["standing"]["state"], "ok");
    assert_eq!(items(&shop.read("/v1/maintenance-plans?item=HD-01"))[0]["code"], "MP-HD-01");

    // A merge patch of the interval; what it is about stays.
    let path = "/v1/maintenance-plans/MP-BELT";
    let patched = shop.patch("maintainer", path, &json!({"interval": {"days": null, "pieces": 5000}}));
    assert_eq!(patched["interval"], json!({"pieces": 5000}));
    let tag = shop.person("maintainer").get(path).send().expect(200).header("etag").expect("a tag").to_owned();
    let patch = |fields: &Value| {
        let call = shop.person("maintainer").patch(path).header("If-Match", &tag);
        call.body("application/merge-patch+json", fields.to_string()).send().expect(422).json()
    };
    assert_eq!(patch(&json!({"subject": {"item": "HD-01"}}))["type"], "/problems/read-only-field");
    assert_eq!(patch(&json!({"interval": {"pieces": null}}))["errors"][0]["pointer"], "/interval");

    // Retired it is due no more; taken into use again it is.
    shop.patch("maintainer", path, &json!({"retired": true}));
    let _ = shop.person("clerk").get(&format!("{path}/standing")).send().expect(409);
    assert_eq!(items(&shop.read("/v1/maintenance-plans?retired=true"))[0]["standing"], Value::Null);
    let refused = shop.refused("maintainer", "/v1/work-orders", &json!({"plan": "MP-BELT"}));
    assert_eq!(refused, ["plan-retired MP-BELT"]);
    shop.patch("maintainer", path, &json!({"retired": false}));

    // Codes are unique over everything scannable, and stay taken.
    let taken = shop.send("maintainer", plans, &plan).expect(409).json();
    assert_eq!(taken["type"], "/problems/code-taken");
    plan["code"] = json!("HD-01");
    assert_eq!(shop.send("maintainer", plans, &plan).expect(409).json()["type"], "/problems/code-taken");
    plan["code"] = json!("MP-NONE");
    for (field, value, pointer) in [
        ("subject", json!({"machine": "M-999"}), "/subject/machine"),
        ("subject", json!({"machine": "M-101", "other": "belt"}), "/subject"),
        ("subject", json!({"other": "Compressor", "item": null}), "/interval/pieces"),
        ("interval", json!({}), "/interval"),
        ("interval", json!({"days": 0}), "/interval/days"),
        ("steps", json!([]), "/steps"),
        ("due_from_percent", json!(101), "/due_from_percent"),
        ("last_done_at", json!("2999-01-01T00:00:00Z"), "/last_done_at"),
    ] {
        let mut wrong = plan.clone();
        wrong[field] = value;
        if pointer == "/interval/pieces" {
            wrong["interval"] = json!({"pieces": 5});
        }
        assert_eq!(shop.faulty("maintainer", plans, &wrong), [pointer], "{wrong}");
    }
}

/// A machine that runs in the demo shop: its pieces, setups and hours, and those of a holder in it.
pub(crate) fn use_is_counted_from_runs(shop: &Shop) {
    let setup = open_setup(shop, "M-102");
    assert_eq!(setup["state"], "released", "{setup}");
    let holder = setup["stations"].as_array().expect("stations").iter().find_map(|station| station["holder"].as_str());
    let holder = holder.expect("a holder in the run").to_owned();
    for (code, subject) in [("MP-RUN", json!({"machine": "M-102"})), ("MP-RUN-H", json!({"item": holder}))] {
        let plan = json!({"code": code, "name": "After use", "subject": subject, "steps": ["Look"],
            "interval": {"pieces": 1000, "running_hours": 1, "setups": 2}, "last_done_at": "2020-01-01T00:00:00Z"});
        shop.done("maintainer", "/v1/maintenance-plans", &plan);
        let now = standing(shop, code);
        assert_eq!((&now["state"], &counter(&now, "pieces")["used"]), (&json!("ok"), &json!(0.0)), "{now}");
        let hours = counter(&now, "running_hours")["used"].as_f64().expect("hours");
        assert!(hours > 0.0 && hours < 0.5, "while it runs, its hours count: {now}");
        assert_eq!(counter(&now, "setups")["used"], 1.0, "{now}");
        assert!(text(&now["judged_on"]).contains("fewer than 14 days"), "{now}");
        assert_eq!(now["runs_out_on"], Value::Null);
    }
    event(shop, &setup, &json!({"kind": "run_stopped", "pieces": 950, "reason": "shift ends", "confirmed": true}));
    for code in ["MP-RUN", "MP-RUN-H"] {
        let now = standing(shop, code);
        assert_eq!((&now["state"], &counter(&now, "pieces")["used"]), (&json!("due"), &json!(950.0)), "{now}");
        shop.patch("maintainer", &format!("/v1/maintenance-plans/{code}"), &json!({"interval": {"pieces": 900}}));
        assert_eq!(standing(shop, code)["state"], "overdue");
    }
    // Done now, nothing of it counts any more.
    let order = shop.done("maintainer", "/v1/work-orders", &json!({"plan": "MP-RUN"}));
    assert_eq!(order["steps"], json!(["Look"]));
    assert_eq!(standing(shop, "MP-RUN")["open_order"], order["id"]);
    let done = shop.order(&order, "done", &json!({"note": "Looked", "touched": "nothing"})).expect(200).json();
    let now = standing(shop, "MP-RUN");
    assert_eq!((&now["state"], &now["counted_from"]), (&json!("ok"), &done["done_at"]), "{now}");
    for measure in ["pieces", "setups", "running_hours"] {
        assert_eq!(counter(&now, measure)["used"], 0.0, "{now}");
    }
    assert_eq!(standing(shop, "MP-RUN-H")["state"], "overdue", "the holder's plan is another");
}
