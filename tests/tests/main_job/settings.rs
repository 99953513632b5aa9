//! The shop's choices: a setup keeps those with which it was opened.

use crate::{
    shop::{Shop, events_of, inches, named},
    walk::{self, GOOD, STATIONS, adjusted, first_piece, height_read, kind, of_a_new_piece},
};
use serde_json::{Value, json};

fn choose(shop: &Shop, choice: &Value) {
    shop.patch("administrator", "/v1/settings", choice);
}

/// A new setup with a trial begun, ready to be judged.
fn on_trial(shop: &Shop) -> String {
    walk::hand_out(shop, &STATIONS);
    let setup = walk::open(shop, &STATIONS);
    walk::make_ready(shop, &setup, &STATIONS);
    shop.event("setter", &setup, &adjusted(&STATIONS[0], "SLIDE"));
    shop.event("setter", &setup, &walk::approach_read(&STATIONS[0]));
    setup
}

fn abandon(shop: &Shop, setup: &str) {
    shop.event("setter", setup, &kind("abandoned"));
}

pub(crate) fn each_choice_bears_on_the_next_setup(shop: &Shop) {
    let patch = shop.person("supervisor").patch("/v1/settings").header("If-Match", "*");
    let refused = patch.body("application/merge-patch+json", r#"{"first_piece_by_another_person":false}"#).send();
    assert_eq!(refused.expect(403).json()["permission"], "administer");
    judged_by_the_setter(shop);
    judged_from_every_spindle(shop);
    rechecked_after_the_holder_moved(shop);
    measured_against_another_limit(shop);
}

fn judged_by_the_setter(shop: &Shop) {
    let strict = on_trial(shop);
    choose(shop, &json!({"first_piece_by_another_person": false}));
    // Opened before the choice: it does not bear on it.
    let refused = shop.event_refused("setter", &strict, &of_a_new_piece(shop, &strict, &first_piece(true, &GOOD)));
    assert!(refused[0].starts_with("first-piece-same-person "), "{refused:?}");
    abandon(shop, &strict);
    let relaxed = on_trial(shop);
    let judged = shop.event("setter", &relaxed, &of_a_new_piece(shop, &relaxed, &first_piece(true, &GOOD)));
    assert_eq!(judged["blockers"], json!([]));
    // The record says that nobody else looked.
    assert_eq!(
        (&judged["first_piece"]["independent"], &judged["first_piece"]["by"]["badge"]),
        (&json!(false), &json!("setter"))
    );
    let events = shop.read(&events_of(&relaxed));
    assert_eq!(events["items"].as_array().and_then(|all| all.last()).expect("events")["event"]["independent"], false);
    shop.event("setter", &relaxed, &kind("run_released"));
    shop.event("setter", &relaxed, &json!({"kind": "run_stopped", "pieces": 0, "reason": "nothing made"}));
    abandon(shop, &relaxed);
    choose(shop, &json!({"first_piece_by_another_person": true}));
}

fn judged_from_every_spindle(shop: &Shop) {
    choose(shop, &json!({"first_piece_from_every_spindle": true}));
    walk::hand_out(shop, &STATIONS);
    let setup = walk::open(shop, &STATIONS);
    // Everything but the first piece: the walk's own judgement reads one piece and would be refused.
    let from = |spindles: std::ops::RangeInclusive<u8>| {
        let readings = spindles.flat_map(|spindle| {
            GOOD.map(|(station, feature, value)| {
                json!({"station": station, "feature": feature, "spindle": spindle, "value": inches(value)})
            })
        });
        json!({"kind": "first_piece_judged", "accepted": true, "readings": readings.collect::<Vec<_>>()})
    };
    walk::make_ready_with(shop, &setup, &STATIONS, &from(1..=6));
    shop.event("setter", &setup, &adjusted(&STATIONS[0], "SLIDE"));
    shop.event("setter", &setup, &walk::approach_read(&STATIONS[0]));
    let missing = shop.event_refused("inspector", &setup, &of_a_new_piece(shop, &setup, &from(1..=5)));
    assert_eq!(
        missing,
        ["first-piece-spindle-missing S1", "first-piece-spindle-missing S2", "first-piece-spindle-missing S2"]
    );
    let judged = of_a_new_piece(shop, &setup, &from(1..=6));
    assert_eq!(shop.event("inspector", &setup, &judged)["blockers"], json!([]));
    abandon(shop, &setup);
    choose(shop, &json!({"first_piece_from_every_spindle": false}));
}

fn rechecked_after_the_holder_moved(shop: &Shop) {
    choose(shop, &json!({"recheck_after_holder_move": "required"}));
    let setup = on_trial(shop);
    shop.event("inspector", &setup, &of_a_new_piece(shop, &setup, &first_piece(true, &GOOD)));
    let moved = shop.event("setter", &setup, &adjusted(&STATIONS[1], "TAPER"));
    assert_eq!(
        named(&moved["blockers"]),
        ["approach-not-read S2", "first-piece-not-accepted M-101", "height-not-rechecked S2", "trial-not-begun M-101"]
    );
    abandon(shop, &setup);
    choose(shop, &json!({"recheck_after_holder_move": "advised"}));
}

fn measured_against_another_limit(shop: &Shop) {
    choose(shop, &json!({"height_limit": {"value": 0.01, "unit": "mm"}}));
    let setup = on_trial(shop);
    let at = &STATIONS[0];
    shop.event("setter", &setup, &walk::gauge_placed(at));
    // 0.0005 in are 0.0127 mm.
    let outside = shop.event("setter", &setup, &height_read(at, "after_clamping", 0.0005));
    assert_eq!(walk::station(&outside, at.code)["height_after_clamping"]["within_limit"], false);
    let mut on_the_limit = height_read(at, "after_clamping", 0.0);
    on_the_limit["deviation"] = json!({"value": -0.01, "unit": "mm"});
    let inside = shop.event("setter", &setup, &on_the_limit);
    assert_eq!(walk::station(&inside, at.code)["height_after_clamping"]["within_limit"], true);
    shop.event("setter", &setup, &walk::gauge_removed(at));
    abandon(shop, &setup);
    choose(shop, &json!({"height_limit": inches(0.002)}));
    for limit in [json!({"value": 0, "unit": "mm"}), json!({"value": -0.01, "unit": "mm"}), json!(0.01)] {
        let client = shop.person("administrator");
        let patch = client.patch("/v1/settings").header("If-Match", "*");
        let body = json!({"height_limit": limit}).to_string();
        let _ = patch.body("application/merge-patch+json", body).send().expect(422);
    }
}
