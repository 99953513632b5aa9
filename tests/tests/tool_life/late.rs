//! Pieces that are booked late, and grinds that are dated back.

use crate::shop::{Shop, accepted, full, passed, with};
use serde_json::json;

/// A release that is withdrawn leaves its pieces to be booked; the tool may leave meanwhile, but its edge is not ground or
/// retired before they are.
pub(crate) fn pieces_count_for_the_edge_that_cut_them(shop: &Shop) {
    shop.new_tool("FT-B1", "TD-L1");
    let events = shop.release("FT-B1");
    withdraw_and_hand_out(shop, "FT-B1");

    let grinds = "/v1/form-tools/FT-B1/regrinds";
    let problem = shop.send("grinder", grinds, &full(1.235)).expect(409).json();
    let refusal = &problem["refusals"][0];
    assert_eq!((&refusal["rule"], problem["refusals"].as_array().map(Vec::len)), (&json!("run-not-booked"), Some(1)));
    let setup = events.split('/').nth(3).expect("a setup");
    assert_eq!(refusal["subject"], json!({"kind": "setup", "code": setup}));
    assert!(refusal["clears"].as_str().is_some_and(|text| text.contains(setup)), "{refusal}");
    assert_eq!(shop.refused("grinder", grinds, &json!({"kind": "touch_up"})), ["run-not-booked"]);
    let back = |condition: &str| json!({"items": [{"code": "FT-B1", "place": "BIN-A1", "condition": condition}], "person": "grinder"});
    assert_eq!(shop.refused("clerk", "/v1/checkins", &back("retired")), ["run-not-booked"]);
    let _ = shop.done("clerk", "/v1/checkins", &back("needs_grinding"));
    // Nor by a check that finds it too low.
    let too_low = with(
        json!({"accepted": false, "profile_checked": true, "condition": "damaged", "confirmed": true}),
        &[("height", crate::shop::inches(0.4))],
    );
    assert_eq!(shop.refused("inspector", "/v1/form-tools/FT-B1/checks", &too_low), ["run-not-booked"]);

    let before = shop.read(&events.replace("/events", ""));
    let stopped = json!({"kind": "run_stopped", "pieces": 700, "reason": "tagged out", "confirmed": true});
    let _ = shop.done("setter", &events, &stopped);
    let _ = shop.done("setter", &events, &json!({"kind": "closed", "reason": "tagged out"}));
    assert_eq!(shop.tool("FT-B1")["pieces_since_grind"], 700);
    // Not dated back behind the run, however it is told.
    let opened_at = &before["opened_at"];
    let dated = with(full(1.235), &[("occurred_at", opened_at.clone())]);
    assert_eq!(shop.unfit("grinder", grinds, &dated), ["/occurred_at"]);
    let check = with(passed(1.25, 0.0), &[("performed_at", opened_at.clone())]);
    assert_eq!(shop.unfit("inspector", "/v1/form-tools/FT-B1/checks", &check), ["/performed_at"]);
    let ground = shop.grind("FT-B1", &full(1.235));
    assert_eq!((&ground["pieces_on_edge"], &ground["edge_ended"]), (&json!(700), &json!("worn")));
    assert_eq!(shop.tool("FT-B1")["pieces_since_grind"], 0);
    let _ = shop.check("inspector", "FT-B1", &passed(1.235, 0.0));
}

/// What came back doubtful is not made usable by a check, or by an inspector's word, of an instant before.
pub(crate) fn what_came_after_a_check_is_not_covered_by_it(shop: &Shop) {
    shop.new_tool("FT-B2", "TD-L1");
    let before = shop.tool("FT-B2")["created_at"].clone();
    let out = json!({"items": ["FT-B2"], "person": "inspector", "purpose": "check"});
    let back = |condition: &str| json!({"items": [{"code": "FT-B2", "place": "BIN-A1", "condition": condition}]});
    let _ = shop.done("clerk", "/v1/checkouts", &out);
    let _ = shop.done("inspector", "/v1/checkins", &back("needs_check"));
    let dated_back = with(accepted(), &[("performed_at", before.clone())]);
    assert_eq!(shop.unfit("inspector", "/v1/form-tools/FT-B2/checks", &dated_back), ["/performed_at"]);
    let _ = shop.done("clerk", "/v1/checkouts", &out);
    let word = with(back("usable"), &[("occurred_at", before)]);
    assert_eq!(shop.unfit("inspector", "/v1/checkins", &word), ["/occurred_at"]);
    let _ = shop.done("inspector", "/v1/checkins", &back("needs_check"));
    assert_eq!(shop.check("inspector", "FT-B2", &accepted())["condition"], "usable");
}

/// A tag-out withdraws the release before its pieces are booked, and the tool goes to the grinder.
fn withdraw_and_hand_out(shop: &Shop, tool: &str) {
    let tag_out = json!({"machine": "M-101", "reason": "guard rail loose"});
    let placed = shop.done("supervisor", "/v1/tag-outs", &tag_out);
    let clear = format!("/v1/tag-outs/{}/clear", placed["id"].as_str().expect("an id"));
    let _ = shop.send("maintainer", &clear, &json!({"note": "Tightened"})).expect(200);
    let out = json!({"items": [tool], "person": "grinder", "purpose": "grind"});
    let _ = shop.done("clerk", "/v1/checkouts", &out);
}

/// The setter books while the grinder records: whichever comes first, no piece counts for an edge that did not cut it.
pub(crate) fn a_booking_and_a_grind_at_once(shop: &Shop) {
    let (setter, grinder) = (shop.unforetold("setter"), shop.unforetold("grinder"));
    for round in 0..4 {
        let tool = format!("FT-B{}", 10 + round);
        shop.new_tool(&tool, "TD-L1");
        let events = shop.release(&tool);
        withdraw_and_hand_out(shop, &tool);
        let stopped = json!({"kind": "run_stopped", "pieces": 700, "reason": "tagged out", "confirmed": true});
        let ground = std::thread::scope(|scope| {
            let booked = scope.spawn(|| setter.post(&events).json(&stopped).send());
            let ground = grinder.post(&format!("/v1/form-tools/{tool}/regrinds")).json(&full(1.235)).send();
            let _ = booked.join().expect("an answer").expect(201);
            ground
        });
        let pieces = shop.tool(&tool)["pieces_since_grind"].clone();
        if ground.status == 201 {
            assert_eq!((&ground.json()["pieces_on_edge"], pieces), (&json!(700), json!(0)));
        } else {
            assert_eq!(ground.expect(409).json()["refusals"][0]["rule"], "run-not-booked");
            assert_eq!(pieces, 700);
        }
        let _ = shop.done("setter", &events, &json!({"kind": "closed", "reason": "tagged out"}));
    }
}
