//! Grinds and checks.

use crate::shop::{Shop, accepted, full, inches, millimetres, passed, with};
use serde_json::{Value, json};

pub(crate) fn a_grind_and_its_check(shop: &Shop) {
    // 1.25 new; one measured 0.001 lower than the record, which two measurements may differ by.
    shop.new_tool("FT-G1", "TD-11");
    let body = json!({"kind": "full", "height_before": inches(1.249), "height_after": inches(1.235), "wheel": "Cup, 60 grit",
        "dressed": true, "profile_checked": true, "rake_deg": 6.0, "edge_ended": "worn"});
    let ground = shop.grind("FT-G1", &body);
    assert_eq!(
        (&ground["number"], &ground["regrind_count"], &ground["retired"]),
        (&json!(1), &json!(1), &json!(false))
    );
    assert_eq!((&ground["height_on_record"], &ground["height_before"]), (&inches(1.25), &inches(1.249)));
    assert!(ground["remarks"][0].as_str().is_some_and(|text| text.contains("two measurements")), "{ground}");
    let tool = shop.tool("FT-G1");
    assert_eq!((&tool["condition"], &tool["checked_after_grind"]), (&json!("needs_check"), &json!(false)));
    assert_eq!((&tool["height"], &tool["regrind_count"]), (&inches(1.235), &json!(1)));
    assert!(tool["last_ground_at"].is_string());
    let out = json!({"items": ["FT-G1"], "person": "setter", "purpose": "use"});
    assert_eq!(shop.refused("clerk", "/v1/checkouts", &out), ["item-not-usable"]);

    let check = json!({"accepted": false, "profile_checked": true, "condition": "needs_grinding", "found": ["chip"]});
    assert_eq!(shop.check("grinder", "FT-G1", &check)["condition"], "needs_grinding");
    assert_eq!(shop.tool("FT-G1")["condition"], "needs_grinding");
    // What is missing is told at once, and what is off: the design asks for 6 degrees of rake, and half a degree either way.
    let checks = "/v1/form-tools/FT-G1/checks";
    let bare = json!({"accepted": true, "profile_checked": false});
    let missing = ["height-not-measured", "profile-not-checked", "rake-not-measured"];
    assert_eq!(shop.refused("inspector", checks, &bare), missing);
    assert_eq!(shop.refused("inspector", checks, &passed(1.235, 6.6)), ["rake-off"]);
    let checked = shop.check("inspector", "FT-G1", &passed(1.235, 5.5));
    assert_eq!((&checked["condition"], &checked["after_grind"]), (&json!("usable"), &json!(1)));
    assert_eq!((&checked["rake_deg"], &checked["recorded_by"]), (&json!(5.5), &json!("inspector")));
    let tool = shop.tool("FT-G1");
    assert_eq!((&tool["condition"], &tool["checked_after_grind"]), (&json!("usable"), &json!(true)));

    // Stock and wear land: α + γ = 18°.
    let land = json!({"kind": "full", "wear_land": inches(0.01), "clean_up": inches(0.0), "edge_ended": "early"});
    assert_eq!(shop.grind("FT-G1", &land)["height_after"], inches(1.225));
    let list = shop.read("/v1/form-tools/FT-G1/regrinds?limit=1");
    assert_eq!((&list["items"][0]["number"], list["next_cursor"].is_string()), (&json!(2), true));
    // What the grinder wrote down is read as it was written.
    let kept = &shop.read("/v1/form-tools/FT-G1/regrinds")["items"][1];
    for field in
        ["kind", "height_before", "height_after", "wheel", "dressed", "profile_checked", "rake_deg", "edge_ended"]
    {
        assert_eq!(kept[field], body[field], "{field} of {kept}");
    }
    assert_eq!((&kept["recorded_by"], &kept["burn_seen"]), (&json!("grinder"), &json!(false)));
    let checks = shop.read("/v1/form-tools/FT-G1/checks");
    assert_eq!(checks["items"].as_array().map(Vec::len), Some(2));
}

pub(crate) fn touch_ups_and_partial_grinds(shop: &Shop) {
    shop.new_tool("FT-G2", "TD-11");
    let touched = shop.grind("FT-G2", &json!({"kind": "touch_up"}));
    assert_eq!((&touched["height_after"], &touched["regrind_count"]), (&inches(1.25), &json!(0)));
    assert_eq!(shop.tool("FT-G2")["condition"], "needs_check");
    let partial = shop.grind("FT-G2", &json!({"kind": "partial", "height_after": inches(1.245)}));
    assert_eq!((&partial["edge_ended"], &partial["regrind_count"]), (&Value::Null, &json!(1)));
    let again = json!({"kind": "full", "height_after": inches(1.23), "edge_ended": "worn", "regrind_count": 4});
    let counted = shop.grind("FT-G2", &again);
    assert_eq!(counted["regrind_count"], 4);
    let back = json!({"kind": "full", "height_after": inches(1.2), "edge_ended": "worn", "regrind_count": 4});
    assert_eq!(shop.refused("grinder", "/v1/form-tools/FT-G2/regrinds", &back), ["grind-count-goes-back"]);
    let higher = full(1.26);
    assert_eq!(shop.refused("grinder", "/v1/form-tools/FT-G2/regrinds", &higher), ["tool-height-rises"]);
    let other =
        json!({"kind": "full", "height_before": inches(1.2), "height_after": inches(1.18), "edge_ended": "worn"});
    assert_eq!(shop.refused("grinder", "/v1/form-tools/FT-G2/regrinds", &other), ["tool-height-differs"]);
    assert_eq!(shop.tool("FT-G2")["height"], inches(1.23));
    // A check that measures it sets the record right, downward.
    let low = passed(1.2, 6.0);
    assert_eq!(shop.refused("grinder", "/v1/form-tools/FT-G2/checks", &low), ["own-grind-not-passed"]);
    let _ = shop.check("inspector", "FT-G2", &low);
    assert_eq!(shop.tool("FT-G2")["height"], inches(1.2));
}

pub(crate) fn burn_and_one_s_own_grind(shop: &Shop) {
    shop.new_tool("FT-G3", "TD-11");
    let mut burnt = full(1.235);
    burnt["burn_seen"] = json!(true);
    let ground = shop.grind("FT-G3", &burnt);
    assert!(ground["remarks"].to_string().contains("Burn was seen"), "{ground}");
    let checks = "/v1/form-tools/FT-G3/checks";
    assert_eq!(shop.refused("grinder", checks, &passed(1.235, 6.0)), ["burn-not-cleared", "own-grind-not-passed"]);
    assert_eq!(shop.refused("inspector", checks, &passed(1.235, 6.0)), ["burn-not-cleared"]);
    // Grinding on does not clear it.
    let _ = shop.grind("FT-G3", &full(1.22));
    assert_eq!(shop.refused("inspector", checks, &passed(1.22, 6.0)), ["burn-not-cleared"]);
    let _ = shop.check("inspector", "FT-G3", &with(passed(1.22, 6.0), &[("edge_sound", json!(true))]));
    let _ = shop.grind("FT-G3", &full(1.205));
    let _ = shop.check("inspector", "FT-G3", &passed(1.205, 6.0));
    // In an open setup nothing is ground or checked: FT-007 runs on M-102, and its pieces are still to be booked.
    let running = shop.refused("grinder", "/v1/form-tools/FT-007/regrinds", &full(1.19));
    assert_eq!(running, ["item-in-setup", "run-not-booked"]);
    assert_eq!(shop.refused("inspector", "/v1/form-tools/FT-007/checks", &accepted()), ["item-in-setup"]);
}

pub(crate) fn below_the_minimum(shop: &Shop) {
    shop.new_tool("FT-G4", "TD-11");
    // 12.7 mm is exactly the minimum of 0.5 in.
    let at = json!({"kind": "full", "height_after": millimetres(12.7), "edge_ended": "early"});
    // Fifty grinds at once are asked after.
    assert_eq!(shop.refused("grinder", "/v1/form-tools/FT-G4/regrinds", &at), ["reading-not-confirmed"]);
    let at = with(at, &[("confirmed", json!(true))]);
    let caution = |ground: &Value| ground["caution"].as_str().expect("a caution").to_owned();
    let last = shop.grind("FT-G4", &at);
    assert_eq!(last["retired"], false);
    assert!(caution(&last).starts_with("Waits for a check"), "{last}");
    let outlook = shop.read("/v1/form-tools/FT-G4/outlook");
    assert_eq!(outlook["regrinds_left"], 0);
    assert!(outlook["cautions"][0].as_str().is_some_and(|text| text.contains("last edge")), "{outlook}");
    let below = json!({"kind": "full", "height_after": millimetres(12.699_999), "edge_ended": "early"});
    let ground = shop.grind("FT-G4", &below);
    assert_eq!(ground["retired"], true);
    assert!(ground["remarks"].to_string().contains("the tool is retired"), "{ground}");
    // Nobody uses it any more: it waits for no check, and its edge is as sharp as any.
    assert!(!caution(&ground).contains("check") && caution(&ground).contains("Edges are sharp"), "{ground}");
    assert_eq!(shop.tool("FT-G4")["condition"], "retired");
    assert_eq!(shop.refused("grinder", "/v1/form-tools/FT-G4/regrinds", &full(0.49)), ["tool-retired"]);
    let check = with(passed(0.5, 6.0), &[("height", millimetres(12.69))]);
    let check = shop.refused("inspector", "/v1/form-tools/FT-G4/checks", &check);
    assert_eq!(check, ["tool-below-minimum-height", "tool-retired"]);
    assert_eq!(shop.read("/v1/form-tools/FT-G4/outlook")["pieces_left"]["expected"], 0);
}

pub(crate) fn circular_tools(shop: &Shop) {
    let design = json!({"code": "TD-C1", "name": "Circular form", "kind": "circular",
        "steps": [{"diameter": millimetres(10.0), "z": millimetres(0.0),
            "tolerance": {"lower": millimetres(-0.05), "upper": millimetres(0.05)}}],
        "rake_deg": 10.0, "clearance_deg": 20.0, "tool_radius": millimetres(30.0), "usable_angle_deg": 240.0,
        "minimum_height": millimetres(20.0), "grind_stock": millimetres(0.5), "holder_style": "CF-A",
        "expected_pieces_per_grind": 3000});
    let made = shop.done("supervisor", "/v1/tool-designs", &design);
    // 240° at 30 mm are 125.663706144 mm of arc beyond the 20 that must stay.
    assert_eq!(made["new_height"], millimetres(145.663_706_144));
    let mut both = design.clone();
    both["new_height"] = millimetres(100.0);
    both["code"] = json!("TD-C2");
    assert_eq!(shop.unfit("supervisor", "/v1/tool-designs", &both), ["/new_height"]);
    let turned = shop.patch("/v1/tool-designs/TD-C1", &json!({"lead_time_days": 21}));
    assert_eq!((&turned["lead_time_days"], &turned["usable_angle_deg"]), (&json!(21), &json!(240.0)));

    let new = json!({"code": "FT-C1", "design": "TD-C1", "usable_angle_deg": 180.0, "place": "BIN-A1"});
    let _ = shop.done("supervisor", "/v1/form-tools", &new);
    // As it was entered: what a picometre of arc can tell apart, and no noise behind it.
    assert_eq!(shop.tool("FT-C1")["usable_angle_deg"], json!(180.0));
    let traveller = shop.read("/v1/form-tools/FT-C1/traveller");
    assert_eq!((&traveller["face_offset"], &traveller["consent"]), (&millimetres(15.0), &json!("not_needed")));
    let body = json!({"kind": "full", "usable_angle_after_deg": 178.0, "edge_ended": "worn"});
    let ground = shop.grind("FT-C1", &body);
    assert_eq!(ground["usable_angle_deg"], json!(178.0));
    let checks = "/v1/form-tools/FT-C1/checks";
    let missing = ["face-offset-not-measured", "height-not-measured", "rake-not-measured"];
    assert_eq!(shop.refused("inspector", checks, &accepted()), missing);
    let measured = |height: &Value, offset: f64| {
        with(accepted(), &[("height", height.clone()), ("rake_deg", json!(10.1)), ("face_offset", millimetres(offset))])
    };
    let arc = &ground["height_after"];
    // Half a degree about 30 degrees at 30 mm: from 14.77 to 15.23.
    assert_eq!(shop.refused("inspector", checks, &measured(arc, 15.3)), ["face-offset-off"]);
    let _ = shop.check("inspector", "FT-C1", &measured(arc, 15.01));
    // The grinder's own measurement passes nothing.
    let mut again = json!({"kind": "full", "usable_angle_after_deg": 176.0, "edge_ended": "worn"});
    again["face_offset"] = millimetres(14.99);
    let ground = shop.grind("FT-C1", &again);
    assert_eq!(shop.read("/v1/form-tools/FT-C1/regrinds?limit=1")["items"][0]["face_offset"], millimetres(14.99));
    assert_eq!(shop.refused("inspector", checks, &accepted()), missing);
    let _ = shop.check("inspector", "FT-C1", &measured(&ground["height_after"], 14.99));
    // What is due of a circular tool is told by the angle: a grind of 0.5 mm takes 0.95° at 30 mm.
    let last = json!({"code": "FT-C9", "design": "TD-C1", "usable_angle_deg": 0.6, "place": "BIN-A1"});
    let _ = shop.done("supervisor", "/v1/form-tools", &last);
    let due = shop.read("/v1/due?kind=last_grind");
    assert!(due.to_string().contains("FT-C9 has 0.6° left to grind; one more grind takes 0.954"), "{due}");
    // 176° of 0.5 mm arcs at 30 mm: 184 grinds.
    assert_eq!(shop.read("/v1/form-tools/FT-C1/outlook")["regrinds_left"], 184);
    checked_by_angle(shop);
}

/// What is read off an index plate is what is typed and told: 0.5 mm of arc at 30 mm are 0.95°.
fn checked_by_angle(shop: &Shop) {
    let sentence = |badge: &str, path: &str, body: &Value| {
        let problem = shop.send(badge, path, body).expect(409).json();
        problem["refusals"][0]["sentence"].as_str().expect("a sentence").to_owned()
    };
    let (grinds, checks) = ("/v1/form-tools/FT-C1/regrinds", "/v1/form-tools/FT-C1/checks");
    let traveller = shop.read("/v1/form-tools/FT-C1/traveller");
    let first = &traveller["checks"][0];
    assert_eq!(first, "Measure the usable angle before and after; one usual grind ends at 175.05°.");
    // Three grinds are 2.86°.
    let after = |angle: f64| json!({"kind": "full", "usable_angle_after_deg": angle, "edge_ended": "worn"});
    assert_eq!(shop.refused("grinder", grinds, &after(173.1)), ["reading-not-confirmed"]);
    let told = sentence("grinder", grinds, &after(173.1));
    assert_eq!(told, "Tool FT-C1 would have 173.1° left; it had 176°, and one usual grind takes 0.95°.");
    assert_eq!(shop.refused("grinder", grinds, &after(177.0)), ["tool-height-rises"]);
    let told = sentence("grinder", grinds, &after(177.0));
    assert_eq!(told, "Tool FT-C1 would have 177° left after a grind; before, it has 176°.");
    let _ = shop.grind("FT-C1", &after(175.0));

    let read = |angle: f64| {
        let measured = [("rake_deg", json!(10.0)), ("face_offset", millimetres(15.0))];
        with(with(accepted(), &measured), &[("usable_angle_deg", json!(angle))])
    };
    let both = with(read(175.0), &[("height", millimetres(111.0))]);
    for (body, pointer) in
        [(both, "/usable_angle_deg"), (read(-1.0), "/usable_angle_deg"), (read(361.0), "/usable_angle_deg")]
    {
        assert_eq!(shop.unfit("inspector", checks, &body), [pointer], "{body}");
    }
    assert_eq!(shop.refused("inspector", checks, &read(170.0)), ["reading-not-confirmed"]);
    assert_eq!(shop.refused("inspector", checks, &read(176.0)), ["tool-height-rises"]);
    let told = sentence("inspector", checks, &read(176.0));
    assert_eq!(told, "Tool FT-C1 is on record with 175°; 176° would be more.");
    let checked = shop.check("inspector", "FT-C1", &read(174.9));
    assert_eq!((&checked["usable_angle_deg"], &checked["accepted"]), (&json!(174.9), &json!(true)));
    // 174.9° at 30 mm are 91.577426 mm, beyond the 20 that stay.
    let arc = checked["height"]["value"].as_f64().expect("an arc");
    assert!((arc - 111.577_426).abs() < 1e-6, "{arc}");
    assert_eq!(checked["remarks"], json!(["The record said 175°; from now on it is 174.9°."]));
    assert_eq!(shop.tool("FT-C1")["usable_angle_deg"], json!(174.9));
    let confirmed = with(read(170.0), &[("confirmed", json!(true))]);
    assert_eq!(shop.check("inspector", "FT-C1", &confirmed)["usable_angle_deg"], json!(170.0));
}

pub(crate) fn what_cannot_be_names_the_field(shop: &Shop) {
    let grinds = "/v1/form-tools/FT-G1/regrinds";
    for (body, pointer) in [
        (json!({"kind": "full", "edge_ended": "worn"}), "/height_after"),
        (json!({"kind": "full", "height_after": inches(1.0)}), "/edge_ended"),
        (json!({"kind": "touch_up", "height_after": inches(1.0)}), "/height_after"),
        (
            json!({"kind": "full", "height_after": inches(1.0), "stock": inches(0.1), "edge_ended": "worn"}),
            "/height_after",
        ),
        (
            json!({"kind": "full", "height_after": inches(1.0), "clean_up": inches(0.1), "edge_ended": "worn"}),
            "/clean_up",
        ),
        (json!({"kind": "full", "stock": inches(2.0), "edge_ended": "worn"}), "/stock"),
        (json!({"kind": "full", "height_after": inches(1.0), "edge_ended": "retired"}), "/edge_ended"),
        (json!({"kind": "full", "usable_angle_after_deg": 10.0, "edge_ended": "worn"}), "/usable_angle_after_deg"),
        (json!({"kind": "touch_up", "face_offset": inches(0.1)}), "/face_offset"),
        (json!({"kind": "touch_up", "occurred_at": "2020-01-01T00:00:00Z"}), "/occurred_at"),
        (json!({"kind": "half"}), "/kind"),
        (json!({"kind": "touch_up", "ground_by": "nobody"}), "/ground_by"),
        (json!({"kind": "touch_up", "ground_outside": " "}), "/ground_outside"),
        (json!({"kind": "touch_up", "ground_by": "setter", "ground_outside": "Next door"}), "/ground_outside"),
    ] {
        assert_eq!(shop.unfit("grinder", grinds, &body), [pointer], "{body}");
    }
    let checks = "/v1/form-tools/FT-G1/checks";
    for (body, pointer) in [
        (json!({"accepted": false, "profile_checked": true}), "/condition"),
        (json!({"accepted": true, "profile_checked": true, "condition": "damaged"}), "/condition"),
        (json!({"accepted": true, "profile_checked": true, "found": ["crack"]}), "/found/0"),
        (json!({"accepted": true, "profile_checked": true, "found": ["wear", "wear"]}), "/found/1"),
        (json!({"accepted": true, "profile_checked": true, "found": ["other"]}), "/note"),
        (json!({"accepted": true, "profile_checked": true, "rake_deg": 50}), "/rake_deg"),
        (json!({"accepted": true, "profile_checked": true, "edge_cleared": "tested"}), "/edge_cleared"),
        (json!({"accepted": true, "profile_checked": true, "usable_angle_deg": 90.0}), "/usable_angle_deg"),
    ] {
        assert_eq!(shop.unfit("inspector", checks, &body), [pointer], "{body}");
    }
    let _ = shop.send("grinder", "/v1/form-tools/HD-01/regrinds", &full(1.0)).expect(404);
}
