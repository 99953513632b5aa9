//! How checks are decided, what clears a stale gauge, and how gauges drift.

use crate::{check, checked_at, checks_of, days_ago, faults, instant, now, question, shop::*};
use chrono::{Days, NaiveDate, TimeDelta};
use serde_json::{Value, json};

const RULE: &str = "/v1/settings/gauge-control";
const GAUGE: &str = "/v1/center-gauges/CG-104";

fn proof(check: &Value) -> (bool, String) {
    (check["accepted"].as_bool().expect("accepted"), text(&check["decision"]["as_found"]["verdict"]))
}

pub(crate) fn decided_by_a_rule_that_is_stated(shop: &Shop) {
    assert_eq!(
        shop.read(RULE),
        json!({"conformance": 0.95, "guard_factor": null, "impact_when_undecided": false}),
        "what a shop starts with"
    );
    let done = |as_found: f64| shop.done("inspector", &checks_of("CG-104"), &check(as_found));
    let accepted = done(3.7502);
    assert_eq!(proof(&accepted), (true, "accept".to_owned()));
    let decision = &accepted["decision"];
    // ISO 14253-1: 1.645 standard uncertainties inside the limits of ±0.0003 in (derived).
    assert!((decision["guard_factor"].as_f64().unwrap() - 1.644_853_626_951).abs() < 1e-9, "{decision}");
    let edge = |name: &str| decision["as_found"][name]["value"].as_f64().unwrap();
    assert!((edge("acceptance_lower") - 3.749_782_242_68).abs() < 1e-9, "{decision}");
    assert!((edge("acceptance_upper") - 3.750_217_757_32).abs() < 1e-9, "{decision}");
    // Φ(0.0001/0.00005) = Φ(2), the other limit far away.
    assert!((decision["as_found"]["conformance_probability"].as_f64().unwrap() - 0.977_249_868).abs() < 1e-8);
    assert_eq!((&decision["as_left"], &accepted["impact"]), (&Value::Null, &Value::Null));

    assert_eq!(proof(&done(3.7503)), (false, "undecided".to_owned()));
    assert_eq!(question(shop, "setter", "M-101", "CG-104").1, ["gauge-not-usable CG-104"]);
    let mut set_right = check(3.7503);
    set_right["as_left"] = inches(3.75);
    let set_right = shop.done("inspector", &checks_of("CG-104"), &set_right);
    assert_eq!(
        (&set_right["accepted"], &set_right["decision"]["as_left"]["verdict"]),
        (&json!(true), &json!("accept"))
    );
    assert_eq!(question(shop, "setter", "M-101", "CG-104").0, "right");

    let no_uncertainty =
        json!({"as_found": inches(3.75), "standard_uncertainty": inches(0.0), "next_check": "2999-12-31"});
    assert_eq!(faults(shop, "inspector", &checks_of("CG-104"), &no_uncertainty), ["/standard_uncertainty/value"]);
    let _ = shop.send("setter", &checks_of("CG-104"), &check(3.75)).expect(403);
    let no_room = json!({"code": "CG-NEW", "name": "No room", "machine": "M-101", "nominal": inches(3.75), "place": "BIN-G1",
        "limits": {"lower": inches(0.0), "upper": inches(0.0)}});
    assert_eq!(faults(shop, "supervisor", "/v1/center-gauges", &no_room), ["/limits/upper"]);

    // By another rule the same height is proved; what was decided before keeps its own.
    let changed = shop.patch("administrator", RULE, &json!({"conformance": null, "guard_factor": 0.0}));
    assert_eq!((&changed["conformance"], &changed["guard_factor"]), (&Value::Null, &json!(0.0)));
    assert_eq!(proof(&done(3.7502)), (true, "accept".to_owned()));
    let list = shop.read(&checks_of("CG-104"));
    let rules: Vec<_> = items(&list).iter().map(|row| row["decision"]["conformance"].clone()).collect();
    assert_eq!(rules, [Value::Null, json!(0.95), json!(0.95), json!(0.95)], "newest first");
    for (patch, pointer) in [
        (json!({"conformance": 0.9}), "/guard_factor"),
        (json!({"guard_factor": null}), "/guard_factor"),
        (json!({"guard_factor": 31}), "/guard_factor"),
        (json!({"conformance": 1, "guard_factor": null}), "/conformance"),
    ] {
        let client = shop.person("administrator");
        let tag = client.get(RULE).send().expect(200).header("etag").expect("an entity tag").to_owned();
        let call = client.patch(RULE).header("If-Match", &tag).body("application/merge-patch+json", patch.to_string());
        let problem = call.send().expect(422).json();
        assert_eq!(problem["errors"][0]["pointer"], pointer, "{patch}: {problem}");
    }
    shop.patch("administrator", RULE, &json!({"conformance": 0.95, "guard_factor": null}));
}

/// After work on the machine: an undecided check, a better word at the counter, another name do not clear it.
pub(crate) fn only_an_accepted_check_clears_a_stale_gauge(shop: &Shop) {
    shop.done("inspector", &checks_of("CG-104"), &check(3.75));
    assert_eq!(question(shop, "setter", "M-101", "CG-104").0, "right");
    assert_eq!(shop.read(GAUGE)["stale"], false);
    let right = tag_of(shop);
    let before_the_work = now();
    let measured = json!({"measured": inches(3.75), "standard_uncertainty": inches(0.0001), "reason": "bearings",
        "after_work": true});
    shop.done("maintainer", "/v1/machines/M-101/center-heights", &measured);
    let stale = |expected: &[&str]| {
        assert_eq!(question(shop, "setter", "M-101", "CG-104").1, expected);
    };
    stale(&["gauge-stale CG-104"]);
    assert_eq!(question(shop, "setter", "M-101", "CG-101").1, ["gauge-stale CG-101"]);
    a_stale_gauge_stays_at_the_counter(shop, &right);
    shop.done("inspector", &checks_of("CG-104"), &checked_at(3.75, before_the_work));
    stale(&["gauge-stale CG-104"]);
    shop.done("inspector", &checks_of("CG-104"), &check(3.7503));
    stale(&["gauge-not-usable CG-104", "gauge-stale CG-104"]);
    let out = json!({"items": ["CG-104"], "person": "inspector", "purpose": "check"});
    shop.done("clerk", "/v1/checkouts", &out);
    let back = json!({"items": [{"code": "CG-104", "place": "BIN-G1", "condition": "usable"}]});
    // A gauge gets better by an accepted check alone.
    let refused = shop.send("inspector", "/v1/checkins", &back);
    if refused.status == 409 {
        let back = json!({"items": [{"code": "CG-104", "place": "BIN-G1", "condition": "needs_check"}]});
        shop.done("inspector", "/v1/checkins", &back);
    }
    stale(&["gauge-not-usable CG-104", "gauge-stale CG-104"]);
    shop.patch("supervisor", GAUGE, &json!({"name": "Spare gauge, bay 1"}));
    stale(&["gauge-not-usable CG-104", "gauge-stale CG-104"]);
    shop.done("inspector", &checks_of("CG-104"), &check(3.75));
    stale(&[]);
    assert_eq!(shop.read(GAUGE)["stale"], false);
    let out = json!({"items": ["CG-104"], "person": "setter", "machine": "M-101", "purpose": "use"});
    shop.done("clerk", "/v1/checkouts", &out);
    let back = json!({"items": [{"code": "CG-104", "place": "BIN-G1", "condition": "usable"}], "person": "setter"});
    shop.done("clerk", "/v1/checkins", &back);
    // The machine's other gauge is not cleared by it.
    assert_eq!(question(shop, "setter", "M-101", "CG-101").1, ["gauge-stale CG-101"]);
    shop.done("inspector", &checks_of("CG-101"), &check(3.75));
    assert_eq!(question(shop, "setter", "M-101", "CG-101").0, "right");
}

/// Its record says so beside its condition, it comes into nobody's hands for use, and what was read of it before is no
/// longer how it stands.
fn a_stale_gauge_stays_at_the_counter(shop: &Shop, tag_before: &str) {
    let gauge = shop.read(GAUGE);
    assert_eq!((&gauge["condition"], &gauge["stale"]), (&json!("usable"), &json!(true)));
    let list = shop.read("/v1/center-gauges");
    let stale: Vec<_> =
        items(&list).iter().filter(|gauge| gauge["stale"] == true).map(|it| text(&it["code"])).collect();
    assert_eq!(stale, ["CG-101", "CG-104"], "those of M-101 alone");
    let supervisor = shop.person("supervisor");
    let patch = supervisor.patch(GAUGE).header("If-Match", tag_before);
    let _ = patch.body("application/merge-patch+json", json!({"name": "Spare"}).to_string()).send().expect(412);
    let told = supervisor.patch(GAUGE).header("If-Match", tag_of(shop).as_str());
    let told = told.body("application/merge-patch+json", json!({"stale": false}).to_string()).send().expect(422).json();
    assert_eq!(told["errors"][0]["pointer"], "/stale", "{told}");

    let out = |purpose: &str| json!({"items": ["CG-104"], "person": "setter", "machine": "M-101", "purpose": purpose});
    assert_eq!(shop.refused("clerk", "/v1/checkouts", &out("use")), ["gauge-stale CG-104"]);
    let to_setter = json!({"items": ["CG-104"], "to": {"person": "setter"}});
    assert_eq!(shop.refused("clerk", "/v1/transfers", &to_setter), ["gauge-stale CG-104"]);
    shop.done("clerk", "/v1/checkouts", &out("check"));
    let back = json!({"items": [{"code": "CG-104", "place": "BIN-G1", "condition": "usable"}], "person": "setter"});
    shop.done("clerk", "/v1/checkins", &back);
}

fn tag_of(shop: &Shop) -> String {
    let answer = shop.person("supervisor").get(GAUGE).send().expect(200);
    answer.header("etag").expect("a tag").to_owned()
}

/// A height that departs from the record tells as much as work does; one that confirms it leaves the gauges right.
pub(crate) fn a_height_that_departs_makes_gauges_stale(shop: &Shop) {
    let measured = |machine: &str, height: f64, uncertainty: f64, station: Option<&str>| {
        let body = json!({"measured": inches(height), "standard_uncertainty": inches(uncertainty), "reason": "yearly",
            "after_work": false, "station": station});
        (format!("/v1/machines/{machine}/center-heights"), body)
    };
    let measure = |height: f64, uncertainty: f64, station: Option<&str>| {
        let (path, body) = measured("M-101", height, uncertainty, station);
        shop.done("maintainer", &path, &body);
    };
    let stale = || ["CG-101", "CG-104"].map(|gauge| question(shop, "setter", "M-101", gauge).1.len() == 1);
    let checked = || {
        for gauge in ["CG-101", "CG-104"] {
            shop.done("inspector", &checks_of(gauge), &check(3.75));
        }
        assert_eq!(stale(), [false, false]);
    };
    // On record is 3.75 in, 0.0001 in uncertain; of two such measurements twice the combined uncertainty is 0.00028 in.
    for height in [3.75, 3.7502, 3.75] {
        measure(height, 0.0001, None);
        assert_eq!(stale(), [false, false], "{height}");
    }
    measure(3.750_3, 0.0001, None);
    assert_eq!(question(shop, "setter", "M-101", "CG-101").1, ["gauge-stale CG-101"]);
    assert_eq!(stale(), [true, true]);
    measure(3.750_3, 0.0001, None);
    assert_eq!(stale(), [true, true], "measured once more, the gauges were not checked for it");
    checked();
    // A station that was never measured by itself stands as the machine does, from then on as it was found.
    measure(3.750_3, 0.0, Some("S1"));
    assert_eq!(stale(), [false, false]);
    measure(3.750_301, 0.0, Some("S1"));
    assert_eq!(stale(), [true, true], "nothing is stated: anything at all");
    checked();
    measure(3.75, 0.0002, None);
    assert_eq!(stale(), [false, false], "the machine's own record is another");

    // On a machine that is released a height that confirms the record is taken, another waits for the stop of its run.
    let (path, confirms) = measured("M-102", 3.752, 0.0001, None);
    shop.done("maintainer", &path, &confirms);
    let (path, departs) = measured("M-102", 3.7525, 0.0001, None);
    assert_eq!(shop.refused("maintainer", &path, &departs), ["machine-running M-102"]);
}

/// A gauge that comes back doubtful is not made usable by a check that was done before, however late it is written, nor
/// when it goes to another machine with it.
pub(crate) fn what_came_after_a_check_is_not_covered_by_it(shop: &Shop) {
    let before = checked_at(3.75, now());
    let back = |condition: &str| {
        let back =
            json!({"items": [{"code": "CG-104", "place": "BIN-G1", "condition": condition}], "person": "inspector"});
        shop.done("clerk", "/v1/checkins", &back);
    };
    back("needs_check");
    assert_eq!(faults(shop, "inspector", &checks_of("CG-104"), &before), ["/performed_at"]);
    let elsewhere = json!({"machine": "M-102", "nominal": inches(3.752), "check": before});
    assert_eq!(faults(shop, "inspector", "/v1/center-gauges/CG-104/rebind", &elsewhere), ["/check/performed_at"]);
    shop.done("inspector", &checks_of("CG-104"), &check(3.75));
    // Other limits ask for a check again too.
    let before = checked_at(3.75, now());
    let limits = |upper: f64| json!({"limits": {"lower": inches(-0.0003), "upper": inches(upper)}});
    shop.patch("supervisor", GAUGE, &limits(0.0004));
    assert_eq!(faults(shop, "inspector", &checks_of("CG-104"), &before), ["/performed_at"]);
    shop.patch("supervisor", GAUGE, &limits(0.0003));
    shop.done("inspector", &checks_of("CG-104"), &check(3.75));
    let out = json!({"items": ["CG-104"], "person": "inspector", "purpose": "check"});
    shop.done("clerk", "/v1/checkouts", &out);
    back("usable");
}

fn day(value: &Value) -> NaiveDate {
    text(value).parse().expect("a day")
}

pub(crate) fn drift_and_the_day_it_proposes(shop: &Shop) {
    let new = json!({"code": "CG-D", "name": "Drifting", "machine": "M-103", "nominal": inches(4.330_709), "place": "BIN-G1",
        "limits": {"lower": inches(-0.0003), "upper": inches(0.0003)}, "check_interval_days": 0});
    assert_eq!(faults(shop, "supervisor", "/v1/center-gauges", &new), ["/check_interval_days"]);
    let mut new = new;
    new["check_interval_days"] = json!(200);
    assert_eq!(shop.done("supervisor", "/v1/center-gauges", &new)["check_interval_days"], 200);
    let drift = || {
        let answer = shop.person("setter").get("/v1/center-gauges/CG-D/drift").send().expect(200);
        assert_eq!(answer.header("cache-control"), Some("no-store"));
        answer.json()
    };
    let none = drift();
    assert_eq!((&none["more_checks_needed"], &none["line"], &none["points"]), (&json!(3), &Value::Null, &json!([])));

    // 0.00002 in a day, set back by 0.00006 in after the third check; no scatter but the drift's own.
    let steps = [
        (6.0, 0.0, None),
        (5.0, 0.000_02, None),
        (4.0, 0.000_04, Some(-0.000_02)),
        (3.0, 0.0, None),
        (2.0, 0.000_021, None),
    ];
    let plan = |days: u64| now().date_naive().checked_add_days(Days::new(days)).expect("a day");
    for (index, (ago, off, left)) in (1..).zip(steps) {
        let performed = days_ago(ago);
        let mut body = checked_at(4.330_709 + off, performed);
        if let Some(left) = left {
            body["as_left"] = inches(4.330_709 + left);
        }
        let planned = performed.date_naive().checked_add_days(Days::new(200)).expect("a day");
        // Given by hand, no later than the plan.
        body["next_check"] = json!(planned.succ_opt());
        assert_eq!(faults(shop, "inspector", &checks_of("CG-D"), &body), ["/next_check"]);
        body["next_check"] = json!(planned);
        let recorded = shop.done("inspector", &checks_of("CG-D"), &body);
        let proposed = day(&recorded["proposed_next_check"]);
        if index < 5 {
            assert_eq!(proposed, planned, "by the plan until there are five checks");
        } else {
            assert!(proposed < planned, "{proposed}: the drift reaches a limit before the plan's day");
        }
        assert_eq!(day(&recorded["next_check"]), planned, "what was said counts");
        let now = drift();
        let missing = if index < 3 { json!(3 - index) } else { Value::Null };
        assert_eq!((&now["more_checks_needed"], now["line"].is_null()), (&missing, index < 3), "{now}");
    }
    let drift = drift();
    let line = &drift["line"];
    let slope = line["slope_per_year"].as_f64().expect("a slope");
    assert!((slope - 0.000_02 * 365.25).abs() < 0.000_3, "{line}");
    assert_eq!((&line["significant"], &line["reaches_limit"]), (&json!(true), &json!("upper")), "{line}");
    assert!((line["adjusted"].as_f64().expect("adjusted") + 0.000_06).abs() < 1e-9, "{line}");
    let reached = day(&line["reaches_limit_on"]);
    // From 0.000021 two days ago it has 0.000279 to go: about 14 days, less what the interval takes of it.
    assert!(reached > plan(2) && reached <= plan(13), "{line}");
    assert_eq!(day(&drift["proposed_next_check"]), reached.pred_opt().expect("a day"));
    assert_eq!(drift["points"].as_array().map(Vec::len), Some(5));
    let first = &drift["points"][0];
    assert!((first["drifted"].as_f64().expect("a height") + 0.000_06).abs() < 1e-9, "{first}");
    assert_eq!(text(&first["performed_at"])[..10], instant(now() - TimeDelta::days(6))[..10]);
    let _ = shop.person("setter").get("/v1/center-gauges/FT-001/drift").send().expect(404);
}

/// Nothing is recorded of a reading that cannot be meant, until it is confirmed.
pub(crate) fn a_slip_of_the_unit_is_asked_after(shop: &Shop) {
    let checks = checks_of("CG-104");
    let heights = "/v1/machines/M-101/center-heights".to_owned();
    let height = json!({"measured": inches(95.25), "standard_uncertainty": inches(0.0001), "reason": "yearly",
        "after_work": false});
    let mut left = check(3.7501);
    left["as_left"] = json!({"value": 3.75, "unit": "mm"});
    let mut unsure = check(3.75);
    unsure["standard_uncertainty"] = inches(0.0013);
    for (badge, path, mut body, thing, meant) in [
        ("inspector", &checks, check(95.25), "CG-104", "95.25 mm"),
        ("inspector", &checks, left, "CG-104", "3.75 in"),
        ("inspector", &checks, unsure, "CG-104", "0.0013 mm"),
        ("maintainer", &heights, height, "M-101", "95.25 mm"),
    ] {
        let before = shop.read(path);
        assert_eq!(shop.refused(badge, path, &body), [format!("reading-not-confirmed {thing}")]);
        let told = text(&shop.send(badge, path, &body).expect(409).json()["refusals"][0]["sentence"]);
        assert!(told.ends_with(&format!(" Was {meant} meant?")), "{told}");
        assert_eq!(shop.read(path), before);
        body["confirmed"] = json!(true);
        let _ = shop.send(badge, &format!("{path}?validate_only=true"), &body).expect(200);
    }
}

/// A gauge whose check is not in date comes into nobody's hands for use, and goes out to be checked.
pub(crate) fn a_gauge_out_of_date_stays_at_the_counter(shop: &Shop) {
    let new = json!({"code": "CG-O", "name": "Forgotten", "machine": "M-103", "nominal": inches(4.330_709), "place": "BIN-G1",
        "limits": {"lower": inches(-0.0003), "upper": inches(0.0003)}, "check_interval_days": 200});
    shop.done("supervisor", "/v1/center-gauges", &new);
    let out = |purpose: &str| json!({"items": ["CG-O"], "person": "setter", "machine": "M-103", "purpose": purpose});
    assert_eq!(
        shop.refused("clerk", "/v1/checkouts", &out("use")),
        ["gauge-never-checked CG-O", "item-not-usable CG-O"]
    );
    let mut check = checked_at(4.330_709, days_ago(6.0));
    check["next_check"] = json!(days_ago(1.0).date_naive());
    shop.done("inspector", &checks_of("CG-O"), &check);
    assert_eq!(shop.refused("clerk", "/v1/checkouts", &out("use")), ["gauge-check-overdue CG-O"]);
    shop.done("clerk", "/v1/checkouts", &out("check"));
    let back = json!({"items": [{"code": "CG-O", "place": "BIN-G1", "condition": "usable"}], "person": "setter"});
    shop.done("clerk", "/v1/checkins", &back);
}

/// A gauge that drifts by next to nothing, and is found 0.001 in high all at once.
pub(crate) fn a_jump_is_no_drift(shop: &Shop) {
    let new = json!({"code": "CG-J", "name": "Dropped", "machine": "M-103", "nominal": inches(4.330_709), "place": "BIN-G1",
        "limits": {"lower": inches(-0.0003), "upper": inches(0.0003)}, "check_interval_days": 200});
    shop.done("supervisor", "/v1/center-gauges", &new);
    let record = |ago: f64, off: f64, left: Option<f64>| {
        let performed = days_ago(ago);
        let planned = performed.date_naive().checked_add_days(Days::new(200)).expect("a day");
        let mut body = checked_at(4.330_709 + off, performed);
        body["next_check"] = json!(planned);
        if let Some(left) = left {
            body["as_left"] = inches(4.330_709 + left);
        }
        (shop.done("inspector", &checks_of("CG-J"), &body), planned)
    };
    let drift = || shop.read("/v1/center-gauges/CG-J/drift");
    for (ago, off) in [(6.5, 0.000_02), (6.0, 0.0), (5.5, 0.000_04), (5.0, 0.000_01), (4.5, 0.000_03)] {
        record(ago, off, None);
    }
    let still = drift();
    assert_eq!((&still["jump"], &still["line"]["significant"]), (&Value::Null, &json!(false)), "{still}");
    let sentence = text(&still["sentence"]);
    assert!(sentence.contains("no drift") && !sentence.contains("From "), "{sentence}");

    let (found, planned) = record(4.0, 0.001, Some(0.000_01));
    assert_eq!(day(&found["proposed_next_check"]), planned, "nothing is known of it as it is now");
    let jumped = drift();
    assert_eq!((&jumped["jump"]["check"], &jumped["checks"]), (&found["id"], &json!(6)), "{jumped}");
    let by = jumped["jump"]["by"].as_f64().expect("a height");
    assert!((by - 0.000_975).abs() < 1e-5, "{jumped}");
    assert_eq!((&jumped["more_checks_needed"], &jumped["line"]), (&json!(2), &Value::Null), "{jumped}");
    assert!(text(&jumped["sentence"]).contains(" it had moved by 0.0010 in at once: "), "{jumped}");

    for (ago, off) in [(3.5, 0.000_02), (3.0, 0.0)] {
        let (found, planned) = record(ago, off, None);
        assert_eq!(day(&found["proposed_next_check"]), planned, "fewer than five since");
    }
    let anew = drift();
    let line = &anew["line"];
    assert!(line["slope_per_year"].as_f64().expect("a slope").abs() < 0.02, "{line}");
    assert_eq!((&line["adjusted"], &anew["points"][5]["drifted"]), (&json!(0.0), &anew["points"][5]["left"]), "{anew}");
    assert_eq!(
        (&anew["points"][4]["expected"], anew["points"][5]["expected"].is_null()),
        (&Value::Null, false),
        "{anew}"
    );
}
