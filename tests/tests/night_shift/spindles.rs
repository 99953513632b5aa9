//! Centre heights by spindle, and the limit of heights that rests on them.

use crate::{
    shop::{Shop, column, inches},
    walk::{self, STATIONS, height_read},
};
use serde_json::{Value, json};

const HEIGHTS: &str = "/v1/machines/M-101/center-heights";

/// A measurement in which the third spindle lies so many thousandths of an inch higher than the others.
fn measured_with(station: Option<&str>, thousandths: f64, spindles: std::ops::RangeInclusive<u8>) -> Value {
    let at = |spindle: u8| if spindle == 3 { 3.75 + thousandths / 1000.0 } else { 3.75 };
    let spindles = spindles.map(|spindle| json!({"spindle": spindle, "measured": inches(at(spindle))}));
    let mut measured = json!({"measured": inches(3.7501), "standard_uncertainty": inches(0.0001), "reason": "yearly",
        "after_work": false, "spindles": spindles.collect::<Vec<_>>()});
    if let Some(station) = station {
        measured["station"] = json!(station);
    }
    measured
}

pub(crate) fn measured(shop: &Shop) {
    for (body, pointer) in [
        (measured_with(None, 1.0, 1..=5), "/spindles"),
        (measured_with(None, 1.0, 2..=7), "/spindles"),
        (measured_with(Some("S9"), 1.0, 1..=6), "/station"),
        (
            json!({"measured": inches(3.75), "standard_uncertainty": inches(0.0), "reason": "yearly", "after_work": false,
            "spindles": [{"spindle": 1, "measured": inches(0.0)}]}),
            "/spindles/0/measured/value",
        ),
    ] {
        let problem = shop.send("maintainer", HEIGHTS, &body).expect(422).json();
        assert_eq!(problem["errors"][0]["pointer"], pointer, "{problem}");
    }
    let before = column(&shop.read(HEIGHTS), "id").len();
    let whole = shop.done("maintainer", HEIGHTS, &measured_with(None, 1.0, 1..=6));
    assert_eq!((&whole["spread"], &whole["station"]), (&inches(0.001), &json!(null)));
    let machine = shop.read("/v1/machines/M-101")["center_height"].clone();
    let mut at_s2 = measured_with(Some("S2"), 4.2, 1..=6);
    at_s2["measured"] = inches(3.7502);
    shop.done("maintainer", HEIGHTS, &at_s2);
    assert_eq!(shop.read("/v1/machines/M-101")["center_height"], machine, "one station's is not the machine's");
    let listed = shop.read(HEIGHTS);
    assert_eq!(column(&listed, "id").len(), before + 2);
    let newest = &listed["items"][0];
    assert_eq!((&newest["station"], newest["spindles"].as_array().unwrap().len()), (&json!("S2"), 6));
    assert_eq!(newest["spindles"][2], json!({"spindle": 3, "measured": inches(3.7542)}));
}

/// The shop's limit is 0.002 in: 0.0015 in are left at S1, and less than nothing at S2.
pub(crate) fn judged_by(shop: &Shop) {
    walk::hand_out(shop, &STATIONS);
    let setup = walk::open(shop, &STATIONS);
    let limits: Vec<_> =
        ["S1", "S2"].map(|code| walk::station(&shop.setup(&setup), code)["height_limit"].clone()).into();
    assert_eq!(
        limits[0],
        json!({"limit": inches(0.0015), "shop": inches(0.002), "spread": inches(0.001), "leaves_nothing": false})
    );
    assert_eq!((&limits[1]["limit"], &limits[1]["leaves_nothing"]), (&inches(-0.0001), &json!(true)));
    let s1 = &STATIONS[0];
    for event in [walk::holder_seated(s1), walk::tool_inserted(s1), walk::gauge_placed(s1)] {
        shop.event("setter", &setup, &event);
    }
    let outside = shop.event("setter", &setup, &height_read(s1, "before_clamping", 0.0016));
    assert_eq!(walk::station(&outside, "S1")["height_before_clamping"]["within_limit"], false);
    let refused = shop.send("setter", &crate::shop::events_of(&setup), &walk::at_station("tool_clamped", s1));
    let refusal = refused.expect(409).json()["refusals"][0].clone();
    let saw = refusal["saw"].as_str().unwrap();
    assert!(saw.contains("±0.002 in") && saw.contains("0.001 in") && saw.contains("±0.0015 in"), "{refusal}");
    shop.event("setter", &setup, &height_read(s1, "before_clamping", -0.0015));
    shop.event("setter", &setup, &walk::at_station("tool_clamped", s1));
    // Measured again, the newest counts for what is read from then on.
    shop.done("maintainer", HEIGHTS, &measured_with(Some("S1"), 0.0, 1..=6));
    let read = shop.event("setter", &setup, &height_read(s1, "after_clamping", 0.002));
    assert_eq!(walk::station(&read, "S1")["height_after_clamping"]["within_limit"], true);
    assert_eq!(walk::station(&read, "S1")["height_limit"]["spread"], inches(0.0));
    shop.event("setter", &setup, &walk::gauge_removed(s1));
    shop.event("setter", &setup, &walk::kind("abandoned"));
}
