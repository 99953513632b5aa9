//! Releases that rest on a second setter's word.

use crate::{
    shop::{Shop, events_of, inches, named, text},
    walk::{self, GOOD, STATIONS, adjusted, first_piece, kind, of_a_new_piece},
};
use chrono::{DateTime, Utc};
use serde_json::{Value, json};

const MOST_PIECES: u64 = 50;
const JOB: &str = "J-5001";

fn permit(shop: &Shop, purpose: &str) -> Value {
    shop.read(&format!("/v1/machines/M-101/run-permit?purpose={purpose}"))
}

fn instant(value: &Value) -> DateTime<Utc> {
    value.as_str().and_then(|text| text.parse().ok()).unwrap_or_else(|| panic!("not an instant: {value}"))
}

/// An inspector's judgement of held pieces with these sizes.
fn held(accepted: bool, sizes: &[(&str, &str, f64)]) -> Value {
    let mut judged = first_piece(accepted, sizes);
    judged["kind"] = json!("held_pieces_judged");
    judged
}

pub(crate) fn what_a_shop_may_allow(shop: &Shop) {
    assert_eq!(shop.read("/v1/settings")["provisional_release"], json!(null), "a shop starts without");
    for (allowed, pointer) in [
        (json!({"most_pieces": 0, "most_minutes": 60}), "/provisional_release/most_pieces"),
        (json!({"most_pieces": 1, "most_minutes": 1441}), "/provisional_release/most_minutes"),
        (json!({"most_pieces": 1}), "/provisional_release/most_minutes"),
        (json!({"most_pieces": 1, "most_minutes": 1, "most": 1}), "/provisional_release/most"),
    ] {
        let patch = shop.person("administrator").patch("/v1/settings").header("If-Match", "*");
        let body = json!({"provisional_release": allowed}).to_string();
        let problem = patch.body("application/merge-patch+json", body).send().expect(422).json();
        assert_eq!(problem["errors"][0]["pointer"], pointer, "{problem}");
    }
    let allowed = json!({"provisional_release": {"most_pieces": MOST_PIECES, "most_minutes": 1}});
    assert_eq!(
        shop.patch("administrator", "/v1/settings", &allowed)["provisional_release"],
        allowed["provisional_release"]
    );
}

/// A slide is turned, so that a first piece is to be judged again; the piece's number goes with it.
fn to_judge_again(shop: &Shop, setup: &str) -> Value {
    shop.event("setter", setup, &adjusted(&STATIONS[0], "SLIDE"));
    shop.event("setter", setup, &walk::approach_read(&STATIONS[0]));
    of_a_new_piece(shop, setup, &first_piece(true, &GOOD))
}

fn open_for_job(shop: &Shop) -> String {
    let stations = STATIONS.map(|station| json!({"station": station.code}));
    let new = json!({"machine": "M-101", "part": "P-2001", "job": JOB, "stations": stations});
    text(&shop.done("setter", "/v1/setups", &new)["id"])
}

/// The pieces that plans take for made.
fn made(shop: &Shop) -> Value {
    shop.read(&format!("/v1/jobs/{JOB}/readiness"))["made"].clone()
}

pub(crate) fn released_on_a_second_setters_word(shop: &Shop) -> String {
    walk::hand_out(shop, &STATIONS);
    let setup = open_for_job(shop);
    walk::make_ready(shop, &setup, &STATIONS);
    assert_eq!(shop.setup(&setup)["first_piece"]["provisional"], false, "an inspector's is for good");
    assert_eq!(shop.event_refused("inspector", &setup, &held(false, &[])), ["no-pieces-held M-101"]);
    let judged = to_judge_again(shop, &setup);
    let refused = shop.event_refused("setter", &setup, &judged);
    assert!(refused[0].starts_with("first-piece-same-person "), "{refused:?}");
    let accepted = shop.event("setter-2", &setup, &judged);
    assert_eq!((&accepted["first_piece"]["provisional"], &accepted["blockers"]), (&json!(true), &json!([])));

    let released = shop.event("setter", &setup, &kind("run_released"));
    let waits = &released["held"];
    assert_eq!((&waits["in_force"], &waits["most_pieces"]), (&json!(true), &json!(MOST_PIECES)));
    assert_eq!((&waits["accepted_by"]["badge"], &released["pieces_held"]), (&json!("setter-2"), &json!(0)));
    assert_eq!(named(&released["blockers"]), ["inspection-pending M-101"], "what stands against the next release");
    let now = permit(shop, "production");
    assert_eq!(now["permitted"], true, "{now}");
    // A minute from the release is sooner than a minute from now.
    assert_eq!(instant(&now["valid_until"]), instant(&waits["until"]));
    setup
}

pub(crate) fn judged_by_an_inspector(shop: &Shop, setup: &str) {
    let refused = shop.send("setter-2", &events_of(setup), &held(true, &GOOD)).expect(403).json();
    assert_eq!(refused["permission"], "judge-held-pieces");
    let wrong = shop.send("inspector", &events_of(setup), &held(true, &[("S1", "D1", -0.5)])).expect(422).json();
    assert_eq!(wrong["errors"][0]["pointer"], "/readings/0/value/value", "{wrong}");
    // As many pieces as it allows are known to be made: the record permits no more.
    let first = shop.setup(setup)["highest_piece"].as_u64().expect("a number");
    let sizes = |piece: u64| {
        json!({"kind": "sizes_read", "station": "S1", "piece": piece, "spindle": 1,
            "readings": [{"feature": "D1", "value": inches(0.5)}]})
    };
    shop.event("setter", setup, &sizes(first + MOST_PIECES - 1));
    assert_eq!(permit(shop, "production")["permitted"], true);
    shop.event("setter", setup, &sizes(first + MOST_PIECES));
    for purpose in ["production", "trial"] {
        let over = permit(shop, purpose);
        assert_eq!(
            (&over["permitted"], named(&over["blockers"])),
            (&json!(false), vec!["inspection-pending M-101".to_owned()])
        );
    }
    // Pieces that were read do not slip out of the hold unasked.
    let few = json!({"kind": "run_stopped", "pieces": 1, "reason": "nobody inspects"});
    assert_eq!(shop.event_refused("setter", setup, &few), ["reading-not-confirmed M-101"]);
    let stopped = shop.event(
        "setter",
        setup,
        &json!({"kind": "run_stopped", "pieces": 60, "reason": "nobody inspects", "confirmed": true}),
    );
    assert_eq!((&stopped["pieces_held"], &stopped["held"]["in_force"]), (&json!(60), &json!(false)));
    let due = shop.read("/v1/due?kind=held_pieces");
    assert_eq!(
        (&due["items"][0]["record"], &due["items"][0]["code"], &due["counts"]["today"]),
        (&json!(setup), &json!("M-101"), &json!(1))
    );
    assert!(stopped["blockers"][0]["sentence"].as_str().unwrap().contains("10 more than it allowed"), "{stopped}");
    for event in [kind("run_released"), kind("closed"), kind("abandoned")] {
        assert_eq!(shop.event_refused("setter", setup, &event), ["inspection-pending M-101"], "{event}");
    }
    assert_eq!(
        shop.event_refused("inspector", setup, &held(true, &GOOD[..1])),
        ["reading-outside-limits S2", "reading-outside-limits S2"]
    );
    assert_eq!(made(shop), 0, "what is held is not made for the job");
    let accepted = shop.event("inspector", setup, &held(true, &GOOD));
    assert_eq!(made(shop), 60);
    assert_eq!(shop.read("/v1/due?kind=held_pieces")["items"], json!([]));
    assert_eq!(
        (&accepted["held"], &accepted["pieces_held"], &accepted["pieces"]),
        (&json!(null), &json!(0), &json!(60))
    );
    assert_eq!((&accepted["first_piece"]["provisional"], &accepted["blockers"]), (&json!(false), &json!([])));
    let released = shop.event("setter", setup, &kind("run_released"));
    assert_eq!(released["held"], json!(null), "an inspector's word carries it without limits");
}

/// The setup is in a run; it is stopped, and released once more on a second setter's word.
pub(crate) fn rejected_while_it_runs(shop: &Shop, setup: &str) {
    shop.event(
        "setter",
        setup,
        &json!({"kind": "run_stopped", "pieces": 2000, "reason": "tool worn", "confirmed": true}),
    );
    let judged = to_judge_again(shop, setup);
    shop.event("setter-2", setup, &judged);
    shop.event("setter", setup, &kind("run_released"));
    let rejected = shop.event("inspector", setup, &held(false, &[("S1", "D1", 0.52)]));
    assert_eq!((&rejected["state"], &rejected["pieces_to_book"]), (&json!("stopped"), &json!(true)));
    assert_eq!(shop.read("/v1/machines/M-101")["state"], "setting");
    assert_eq!(permit(shop, "production")["permitted"], false);
    let booked = shop.event(
        "setter",
        setup,
        &json!({"kind": "run_stopped", "pieces": 7, "reason": "rejected", "confirmed": true}),
    );
    assert_eq!(
        (&booked["pieces_held"], &booked["pieces_rejected"], &booked["pieces"]),
        (&json!(0), &json!(7), &json!(2067))
    );
    assert_eq!(made(shop), 2060, "what was rejected is not made for the job");
    assert_eq!(named(&booked["blockers"]), ["first-piece-not-accepted M-101", "trial-not-begun M-101"]);
    shop.event("setter", setup, &kind("closed"));
}
