//! Work orders, what they touch, what they use, and the tag-outs beside them.

use crate::shop::{Shop, event, items, named, open_setup, order_path, text};
use serde_json::{Value, json};

const ORDERS: &str = "/v1/work-orders";

fn verdict(shop: &Shop, machine: &str, gauge: &str) -> Vec<String> {
    named(&shop.read(&format!("/v1/machines/{machine}/gauge-check?gauge={gauge}"))["refusals"])
}

pub(crate) fn a_breakdown_is_reported_by_anyone_and_mended(shop: &Shop) {
    let fault = json!({"subject": {"machine": "M-101"}, "what": "Spindle 3 squeals", "breakdown": true});
    let order = shop.done("grinder", ORDERS, &fault);
    assert_eq!((&order["state"], &order["opened_by"]["badge"]), (&json!("open"), &json!("grinder")));
    assert_eq!(order["down_from"], order["opened_at"], "a machine that broke down is down");
    // What is to be done is for those who do it.
    for body in [json!({"subject": {"machine": "M-101"}, "what": "Paint it"}), json!({"plan": "MP-101-CARRIER"})] {
        let problem = shop.send("setter", ORDERS, &body).expect(403).json();
        assert_eq!(problem["permission"], "maintain", "{problem}");
    }
    let started = shop.order(&order, "start", &json!({})).expect(200).json();
    assert_eq!((&started["state"], &started["started_by"]["badge"]), (&json!("started"), &json!("maintainer")));
    let id = text(&order["id"]);
    assert_eq!(
        shop.refused("maintainer", &order_path(&order, "start"), &json!({})),
        [format!("work-order-started {id}")]
    );

    let before = shop.on_hand("SUP-GREASE");
    let done = json!({"note": "Bearing greased", "touched": "nothing",
        "parts_used": [{"supply": "SUP-GREASE", "quantity": 2}]});
    let done = shop.order(&order, "done", &done).expect(200).json();
    assert_eq!((&done["state"], &done["note"]), (&json!("done"), &json!("Bearing greased")));
    assert_eq!(done["ended_by"]["badge"], "maintainer");
    assert_eq!(done["down_until"], done["done_at"]);
    assert_eq!(shop.on_hand("SUP-GREASE"), before - 2);
    let used = &done["parts_used"][0];
    assert_eq!((&used["supply"], &used["quantity"]), (&json!("SUP-GREASE"), &json!(2)));
    let ledger = shop.read("/v1/supplies/SUP-GREASE/movements");
    let last = &items(&ledger)[0];
    assert_eq!(
        (&last["work_order"], &last["machine"], &last["number"]),
        (&order["id"], &json!("M-101"), &used["movement"])
    );

    // It ended; nothing more happens to it, and nothing more is withdrawn for it.
    let ended = format!("work-order-ended {id}");
    let again = json!({"note": "Again", "touched": "nothing"});
    assert_eq!(shop.refused("maintainer", &order_path(&order, "done"), &again), std::slice::from_ref(&ended));
    assert_eq!(
        shop.refused("maintainer", &order_path(&order, "cancel"), &json!({"note": "no"})),
        std::slice::from_ref(&ended)
    );
    let late = json!({"quantity": 1, "work_order": id});
    assert_eq!(shop.refused("maintainer", "/v1/supplies/SUP-GREASE/withdrawals", &late), [ended]);

    let of_machine = shop.read("/v1/work-orders?machine=M-101&breakdown=true&open=false");
    assert_eq!(items(&of_machine)[0]["id"], order["id"]);
    let open = shop.read("/v1/work-orders?open=true");
    assert!(items(&open).iter().all(|row| row["state"] == "open" || row["state"] == "started"), "{open}");
    assert_eq!(shop.read(&format!("/v1/work-orders/{id}")), done);
}

pub(crate) fn work_on_the_spindles_makes_gauges_stale_and_heights_unread(shop: &Shop) {
    // A gauge that is right goes stale when the carrier was touched, and not before.
    assert_eq!(verdict(shop, "M-101", "CG-101"), Vec::<String>::new());
    let new = |machine: &str| json!({"subject": {"machine": machine}, "what": "Bearing replaced"});
    let order = shop.done("maintainer", ORDERS, &new("M-101"));
    let finish = |order: &Value, touched: &str| shop.order(order, "done", &json!({"note": "Done", "touched": touched}));
    let _ = finish(&order, "nothing").expect(200);
    assert_eq!(verdict(shop, "M-101", "CG-101"), Vec::<String>::new());
    let order = shop.done("maintainer", ORDERS, &new("M-101"));
    let _ = finish(&order, "spindle_carrier").expect(200);
    assert_eq!(verdict(shop, "M-101", "CG-101"), ["gauge-stale CG-101"]);
    let moved = &shop.read("/v1/machines/M-101")["centers_may_have_moved_at"];
    assert!(moved.is_string(), "{moved}");

    // In an open setup the heights that were read say nothing any more.
    let blocks = |setup: &Value| named(&setup["blockers"]).contains(&"height-not-read S3".to_owned());
    assert!(!blocks(&open_setup(shop, "M-103")), "the demo shop has read this height");
    let order = shop.done("maintainer", ORDERS, &new("M-103"));
    let _ = finish(&order, "slide").expect(200);
    assert!(blocks(&open_setup(shop, "M-103")), "{}", open_setup(shop, "M-103"));

    // Not while the machine is released.
    let setup = open_setup(shop, "M-102");
    if setup["state"] != "released" {
        event(shop, &setup, &json!({"kind": "run_released"}));
    }
    let order = shop.done("maintainer", ORDERS, &new("M-102"));
    for touched in ["slide", "spindle_carrier"] {
        let body = json!({"note": "Done", "touched": touched});
        assert_eq!(shop.refused("maintainer", &order_path(&order, "done"), &body), ["machine-running M-102"]);
    }
    let _ = finish(&order, "nothing").expect(200);
}

/// Half the work may have moved the centres as well as the whole.
pub(crate) fn work_that_is_called_off_says_what_it_touched(shop: &Shop) {
    let order =
        shop.done("maintainer", ORDERS, &json!({"subject": {"machine": "M-103"}, "what": "Gib of slide 3 loose"}));
    let _ = shop.order(&order, "start", &json!({})).expect(200);
    let cancel = order_path(&order, "cancel");
    assert_eq!(shop.faulty("maintainer", &cancel, &json!({"note": "Gib is not in stock"})), ["/touched"]);
    let moved = || shop.read("/v1/machines/M-103")["centers_may_have_moved_at"].clone();
    let before = moved();
    let off =
        shop.order(&order, "cancel", &json!({"note": "Gib is not in stock", "touched": "slide"})).expect(200).json();
    assert_eq!((&off["state"], &off["touched"]), (&json!("cancelled"), &json!("slide")));
    assert_eq!(shop.read(&format!("/v1/work-orders/{}", text(&order["id"]))), off);
    assert_ne!(moved(), before, "gauges are stale from now on");
    // Nothing was begun, nothing was touched; and nothing is called off on a machine that runs as if it were.
    let order = shop.done("maintainer", ORDERS, &json!({"subject": {"machine": "M-102"}, "what": "Way wiper worn"}));
    let touched = json!({"note": "Not now", "touched": "slide"});
    assert_eq!(shop.refused("maintainer", &order_path(&order, "cancel"), &touched), ["machine-running M-102"]);
    let off = shop.order(&order, "cancel", &json!({"note": "Not now"})).expect(200).json();
    assert_eq!(off["touched"], Value::Null);
    // A machine is not down in times to come.
    let order =
        shop.done("maintainer", ORDERS, &json!({"subject": {"machine": "M-103"}, "what": "Belt", "breakdown": true}));
    let ahead = |field: &str| {
        let mut body = json!({"note": "Belt replaced", "touched": "nothing"});
        body[field] = json!("2999-01-01T00:00:00Z");
        shop.faulty("maintainer", &order_path(&order, "done"), &body)
    };
    assert_eq!(ahead("down_until"), ["/down_until"]);
    assert!(ahead("down_from").contains(&"/down_from".to_owned()));
    let _ = shop.order(&order, "cancel", &json!({"note": "Reported twice"})).expect(200);
}

pub(crate) fn a_plan_has_one_open_order_and_begins_anew_when_it_is_done(shop: &Shop) {
    let body = json!({"plan": "MP-COOLANT"});
    let order = shop.done("maintainer", ORDERS, &body);
    assert_eq!(order["what"], "Clean the coolant tank");
    assert_eq!(
        (&order["subject"]["other"], &order["plan"]),
        (&json!("Coolant tank of the row M-101 to M-103"), &json!("MP-COOLANT"))
    );
    assert_eq!(order["cautions"], json!(["Wear gloves and goggles", "Nobody enters the tank"]));
    assert_eq!(shop.refused("maintainer", ORDERS, &body), ["plan-order-open MP-COOLANT"]);
    // Called off it changes nothing; done it does.
    let _ = shop.order(&order, "cancel", &json!({"note": "Pump is away"})).expect(200);
    assert_eq!(shop.read("/v1/maintenance-plans/MP-COOLANT")["last_done_at"], Value::Null);
    let order = shop.done("maintainer", ORDERS, &body);
    let done = shop.order(&order, "done", &json!({"note": "Cleaned", "touched": "nothing"})).expect(200).json();
    assert_eq!(shop.read("/v1/maintenance-plans/MP-COOLANT")["last_done_at"], done["done_at"]);
    assert_eq!(items(&shop.read("/v1/work-orders?plan=MP-COOLANT")).len(), 2);
    // A plan with history is retired, not deleted.
    let path = "/v1/maintenance-plans/MP-COOLANT";
    let tag = shop.person("maintainer").get(path).send().expect(200).header("etag").expect("a tag").to_owned();
    let kept = shop.person("maintainer").delete(path).header("If-Match", &tag).send().expect(409).json();
    assert_eq!(kept["type"], "/problems/in-use");
}

/// Parts, plan, machine and order change together: where one thing is refused, nothing has happened.
pub(crate) fn all_of_it_or_nothing(shop: &Shop) {
    let order = shop.done("maintainer", ORDERS, &json!({"plan": "MP-103-OIL"}));
    let (grease, filters) = (shop.on_hand("SUP-GREASE"), shop.on_hand("SUP-FILTER"));
    let moved = shop.read("/v1/machines/M-103")["centers_may_have_moved_at"].clone();
    let parts = json!([{"supply": "SUP-GREASE", "quantity": 1}, {"supply": "SUP-FILTER", "quantity": filters + 1}]);
    let body = json!({"note": "Filter changed", "touched": "slide", "parts_used": parts});
    assert_eq!(shop.refused("maintainer", &order_path(&order, "done"), &body), ["not-enough-on-hand SUP-FILTER"]);
    assert_eq!((shop.on_hand("SUP-GREASE"), shop.on_hand("SUP-FILTER")), (grease, filters));
    assert_eq!(shop.read("/v1/machines/M-103")["centers_may_have_moved_at"], moved);
    assert_eq!(shop.read("/v1/maintenance-plans/MP-103-OIL")["last_done_at"], Value::Null);
    assert_eq!(shop.read(&format!("/v1/work-orders/{}", text(&order["id"])))["state"], "open");
    let _ = shop.order(&order, "cancel", &json!({"note": "No filters"})).expect(200);
}

pub(crate) fn what_cannot_be_is_named(shop: &Shop) {
    for (body, pointers) in [
        (json!({"what": "Something"}), vec!["/subject"]),
        (json!({"subject": {"machine": "M-101"}}), vec!["/what"]),
        (json!({"subject": {}, "what": "Something"}), vec!["/subject"]),
        (json!({"subject": {"machine": "M-1"}, "what": "Something"}), vec!["/subject/machine"]),
        (json!({"subject": {"item": "M-101"}, "what": "Something"}), vec!["/subject/item"]),
        (json!({"plan": "HD-01"}), vec!["/plan"]),
        (json!({"plan": "MP-HD-01", "subject": {"item": "HD-01"}}), vec!["/subject"]),
        (json!({"plan": "MP-HD-01", "breakdown": true}), vec!["/breakdown"]),
        (json!({"subject": {"other": "Lamp"}, "what": " ", "down_from": "2999-01-01T00:00:00Z"}), vec!["/down_from"]),
    ] {
        assert_eq!(shop.faulty("maintainer", ORDERS, &body), pointers, "{body}");
    }
    let order = shop.done("maintainer", ORDERS, &json!({"subject": {"item": "HD-02"}, "what": "Side screw stiff"}));
    let done = order_path(&order, "done");
    for (body, pointers) in [
        (json!({"touched": "nothing"}), vec!["/note"]),
        (json!({"note": "Oiled"}), vec!["/touched"]),
        (json!({"note": " ", "touched": "slide"}), vec!["/note", "/touched"]),
        (json!({"note": "Oiled", "touched": "nothing", "down_until": "2026-01-01T00:00:00Z"}), vec!["/down_until"]),
        (
            json!({"note": "Oiled", "touched": "nothing", "parts_used": [{"supply": "HD-01", "quantity": 1}]}),
            vec!["/parts_used/0/supply"],
        ),
        (
            json!({"note": "Oiled", "touched": "nothing", "parts_used": [{"supply": "SUP-GREASE", "quantity": 0},
            {"supply": "SUP-GREASE", "quantity": 1}]}),
            vec!["/parts_used/0/quantity", "/parts_used/1/supply"],
        ),
    ] {
        assert_eq!(shop.faulty("maintainer", &done, &body), pointers, "{body}");
    }
    assert_eq!(shop.faulty("maintainer", &order_path(&order, "cancel"), &json!({"note": ""})), ["/note"]);
    let _ = shop.order(&order, "done", &json!({"note": "Oiled", "touched": "nothing"})).expect(200);
    let nobody = json!({"id": "0198f2c4-0000-7000-8000-000000000000"});
    let _ = shop.order(&nobody, "start", &json!({})).expect(404);
}

/// The record is on the permit the moment it is placed, and stays until it is cleared, whatever work is done meanwhile.
pub(crate) fn a_tag_out_is_seen_at_once(shop: &Shop) {
    let setup = open_setup(shop, "M-102");
    if setup["state"] != "released" {
        event(shop, &setup, &json!({"kind": "run_released"}));
    }
    let permit = |purpose: &str| shop.read(&format!("/v1/machines/M-102/run-permit?purpose={purpose}"));
    assert_eq!(permit("production")["permitted"], true);
    let order = shop.done("maintainer", ORDERS, &json!({"subject": {"machine": "M-102"}, "what": "Coolant leak"}));
    assert_eq!(order["tag_outs"], json!([]));
    assert!(text(&order["caution"]).contains("not a lock") && text(&order["caution"]).contains("lock it out"));

    let placed = shop.done("clerk", "/v1/tag-outs", &json!({"machine": "M-102", "reason": "Coolant on the floor"}));
    assert!(text(&placed["caution"]).contains("a record, not a lock"), "{placed}");
    for purpose in ["production", "trial"] {
        let now = permit(purpose);
        assert_eq!(now["permitted"], false, "{now}");
        assert!(named(&now["blockers"]).contains(&"machine-tagged-out M-102".to_owned()), "{now}");
        assert!(text(&now["caution"]).contains("local lockout rules come first"), "{now}");
    }
    assert_eq!(open_setup(shop, "M-102")["state"], "stopped", "the release went with it");
    let read = shop.read(&format!("/v1/work-orders/{}", text(&order["id"])));
    assert_eq!(
        (&read["tag_outs"][0]["id"], &read["tag_outs"][0]["reason"]),
        (&placed["id"], &json!("Coolant on the floor"))
    );

    // Done work clears no tag-out.
    let done = shop.order(&order, "done", &json!({"note": "Hose replaced", "touched": "nothing"})).expect(200).json();
    assert_eq!(done["tag_outs"][0]["id"], placed["id"]);
    assert_eq!(permit("production")["permitted"], false);
    let clear = format!("/v1/tag-outs/{}/clear", text(&placed["id"]));
    let _ = shop.send("setter", &clear, &json!({})).expect(403);
    let _ = shop.send("maintainer", &clear, &json!({"note": "Dry again"})).expect(200);
    let now = permit("production");
    assert!(!named(&now["blockers"]).contains(&"machine-tagged-out M-102".to_owned()), "{now}");
    assert_eq!(shop.read(&format!("/v1/work-orders/{}", text(&order["id"])))["tag_outs"], json!([]));
}
