//! The setter's question: is this the gauge for this machine, and may it be used now?

use crate::shop::{Shop, inches, named, text};
use chrono::{DateTime, SecondsFormat, TimeDelta, Utc};
use serde_json::{Value, json};
use std::time::SystemTime;

fn answer(shop: &Shop, badge: &str, machine: &str, gauge: &str) -> Value {
    let question = format!("/v1/machines/{machine}/gauge-check?gauge={gauge}");
    let answer = shop.person(badge).get(&question).send().expect(200);
    assert_eq!(answer.header("cache-control"), Some("no-store"), "a verdict is for this moment: {answer}");
    let answer = answer.json();
    assert!(answer["caution"].as_str().is_some_and(|text| !text.is_empty()), "no caution: {answer}");
    assert_eq!(answer["machine"], machine.to_ascii_uppercase());
    answer
}

#[track_caller]
fn verdict(shop: &Shop, badge: &str, (machine, gauge): (&str, &str), expected: &str, rules: &[&str]) {
    let answer = answer(shop, badge, machine, gauge);
    assert_eq!((text(&answer["verdict"]).as_str(), named(&answer["refusals"])), (expected, owned(rules)), "{answer}");
}

fn owned(rules: &[&str]) -> Vec<String> {
    rules.iter().map(|rule| (*rule).to_owned()).collect()
}

fn hand_out(shop: &Shop, gauge: &str, person: &str, purpose: &str) {
    shop.done("clerk", "/v1/checkouts", &json!({"items": [gauge], "person": person, "purpose": purpose}));
}

fn transfer(shop: &Shop, gauge: &str, to: Value) {
    shop.done("clerk", "/v1/transfers", &json!({"items": [gauge], "to": to}));
}

/// By the machine it was cut for, and by where it is.
pub(crate) fn whose_and_where(shop: &Shop) {
    // In its bin it is right, and the answer shows where to fetch it.
    verdict(shop, "setter", ("M-101", "CG-101"), "right", &[]);
    let found = answer(shop, "setter", "M-101", "CG-101");
    assert_eq!(found["gauge"]["where"], json!({"kind": "place", "code": "BIN-G1", "outside": false}));
    assert_eq!(found["gauge"]["machine"], "M-101");
    // A scanner's and a hand's spelling meet.
    verdict(shop, "setter", ("m-101", "cg-101"), "right", &[]);
    // A label may hold the whole address of its code.
    verdict(shop, "setter", ("M-101", "https%3A%2F%2Ftools.example%2Fs%2FCG-101"), "right", &[]);
    // In the hands of whoever asks, and placed in this machine.
    verdict(shop, "setter-2", ("M-102", "CG-102"), "right", &[]);
    verdict(shop, "setter", ("M-103", "CG-103"), "right", &[]);

    verdict(shop, "setter-2", ("M-101", "CG-102"), "wrong", &["gauge-for-other-machine CG-102"]);
    // That it belongs to another machine outranks all else. What else is wrong with it is said too, but not where it is:
    // nobody is to fetch it.
    verdict(shop, "setter", ("M-101", "CG-102"), "wrong", &["gauge-for-other-machine CG-102"]);
    verdict(shop, "setter", ("M-101", "CG-103"), "wrong", &["gauge-for-other-machine CG-103"]);
    let all = ["gauge-for-other-machine CG-104", "gauge-never-checked CG-104", "gauge-not-usable CG-104"];
    verdict(shop, "setter", ("M-102", "CG-104"), "wrong", &all);

    // What is not known as a centre gauge is never right.
    for code in ["CG-999", "FT-001", "M-101", "BIN-G1", "%3F%20not%20a%20code", ""] {
        let answer = answer(shop, "setter", "M-101", code);
        assert_eq!(answer["verdict"], "not_usable", "{code}: {answer}");
        let rules = named(&answer["refusals"]);
        assert!(rules.len() == 1 && rules[0].starts_with("gauge-unknown"), "{code}: {rules:?}");
        assert!(answer["gauge"].is_null(), "{code}: {answer}");
    }
    let unknown_machine = shop.person("setter").get("/v1/machines/M-999/gauge-check?gauge=CG-101").send();
    let _ = unknown_machine.expect(404);
    let _ = shop.person("setter").get("/v1/machines/M-101/gauge-check").send().expect(400);

    hand_out(shop, "CG-101", "setter", "use");
    verdict(shop, "setter", ("M-101", "CG-101"), "right", &[]);
    verdict(shop, "setter-2", ("M-101", "CG-101"), "not_usable", &["gauge-not-in-hand CG-101"]);
    let found = answer(shop, "setter-2", "M-101", "CG-101");
    assert_eq!(found["gauge"]["where"], json!({"kind": "person", "name": "Sam Okoro", "outside": false}));
    transfer(shop, "CG-101", json!({"machine": "M-102"}));
    verdict(shop, "setter", ("M-101", "CG-101"), "not_usable", &["gauge-placed-elsewhere CG-101"]);
    transfer(shop, "CG-101", json!({"machine": "M-101"}));
    verdict(shop, "setter", ("M-101", "CG-101"), "right", &[]);
    transfer(shop, "CG-101", json!({"place": "OUT-LAB"}));
    verdict(shop, "setter", ("M-101", "CG-101"), "not_usable", &["gauge-not-in-hand CG-101"]);
    transfer(shop, "CG-101", json!({"place": "BIN-G1"}));
    verdict(shop, "setter", ("M-101", "CG-101"), "right", &[]);
}

fn now() -> DateTime<Utc> {
    #[expect(clippy::disallowed_methods, reason = "the server under test goes by the machine's clock")]
    SystemTime::now().into()
}

fn instant(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Micros, true)
}

fn check(as_found: f64, performed_at: DateTime<Utc>, next_check: DateTime<Utc>) -> Value {
    json!({"as_found": inches(as_found), "standard_uncertainty": inches(0.00005),
        "performed_at": instant(performed_at), "next_check": next_check.date_naive()})
}

/// By its checks: none yet, in date, run out, failed.
pub(crate) fn checks(shop: &Shop) {
    let never = ["gauge-never-checked CG-104", "gauge-not-usable CG-104"];
    verdict(shop, "setter", ("M-101", "CG-104"), "not_usable", &never);

    // Checked six days ago for one day: the check has run out, and nothing else speaks against it.
    let checked_at = now() - TimeDelta::days(6);
    let old = check(3.75, checked_at, checked_at + TimeDelta::days(1));
    assert_eq!(shop.done("inspector", "/v1/center-gauges/CG-104/checks", &old)["accepted"], true);
    verdict(shop, "setter", ("M-101", "CG-104"), "not_usable", &["gauge-check-overdue CG-104"]);

    // The last day itself is in date.
    let today = check(3.7501, now(), now());
    shop.done("inspector", "/v1/center-gauges/CG-104/checks", &today);
    verdict(shop, "setter", ("M-101", "CG-104"), "right", &[]);

    // Outside its limits: recorded, and out of use until a check accepts it. Just inside them nothing is proved.
    let year = now() + TimeDelta::days(365);
    let failed = shop.done("inspector", "/v1/center-gauges/CG-104/checks", &check(3.750_31, now(), year));
    assert_eq!(failed["accepted"], false);
    verdict(shop, "setter", ("M-101", "CG-104"), "not_usable", &["gauge-not-usable CG-104"]);
    let undecided = shop.done("inspector", "/v1/center-gauges/CG-104/checks", &check(3.750_29, now(), year));
    assert_eq!(
        (&undecided["accepted"], &undecided["decision"]["as_found"]["verdict"]),
        (&json!(false), &json!("undecided"))
    );
    verdict(shop, "setter", ("M-101", "CG-104"), "not_usable", &["gauge-not-usable CG-104"]);
    let accepted = shop.done("inspector", "/v1/center-gauges/CG-104/checks", &check(3.750_2, now(), year));
    assert_eq!(accepted["accepted"], true);
    verdict(shop, "setter", ("M-101", "CG-104"), "right", &[]);
    assert_eq!(shop.read("/v1/center-gauges/CG-104")["next_check"], json!(year.date_naive()));
    // Only an inspector checks gauges.
    let _ = shop.send("setter", "/v1/center-gauges/CG-104/checks", &check(3.75, now(), year)).expect(403);
}

/// By work on the machine since: a gauge that was right is stale until it is checked against the machine again.
pub(crate) fn after_work_on_the_machine(shop: &Shop) {
    let measured = |after_work: bool| {
        json!({"measured": inches(3.7502), "standard_uncertainty": inches(0.0001), "reason": "carrier bearings renewed",
            "after_work": after_work})
    };
    shop.done("maintainer", "/v1/machines/M-101/center-heights", &measured(false));
    verdict(shop, "setter", ("M-101", "CG-101"), "right", &[]);

    let before_the_work = now();
    shop.done("maintainer", "/v1/machines/M-101/center-heights", &measured(true));
    verdict(shop, "setter", ("M-101", "CG-101"), "not_usable", &["gauge-stale CG-101"]);
    verdict(shop, "setter", ("M-101", "CG-104"), "not_usable", &["gauge-stale CG-104"]);
    // The gauges of other machines are not touched by it.
    verdict(shop, "setter-2", ("M-102", "CG-102"), "right", &[]);
    // A check from before the work says nothing about it.
    let year = now() + TimeDelta::days(365);
    shop.done("inspector", "/v1/center-gauges/CG-101/checks", &check(3.75, before_the_work, year));
    verdict(shop, "setter", ("M-101", "CG-101"), "not_usable", &["gauge-stale CG-101"]);
    shop.done("inspector", "/v1/center-gauges/CG-101/checks", &check(3.75, now(), year));
    verdict(shop, "setter", ("M-101", "CG-101"), "right", &[]);
    verdict(shop, "setter", ("M-101", "CG-104"), "not_usable", &["gauge-stale CG-104"]);
    let heights = shop.read("/v1/machines/M-101/center-heights");
    let after_work: Vec<_> = crate::shop::items(&heights).iter().map(|row| row["after_work"] == true).collect();
    assert_eq!(after_work, [true, false], "newest first: {heights}");
    // What was measured before the work, and is written up now, holds no more; nor is anything older than the newest taken.
    for (after_work, station) in [(false, Some("S1")), (false, None), (true, None)] {
        let mut late = measured(after_work);
        late["performed_at"] = json!(before_the_work);
        late["station"] = json!(station);
        let problem = shop.send("maintainer", "/v1/machines/M-101/center-heights", &late).expect(422).json();
        assert_eq!(problem["errors"][0]["pointer"], "/performed_at", "{late}: {problem}");
    }
}
