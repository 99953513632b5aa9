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

/// A holder with a plan has a day before its first check, and is due when that day comes.
fn a_plan_gives_the_first_day(shop: &Shop) {
    let new = |code: &str, more: Value| {
        let mut body = json!({"code": code, "style": "DT-A", "adjusters": [], "place": "BIN-H1"});
        for (field, value) in more.as_object().expect("fields") {
            body[field] = value.clone();
        }
        shop.done("supervisor", "/v1/holders", &body)["next_check"].clone()
    };
    let day = |ahead: u64| json!(crate::now().date_naive() + chrono::Days::new(ahead));
    let due = |days: u16| {
        let list = shop.read(&format!("/v1/due?kind=holder_check&days={days}"));
        let codes = column(&list, "code").into_iter().filter(|code| code.starts_with("HD-N"));
        codes.collect::<Vec<_>>()
    };
    assert_eq!(new("HD-N1", json!({"check_interval_days": 30})), day(30));
    assert_eq!(new("HD-N2", json!({"check_interval_days": 30, "next_check": day(12)})), day(12), "as said");
    assert_eq!(new("HD-N3", json!({})), Value::Null, "without a plan it has no day");
    assert_eq!(
        (due(13), due(30), due(31)),
        (vec!["HD-N2".into()], vec!["HD-N2".into()], vec!["HD-N2".into(), "HD-N1".to_owned()])
    );
    let planned = |code: &str, days: Value| {
        shop.patch("supervisor", &format!("/v1/holders/{code}"), &json!({"check_interval_days": days}))["next_check"]
            .clone()
    };
    assert_eq!(planned("HD-N3", json!(6)), day(6));
    assert_eq!(due(7), ["HD-N3"]);
    assert_eq!(planned("HD-N3", json!(90)), day(6), "the day that it has stays");
    assert_eq!(planned("HD-N2", json!(10)), day(12));
}

/// What a check found is not talked away at the counter, by an inspector neither, and not in two steps.
fn a_word_clears_no_check(shop: &Shop) {
    let checks = "/v1/holders/HD-02/checks";
    let back = |condition: &str| json!({"items": [{"code": "HD-02", "place": "BIN-H1", "condition": condition}]});
    let out = json!({"items": ["HD-02"], "person": "inspector", "purpose": "check"});
    shop.done("clerk", "/v1/checkouts", &out);
    // Whoever judges it may say that it came back better than it went, as long as no check says otherwise.
    shop.done("inspector", "/v1/checkins", &back("damaged"));
    shop.done("clerk", "/v1/checkouts", &out);
    shop.done("inspector", "/v1/checkins", &back("usable"));
    let bent = with(&[
        ("accepted", json!(false)),
        ("found", json!(["bent_screw"])),
        ("height_adjuster_free", json!(false)),
        ("condition", json!("damaged")),
    ]);
    shop.done("maintainer", checks, &bent);
    shop.done("clerk", "/v1/checkouts", &out);
    let refused = shop.send("inspector", "/v1/checkins", &back("usable")).expect(409).json();
    assert_eq!(named(&refused["refusals"]), ["item-not-usable HD-02"]);
    assert!(text(&refused["refusals"][0]["sentence"]).contains("by its last check"), "{refused}");
    shop.done("inspector", "/v1/checkins", &back("needs_check"));
    shop.done("clerk", "/v1/checkouts", &out);
    assert_eq!(shop.refused("inspector", "/v1/checkins", &back("usable")), ["item-not-usable HD-02"]);
    shop.done("inspector", checks, &sound());
    assert_eq!(shop.item("HD-02")["condition"], "usable");
    shop.done("inspector", "/v1/checkins", &back("usable"));
}

/// A check of a holder that is seated is known to its setup at once, and taken back only by an accepted one.
fn found_bad_where_it_sits(shop: &Shop, setup: &str, bad: &Value) {
    let blocker = "holder-not-usable HD-01".to_owned();
    let permit = |purpose: &str| {
        let permit = shop.read(&format!("/v1/machines/M-101/run-permit?purpose={purpose}"));
        (permit["permitted"] == true, named(&permit["blockers"]).contains(&blocker))
    };
    let blocks = || named(&shop.setup(setup)["blockers"]).contains(&blocker);
    assert!(!blocks());
    shop.done("maintainer", CHECKS, bad);
    let now = shop.setup(setup);
    assert!(blocks(), "{now}");
    let station = &now["stations"][0];
    assert!(station["open"].to_string().contains("HD-01"), "{station}");
    let wanted = now["next"].as_array().expect("steps").iter().filter(|step| step["wanted"] == true);
    assert!(wanted.clone().any(|step| step["kind"] == "holder_seated" && step["station"] == "S1"), "{now}");
    for purpose in ["trial", "production"] {
        assert_eq!(permit(purpose), (false, true), "{purpose}");
    }
    for kind in ["trial_cut_begun", "run_released"] {
        assert!(shop.event_refused("setter", setup, &json!({"kind": kind})).contains(&blocker), "{kind}");
    }
    shop.done("inspector", CHECKS, &sound());
    assert!(!blocks());
    assert_eq!(permit("trial"), (false, false));
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
    assert_eq!(column(&shop.read("/v1/due?kind=holder_blocked"), "code"), ["HD-01"]);

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
    assert!(column(&shop.read("/v1/due?kind=holder_blocked"), "code").is_empty());
    let _ = shop.event("setter", &setup, &seated());
    found_bad_where_it_sits(shop, &setup, &burr);
    let abandoned = json!({"kind": "abandoned", "reason": "only tried"});
    let _ = shop.event("setter", &setup, &abandoned);

    a_plan_gives_the_first_day(shop);
    // By its own interval when nobody says.
    shop.patch("supervisor", "/v1/holders/HD-02", &json!({"check_interval_days": 90}));
    let beyond = crate::now().date_naive().checked_add_days(chrono::Days::new(91)).expect("a day");
    let beyond = with(&[("next_check", json!(beyond))]);
    assert_eq!(faults(shop, "inspector", "/v1/holders/HD-02/checks", &beyond), ["/next_check"]);
    let by_interval = shop.done(
        "inspector",
        "/v1/holders/HD-02/checks",
        &with(&[("found", json!(["worn_ways"])), ("note", json!("0.01 mm of play"))]),
    );
    let expected = crate::now().date_naive().checked_add_days(chrono::Days::new(90)).expect("a day");
    assert_eq!(by_interval["next_check"], json!(expected));
    assert_eq!(shop.read("/v1/holders/HD-02")["next_check"], json!(expected));
    a_word_clears_no_check(shop);
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
    assert_eq!(column(&list, "recorded_by"), ["inspector", "maintainer", "inspector", "maintainer"], "newest first");
    let retired = with(&[("accepted", json!(false)), ("found", json!(["cracked"])), ("condition", json!("retired"))]);
    shop.done("inspector", overdue, &retired);
    assert_eq!(shop.refused("inspector", overdue, &sound()), ["holder-not-usable HD-03"]);
}
