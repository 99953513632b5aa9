//! What breakdowns tell of a machine.

use crate::shop::{Shop, order_path};
use serde_json::{Value, json};

fn ask(shop: &Shop, machine: &str, query: &str) -> Value {
    let path = format!("/v1/machines/{machine}/reliability{query}");
    let answer = shop.person("clerk").get(&path).send().expect(200);
    assert_eq!(answer.header("cache-control"), Some("no-store"));
    answer.json()
}

pub(crate) fn what_the_records_do_not_allow_is_said(shop: &Shop) {
    // M-101 never ran in the demo shop; a breakdown of it is on record.
    let found = ask(shop, "M-101", "");
    assert_eq!((&found["failures"], &found["running_hours"]), (&json!(1), &json!(0.0)), "{found}");
    for field in ["mean_hours_between_failures", "lower", "upper", "mean_hours_to_repair"] {
        assert_eq!(found[field], Value::Null, "{found}");
    }
    assert!(found["sentence"].as_str().expect("words").contains("do not allow"), "{found}");
    // M-102 runs and never failed: a lower limit, and no more.
    let found = ask(shop, "M-102", "");
    assert_eq!(found["failures"], 0);
    assert!(found["running_hours"].as_f64().expect("hours") > 0.0 && found["lower"].as_f64().expect("a limit") > 0.0);
    assert!(found["upper"].is_null() && found["mean_hours_between_failures"].is_null(), "{found}");
    for (query, field) in [
        ("?confidence=1", "confidence"),
        ("?confidence=sure", "confidence"),
        ("?from=2999-01-01T00:00:00Z", "from"),
        ("?until=2999-01-01T00:00:00Z", "until"),
        ("?since=2020-01-01T00:00:00Z", "since"),
    ] {
        let problem = shop.person("clerk").get(&format!("/v1/machines/M-102/reliability{query}")).send().expect(400);
        assert_eq!(problem.json()["errors"][0]["parameter"], field, "{problem}");
    }
    let _ = shop.person("clerk").get("/v1/machines/M-999/reliability").send().expect(404);
}

/// The limits are those of the calculation for the same hours and failures; a breakdown that was called off is none.
pub(crate) fn breakdowns_against_running_hours(shop: &Shop) {
    let fault = json!({"subject": {"machine": "M-102"}, "what": "Belt torn", "breakdown": true});
    let mut orders = Vec::new();
    for _ in 0..3 {
        orders.push(shop.done("setter", "/v1/work-orders", &fault));
    }
    let _ = shop.order(&orders[0], "cancel", &json!({"note": "Reported twice"})).expect(200);
    let done = json!({"note": "Belt replaced", "touched": "nothing"});
    let done = shop.order(&orders[1], "done", &done).expect(200).json();
    // What was reported as a breakdown and was none does not count; what was none and is one does.
    let checked = json!({"note": "Nothing found", "touched": "nothing", "breakdown": false});
    let _ = shop.order(&orders[2], "done", &checked).expect(200);
    let planned = json!({"subject": {"machine": "M-102"}, "what": "Look at the brake"});
    let planned = shop.done("maintainer", "/v1/work-orders", &planned);
    let earlier = json!({"note": "Brake was broken", "touched": "nothing", "breakdown": true,
        "down_from": done["down_from"], "down_until": done["down_until"]});
    let _ = shop.send("maintainer", &order_path(&planned, "done"), &earlier).expect(200);

    let found = ask(shop, "M-102", "?confidence=0.8");
    assert_eq!((&found["failures"], &found["repairs"]), (&json!(2), &json!(2)), "{found}");
    let hours = found["running_hours"].as_f64().expect("hours");
    let asked = json!({"total_time": hours, "failures": 2, "confidence": 0.8, "sided": "two"});
    let calculated = shop.person("clerk").post("/v1/calculations/mtbf").json(&asked).send().expect(200).json();
    let result = &calculated["result"];
    assert_eq!((&found["lower"], &found["upper"]), (&result["lower"], &result["upper"]), "{found}");
    assert_eq!(found["mean_hours_between_failures"], result["mtbf"]);
    let repair = found["mean_hours_to_repair"].as_f64().expect("hours");
    assert!((0.0..0.1).contains(&repair), "{found}");
    assert!(found["cautions"].to_string().contains("Fewer than three failures"), "{found}");
    // Before the machine was on record nothing happened.
    let before = ask(shop, "M-102", "?from=2020-01-01T00:00:00Z&until=2020-06-01T00:00:00Z");
    assert_eq!((&before["failures"], &before["running_hours"]), (&json!(0), &json!(0.0)), "{before}");
}
