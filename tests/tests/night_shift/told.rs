//! What the records tell: wear while running, and the last time.

use crate::shop::{Shop, events_of, inches, items, named};
use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};

const LAST_TIME: &str = "/v1/machines/M-101/last-time?part=P-2001";

pub(crate) fn nothing_yet(shop: &Shop) {
    assert_eq!(shop.read(LAST_TIME), json!({"machine": "M-101", "part": "P-2001", "setups": []}));
    for (query, name) in [("part=P-9", "part"), ("part=P-2001&setups=0", "setups"), ("setups=2", "part")] {
        let problem = shop.person("setter").get(&format!("/v1/machines/M-101/last-time?{query}")).send();
        let problem = problem.expect(400).json().to_string();
        assert!(problem.contains(name), "{query}: {problem}");
    }
    let _ = shop.person("setter").get("/v1/machines/M-9/last-time?part=P-2001").send().expect(404);
    let _ = shop.person("setter").get("/v1/setups/0198f2c4-0000-7000-8000-000000000000/wear").send().expect(404);
}

fn instant(value: &Value) -> DateTime<Utc> {
    value.as_str().and_then(|text| text.parse().ok()).unwrap_or_else(|| panic!("not an instant: {value}"))
}

/// In a run without limits: a diameter of 0.5 in that grows by a thousandth of an inch in a hundred pieces, 400 an hour.
pub(crate) fn wear_while_running(shop: &Shop, setup: &str) {
    let path = format!("/v1/setups/{setup}/wear");
    let answer = shop.person("clerk").get(&path).send().expect(200);
    assert_eq!(answer.header("cache-control"), Some("no-store"));
    let first = shop.setup(setup)["highest_piece"].as_u64().expect("a number");
    // The server's own clock.
    let now = instant(&shop.read("/v1/machines/M-101/run-permit?purpose=trial")["judged_at"]);
    let measured = |number: u64, minutes_ago: i64| {
        json!({"kind": "sizes_read", "station": "S1", "piece": first + 100 * number, "spindle": 2,
            "occurred_at": now - TimeDelta::minutes(minutes_ago),
            "readings": [{"feature": "D1", "value": inches(0.5 + 0.001 * f64::from(u32::try_from(number).unwrap()))}]})
    };
    shop.event("setter", setup, &measured(0, 45));
    shop.event("setter", setup, &measured(1, 30));
    let few = shop.read(&path);
    let spindles = |wear: &Value| wear["stations"][0]["features"][0]["spindles"].clone();
    let of_two =
        |wear: &Value| spindles(wear).as_array().unwrap().iter().find(|at| at["spindle"] == 2).unwrap().clone();
    assert_eq!((&of_two(&few)["more_readings"], &of_two(&few)["about"]), (&json!(1), &json!(null)), "{few}");
    shop.event("setter", setup, &measured(2, 15));
    // 0.503 in now and 0.505 in at most: 200 pieces, half an hour.
    shop.event("setter", setup, &measured(3, 0));
    let until = (now + TimeDelta::minutes(60)).format("%FT%TZ");
    let wear = shop.read(&format!("{path}?until={until}"));
    assert_eq!(wear["pace"]["basis"], "this_run");
    assert!((wear["pace"]["pieces_per_hour"].as_f64().unwrap() - 400.0).abs() < 1.0, "{wear}");
    let two = of_two(&wear);
    assert!((two["pieces_to_limit"].as_f64().unwrap() - 200.0).abs() < 1e-3, "{two}");
    let apart: TimeDelta = instant(&two["about"]) - (now + TimeDelta::minutes(30));
    assert!(apart.num_minutes().abs() <= 1, "{two}");
    let in_order = [&two["earliest"], &two["about"], &two["latest"]].map(instant);
    assert!(in_order.is_sorted() && two["pieces_to_limit_high"].is_number(), "{two}");
    let feature = &wear["stations"][0]["features"][0];
    assert_eq!((&feature["first"], &feature["holds_until"]), (&json!(2), &json!(false)), "{feature}");
    assert!(wear["sentence"].as_str().unwrap().starts_with("Station S1: D1, spindle 2"), "{wear}");
    assert!(wear["caution"].as_str().unwrap().contains("not a safety function"));
    assert_eq!(two["trend"]["calculation"], "wear-trend");
    let _ = shop.person("clerk").get(&format!("{path}?until=tonight")).send().expect(400);
    // The station shows the last of each spindle too.
    let sizes = &shop.setup(setup)["stations"][0]["sizes"][0];
    assert_eq!((&sizes["feature"], &sizes["target"]), (&json!("D1"), &inches(0.5)));
    let spindle =
        |number: u64| sizes["sizes"].as_array().unwrap().iter().find(|size| size["spindle"] == number).cloned();
    assert_eq!(spindle(2).unwrap()["value"], inches(0.503));
    assert!(spindle(1).is_some() && sizes["missing"] == json!([3, 4, 5, 6]), "{sizes}");
    assert_eq!(sizes["spread"], inches(0.003));
}

pub(crate) fn last_time(shop: &Shop, setup: &str) {
    let told = shop.read(LAST_TIME);
    let [then] = &told["setups"].as_array().unwrap()[..] else { panic!("one setup: {told}") };
    assert_eq!((&then["id"], &then["state"]), (&json!(setup), &json!("closed")));
    let people: Vec<_> = then["people"].as_array().unwrap().iter().map(|person| person["badge"].clone()).collect();
    assert_eq!(people, ["setter", "inspector", "setter-2"]);
    assert_eq!((&then["pieces"], &then["pieces_rejected"]), (&json!(2067), &json!(7)));
    assert_eq!(then["minutes_to_release"], (instant(&then["released_at"]) - instant(&then["opened_at"])).num_minutes());
    let kinds: Vec<_> = then["trouble"].as_array().unwrap().iter().map(|trouble| trouble["kind"].clone()).collect();
    assert_eq!(kinds, ["held_pieces_judged", "release_withdrawn"]);
    let stops: Vec<_> = then["stops"].as_array().unwrap().iter().map(|stop| stop["pieces"].clone()).collect();
    assert_eq!(stops, [60, 2000, 7]);
    assert_eq!(
        (&then["stops"][1]["reason"], &then["stops"][1]["by"]["badge"]),
        (&json!("tool worn"), &json!("setter"))
    );
    let judged: Vec<_> =
        then["first_pieces"].as_array().unwrap().iter().map(|judged| judged["provisional"].clone()).collect();
    assert_eq!(judged, [false, true, true]);
    let s1 = &then["stations"][0];
    assert_eq!((&s1["station"], &s1["tool"], &s1["holder"]), (&json!("S1"), &json!("FT-001"), &json!("HD-01")));
    assert_eq!((s1["heights"].as_array().unwrap().len(), s1["gaps"].as_array().unwrap().len()), (2, 3));
    assert_eq!(s1["net_turns"], json!([{"adjuster": "SLIDE", "turns": 0.25, "direction": "clockwise", "steps": 1}]));
    assert_eq!(s1["turned"].as_array().unwrap().len(), 2);
    assert_eq!(s1["first_sizes"][0]["spindle"], 1);
    // What is under way tells nothing of a last time yet.
    let opened = crate::walk::open(shop, &crate::walk::STATIONS);
    assert_eq!(shop.read(LAST_TIME)["setups"].as_array().unwrap().len(), 1);
    shop.event("setter", &opened, &json!({"kind": "abandoned", "reason": "no stock"}));
    let two = shop.read(LAST_TIME);
    assert_eq!(two["setups"][0]["trouble"][0]["words"], "Abandoned: no stock");
    assert_eq!(shop.read(&format!("{LAST_TIME}&setups=1"))["setups"].as_array().unwrap().len(), 1);
    assert!(items(&shop.read("/v1/setups?machine=M-101")).len() == 2 && named(&json!([])).is_empty());
    let _ = shop.send("setter", &events_of(setup), &json!({"kind": "run_released"})).expect(409);
}
