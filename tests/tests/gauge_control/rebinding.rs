//! A gauge goes to another machine, and back.

use crate::{check, checked_at, checks_of, days_ago, faults, instant, now, question, shop::*};
use chrono::{DateTime, Utc};
use serde_json::{Value, json};

const REBIND: &str = "/v1/center-gauges/CG-104/rebind";

fn to(machine: &str, nominal: f64, check: &Value) -> Value {
    json!({"machine": machine, "nominal": inches(nominal), "check": check})
}

/// Cut from one machine's height to the other's.
fn cut(as_found: f64, as_left: f64) -> Value {
    let mut body = check(as_found);
    body["as_left"] = inches(as_left);
    body
}

pub(crate) fn to_another_machine_and_back(shop: &Shop) {
    shop.patch("supervisor", "/v1/center-gauges/CG-104", &json!({"stations": ["S1"]}));
    let first = shop.read("/v1/center-gauges/CG-104/bindings");
    assert_eq!(column(&first, "machine"), ["M-101"]);
    assert_eq!((&items(&first)[0]["by"], &items(&first)[0]["until"]), (&json!("supervisor"), &Value::Null));

    let good = to("M-102", 3.752, &cut(3.75, 3.752));
    let field = |body: &Value| faults(shop, "inspector", REBIND, body);
    assert_eq!(field(&to("M-101", 3.75, &check(3.75))), ["/machine"]);
    assert_eq!(field(&to("M-999", 3.75, &check(3.75))), ["/machine"]);
    assert_eq!(field(&to("M-103", 3.75, &check(3.75))), ["/nominal"]);
    let mut unknown = good.clone();
    unknown["stations"] = json!(["S1", "S9"]);
    assert_eq!(field(&unknown), ["/stations/1"]);
    let mut late = good.clone();
    late["check"] = checked_at(3.752, days_ago(8.0));
    assert_eq!(field(&late), ["/check/performed_at"]);
    let mut unsure = good.clone();
    unsure["check"]["standard_uncertainty"] = inches(0.0);
    assert_eq!(field(&unsure), ["/check/standard_uncertainty/value"]);
    let _ = shop.send("inspector", REBIND, &json!({"machine": "M-102"})).expect(422);
    let _ = shop.send("supervisor", REBIND, &good).expect(403);

    // Not without a check that accepts it, and not while somebody else has it.
    let refused = |body: &Value| shop.refused("inspector", REBIND, body);
    assert_eq!(refused(&to("M-102", 3.752, &cut(3.75, 3.7523))), ["rebinding-not-accepted CG-104"]);
    // 95.3 mm entered as inches.
    assert_eq!(refused(&to("M-102", 3.752, &cut(3.75, 95.3))), ["reading-not-confirmed CG-104"]);
    let before_the_work = now();
    let measured = json!({"measured": inches(3.752), "standard_uncertainty": inches(0.0001), "reason": "slide scraped",
        "after_work": true});
    // The machine is released: the work has to wait for the stop of its run.
    let setups = shop.read("/v1/setups?machine=M-102&open=true");
    let setup = text(&items(&setups)[0]["id"]);
    assert_eq!(shop.refused("maintainer", "/v1/machines/M-102/center-heights", &measured), ["machine-running M-102"]);
    let _ = (before_the_work, setup);
    shop.done("clerk", "/v1/checkouts", &json!({"items": ["CG-104"], "person": "setter", "purpose": "use"}));
    assert_eq!(refused(&good), ["rebinding-while-in-use CG-104"]);
    let inspector_has_it = json!({"items": ["CG-104"], "to": {"person": "inspector"}});
    shop.done("clerk", "/v1/transfers", &inspector_has_it);

    let rebound = shop.done("inspector", REBIND, &good);
    assert_eq!((&rebound["gauge"]["machine"], &rebound["gauge"]["stations"]), (&json!("M-102"), &json!([])));
    assert_eq!(rebound["gauge"]["nominal"], inches(3.752));
    assert_eq!((&rebound["check"]["machine"], &rebound["check"]["accepted"]), (&json!("M-102"), &json!(true)));
    let decision = &rebound["check"]["decision"];
    assert_eq!((&decision["as_found"]["nominal"], &decision["as_left"]["nominal"]), (&inches(3.75), &inches(3.752)));
    assert_eq!(question(shop, "inspector", "M-102", "CG-104").0, "right");
    assert_eq!(question(shop, "inspector", "M-101", "CG-104").0, "wrong");
    let trail = shop.read("/v1/center-gauges/CG-104/bindings");
    assert_eq!(column(&trail, "machine"), ["M-102", "M-101"], "newest first");
    let [now_bound, before] = items(&trail).as_slice() else { panic!("{trail}") };
    assert_eq!((&now_bound["check"], &now_bound["by"]), (&rebound["check"]["id"], &json!("inspector")));
    assert_eq!((&before["until"], &now_bound["until"]), (&now_bound["from"], &Value::Null));
    let newest = shop.read(&checks_of("CG-104"));
    assert_eq!(column(&newest, "machine").first().map(String::as_str), Some("M-102"));
    assert_eq!(shop.read("/v1/center-gauges/CG-104/drift")["checks"], 1, "on another machine it begins anew");

    // Found wrong on its way back: what it did at M-102 is in doubt, and M-101 gets it set right.
    let back = to("M-101", 3.75, &cut(3.7531, 3.75));
    let back = shop.done("inspector", REBIND, &back);
    let document = shop.read(&format!("/v1/impacts/{}", text(&back["check"]["impact"])));
    assert_eq!((&document["machine"], &document["counts"]["setups"]), (&json!("M-102"), &json!(0)));
    assert!(document["doubtful_since"].is_string() && document["doubtful_until"].is_string(), "{document}");
    assert_eq!(question(shop, "inspector", "M-101", "CG-104").0, "right");
    assert_eq!(column(&shop.read("/v1/center-gauges/CG-104/bindings"), "machine"), ["M-101", "M-102", "M-101"]);
    // A check from before work on that machine says nothing about it.
    let work = json!({"measured": inches(3.75), "standard_uncertainty": inches(0.0001), "reason": "again",
        "after_work": true});
    shop.done("inspector", REBIND, &to("M-102", 3.752, &cut(3.75, 3.752)));
    let mut old = cut(3.752, 3.75);
    old["performed_at"] = json!(instant(now()));
    shop.done("maintainer", "/v1/machines/M-101/center-heights", &work);
    assert_eq!(refused(&to("M-101", 3.75, &old)), ["gauge-stale CG-104"]);
    shop.done("inspector", REBIND, &to("M-101", 3.75, &cut(3.752, 3.75)));
    assert_eq!(question(shop, "inspector", "M-101", "CG-104").0, "right");
    a_binding_that_was_forged_is_found(shop);
}

/// It was set with at its old machine after that check: either it was recut before, or the check measured another state of it.
pub(crate) fn not_by_a_check_from_before_its_last_use(shop: &Shop) {
    let uses = shop.read("/v1/gauge-uses?gauge=CG-102");
    let mut recut = cut(3.752, 3.75);
    recut["performed_at"] = items(&uses)[0]["placed_at"].clone();
    let refused =
        |check: &Value| shop.refused("inspector", "/v1/center-gauges/CG-102/rebind", &to("M-101", 3.75, check));
    let too_old = "rebinding-check-too-old CG-102".to_owned();
    assert!(refused(&recut).contains(&too_old));
    recut.as_object_mut().expect("a check").remove("performed_at");
    assert!(!refused(&recut).contains(&too_old), "done now");
}

/// Another centre height makes gauges stale from now on, whatever the clock of another server said before.
pub(crate) fn centres_moved_never_go_back(shop: &Shop) {
    let Some(database) = shop.server.postgres() else { return };
    let machine = json!({"code": "M-301", "name": "In bay 9", "spindles": 4, "positions": 4, "cutoff_position": 4,
        "pieces_per_cycle": 1, "spindle_rotation": "clockwise", "center_height": {"nominal": inches(3.0)}, "stations": []});
    shop.done("supervisor", "/v1/machines", &machine);
    let ahead = "UPDATE machines SET centers_may_have_moved_at = (now() AT TIME ZONE 'utc') + INTERVAL '1 hour' WHERE code \
                 = 'M-301'";
    assert_eq!(database.connect().execute(ahead, &[]).expect("a clock that goes ahead"), 1);
    let moved_at = || -> DateTime<Utc> {
        text(&shop.read("/v1/machines/M-301")["centers_may_have_moved_at"]).parse().expect("an instant")
    };
    let before = moved_at();
    shop.patch("supervisor", "/v1/machines/M-301", &json!({"center_height": {"nominal": inches(3.1)}}));
    assert!(moved_at() > before, "{} is not after {before}", moved_at());
}

/// What the record names and what it is bound to are held against each other.
fn a_binding_that_was_forged_is_found(shop: &Shop) {
    let Some(database) = shop.server.postgres() else { return };
    let mut connection = database.connect();
    let mut bind_to = |machine: &str| {
        let forged = "UPDATE gauge_bindings SET machine_id = (SELECT id FROM machines WHERE code = $1) WHERE bound_until \
                      IS NULL AND gauge_id = (SELECT id FROM items WHERE code = 'CG-104')";
        assert_eq!(connection.execute(forged, &[&machine]).expect("the forgery"), 1);
    };
    bind_to("M-102");
    let found = shop.read("/v1/movements/verify");
    assert_eq!(found["sound"], false, "{found}");
    assert!(found["faults"].to_string().contains("gauge CG-104 is not bound"), "{found}");
    bind_to("M-101");
}
