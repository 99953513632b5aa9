//! The list of what is due, line by line: each kind, how urgent it is, and what must not be on it.

use crate::shop::{Shop, items, order_path, text};
use chrono::{Days, NaiveDate};
use serde_json::{Value, json};

/// Each line: how urgent, which kind, on what.
fn lines(due: &Value) -> Vec<String> {
    let line = |row: &Value| {
        let code = row["code"].as_str().unwrap_or("-");
        format!("{} {} {code}", text(&row["urgency"]), text(&row["kind"]))
    };
    items(due).iter().map(line).collect()
}

fn of_kind(shop: &Shop, kind: &str) -> Vec<String> {
    lines(&shop.read(&format!("/v1/due?kind={kind}")))
}

pub(crate) fn as_the_shop_opens(shop: &Shop) {
    let week = shop.read("/v1/due");
    assert_eq!(
        lines(&week),
        [
            // Never checked.
            "today gauge_check CG-104",
            "today tool_check FT-006",
            "today tool_grind FT-003",
            "today tool_damaged FT-009",
            // One on hand, two wanted.
            "today supply_low SUP-FILTER",
            "today work_order HD-05",
            "today work_order M-101",
            // With the grinder until in five days.
            "this_week item_return FT-005",
        ]
    );
    assert_eq!(week["counts"], json!({"overdue": 0, "today": 7, "this_week": 1, "later": 0}));
    let year = lines(&shop.read("/v1/due?days=366"));
    let holders = (1..=6).map(|number| format!("later holder_check HD-0{number}"));
    let gauges = (1..=3).map(|number| format!("later gauge_check CG-10{number}"));
    for line in holders.chain(gauges) {
        assert!(year.contains(&line), "{line} in {year:#?}");
    }
    assert!(!year.iter().any(|line| line.contains("FT-012")), "a retired tool waits for nothing: {year:#?}");
}

pub(crate) fn as_things_happen(shop: &Shop) {
    // Found damaged at the counter, a gauge is to be looked at now, whatever day its next check has.
    shop.done("clerk", "/v1/checkouts", &json!({"items": ["CG-101"], "person": "setter", "purpose": "use"}));
    let back = json!({"items": [{"code": "CG-101", "place": "BIN-G1", "condition": "damaged"}], "person": "setter"});
    shop.done("clerk", "/v1/checkins", &back);
    assert_eq!(of_kind(shop, "gauge_check"), ["today gauge_check CG-101", "today gauge_check CG-104"]);

    // One usual grind of 0.015 above the minimum of 0.5 is the last; two are not.
    for (code, height) in [("FT-LAST", 0.514), ("FT-TWO", 0.515)] {
        let tool =
            json!({"code": code, "design": "TD-11", "height": {"value": height, "unit": "in"}, "place": "BIN-A1"});
        shop.done("supervisor", "/v1/form-tools", &tool);
    }
    assert_eq!(of_kind(shop, "last_grind"), ["today last_grind FT-LAST"]);

    // A job that the tools there are do not last for; its part has two designs.
    assert_eq!(of_kind(shop, "tool_order"), Vec::<String>::new());
    let usual = shop.read("/v1/jobs/J-5004")["quantity"].clone();
    shop.patch("supervisor", "/v1/jobs/J-5004", &json!({"quantity": 100_000_000}));
    let order = shop.read("/v1/due?kind=tool_order");
    assert_eq!(lines(&order), ["today tool_order TD-11", "today tool_order TD-12"]);
    let sentence = text(&items(&order)[0]["sentence"]);
    assert!(sentence.starts_with("The tools of TD-11 run out in job J-5004"), "{sentence}");
    shop.patch("supervisor", "/v1/jobs/J-5004", &json!({"quantity": usual}));
    assert_eq!(of_kind(shop, "tool_order"), Vec::<String>::new());

    // An order leads to its record, and ends with it; one on what has no code names it.
    let opened = json!({"subject": {"other": "Chip conveyor of bay 2"}, "what": "Straighten the guard."});
    let opened = shop.done("maintainer", "/v1/work-orders", &opened);
    let orders = shop.read("/v1/due?kind=work_order");
    let rows = items(&orders);
    let row = rows.iter().find(|row| row["record"] == opened["id"]).expect("the order is due");
    assert_eq!(
        (&row["code"], &row["sentence"]),
        (&Value::Null, &json!("Chip conveyor of bay 2: Straighten the guard."))
    );
    assert!(rows.iter().any(|row| row["sentence"] == "M-101 is down: Chip conveyor stands still."), "{orders}");
    let _ = shop.order(&opened, "done", &json!({"note": "Straight", "touched": "nothing"})).expect(200);
    // Only a machine is down, whatever else broke.
    let slips = json!({"subject": {"item": "HD-03"}, "what": "Taper screw slips.", "breakdown": true});
    let slips = shop.done("maintainer", "/v1/work-orders", &slips);
    let orders = shop.read("/v1/due?kind=work_order");
    assert!(items(&orders).iter().any(|row| row["sentence"] == "HD-03: Taper screw slips."), "{orders}");
    let _ = shop.order(&slips, "done", &json!({"note": "New screw", "touched": "nothing"})).expect(200);
    let left = shop.read("/v1/due?kind=work_order");
    assert!(
        items(&left).iter().all(|row| row["record"] != opened["id"]),
        "{left} after {}",
        order_path(&opened, "done")
    );

    // What a plan asks for is listed as the plan's.
    shop.done("maintainer", "/v1/work-orders", &json!({"plan": "MP-COOLANT"}));
    assert_eq!(of_kind(shop, "work_order").len(), items(&left).len());
}

/// A plan that counts days tells since when it is overdue, in the list and on its page, whatever else it counts.
pub(crate) fn what_was_used_up_long_ago_stands_first(shop: &Shop) {
    let today: NaiveDate = text(&shop.read("/v1/due")["today"]).parse().expect("a day");
    let before = |days: u64| (today - Days::new(days)).to_string();
    for (code, interval, done) in [
        ("MP-A-LATE", json!({"days": 30}), before(33)),
        ("MP-B-OLD", json!({"days": 120, "pieces": 100_000}), before(249)),
        ("MP-C-TODAY", json!({"days": 30}), before(30)),
    ] {
        let plan = json!({"code": code, "name": "Change coolant", "subject": {"machine": "M-101"},
            "steps": ["Change it"], "interval": interval, "last_done_at": format!("{done}T06:00:00Z")});
        shop.done("maintainer", "/v1/maintenance-plans", &plan);
    }
    let due = shop.read("/v1/due?kind=maintenance_plan");
    let ours: Vec<(String, String)> = items(&due)
        .iter()
        .map(|row| (format!("{} {}", text(&row["urgency"]), text(&row["code"])), text(&row["day"])))
        .collect();
    let expected = [("overdue MP-B-OLD", 129), ("overdue MP-A-LATE", 3), ("today MP-C-TODAY", 0)];
    assert_eq!(ours, expected.map(|(line, days)| (line.to_owned(), before(days))));
    let standing = shop.read("/v1/maintenance-plans/MP-B-OLD/standing");
    assert_eq!((&standing["state"], &standing["runs_out_on"]), (&json!("overdue"), &json!(before(129))));
    for code in ["MP-A-LATE", "MP-B-OLD", "MP-C-TODAY"] {
        shop.patch("maintainer", &format!("/v1/maintenance-plans/{code}"), &json!({"retired": true}));
    }
    assert!(of_kind(shop, "maintenance_plan").iter().all(|line| !line.contains("MP-B-OLD")));
}
