//! End slides: a turnbuckle that moves two of them re-opens the depths of both.

use crate::{
    shop::{Shop, inches, named, text},
    walk,
};
use serde_json::{Value, json};

fn end_slide(code: &str, position: u8, affects: &[&str]) -> Value {
    json!({"code": code, "position": position, "kind": "end_slide", "tool_face": "up", "adjusters": [{
        "code": "DEPTH", "name": "end slide turnbuckle", "threads": [{"per_inch": 16, "hand": "right"},
        {"per_inch": 16, "hand": "left"}], "arrangement": "turnbuckle", "clockwise_moves": "deeper",
        "seen_from": "operator's side", "affects": affects}]})
}

fn drilling(station: &str) -> Value {
    json!({"station": station, "features": [{"code": "L1", "name": "depth", "kind": "depth", "target": inches(0.5),
        "tolerance": {"lower": inches(-0.005), "upper": inches(0.005)}}]})
}

pub(crate) fn an_end_slide_moves_every_depth_that_hangs_on_it(shop: &Shop) {
    let machine = json!({"code": "M-201", "name": "Drilling machine", "spindles": 4, "positions": 4,
        "cutoff_position": 4, "pieces_per_cycle": 1, "spindle_rotation": "clockwise",
        "center_height": {"nominal": inches(3.0)}, "stations": [end_slide("E1", 1, &["E1", "E2"]),
        end_slide("E2", 2, &["E2"]), end_slide("E3", 3, &["E3"])]});
    shop.done("supervisor", "/v1/machines", &machine);
    let part =
        json!({"code": "P-2101", "name": "Bush", "operations": [drilling("E1"), drilling("E2"), drilling("E3")]});
    shop.done("supervisor", "/v1/parts", &part);
    let stations = ["E1", "E2", "E3"];
    let new = json!({"machine": "M-201", "part": "P-2101", "stations": stations.map(|code| json!({"station": code}))});
    let setup = text(&shop.done("setter", "/v1/setups", &new)["id"]);
    let event = |event: Value| shop.event("setter", &setup, &event);
    for (number, station) in stations.iter().enumerate() {
        let drill = format!("DR-{}", 21 + number);
        let item = json!({"code": drill, "kind": "other", "name": "Drill 1/8 in", "place": "SHELF-1"});
        shop.done("supervisor", "/v1/items", &item);
        shop.done("setter", "/v1/checkouts", &json!({"items": [drill], "purpose": "use"}));
        event(json!({"kind": "tool_inserted", "station": station, "form_tool": drill}));
        event(json!({"kind": "tool_clamped", "station": station}));
    }
    event(walk::stock_fed(0.5, "round", "H-1"));
    event(walk::kind("index_clearance_confirmed"));
    let on_trial = event(walk::kind("trial_cut_begun"));
    // A drill is aligned with its spindle and not brought to a height: no gauge, no approach, but a depth.
    let depths = ["depth-not-read E1", "depth-not-read E2", "depth-not-read E3"];
    assert_eq!(named(&on_trial["blockers"]), [&depths[..], &["first-piece-not-accepted M-201"]].concat());
    let depth = |station: &str, piece: u64| json!({"kind": "depth_read", "station": station, "piece": piece, "depth": inches(0.5)});
    for station in stations {
        event(depth(station, 7));
    }
    let sizes: Vec<_> = stations.map(|station| (station, "L1", 0.5)).into();
    shop.event("inspector", &setup, &walk::first_piece(true, &sizes));
    walk::ready(shop, &setup);

    let turn = |station: &str| {
        event(
            json!({"kind": "adjusted", "station": station, "adjuster": "DEPTH", "turns": 0.1, "direction": "clockwise"}),
        )
    };
    let moved = turn("E1");
    assert_eq!(named(&moved["blockers"]), ["depth-not-read E1", "depth-not-read E2", "first-piece-not-accepted M-201"]);
    // Positions 1 and 2, the cut-off at 4: three pieces, and two.
    for (station, first) in [("E1", 7 + 3 + 1), ("E2", 7 + 2 + 1)] {
        assert_eq!(walk::station(&moved, station)["first_good_piece"], first, "{station}");
        let early = shop.event_refused("setter", &setup, &depth(station, first - 1));
        assert_eq!(early, [format!("piece-before-adjustment {station}")]);
        event(depth(station, first));
    }
    event(depth("E3", 7));
    let alone = turn("E2");
    assert_eq!(named(&alone["blockers"]), ["depth-not-read E2", "first-piece-not-accepted M-201"]);
    event(walk::kind("abandoned"));
}
