//! The demo shop's machine M-102 was set with CG-102, which is found wrong: nothing is released until every height was read
//! again on a gauge that is right.

use crate::{check, checks_of, shop::*};
use serde_json::{Value, json};

const GAUGE: &str = "CG-102";

fn heights(refusals: &Value) -> Vec<String> {
    named(refusals).into_iter().filter(|refusal| refusal.starts_with("height-in-doubt")).collect()
}

fn place(shop: &Shop, setup: &str, station: &str) {
    let placed = json!({"kind": "gauge_placed", "station": station, "gauge": GAUGE, "machine_stopped": true});
    shop.event("setter-2", setup, &placed);
}

fn remove(shop: &Shop, setup: &str, station: &str) -> Value {
    shop.event("setter-2", setup, &json!({"kind": "gauge_removed", "station": station, "gauge": GAUGE}))
}

fn reading(station: &str) -> Value {
    json!({"kind": "height_read", "station": station, "phase": "after_clamping", "on_gauge": true})
}

fn set_right(shop: &Shop) {
    let mut right = check(3.7531);
    right["as_left"] = inches(3.752);
    assert_eq!(shop.done("inspector", &checks_of(GAUGE), &right)["accepted"], true);
}

pub(crate) fn a_height_counts_while_somebody_vouches_for_its_gauge(shop: &Shop) {
    let setup = text(&items(&shop.read("/v1/setups?machine=M-102&open=true"))[0]["id"]);
    let both = ["height-in-doubt CUT", "height-in-doubt S1"];
    assert_eq!(heights(&shop.setup(&setup)["blockers"]), both, "it was found undecided last");
    for purpose in ["trial", "production"] {
        let permit = shop.read(&format!("/v1/machines/M-102/run-permit?purpose={purpose}"));
        assert_eq!(
            (&permit["permitted"], heights(&permit["blockers"])),
            (&json!(false), both.map(str::to_owned).to_vec())
        );
    }
    let told = shop.send("setter-2", &events_of(&setup), &json!({"kind": "trial_cut_begun"})).expect(409).json();
    assert_eq!(heights(&told["refusals"]), both);

    // Set right it may be used again; what was read on it before is in doubt for good.
    set_right(shop);
    assert_eq!(heights(&shop.setup(&setup)["blockers"]), both);
    place(shop, &setup, "S1");
    shop.event("setter-2", &setup, &reading("S1"));
    assert_eq!(heights(&remove(shop, &setup, "S1")["blockers"]), ["height-in-doubt CUT"]);

    // Found wrong while it stands in the machine: nothing more is read on it, and what was is in doubt again.
    place(shop, &setup, "CUT");
    shop.event("setter-2", &setup, &reading("CUT"));
    assert_eq!(heights(&shop.setup(&setup)["blockers"]), Vec::<String>::new());
    shop.done("inspector", &checks_of(GAUGE), &check(3.7531));
    let now = shop.setup(&setup);
    assert_eq!(heights(&now["blockers"]), both);
    let wanted = now["next"].as_array().expect("steps").iter().filter(|step| step["wanted"] == true);
    assert!(wanted.clone().any(|step| step["kind"] == "gauge_removed" && step["station"] == "CUT"), "{now}");
    let refused = shop.event_refused("setter-2", &setup, &reading("CUT"));
    assert_eq!(refused, [format!("gauge-not-usable {GAUGE}")]);
    set_right(shop);
    for station in ["CUT", "S1"] {
        if station == "S1" {
            place(shop, &setup, station);
        }
        shop.event("setter-2", &setup, &reading(station));
        remove(shop, &setup, station);
    }
    assert_eq!(heights(&shop.setup(&setup)["blockers"]), Vec::<String>::new());

    // Brought back damaged, it takes its heights with it; only a check gives them back.
    let back = json!({"items": [{"code": GAUGE, "place": "SHELF-1", "condition": "damaged"}], "person": "setter-2"});
    shop.done("clerk", "/v1/checkins", &back);
    assert_eq!(heights(&shop.setup(&setup)["blockers"]), both);
}
