//! What a change to a finished setup asks to be proven again: the table, row by row, and the pieces formed before.

use crate::{
    shop::{Shop, column, inches, named},
    walk::{self, STATIONS, Station, adjusted, at_station, kind, stock_fed},
};
use serde_json::{Value, json};

const S1: Station = STATIONS[0];
const S2: Station = STATIONS[1];

const ANEW: [&str; 2] = ["first-piece-not-accepted M-101", "trial-not-begun M-101"];

/// These and the first piece; with `trial`, the trial too.
fn with_first_piece(trial: bool, more: &[&str]) -> Vec<String> {
    let mut all: Vec<String> = more.iter().chain(&ANEW[..=usize::from(trial)]).map(|rule| (*rule).to_owned()).collect();
    all.sort();
    all
}

/// Each row begins with a setup that nothing blocks, and is followed by exactly what it re-opens.
pub(crate) fn every_row_of_the_table(shop: &Shop) -> String {
    walk::hand_out(shop, &STATIONS);
    let setup = walk::open(shop, &STATIONS);
    walk::make_ready(shop, &setup, &STATIONS);
    let row = |event: &Value, trial: bool, re_opened: &[&str]| {
        walk::make_ready(shop, &setup, &STATIONS);
        let now = shop.event("setter", &setup, event);
        assert_eq!(named(&now["blockers"]), with_first_piece(trial, re_opened), "after {event}");
        now
    };

    // Unclamped, and the height screw turned: the screw only with the tool unclamped.
    let unclamped = ["approach-not-read S1", "height-not-rechecked S1", "not-clamped S1"];
    row(&at_station("tool_unclamped", &S1), true, &unclamped);
    let turned = shop.event("setter", &setup, &adjusted(&S1, "HEIGHT"));
    let all = with_first_piece(true, &[&unclamped[..], &["height-not-read S1"]].concat());
    assert_eq!(named(&turned["blockers"]), all, "after the height screw");
    walk::make_ready(shop, &setup, &STATIONS);
    assert_eq!(shop.event_refused("setter", &setup, &adjusted(&S1, "HEIGHT")), ["still-clamped S1"]);

    // Taper and side screw move the holder: the height after clamping is advised to be read again, and does not block.
    for screw in ["TAPER", "SIDE"] {
        let now = row(&adjusted(&S1, screw), false, &["approach-not-read S1"]);
        assert_eq!(walk::station(&now, "S1")["recheck_advised"], true, "{screw}");
        assert_eq!(walk::station(&now, "S2")["recheck_advised"], false, "{screw}");
        let mut unanswered = adjusted(&S1, screw);
        let fields = unanswered.as_object_mut().expect("an object");
        fields.remove("holder_retightened");
        fields.remove("side_screw_free");
        assert_eq!(shop.event_refused("setter", &setup, &unanswered), ["seat-not-confirmed S1"], "{screw}");
    }
    // Left loose, it is recorded and blocks.
    let mut loose = adjusted(&S1, "TAPER");
    loose["holder_retightened"] = json!(false);
    row(&loose, true, &["approach-not-read S1", "seat-not-confirmed S1"]);
    shop.event("setter", &setup, &adjusted(&S1, "TAPER"));

    row(&adjusted(&S2, "SLIDE"), false, &["approach-not-read S2"]);
    assert_eq!(shop.event_refused("setter", &setup, &adjusted(&S2, "DEPTH")), ["adjuster-unknown S2"]);

    // Another tool: everything of the station, the index.
    let other_tool = Station { tool: "FT-002", ..S1 };
    walk::hand_out(shop, &[other_tool]);
    let anew = [
        "approach-not-read S1",
        "height-not-read S1",
        "height-not-rechecked S1",
        "index-clearance-not-confirmed M-101",
        "not-clamped S1",
    ];
    let now = row(&walk::tool_inserted(&other_tool), true, &anew);
    assert_eq!(walk::station(&now, "S1")["tool"], "FT-002");
    assert!(shop.item("FT-001")["in_setup"].is_null() && shop.item("FT-002")["in_setup"].is_object());
    // Another holder: the same, and its tool is out.
    let other_holder = Station { holder: "HD-03", ..S1 };
    walk::hand_out(shop, &[other_holder]);
    let no_tool = [&anew[..], &["tool-not-inserted S1"]].concat();
    row(&walk::holder_seated(&other_holder), true, &no_tool);
    assert!(shop.item("FT-002")["in_setup"].is_null() && shop.item("HD-01")["in_setup"].is_null());

    // Taken out to be ground. For use it is not handed out of a setup.
    walk::make_ready(shop, &setup, &STATIONS);
    shop.event("setter", &setup, &walk::holder_seated(&S1));
    walk::make_ready(shop, &setup, &STATIONS);
    let out = |purpose: &str| json!({"items": ["FT-001"], "person": "grinder", "purpose": purpose});
    assert_eq!(shop.refused("clerk", "/v1/checkouts", &out("use")), ["item-in-setup FT-001"]);
    shop.done("clerk", "/v1/checkouts", &out("grind"));
    let now = shop.setup(&setup);
    assert_eq!(named(&now["blockers"]), with_first_piece(true, &no_tool), "after the tool went to be ground");
    assert_eq!(shop.keeper("FT-001"), "Gus Lindqvist");
    let events = shop.read(&crate::shop::events_of(&setup));
    assert_eq!(column(&events, "kind").last().map(String::as_str), Some("item_taken_out"));
    // It comes back from grinding, is checked, and goes out again.
    let back =
        json!({"items": [{"code": "FT-001", "place": "BIN-A1", "condition": "needs_check"}], "person": "grinder"});
    shop.done("clerk", "/v1/checkins", &back);
    walk::checked(shop, &[("FT-001", "BIN-A1")]);
    shop.done("clerk", "/v1/checkouts", &json!({"items": ["FT-001"], "person": "setter", "purpose": "use"}));

    // Another bar; the same one again changes nothing.
    let bars = [stock_fed(0.75, "round", "H-1"), stock_fed(0.75, "hexagon", "H-1"), stock_fed(0.75, "hexagon", "H-2")];
    for bar in &bars {
        let again = ["approach-not-read S1", "approach-not-read S2", "index-clearance-not-confirmed M-101"];
        row(bar, true, &again);
    }
    walk::make_ready(shop, &setup, &STATIONS);
    assert_eq!(shop.event("setter", &setup, &bars[2])["blockers"], json!([]));
    setup
}

/// Pieces that were already formed when a screw was turned still drop, and say nothing about it.
pub(crate) fn pieces_from_before(shop: &Shop, setup: &str) {
    let now = shop.setup(setup);
    // Six positions, the cut-off at the sixth, one piece a cycle.
    assert_eq!(walk::station(&now, "S1")["pieces_to_discard"], 5);
    assert_eq!(walk::station(&now, "S2")["pieces_to_discard"], 4);
    // Eight positions, two pieces a cycle, the station at the third.
    let other = shop.read("/v1/setups?machine=M-103&open=true");
    let other = shop.setup(crate::shop::items(&other)[0]["id"].as_str().expect("an id"));
    assert_eq!(walk::station(&other, "S3")["pieces_to_discard"], 10);

    let sizes = |station: &str, feature: &str, piece: u64| {
        let readings = json!([{"feature": feature, "value": inches(0.48)}]);
        json!({"kind": "sizes_read", "station": station, "piece": piece, "spindle": 2, "readings": readings})
    };
    let first = walk::station(&now, "S1")["first_good_piece"].as_u64().expect("a number") + 100;
    let now = shop.event("setter", setup, &sizes("S1", "D1", first));
    assert_eq!(now["highest_piece"], first);
    let now = shop.event("setter", setup, &adjusted(&S1, "SLIDE"));
    assert_eq!(walk::station(&now, "S1")["first_good_piece"], first + 5 + 1);
    for piece in [1, first, first + 5] {
        assert_eq!(
            shop.event_refused("setter", setup, &sizes("S1", "D1", piece)),
            ["piece-before-adjustment S1"],
            "{piece}"
        );
    }
    // The other station was not touched: the same pieces tell about it.
    shop.event("setter", setup, &sizes("S2", "D2", first + 5));
    shop.event("setter", setup, &sizes("S1", "D1", first + 6));
    // Nor is such a piece judged as a first piece.
    let mut early = walk::first_piece(true, &walk::GOOD);
    early["piece"] = json!(first + 5);
    assert_eq!(shop.event_refused("inspector", setup, &early), ["piece-before-adjustment S1"]);
    early["piece"] = json!(first + 6);
    shop.event("inspector", setup, &early);
    let mut unknown = sizes("S1", "D1", first + 7);
    unknown["spindle"] = json!(7);
    assert_eq!(shop.event_refused("setter", setup, &unknown), ["spindle-unknown M-101"]);
    assert_eq!(shop.event_refused("setter", setup, &sizes("S1", "D2", first + 7)), ["feature-unknown S1"]);
}

/// A crash takes the release, the station, its neighbour, what is in them and the trust in the machine's gauges.
pub(crate) fn a_crash(shop: &Shop, setup: &str) {
    walk::make_ready(shop, setup, &STATIONS);
    shop.event("setter", setup, &kind("run_released"));
    let now = shop.event("setter", setup, &json!({"kind": "crash_reported", "station": "S1"}));
    assert_eq!((&now["state"], &now["pieces_to_book"]), (&json!("stopped"), &json!(true)), "{now}");
    let blockers = named(&now["blockers"]);
    for rule in ["crash-not-cleared S1", "crash-not-cleared S2", "holder-not-seated S1", "tool-not-inserted S2"] {
        assert!(blockers.contains(&rule.to_owned()), "{rule} is not among {blockers:?}");
    }
    for station in STATIONS {
        for item in [station.tool, station.holder] {
            assert_eq!(shop.item(item)["condition"], "needs_check", "{item}");
        }
    }
    assert_eq!(shop.event_refused("setter", setup, &walk::holder_seated(&S1)), ["holder-not-usable HD-01"]);
    let stale = shop.person("setter").get("/v1/machines/M-101/gauge-check?gauge=CG-101").send().expect(200).json();
    assert_eq!(named(&stale["refusals"]), ["gauge-stale CG-101"]);
    shop.event("setter", setup, &json!({"kind": "run_stopped", "pieces": 3, "reason": "struck at S1"}));
    shop.event("setter", setup, &kind("abandoned"));
    // Taken back as they are, judged good again by an inspector, and the gauge by a check.
    let struck: Vec<_> = STATIONS.iter().flat_map(|at| [(at.tool, "BIN-A1"), (at.holder, "BIN-H1")]).collect();
    let back = |condition: &str| {
        let item = |(code, place): &(&str, &str)| json!({"code": code, "place": place, "condition": condition});
        json!({"items": struck.iter().map(item).collect::<Vec<_>>(), "person": "setter"})
    };
    let refused = shop.refused("clerk", "/v1/checkins", &back("usable"));
    assert!(
        refused.len() == struck.len() && refused.iter().all(|rule| rule.starts_with("item-not-usable")),
        "{refused:?}"
    );
    shop.done("clerk", "/v1/checkins", &back("needs_check"));
    // No check that was done before the crash says anything of what it did.
    let opened_at = shop.setup(setup)["opened_at"].clone();
    let sound = json!({"accepted": true, "taper_adjuster_free": true, "height_adjuster_free": true,
        "side_screw_free": true, "seat_clean": true, "performed_at": opened_at});
    let problem = shop.send("inspector", "/v1/holders/HD-01/checks", &sound).expect(422).json();
    assert_eq!(problem["errors"][0]["pointer"], "/performed_at", "{problem}");
    walk::checked(shop, &struck);
    let check = json!({"as_found": inches(3.75), "standard_uncertainty": inches(0.00005), "next_check": "2999-12-31"});
    shop.done("inspector", "/v1/center-gauges/CG-101/checks", &check);
}
