//! What is picked at opening, what is left out, and what is taken out of a station.

use crate::{
    shop::{Shop, named},
    walk::{self, STATIONS},
};
use serde_json::{Value, json};

fn new(stations: &Value) -> Value {
    json!({"machine": "M-101", "part": "P-2001", "stations": stations})
}

pub(crate) fn picked_and_left_out(shop: &Shop) {
    let refused = |stations: &Value| shop.refused("setter", "/v1/setups", &new(stations));
    assert_eq!(refused(&json!([{"station": "S1", "form_tool": "FT-004"}])), ["tool-design-mismatch FT-004"]);
    assert_eq!(refused(&json!([{"station": "S1", "holder": "HD-04"}])), ["holder-style-mismatch HD-04"]);
    assert_eq!(refused(&json!([{"station": "S1", "form_tool": "HD-01"}])), ["item-unknown HD-01"]);
    // Worn, it may still be picked: it is asked for its condition when it is put in.
    let picked = shop.done("setter", "/v1/setups", &new(&json!([{"station": "S1", "form_tool": "FT-003"}])));
    assert_eq!((&picked["left_out"], &picked["stations"][0]["planned_tool"]), (&json!(["S2"]), &json!("FT-003")));
    assert!(named(&picked["blockers"]).iter().all(|blocker| !blocker.ends_with("S2")), "shown, and not in the way");
    shop.event("setter", picked["id"].as_str().unwrap(), &walk::kind("abandoned"));
}

pub(crate) fn taken_out(shop: &Shop) {
    walk::hand_out(shop, &STATIONS);
    let setup = walk::open(shop, &STATIONS);
    assert_eq!(shop.setup(&setup)["left_out"], json!([]));
    let tool_removed = |tool: &str| json!({"kind": "tool_removed", "station": "S1", "form_tool": tool});
    let holder_removed = |holder: &str| json!({"kind": "holder_removed", "station": "S1", "holder": holder});
    assert_eq!(shop.event_refused("setter", &setup, &tool_removed("FT-001")), ["tool-not-inserted S1"]);
    for at in &STATIONS {
        shop.event("setter", &setup, &walk::holder_seated(at));
        shop.event("setter", &setup, &walk::tool_inserted(at));
    }
    assert_eq!(shop.event_refused("setter", &setup, &tool_removed("FT-004")), ["tool-not-inserted S1"]);
    assert_eq!(
        shop.event_refused("setter", &setup, &holder_removed("FT-001")),
        ["holder-not-seated S1", "item-unknown FT-001"]
    );
    let empty = shop.event("setter-2", &setup, &tool_removed("FT-001"));
    let s1 = walk::station(&empty, "S1");
    assert_eq!((&s1["tool"], &s1["holder"]), (&json!(null), &json!("HD-01")));
    assert!(named(&empty["blockers"]).contains(&"tool-not-inserted S1".to_owned()));
    assert_eq!(
        (&shop.item("FT-001")["where"]["kind"], &shop.item("HD-01")["where"]["kind"]),
        (&json!("person"), &json!("machine"))
    );
    // It is nobody's but the remover's, and out of the setup: it can be brought back.
    let back = json!({"items": [{"code": "FT-001", "place": "BIN-A1", "condition": "usable"}]});
    shop.done("setter-2", "/v1/checkins", &back);
    shop.done("clerk", "/v1/checkouts", &json!({"items": ["FT-001"], "person": "setter", "purpose": "use"}));
    shop.event("setter", &setup, &walk::tool_inserted(&STATIONS[0]));
    let bare = shop.event("setter-2", &setup, &holder_removed("HD-01"));
    let s1 = walk::station(&bare, "S1");
    assert_eq!((&s1["tool"], &s1["holder"]), (&json!(null), &json!(null)));
    for item in ["HD-01", "FT-001"] {
        assert_eq!(shop.keeper(item), shop.keeper("HD-01"));
        assert_eq!(shop.item(item)["where"]["kind"], "person", "{item}");
    }
    // A movement each, by the setup.
    let moved = shop.read("/v1/movements?item=FT-001&limit=1");
    assert_eq!(moved["items"][0]["kind"], "setup", "{moved}");
    shop.event("setter", &setup, &walk::kind("abandoned"));
}
