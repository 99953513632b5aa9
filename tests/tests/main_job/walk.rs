//! The steps of a setup, as people record them.

use crate::shop::{Shop, inches, named, text};
use serde_json::{Value, json};

/// One station with what is put into it and who sets it. The gauge is in that person's hands, or at the machine.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Station {
    pub(crate) code: &'static str,
    pub(crate) holder: &'static str,
    pub(crate) tool: &'static str,
    pub(crate) gauge: &'static str,
    pub(crate) by: &'static str,
}

pub(crate) fn holder_seated(at: &Station) -> Value {
    json!({"kind": "holder_seated", "station": at.code, "holder": at.holder, "seat_clean": true, "seated_flush": true,
        "side_screw_free": true})
}

pub(crate) fn tool_inserted(at: &Station) -> Value {
    json!({"kind": "tool_inserted", "station": at.code, "form_tool": at.tool})
}

pub(crate) fn gauge_placed(at: &Station) -> Value {
    json!({"kind": "gauge_placed", "station": at.code, "gauge": at.gauge, "machine_stopped": true})
}

pub(crate) fn gauge_removed(at: &Station) -> Value {
    json!({"kind": "gauge_removed", "station": at.code, "gauge": at.gauge})
}

pub(crate) fn height_read(at: &Station, phase: &str, deviation: f64) -> Value {
    json!({"kind": "height_read", "station": at.code, "phase": phase, "deviation": inches(deviation)})
}

pub(crate) fn at_station(kind: &str, at: &Station) -> Value {
    json!({"kind": kind, "station": at.code})
}

pub(crate) fn approach_read(at: &Station) -> Value {
    json!({"kind": "approach_read", "station": at.code, "gap": inches(0.01)})
}

pub(crate) fn adjusted(at: &Station, adjuster: &str) -> Value {
    let mut event = json!({"kind": "adjusted", "station": at.code, "adjuster": adjuster, "turns": 0.25,
        "direction": "clockwise"});
    if matches!(adjuster, "TAPER" | "SIDE") {
        event["holder_retightened"] = json!(true);
        event["side_screw_free"] = json!(true);
    }
    event
}

pub(crate) fn stock_fed(diameter: f64, shape: &str, heat: &str) -> Value {
    json!({"kind": "stock_fed", "bar_diameter": inches(diameter), "bar_shape": shape, "heat": heat})
}

pub(crate) fn kind(kind: &str) -> Value {
    match kind {
        "index_clearance_confirmed" => json!({"kind": kind, "confirmed": true}),
        "closed" | "abandoned" => json!({"kind": kind, "reason": "the order is done"}),
        _ => json!({"kind": kind}),
    }
}

/// A judgement of a first piece with these sizes of the demo shop's part P-2001.
pub(crate) fn first_piece(accepted: bool, sizes: &[(&str, &str, f64)]) -> Value {
    let readings = sizes
        .iter()
        .map(|(station, feature, value)| json!({"station": station, "feature": feature, "value": inches(*value)}));
    json!({"kind": "first_piece_judged", "accepted": accepted, "readings": readings.collect::<Vec<_>>()})
}

/// Sizes of a good piece of P-2001, each inside its limits, one of them at a limit.
pub(crate) const GOOD: [(&str, &str, f64); 3] = [("S1", "D1", 0.505), ("S2", "D2", 0.4795), ("S2", "D3", 0.5992)];

/// A setup on its way to a release: each step is taken where something waits for it.
struct Walk<'a> {
    shop: &'a Shop,
    setup: &'a str,
    blockers: Vec<String>,
}

impl Walk<'_> {
    fn event(&mut self, by: &str, event: &Value) {
        self.blockers = named(&self.shop.event(by, self.setup, event)["blockers"]);
    }

    fn waits_for(&self, rules: &[&str], subject: &str) -> bool {
        rules.iter().any(|rule| self.blockers.contains(&format!("{rule} {subject}")))
    }

    /// Does at a station, in the order of the trade, what is open there.
    fn set_up(&mut self, at: &Station) {
        if self.waits_for(&["holder-not-seated", "seat-not-confirmed", "crash-not-cleared"], at.code) {
            self.event(at.by, &holder_seated(at));
        }
        if self.waits_for(&["tool-not-inserted"], at.code) {
            self.event(at.by, &tool_inserted(at));
        }
        if self.waits_for(&["height-not-rechecked", "height-not-read", "height-outside-limit"], at.code) {
            self.event(at.by, &gauge_placed(at));
            if self.waits_for(&["not-clamped"], at.code) {
                let on_gauge = json!({"kind": "height_read", "station": at.code, "phase": "before_clamping",
                    "on_gauge": true});
                self.event(at.by, &on_gauge);
                self.event(at.by, &at_station("tool_clamped", at));
            }
            self.event(at.by, &height_read(at, "after_clamping", 0.0002));
            self.event(at.by, &gauge_removed(at));
        }
    }
}

/// Brings a setup from wherever it stands to where it could be released.
pub(crate) fn make_ready(shop: &Shop, setup: &str, stations: &[Station]) {
    make_ready_with(shop, setup, stations, &first_piece(true, &GOOD));
}

/// The same with this judgement of the first piece.
pub(crate) fn make_ready_with(shop: &Shop, setup: &str, stations: &[Station], judged: &Value) {
    let now = shop.setup(setup);
    let machine = text(&now["machine"]);
    let mut walk = Walk { shop, setup, blockers: named(&now["blockers"]) };
    let by = stations[0].by;
    for station in stations {
        walk.set_up(station);
    }
    if walk.waits_for(&["stock-not-fed"], &machine) {
        walk.event(by, &stock_fed(0.6875, "round", "H-1"));
    }
    if walk.waits_for(&["index-clearance-not-confirmed"], &machine) {
        walk.event(by, &kind("index_clearance_confirmed"));
    }
    for station in stations {
        if walk.waits_for(&["approach-not-read"], station.code) {
            walk.event(station.by, &approach_read(station));
        }
    }
    if walk.waits_for(&["trial-not-begun"], &machine) {
        walk.event(by, &kind("trial_cut_begun"));
    }
    if walk.waits_for(&["first-piece-not-accepted"], &machine) {
        walk.event("inspector", &of_a_new_piece(shop, setup, judged));
    }
    assert!(walk.blockers.is_empty(), "{:?}", walk.blockers);
}

/// Hands items out to an inspector, who brings them back to their places as usable.
pub(crate) fn checked(shop: &Shop, items: &[(&str, &str)]) {
    let codes: Vec<_> = items.iter().map(|(code, _)| code).collect();
    shop.done("clerk", "/v1/checkouts", &json!({"items": codes, "person": "inspector", "purpose": "check"}));
    let good = items.iter().map(|(code, place)| json!({"code": code, "place": place, "condition": "usable"}));
    shop.done("inspector", "/v1/checkins", &json!({"items": good.collect::<Vec<_>>()}));
}

/// The same judgement, of the first piece that tells of every station as it is set now.
pub(crate) fn of_a_new_piece(shop: &Shop, setup: &str, judged: &Value) -> Value {
    let now = shop.setup(setup);
    let stations = now["stations"].as_array().expect("stations");
    let first = stations.iter().filter_map(|station| station["first_good_piece"].as_u64()).max();
    let mut judged = judged.clone();
    judged["piece"] = json!(first);
    judged
}

/// Nothing blocks a release.
#[track_caller]
pub(crate) fn ready(shop: &Shop, setup: &str) {
    let now = shop.setup(setup);
    assert_eq!(now["blockers"], json!([]), "{now}");
}

/// The two stations of P-2001 on M-101 with the tools of the demo shop, both set by one person with one gauge.
pub(crate) const STATIONS: [Station; 2] = [
    Station { code: "S1", holder: "HD-01", tool: "FT-001", gauge: "CG-101", by: "setter" },
    Station { code: "S2", holder: "HD-02", tool: "FT-004", gauge: "CG-101", by: "setter" },
];

/// Hands out what the stations need, where it is not out yet.
pub(crate) fn hand_out(shop: &Shop, stations: &[Station]) {
    for station in stations {
        for item in [station.holder, station.tool, station.gauge] {
            if shop.item(item)["where"]["kind"] == "place" {
                shop.done("clerk", "/v1/checkouts", &json!({"items": [item], "person": station.by, "purpose": "use"}));
            }
        }
    }
}

/// Opens a setup of P-2001 on M-101.
pub(crate) fn open(shop: &Shop, stations: &[Station]) -> String {
    let wanted: Vec<_> = stations.iter().map(|station| json!({"station": station.code})).collect();
    let new = json!({"machine": "M-101", "part": "P-2001", "stations": wanted});
    text(&shop.done("setter", "/v1/setups", &new)["id"])
}

/// One station of a setup.
#[track_caller]
pub(crate) fn station<'a>(setup: &'a Value, code: &str) -> &'a Value {
    let stations = setup["stations"].as_array().expect("stations");
    stations.iter().find(|station| station["station"] == code).unwrap_or_else(|| panic!("no station {code}: {setup}"))
}
