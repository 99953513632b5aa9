//! What holds for every calculation alike: the same request gives the same bytes, a change of unit changes nothing but
//! the unit, whatever is accepted gives finite numbers, and whatever is refused names its field.
#![expect(clippy::unwrap_used, clippy::panic, reason = "a test may panic")]

use dovetally_core::{
    calc::{ALL, CalculationError, find},
    length::{Length, LengthUnit},
};
use proptest::prelude::*;
use serde_json::{Value, json};

/// One request, or more, for every calculation; lengths in inches, with few decimals.
fn requests() -> Vec<(&'static str, Value)> {
    let slide = json!({"travel_per_turn": 0.05, "ratio": 0.5, "clockwise_moves": "tool_in", "backlash": 0.004, "has_stop": true});
    let height = json!({"threads": [{"per_inch": 28, "hand": "right"}], "clockwise_moves": "edge_up"});
    let taper = json!({"travel_per_turn": 0.04, "arm": 2.5, "clockwise_moves": "far_diameter_up"});
    let readings = json!([
        {"z": 0.0, "target_diameter": 0.4, "measured_diameter": 0.4021},
        {"z": 0.2, "target_diameter": 0.6, "measured_diameter": 0.6008},
        {"z": 0.4, "target_diameter": 0.5, "measured_diameter": 0.5027},
        {"z": 0.6, "target_diameter": 0.8, "measured_diameter": 0.8003},
        {"z": 0.9, "target_diameter": 0.7, "measured_diameter": 0.7032}
    ]);
    let form = |rake: f64| {
        json!({"unit": "in", "clearance_deg": 12, "rake_deg": rake, "smallest_diameter": 0.4, "readings": readings,
            "diameter_standard_uncertainty": 0.0002, "pivot_z": 0.1, "pivot_x": 2.5,
            "adjusters": {"infeed": slide, "height": height, "taper": taper}})
    };
    vec![
        (
            "approach",
            json!({"unit": "in", "bar_diameter": 0.75, "bar_shape": "hexagon", "bar_tolerance": 0.004,
            "runout": 0.006, "smallest_diameter": 0.5, "rise": 0.2, "wanted_gap": 0.01, "working_revolutions": 100}),
        ),
        (
            "bar-stock",
            json!({"unit": "in", "bar_length": 144, "remnant": 4, "part_length": 1.25, "cutoff": 0.125,
            "facing": 0.015, "pieces": 10000, "scrap_fraction": 0.02}),
        ),
        (
            "capability",
            json!({"unit": "in", "lower_limit": 0.498, "upper_limit": 0.502,
            "readings": [0.4995, 0.5001, 0.5004, 0.4999, 0.5003, 0.4997], "confidence": 0.9,
            "tolerance_interval": {"share": 0.9, "confidence": 0.95}}),
        ),
        ("capability", json!({"unit": "in", "lower_limit": 0.498, "mean": 0.5, "standard_deviation": 0.0004, "n": 40})),
        (
            "center-height-effect",
            json!({"unit": "in", "height": 0.01, "clearance_deg": 12, "rake_deg": 8,
            "smallest_diameter": 0.4, "steps": [{"diameter": 0.4}, {"diameter": 0.7}], "hold": "tool_ways",
            "diameter_limits": {"lower": -0.001, "upper": 0.0015}, "shop_height_limit": 0.0015}),
        ),
        (
            "circular-form-profile",
            json!({"unit": "in", "tool_radius": 1.25, "face_below_center": 0.2, "rake_deg": 8,
            "smallest_diameter": 0.4, "steps": [{"diameter": 0.7}]}),
        ),
        ("control-limits", json!({"chart": "individuals", "readings": [5, 6, 5, 7, 6]})),
        ("control-limits", json!({"chart": "xbar_r", "subgroups": [[1, 2, 3], [2, 3, 4], [2, 2, 5]]})),
        ("control-limits", json!({"chart": "ewma", "readings": [5, 6, 5], "parameters": {"lambda": 0.2}})),
        (
            "control-limits",
            json!({"chart": "cusum", "readings": [5, 6, 5], "parameters": {"center": 5, "k": 0.5, "h": 4}}),
        ),
        (
            "cutting",
            json!({"unit": "in", "diameter": 0.75, "rpm": 1200, "feed_per_revolution": 0.0015,
            "radial_depth": 0.125, "approach": 0.01, "idle_seconds": 1.5, "efficiency": 0.8}),
        ),
        (
            "drill-depth",
            json!({"unit": "in", "target_depth": 0.25, "cone": {"mouth_diameter": 0.25, "pilot_diameter": 0.125,
            "pilot_length": 0.125, "included_angle_deg": 60},
            "adjuster": {"travel_per_turn": 0.1, "clockwise_moves": "deeper"}}),
        ),
        (
            "flat-form-profile",
            json!({"unit": "in", "clearance_deg": 12, "rake_deg": 5, "smallest_diameter": 0.5,
            "steps": [{"diameter": 0.75}]}),
        ),
        ("form-diagnosis", form(8.0)),
        ("form-diagnosis", form(0.0)),
        (
            "gauge-conformity",
            json!({"unit": "in", "lower_limit": 0.499, "upper_limit": 0.501, "measured": 0.5004,
            "standard_uncertainty": 0.0002}),
        ),
        ("intermittent-demand", json!({"demand": [0, 3, 0, 0, 1], "alpha": 0.2})),
        (
            "lateral-correction",
            json!({"unit": "in", "target_length": 0.75, "measured_length": 0.755,
            "measured_from": "free_end", "adjuster": {"travel_per_turn": 0.05, "clockwise_moves": "toward_collet"}}),
        ),
        ("life-distribution", json!({"failures": [10, 20, 30], "suspensions": [40], "quantiles": [0.5]})),
        ("mtbf", json!({"total_time": 1000, "failures": 3, "confidence": 0.9, "sided": "two"})),
        (
            "regrind-outlook",
            json!({"unit": "in", "kind": "flat", "height": 1.5, "minimum_height": 0.5, "wear_land": 0.008,
            "clearance_deg": 12, "rake_deg": 8, "clean_up": 0.002, "pieces_per_grind": 1600}),
        ),
        (
            "regrind-outlook",
            json!({"unit": "in", "kind": "circular", "tool_radius": 1.2, "usable_angle_deg": 240,
            "stock_per_grind": 0.02}),
        ),
        ("reorder", json!({"demand_per_day": 0.4, "lead_time_days": 10, "model": "poisson", "service": 0.95})),
        (
            "reorder",
            json!({"demand_per_day": 40, "lead_time_days": 3, "model": "normal", "standard_deviation": 9,
            "holding_cost": 0.1, "shortage_cost": 4, "ordering_cost": 8, "method": "least_cost"}),
        ),
        (
            "screw-travel",
            json!({"unit": "in", "threads": [{"per_inch": 20, "hand": "right"}, {"pitch": 0.04, "hand": "right"}],
            "arrangement": "differential", "turns": 1.5}),
        ),
        (
            "setting-adjustment",
            json!({"unit": "in", "target": 0.5, "measured": [0.504, 0.501], "applied": [-0.004, 0.0],
            "process_standard_deviation": 0.0005}),
        ),
        (
            "slide-correction",
            json!({"unit": "in", "target_diameter": 0.5, "measured_diameters": [0.504, 0.5035, 0.505],
            "adjuster": slide, "diameter_limits": {"lower": -0.002, "upper": 0.001}}),
        ),
        (
            "taper",
            json!({"unit": "in", "near_diameter": 0.5, "far_diameter": 0.504, "distance": 1.1, "adjuster": taper,
            "target_half_angle_deg": 0.05, "diameter_standard_uncertainty": 0.0001}),
        ),
        (
            "thermal",
            json!({"unit": "in", "measured_length": 4, "part_temperature_c": 30, "gauge_temperature_c": 21,
            "part_ppm_per_c": 20, "gauge_ppm_per_c": 11.5, "part_temperature_c_uncertainty": 0.5}),
        ),
        (
            "tool-life",
            json!({"points": [{"speed": 100, "minutes": 60}, {"speed": 150, "minutes": 15}], "speed": 120,
            "cut_seconds_per_piece": 4.5}),
        ),
        ("tool-life", json!({"n": 0.25, "c": 400, "speed": 120, "wanted_minutes": 90})),
        (
            "uncertainty-budget",
            json!({"unit": "in", "components": [
            {"name": "gauge", "standard_uncertainty": 0.0002, "degrees_of_freedom": 10},
            {"name": "temperature", "standard_uncertainty": 0.0003, "sensitivity": 0.8}]}),
        ),
        (
            "wear-trend",
            json!({"unit": "in", "readings": [{"pieces": 0, "value": 0.5001}, {"pieces": 500, "value": 0.5005},
            {"pieces": 1000, "value": 0.5012}, {"pieces": 1500, "value": 0.5014}], "upper_limit": 0.505}),
        ),
    ]
}

/// The fields that hold lengths, whichever calculation they belong to.
const LENGTHS: &[&str] = &[
    "travel_per_turn",
    "shop_height_limit",
    "arm",
    "backlash",
    "pitch",
    "bar_diameter",
    "bar_tolerance",
    "runout",
    "smallest_diameter",
    "rise",
    "wanted_gap",
    "bar_length",
    "remnant",
    "part_length",
    "cutoff",
    "facing",
    "lower_limit",
    "upper_limit",
    "readings",
    "mean",
    "standard_deviation",
    "height",
    "diameter",
    "lower",
    "upper",
    "tool_radius",
    "face_below_center",
    "feed_per_revolution",
    "radial_depth",
    "approach",
    "target_depth",
    "mouth_diameter",
    "pilot_diameter",
    "pilot_length",
    "z",
    "target_diameter",
    "measured_diameter",
    "diameter_standard_uncertainty",
    "pivot_z",
    "pivot_x",
    "measured",
    "standard_uncertainty",
    "target_length",
    "measured_length",
    "minimum_height",
    "wear_land",
    "clean_up",
    "stock_per_grind",
    "target",
    "applied",
    "process_standard_deviation",
    "measured_diameters",
    "near_diameter",
    "far_diameter",
    "distance",
    "value",
];

fn calculate(name: &str, request: &Value) -> Result<String, CalculationError> {
    (find(name).unwrap().calculate)(request.to_string().as_bytes())
}

fn answered(name: &str, request: &Value) -> Value {
    serde_json::from_str(&calculate(name, request).unwrap_or_else(|error| panic!("{name} {request}: {error}"))).unwrap()
}

/// A request in millimetres: exactly the same lengths.
fn in_millimetres(value: &Value, is_length: bool) -> Value {
    match value {
        Value::Number(number) if is_length => {
            Length::new(number.as_f64().unwrap(), LengthUnit::Inch).unwrap().value_in(LengthUnit::Millimetre).into()
        }
        Value::Array(items) => items.iter().map(|item| in_millimetres(item, is_length)).collect(),
        Value::Object(fields) => fields
            .iter()
            .map(|(name, field)| {
                let field =
                    if name == "unit" { json!("mm") } else { in_millimetres(field, LENGTHS.contains(&name.as_str())) };
                (name.clone(), field)
            })
            .collect(),
        other => other.clone(),
    }
}

/// Every number of a value, with its pointer.
fn numbers(value: &Value, pointer: &str, into: &mut Vec<(String, f64)>) {
    match value {
        Value::Number(number) => into.push((pointer.to_owned(), number.as_f64().unwrap())),
        Value::Array(items) => {
            items.iter().enumerate().for_each(|(i, item)| numbers(item, &format!("{pointer}/{i}"), into));
        }
        Value::Object(fields) => {
            fields.iter().for_each(|(name, field)| numbers(field, &format!("{pointer}/{name}"), into))
        }
        _ => {}
    }
}

fn has_null(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(items) => items.iter().any(has_null),
        Value::Object(fields) => fields.values().any(has_null),
        _ => false,
    }
}

#[test]
fn every_calculation_is_here() {
    let asked = requests();
    for entry in ALL {
        assert!(asked.iter().any(|(name, _)| *name == entry.name), "{} has a request", entry.name);
        assert!(entry.answers.ends_with('.') && entry.version >= 1);
    }
    assert!(ALL.windows(2).all(|pair| pair[0].name < pair[1].name), "in the order of names, each once");
    assert!(find("guess").is_none());
}

#[test]
fn answers_show_their_work() {
    for (name, request) in requests() {
        let first = calculate(name, &request).unwrap();
        assert_eq!(first, calculate(name, &request).unwrap(), "{name}: the same bytes");
        let answer: Value = serde_json::from_str(&first).unwrap();
        assert_eq!(answer["calculation"], name);
        for list in ["steps", "corrections", "cautions", "sources"] {
            assert!(answer[list].is_array(), "{name}: {list}");
        }
        assert!(!answer["steps"].as_array().unwrap().is_empty(), "{name} shows steps");
        assert!(!answer["sources"].as_array().unwrap().is_empty(), "{name} names sources");
        assert!(!answer["sentence"].as_str().unwrap().is_empty());
        assert_eq!(answer["unit"], request.get("unit").cloned().unwrap_or(Value::Null), "{name}");
        // The request as understood is itself a request with the same answer.
        assert_eq!(answered(name, &answer["inputs"])["result"], answer["result"], "{name}");
    }
}

#[test]
fn millimetres_say_what_inches_say() {
    for (name, request) in requests().into_iter().filter(|(_, request)| request.get("unit").is_some()) {
        let inch = answered(name, &request);
        let metric = answered(name, &in_millimetres(&request, false));
        for part in ["result", "corrections"] {
            let (mut a, mut b) = (Vec::new(), Vec::new());
            numbers(&inch[part], "", &mut a);
            numbers(&metric[part], "", &mut b);
            assert_eq!(a.len(), b.len(), "{name}");
            for ((pointer, inches), (_, millimetres)) in a.iter().zip(&b) {
                // A count or an angle is the same; a length is 25.4 times, a squared one 645.16 times as much, and feet a
                // minute are 0.3048 metres.
                let same = [1.0, 25.4, 645.16, 0.3048].iter().any(|factor| {
                    let expected = inches * factor;
                    (millimetres - expected).abs() <= 1e-12 * expected.abs().max(1e-3)
                });
                assert!(same, "{name} {part}{pointer}: {inches} in, {millimetres} mm");
            }
        }
    }
}

#[test]
fn what_is_not_a_request_is_refused() {
    for (name, request) in requests() {
        let mut unknown = request.clone();
        unknown["favourite_colour"] = json!(1);
        let error = calculate(name, &unknown).unwrap_err();
        assert_eq!(error.fields()[0].pointer, "/favourite_colour", "{name}");
        if request.get("unit").is_some() {
            let mut unitless = request.clone();
            unitless.as_object_mut().unwrap().remove("unit");
            assert_eq!(calculate(name, &unitless).unwrap_err().fields()[0].pointer, "/unit", "{name}");
        }
        for text in ["", "{", "NaN", "[1]", "7", "{\"unit\": NaN}", &format!("{request} {request}")] {
            assert!((find(name).unwrap().calculate)(text.as_bytes()).is_err(), "{name}: {text}");
        }
        let mut wide = Vec::new();
        numbers(&request, "", &mut wide);
        for (pointer, _) in wide {
            let mut wrong = request.clone();
            *wrong.pointer_mut(&pointer).unwrap() = json!("seven");
            let error = calculate(name, &wrong).unwrap_err();
            assert_eq!(error.fields()[0].pointer, pointer, "{name}: {error}");
        }
    }
}

/// Numbers that calculations stumble over.
fn strange() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => prop::sample::select(vec![
            0.0, -0.0, 1.0, -1.0, 2.0, 0.5, 1e-12, -1e-12, 1e-300, 5e-324, 1e300, -1e300, f64::MAX, 10_000.0, 9_999.999,
            90.0, 89.999_999, 180.0, 360.0, 0.999_999_999, 1e6, 1e9, 1e15,
        ]),
        2 => -10.0..10.0_f64,
        1 => -1e4..1e4_f64,
        1 => (-12.0..6.0_f64).prop_map(|power| 10.0_f64.powf(power)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(1500) })]

    /// Whatever is accepted gives finite numbers, twice the same; whatever is refused names a field and says why.
    #[test]
    fn strange_numbers_do_no_harm(
        which in any::<prop::sample::Index>(),
        changes in prop::collection::vec((any::<prop::sample::Index>(), strange()), 1..4),
    ) {
        let all = requests();
        let (name, mut request) = all[which.index(all.len())].clone();
        let mut places = Vec::new();
        numbers(&request, "", &mut places);
        for (place, number) in changes {
            let (pointer, before) = &places[place.index(places.len())];
            let place = request.pointer_mut(pointer).unwrap();
            // Whole fields stay whole, or the type alone would refuse them.
            *place = if before.fract() == 0.0 && (0.0..1e15).contains(&number) && number.fract() == 0.0 {
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole, and checked")]
                let whole = number as u64;
                json!(whole)
            } else {
                json!(number)
            };
        }
        match calculate(name, &request) {
            Ok(text) => {
                let answer: Value = serde_json::from_str(&text).unwrap();
                for part in ["result", "corrections", "steps"] {
                    prop_assert!(!has_null(&answer[part]), "{name} {request}: {text}");
                }
                prop_assert!(!text.contains("NaN") && !text.contains("inf "), "{name} {request}: {text}");
                prop_assert_eq!(text, calculate(name, &request).unwrap());
            }
            Err(error) => {
                prop_assert!(!error.fields().is_empty(), "{name} {request}: {error}");
                prop_assert!(error.fields().iter().all(|field| !field.detail.is_empty()));
            }
        }
    }
}
