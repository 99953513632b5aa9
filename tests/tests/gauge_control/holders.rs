//! Checks of holders: blocked until cleared, and what is refused.

use crate::{days_ago, faults, instant, shop::*};
use serde_json::{Value, json};

const CHECKS: &str = "/v1/holders/HD-01/checks";

fn sound() -> Value {
    json!({"accepted": true, "taper_adjuster_free": true, "height_adjuster_free": true, "side_screw_free": true,
        "seat_clean": true})
}

fn with(changes: &[(&str, Value)]) -> Value {
    let mut body = sound();
    for (field, value) in changes {
        body[*field] = value.clone();
    }
    body
}

fn seated() -> Value {
    json!({"kind": "holder_seated", "station": "S1", "holder": "HD-01", "seat_clean": true, "seated_flush": true,
        "side_screw_free": true})
}

pub(crate) fn blocked_until_cleared(shop: &Shop) {
    let opened = json!({"machine": "M-101", "part": "P-2001", "stations": [{"station": "S1"}]});
    let setup = text(&shop.done("setter", "/v1/setups", &opened)["id"]);
    shop.done("clerk", "/v1/checkouts", &json!({"items": ["HD-01"], "person": "setter", "purpose": "use"}));
    let _ = shop.send("setter", CHECKS, &sound()).expect(403);

    let burr = with(&[("accepted", json!(false)), ("found", json!(["burr_on_seat"])), ("seat_clean", json!(false))]);
    let rejected = shop.done("maintainer", CHECKS, &burr);
    assert_eq!((&rejected["condition"], &rejected["next_check"]), (&json!("needs_check"), &Value::Null));
    assert_eq!(shop.event_refused("setter", &setup, &seated()), ["holder-not-usable HD-01"]);

    let refused = |changes: &[(&str, Value)]| shop.refused("inspector", CHECKS, &with(changes));
    assert_eq!(refused(&[("found", json!(["burr_on_seat"]))]), ["holder-not-sound HD-01"]);
    assert_eq!(
        refused(&[("seat_clean", json!(false)), ("side_screw_free", json!(false))]),
        ["holder-not-sound HD-01", "holder-not-sound HD-01"]
    );
    let field = |changes: &[(&str, Value)]| faults(shop, "inspector", CHECKS, &with(changes));
    assert_eq!(field(&[("found", json!(["other"]))]), ["/note"]);
    assert_eq!(field(&[("condition", json!("damaged"))]), ["/condition"]);
    let mut silent = sound();
    silent.as_object_mut().expect("an object").remove("taper_adjuster_free");
    assert_eq!(faults(shop, "inspector", CHECKS, &silent), ["/taper_adjuster_free"]);
    let _ = shop.send("inspector", CHECKS, &with(&[("found", json!(["rust"]))])).expect(422);

    // Checked six days ago for one day: cleared, and overdue.
    let (performed, until) = (days_ago(6.0), days_ago(5.0).date_naive());
    let old = [("performed_at", json!(instant(performed))), ("next_check", json!(until))];
    assert_eq!(field(&old), ["/performed_at"], "an older finding covers no newer one");
    let short = [("next_check", json!(crate::now().date_naive()))];
    assert_eq!(shop.done("inspector", CHECKS, &with(&short))["condition"], "usable");
    let _ = shop.event("setter", &setup, &seated());
    let abandoned = json!({"kind": "abandoned", "reason": "only tried"});
    let _ = shop.event("setter", &setup, &abandoned);

    // By its own interval when nobody says.
    shop.patch("supervisor", "/v1/holders/HD-02", &json!({"check_interval_days": 90}));
    let by_interval = shop.done("inspector", "/v1/holders/HD-02/checks", &with(&[("found", json!(["worn_ways"]))]));
    let expected = crate::now().date_naive().checked_add_days(chrono::Days::new(90)).expect("a day");
    assert_eq!(by_interval["next_check"], json!(expected));
    assert_eq!(shop.read("/v1/holders/HD-02")["next_check"], json!(expected));
    // Overdue: refused at the seat.
    let overdue = "/v1/holders/HD-03/checks";
    shop.done("inspector", overdue, &with(&old));
    let setup = text(&shop.done("setter", "/v1/setups", &opened)["id"]);
    shop.done("clerk", "/v1/checkouts", &json!({"items": ["HD-03"], "person": "setter", "purpose": "use"}));
    let mut seat = seated();
    seat["holder"] = json!("HD-03");
    assert_eq!(shop.event_refused("setter", &setup, &seat), ["holder-not-usable HD-03"]);
    let _ = shop.event("setter", &setup, &abandoned);

    let list = shop.read(CHECKS);
    assert_eq!(column(&list, "recorded_by"), ["inspector", "maintainer"], "newest first");
    let retired = with(&[("accepted", json!(false)), ("found", json!(["cracked"])), ("condition", json!("retired"))]);
    shop.done("inspector", overdue, &retired);
    assert_eq!(shop.refused("inspector", overdue, &sound()), ["holder-not-usable HD-03"]);
}
