//! What a check found, who ground, and what waits: none of it is forgotten.

use crate::shop::{Shop, accepted, full, passed, with};
use serde_json::{Value, json};

fn found(finding: &str) -> Value {
    json!({"accepted": false, "profile_checked": true, "found": [finding], "condition": "damaged"})
}

pub(crate) fn a_crack_stays_until_it_is_cleared(shop: &Shop) {
    shop.new_tool("FT-F1", "TD-11");
    let (checks, damaged) = ("/v1/form-tools/FT-F1/checks", || shop.due("tool_damaged").contains(&"FT-F1".to_owned()));
    assert!(!damaged());
    assert_eq!(shop.check("grinder", "FT-F1", &found("crack"))["condition"], "damaged");
    assert!(damaged());
    // The next check forgets nothing, whoever makes it.
    assert_eq!(shop.refused("inspector", checks, &accepted()), ["burn-not-cleared"]);
    let sound = with(passed(1.25, 6.0), &[("edge_sound", json!(true))]);
    assert_eq!(shop.refused("inspector", checks, &sound), ["finding-not-cleared"]);
    let cleared = with(sound.clone(), &[("edge_cleared", json!("Dye penetrant, both faces: a scratch"))]);
    assert_eq!(shop.refused("grinder", checks, &cleared), ["finding-not-cleared"]);
    // Nor while it is left out of use, nor by a touch-up, which takes nothing off.
    let left_out =
        json!({"accepted": false, "profile_checked": true, "edge_sound": true, "condition": "needs_grinding"});
    assert_eq!(shop.refused("grinder", checks, &left_out), ["finding-not-cleared"]);
    let _ = shop.grind("FT-F1", &json!({"kind": "touch_up"}));
    assert_eq!(shop.refused("inspector", checks, &sound), ["finding-not-cleared"]);
    assert!(!damaged() && shop.due("tool_check").contains(&"FT-F1".to_owned()));
    // Nor by a word at the counter.
    let out = json!({"items": ["FT-F1"], "person": "inspector", "purpose": "check"});
    let _ = shop.done("clerk", "/v1/checkouts", &out);
    let back = |condition: &str| json!({"items": [{"code": "FT-F1", "place": "BIN-A1", "condition": condition}]});
    let refused = shop.refused("inspector", "/v1/checkins", &back("usable"));
    assert_eq!(refused, ["burn-not-cleared", "not-checked-after-grind"]);
    let _ = shop.done("inspector", "/v1/checkins", &back("needs_check"));

    let check = shop.check("inspector", "FT-F1", &cleared);
    assert_eq!((&check["condition"], &check["edge_cleared"]), (&json!("usable"), &cleared["edge_cleared"]));
    assert!(!shop.due("tool_check").contains(&"FT-F1".to_owned()));
    let _ = shop.check("inspector", "FT-F1", &accepted());

    // Burn that is ground off is tested for, and then it is gone.
    let _ = shop.check("inspector", "FT-F1", &found("burn"));
    let _ = shop.grind("FT-F1", &full(1.235));
    assert_eq!(shop.refused("inspector", checks, &passed(1.235, 6.0)), ["burn-not-cleared"]);
    // Who ground it finds its edge sound as little as they pass it.
    let left_out = with(left_out, &[("height", crate::shop::inches(1.235))]);
    assert_eq!(shop.refused("grinder", checks, &left_out), ["own-grind-not-passed"]);
    let _ = shop.check("inspector", "FT-F1", &with(passed(1.235, 6.0), &[("edge_sound", json!(true))]));
}

pub(crate) fn who_ground_does_not_pass(shop: &Shop) {
    shop.new_tool("FT-W1", "TD-11");
    let grinds = "/v1/form-tools/FT-W1/regrinds";
    let _ = shop.send("clerk", grinds, &json!({"kind": "touch_up"})).expect(403);
    let _ = shop.send("setter", grinds, &json!({"kind": "touch_up", "ground_outside": "Next door"})).expect(403);
    // What was done outside is recorded by the crib, and anybody of the shop may pass it who checks tools.
    let outside = json!({"kind": "touch_up", "ground_outside": "Grinding shop in the next town"});
    let ground = shop.done("clerk", grinds, &outside);
    assert_eq!((&ground["ground_by"], &ground["ground_outside"]), (&Value::Null, &outside["ground_outside"]));
    assert_eq!(ground["recorded_by"], "clerk");
    let _ = shop.check("grinder", "FT-W1", &passed(1.25, 6.0));
    // Recorded for somebody else: they did it, not whoever wrote it down.
    let ground = shop.grind("FT-W1", &with(full(1.235), &[("ground_by", json!("inspector"))]));
    assert_eq!((&ground["ground_by"], &ground["recorded_by"]), (&json!("inspector"), &json!("grinder")));
    let checks = "/v1/form-tools/FT-W1/checks";
    assert_eq!(shop.refused("inspector", checks, &passed(1.235, 6.0)), ["own-grind-not-passed"]);
    let _ = shop.check("grinder", "FT-W1", &passed(1.235, 6.0));
    assert_eq!(shop.read(grinds)["items"][0]["ground_by"], "inspector");
    let worn = json!({"accepted": false, "profile_checked": true, "found": ["wear"], "condition": "needs_grinding"});
    let _ = shop.check("inspector", "FT-W1", &worn);
    assert!(shop.due("tool_grind").contains(&"FT-W1".to_owned()));
}

/// Whoever passes a tool has it in front of them: one that is at a grinder's outside comes back first.
pub(crate) fn what_is_outside_is_passed_by_nobody_here(shop: &Shop) {
    shop.new_tool("FT-A1", "TD-11");
    let checks = "/v1/form-tools/FT-A1/checks";
    let away = json!({"items": ["FT-A1"], "to": {"place": "OUT-GRIND"}});
    let _ = shop.done("clerk", "/v1/transfers", &away);
    assert_eq!(shop.refused("inspector", checks, &accepted()), ["item-held-elsewhere"]);
    // That it is no good may be told from outside.
    assert_eq!(shop.check("inspector", "FT-A1", &found("chip"))["condition"], "damaged");
    assert_eq!(shop.refused("inspector", checks, &accepted()), ["item-held-elsewhere"]);
    let back = json!({"items": [{"code": "FT-A1", "place": "BIN-A1", "condition": "damaged"}]});
    let _ = shop.done("clerk", "/v1/checkins", &back);
    assert_eq!(shop.check("inspector", "FT-A1", &accepted())["condition"], "usable");
}
