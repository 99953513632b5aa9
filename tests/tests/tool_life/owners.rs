//! Tools that belong to customers, or are kept for a part.

use crate::shop::{Shop, accepted, full, inches, passed, with};
use serde_json::json;

pub(crate) fn a_customers_tool_needs_consent(shop: &Shop) {
    shop.new_tool("FT-O1", "TD-13");
    let tool = "/v1/form-tools/FT-O1";
    let consents = "/v1/form-tools/FT-O1/consents";
    let grind = json!({"kind": "grind", "given_by": "R. Ashby"});
    assert_eq!(shop.unfit("supervisor", consents, &grind), ["/kind"]);
    let client = shop.person("supervisor");
    let tag = client.get(tool).send().expect(200).header("etag").expect("a tag").to_owned();
    let patch = client.patch(tool).header("If-Match", &tag);
    let without =
        patch.body("application/merge-patch+json", json!({"owner": "Ashby Pumps"}).to_string()).send().expect(422);
    assert_eq!(without.json()["errors"][0]["pointer"], "/reserved_for");
    let owned = shop.patch(tool, &json!({"owner": "Ashby Pumps", "reserved_for": "P-2002"}));
    assert_eq!((&owned["owner"], &owned["reserved_for"]), (&json!("Ashby Pumps"), &json!("P-2002")));

    let grinds = "/v1/form-tools/FT-O1/regrinds";
    assert_eq!(shop.refused("grinder", grinds, &full(1.235)), ["grind-without-consent"]);
    let traveller = shop.read("/v1/form-tools/FT-O1/traveller");
    assert_eq!((&traveller["consent"], &traveller["owner"]), (&json!("missing"), &json!("Ashby Pumps")));
    assert!(traveller["cautions"][0].as_str().is_some_and(|text| text.starts_with("Do not grind")), "{traveller}");
    // Nor does it leave the counter for the grinder.
    let to_grind = json!({"items": ["FT-O1"], "person": "grinder", "purpose": "grind"});
    assert_eq!(shop.refused("clerk", "/v1/checkouts", &to_grind), ["grind-without-consent"]);
    let given = shop.done("supervisor", consents, &grind);
    let _ = shop.done("clerk", "/v1/checkouts", &to_grind);
    let ground =
        json!({"items": [{"code": "FT-O1", "place": "BIN-A1", "condition": "needs_check"}], "person": "grinder"});
    let _ = shop.done("clerk", "/v1/checkins", &ground);
    assert_eq!(shop.read("/v1/form-tools/FT-O1/traveller")["consent"], "given");
    let _ = shop.grind("FT-O1", &full(1.235));
    let withdraw = format!("/v1/tool-consents/{}/withdraw", given["id"].as_str().expect("an id"));
    let withdrawn = shop.send("supervisor", &withdraw, &json!({})).expect(200).json();
    assert_eq!(withdrawn["withdrawn_by"], "supervisor");
    assert_eq!(shop.refused("grinder", grinds, &full(1.22)), ["grind-without-consent"]);
    let _ = shop.check("inspector", "FT-O1", &passed(1.235, 0.0));

    // Retiring it at the counter.
    let out = json!({"items": ["FT-O1"], "person": "setter", "purpose": "use"});
    let _ = shop.done("clerk", "/v1/checkouts", &out);
    let back = json!({"items": [{"code": "FT-O1", "place": "BIN-A1", "condition": "retired"}], "person": "setter"});
    assert_eq!(shop.refused("clerk", "/v1/checkins", &back), ["retire-without-consent"]);
    let scrap = json!({"kind": "scrap", "given_by": "R. Ashby", "valid_until": "2999-12-31"});
    let _ = shop.done("supervisor", consents, &scrap);
    let _ = shop.done("clerk", "/v1/checkins", &back);
    assert_eq!(shop.tool("FT-O1")["condition"], "retired");
    assert_eq!(shop.read(consents)["items"].as_array().map(Vec::len), Some(2));

    for (body, pointer) in [
        (json!({"kind": "lend", "given_by": "R. Ashby"}), "/part"),
        (json!({"kind": "grind", "given_by": " "}), "/given_by"),
        (json!({"kind": "grind", "given_by": "R. Ashby", "valid_until": "2020-01-01"}), "/valid_until"),
        (json!({"kind": "lend", "given_by": "R. Ashby", "part": "P-9999"}), "/part"),
    ] {
        assert_eq!(shop.unfit("supervisor", consents, &body), [pointer], "{body}");
    }
}

pub(crate) fn only_its_owner_has_it_scrapped(shop: &Shop) {
    shop.new_tool("FT-O2", "TD-13");
    let _ = shop.patch("/v1/form-tools/FT-O2", &json!({"owner": "Ashby Pumps", "reserved_for": "P-2002"}));
    let low =
        json!({"accepted": false, "profile_checked": true, "condition": "needs_grinding", "height": inches(0.49)});
    assert_eq!(shop.refused("inspector", "/v1/form-tools/FT-O2/checks", &low), ["reading-not-confirmed"]);
    let kept = shop.check("inspector", "FT-O2", &with(low, &[("confirmed", json!(true))]));
    assert_eq!(kept["condition"], "damaged");
    assert!(kept["remarks"].to_string().contains("keep it for them"), "{kept}");
    assert_eq!(shop.tool("FT-O2")["condition"], "damaged");

    // What one owner consented to is no other owner's word, nor theirs when it is theirs again.
    let consents = "/v1/form-tools/FT-O2/consents";
    for kind in ["grind", "scrap"] {
        let _ = shop.done("supervisor", consents, &json!({"kind": kind, "given_by": "R. Ashby"}));
    }
    let _ = shop.patch("/v1/form-tools/FT-O2", &json!({"name": "Bushing form, theirs"}));
    let open = || {
        let list = shop.read(consents);
        let items = list["items"].as_array().expect("consents");
        items.iter().filter(|consent| consent["withdrawn_at"].is_null()).count()
    };
    assert_eq!(open(), 2);
    let _ = shop.patch("/v1/form-tools/FT-O2", &json!({"owner": "Birch Valves"}));
    assert_eq!(open(), 0);
    let _ = shop.patch("/v1/form-tools/FT-O2", &json!({"owner": "Ashby Pumps"}));
    let grinds = "/v1/form-tools/FT-O2/regrinds";
    assert_eq!(shop.refused("grinder", grinds, &full(0.48)), ["grind-without-consent"]);
}

/// The counter is where lending happens: with the job named, its part is known.
pub(crate) fn the_counter_keeps_it_for_its_part(shop: &Shop) {
    shop.new_tool("FT-O3", "TD-11");
    let _ = shop.patch("/v1/form-tools/FT-O3", &json!({"owner": "Ashby Pumps", "reserved_for": "P-2002"}));
    let counter = "/v1/checkouts";
    let for_job =
        json!({"items": ["FT-O3"], "person": "setter", "machine": "M-101", "job": "J-5001", "purpose": "use"});
    assert_eq!(shop.refused("clerk", counter, &for_job), ["reserved-for-other-part"]);
    let back = json!({"items": [{"code": "FT-O3", "place": "BIN-A1", "condition": "usable"}], "person": "setter"});
    let goes = |body: &serde_json::Value| {
        let _ = shop.done("clerk", counter, body);
        let _ = shop.done("clerk", "/v1/checkins", &back);
    };
    // For its own part, for a check, and where nobody said what for.
    goes(&json!({"items": ["FT-O3"], "person": "setter", "job": "J-5002", "purpose": "use"}));
    goes(&json!({"items": ["FT-O3"], "person": "setter", "job": "J-5001", "purpose": "check"}));
    goes(&json!({"items": ["FT-O3"], "person": "setter", "machine": "M-101", "purpose": "use"}));
    let lend = json!({"kind": "lend", "part": "P-2001", "given_by": "R. Ashby"});
    let given = shop.done("supervisor", "/v1/form-tools/FT-O3/consents", &lend);
    goes(&for_job);
    let withdraw = format!("/v1/tool-consents/{}/withdraw", given["id"].as_str().expect("an id"));
    let _ = shop.send("supervisor", &withdraw, &json!({})).expect(200);
    assert_eq!(shop.refused("clerk", counter, &for_job), ["reserved-for-other-part"]);
    // The shop's own that is kept for a part has no owner to lend it.
    let _ = shop.patch("/v1/form-tools/FT-O3", &json!({"owner": null}));
    assert_eq!(shop.refused("clerk", counter, &for_job), ["reserved-for-other-part"]);
    let _ = shop.patch("/v1/form-tools/FT-O3", &json!({"reserved_for": null}));
    goes(&for_job);
}

pub(crate) fn a_setup_for_another_part_refuses_it(shop: &Shop) {
    // FT-001 is of the design that P-2001 asks for at S1 of M-101, but kept for another part.
    let _ = shop.patch("/v1/form-tools/FT-001", &json!({"owner": "Ashby Pumps", "reserved_for": "P-2002"}));
    let setup = json!({"machine": "M-101", "part": "P-2001", "stations": [{"station": "S1"}]});
    let opened = shop.done("setter", "/v1/setups", &setup);
    let events = format!("/v1/setups/{}/events", opened["id"].as_str().expect("an id"));
    let out = json!({"items": ["FT-001", "HD-01"], "person": "setter", "purpose": "use", "machine": "M-101"});
    let _ = shop.done("clerk", "/v1/checkouts", &out);
    let seated = json!({"kind": "holder_seated", "station": "S1", "holder": "HD-01", "seat_clean": true,
        "seated_flush": true, "side_screw_free": true});
    let _ = shop.done("setter", &events, &seated);
    let inserted = json!({"kind": "tool_inserted", "station": "S1", "form_tool": "FT-001"});
    assert_eq!(shop.refused("setter", &events, &inserted), ["reserved-for-other-part"]);
    let lend = json!({"kind": "lend", "part": "P-2001", "given_by": "R. Ashby"});
    let _ = shop.done("supervisor", "/v1/form-tools/FT-001/consents", &lend);
    let _ = shop.done("setter", &events, &inserted);

    // A crash takes it out and blocks it; a check makes it usable again.
    let _ = shop.done("setter", &events, &json!({"kind": "crash_reported", "station": "S1"}));
    assert_eq!(shop.tool("FT-001")["condition"], "needs_check");
    let _ = shop.done("setter", &events, &json!({"kind": "abandoned", "reason": "crashed"}));
    let mut check = accepted();
    check["height"] = inches(1.21);
    assert_eq!(shop.check("grinder", "FT-001", &check)["condition"], "usable");
}
