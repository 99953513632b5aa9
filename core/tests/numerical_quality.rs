//! What the numbers promise on random cases: a change of unit changes nothing but the unit, to 1e-12, and screws turned as
//! told make the form that was wanted. (Certified values of the solver: `least_squares.rs`; strange numbers:
//! `every_calculation.rs`; profiles read back, and more taper never meaning fewer turns: beside the formulas.)
#![expect(clippy::unwrap_used, clippy::panic, reason = "a test may panic")]

use dovetally_core::calc::find;
use proptest::prelude::*;
use serde_json::{Value, json};

fn answered(name: &str, request: &Value) -> Value {
    let text = (find(name).unwrap().calculate)(request.to_string().as_bytes())
        .unwrap_or_else(|error| panic!("{name} {request}: {error}"));
    serde_json::from_str(&text).unwrap()
}

fn number(answer: &Value, pointer: &str) -> f64 {
    answer.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer} in {answer}"))
}

const MILLIMETRES: f64 = 25.4;

/// How often a field's value in inches goes into the same in millimetres.
fn factor(field: &str) -> f64 {
    let unitless = ["turns", "flats", "taper_per_length", "taper_per_foot", "degrees_of_freedom", "chi_square"];
    let counts = ["regrinds_left", "pieces_left", "guard_factor", "conformance_probability"];
    if field.ends_with("_deg") || unitless.contains(&field) || counts.contains(&field) {
        1.0
    } else if ["harmonic", "full_correction"].contains(&field) {
        MILLIMETRES * MILLIMETRES
    } else {
        MILLIMETRES
    }
}

/// Fails unless two answers say the same, to 1e-12 of the number or of an inch; counts the numbers compared.
fn same(name: &str, inch: &Value, metric: &Value, field: &str, compared: &mut usize) {
    match (inch, metric) {
        (Value::Number(a), Value::Number(b)) => {
            let (expected, got) = (a.as_f64().unwrap() * factor(field), b.as_f64().unwrap());
            let allowed = 1e-12 * expected.abs().max(factor(field));
            assert!((got - expected).abs() <= allowed, "{name} {field}: {got:e} and not {expected:e}");
            *compared += 1;
        }
        (Value::Array(a), Value::Array(b)) => {
            assert_eq!(a.len(), b.len(), "{name} {field}");
            a.iter().zip(b).for_each(|(a, b)| same(name, a, b, field, compared));
        }
        (Value::Object(a), Value::Object(b)) => {
            assert!(a.keys().eq(b.keys()), "{name} {field}");
            for (key, value) in a.iter().filter(|(key, _)| *key != "sentence") {
                same(name, value, &b[key], key, compared);
            }
        }
        _ => assert_eq!(inch, metric, "{name} {field}"),
    }
}

/// One request for every calculation with lengths that has a formula of its own, from six numbers between 0 and 1.
/// `unit` holds the lengths' unit: 1 for inches, 25.4 for millimetres.
fn requests(draw: &[f64; 6], unit: f64) -> Vec<(&'static str, Value)> {
    let [a, b, c, d, e, f] = *draw;
    let length = |low: f64, high: f64, share: f64| (low + (high - low) * share) * unit;
    let name = if unit == 1.0 { "in" } else { "mm" };
    let smallest = length(0.2, 1.0, a);
    let steps = json!([{"diameter": smallest + length(0.01, 0.6, b)}, {"diameter": smallest + length(0.01, 0.6, c)}]);
    let (clearance, rake) = (5.0 + 12.0 * d, 15.0 * e);
    let hold = ["slide", "smallest_diameter", "tool_ways"];
    let hold = if f < 0.3 { hold[0] } else { hold[if f < 0.6 { 1 } else { 2 }] };
    let infeed = json!({"travel_per_turn": length(0.02, 0.1, a), "ratio": 0.5, "clockwise_moves": "tool_in"});
    vec![
        (
            "flat-form-profile",
            json!({"unit": name, "clearance_deg": clearance, "rake_deg": rake, "smallest_diameter": smallest, "steps": steps}),
        ),
        (
            "circular-form-profile",
            json!({"unit": name, "tool_radius": length(1.0, 2.0, f), "wanted_clearance_deg": clearance, "rake_deg": rake,
            "smallest_diameter": smallest, "steps": steps}),
        ),
        (
            "center-height-effect",
            json!({"unit": name, "height": length(-0.02, 0.02, b), "clearance_deg": clearance, "rake_deg": rake,
            "smallest_diameter": smallest, "steps": steps, "hold": hold, "shop_height_limit": length(0.004, 0.03, c),
            "diameter_limits": {"lower": length(-0.002, -0.0005, d), "upper": length(0.0005, 0.002, e)}}),
        ),
        (
            "taper",
            json!({"unit": name, "near_diameter": smallest, "far_diameter": smallest + length(0.001, 0.02, b),
            "distance": length(0.3, 2.0, c), "diameter_standard_uncertainty": length(0.0, 1e-5, d),
            "adjuster": {"travel_per_turn": length(0.02, 0.1, e), "arm": length(1.0, 4.0, f), "clockwise_moves": "far_diameter_up"}}),
        ),
        (
            "slide-correction",
            json!({"unit": name, "target_diameter": smallest, "adjuster": infeed, "measured_diameters":
            [smallest + length(0.001, 0.01, b), smallest + length(0.001, 0.01, c), smallest + length(0.001, 0.01, d)]}),
        ),
        (
            "lateral-correction",
            json!({"unit": name, "target_length": smallest, "measured_length": smallest + length(0.001, 0.02, b),
            "measured_from": "collet_end", "adjuster": {"travel_per_turn": length(0.02, 0.1, c), "clockwise_moves": "toward_collet"}}),
        ),
        (
            "drill-depth",
            json!({"unit": name, "target_depth": length(0.1, 0.3, a), "cone": {"mouth_diameter": length(0.2, 0.4, b),
            "pilot_diameter": length(0.05, 0.15, c), "pilot_length": length(0.0, 0.2, d), "included_angle_deg": 60.0 + 60.0 * e},
            "adjuster": {"travel_per_turn": length(0.02, 0.1, f), "clockwise_moves": "deeper"}}),
        ),
        (
            "approach",
            json!({"unit": name, "bar_diameter": length(1.1, 2.0, b), "bar_shape": "hexagon", "bar_tolerance": length(0.0, 0.01, c),
            "runout": length(0.0, 0.01, d), "smallest_diameter": smallest, "rise": length(0.5, 1.0, e), "wanted_gap": length(0.01, 0.1, f),
            "working_revolutions": 100}),
        ),
        (
            "screw-travel",
            json!({"unit": name, "threads": [{"per_inch": 20, "hand": "right"}, {"pitch": length(0.01, 0.04, b), "hand": "right"}],
            "arrangement": "differential", "turns": 3.0 * c}),
        ),
        (
            "regrind-outlook",
            json!({"unit": name, "kind": "flat", "height": length(1.0, 2.0, a), "minimum_height": length(0.2, 0.6, b),
            "wear_land": length(0.004, 0.02, c), "clearance_deg": clearance, "rake_deg": rake, "clean_up": length(0.001, 0.003, f)}),
        ),
        (
            "thermal",
            json!({"unit": name, "measured_length": length(0.5, 8.0, a), "part_temperature_c": 15.0 + 30.0 * b,
            "gauge_temperature_c": 18.0 + 6.0 * c, "part_ppm_per_c": 8.0 + 15.0 * d, "gauge_ppm_per_c": 11.5,
            "part_temperature_c_uncertainty": e}),
        ),
        (
            "setting-adjustment",
            json!({"unit": name, "target": smallest, "measured": [smallest + length(0.001, 0.004, b), smallest + length(-0.002, 0.002, c)],
            "applied": [length(-0.004, 0.0, d)], "process_standard_deviation": length(0.0002, 0.001, e)}),
        ),
        (
            "gauge-conformity",
            json!({"unit": name, "lower_limit": smallest, "upper_limit": smallest + length(0.001, 0.002, b),
            "measured": smallest + length(0.0, 0.001, c), "standard_uncertainty": length(0.0001, 0.0003, d)}),
        ),
    ]
}

/// A form tool and where its edge stands: infeed, height, slope of the taper; millimetres.
#[derive(Clone, Copy, Debug)]
struct Tool {
    rake: f64,
    clearance: f64,
    at: [f64; 3],
}

const PIVOT_Z: f64 = 6.0;
const SMALLEST: f64 = 10.0;
const PLACES: [(f64, f64); 8] =
    [(0.0, 16.0), (3.0, 10.0), (6.0, 22.0), (9.0, 12.0), (13.0, 19.0), (18.0, 14.0), (21.0, 24.0), (26.0, 11.0)];

impl Tool {
    /// The diameter made at a place: the edge's point, found by bisection along the face, then shifted.
    fn makes(&self, (z, target): (f64, f64)) -> f64 {
        let point = |s: f64| (SMALLEST / 2.0 + s * self.rake.cos(), -s * self.rake.sin());
        let (mut low, mut high) = (0.0, target);
        for _ in 0..100 {
            let middle = f64::midpoint(low, high);
            let (x, y) = point(middle);
            if x.hypot(y) < target / 2.0 { low = middle } else { high = middle }
        }
        let (x, y) = point(low);
        2.0 * (x + self.at[0] + (z - PIVOT_Z) * self.at[2]).hypot(y + self.at[1])
    }

    fn diagnosis(&self) -> Value {
        let readings: Vec<Value> = PLACES
            .iter()
            .map(|&(z, d)| json!({"z": z, "target_diameter": d, "measured_diameter": self.makes((z, d))}))
            .collect();
        answered(
            "form-diagnosis",
            &json!({"unit": "mm", "clearance_deg": self.clearance.to_degrees(), "rake_deg": self.rake.to_degrees(),
            "smallest_diameter": SMALLEST, "pivot_z": PIVOT_Z, "diameter_standard_uncertainty": 1e-6, "readings": readings,
            "adjusters": {"infeed": {"travel_per_turn": 2.0, "ratio": 0.5, "clockwise_moves": "tool_out"},
                "height": {"travel_per_turn": 0.9, "clockwise_moves": "edge_up"},
                "taper": {"travel_per_turn": 1.25, "arm": 60, "clockwise_moves": "far_diameter_down"}}}),
        )
    }

    /// Turns one screw as its correction says.
    fn turn(&mut self, correction: &Value) {
        let clockwise = correction["direction"] == "clockwise";
        let turns = number(correction, "/turns") * if clockwise { 1.0 } else { -1.0 };
        match correction["adjuster"].as_str().unwrap() {
            "taper screw" => self.at[2] -= turns * 1.25 / 60.0,
            // The edge climbs along ways that lean toward the work by the clearance.
            "height screw" => {
                self.at[0] -= turns * 0.9 * self.clearance.sin();
                self.at[1] += turns * 0.9 * self.clearance.cos();
            }
            "slide turnbuckle" => self.at[0] += turns * 2.0 * 0.5,
            other => panic!("{other} was not named"),
        }
    }
}

/// Large enough to stand out, either way.
fn error(least: f64, most: f64) -> impl Strategy<Value = f64> {
    prop_oneof![least..most, -most..-least]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(400) })]

    #[test]
    fn a_change_of_unit_changes_nothing_else(draw in prop::array::uniform6(0.0..1.0_f64)) {
        for ((name, inch), (_, metric)) in requests(&draw, 1.0).iter().zip(&requests(&draw, MILLIMETRES)) {
            let (inch, metric) = (answered(name, inch), answered(name, metric));
            let mut compared = 0;
            same(name, &inch["result"], &metric["result"], "result", &mut compared);
            same(name, &inch["corrections"], &metric["corrections"], "corrections", &mut compared);
            prop_assert!(compared >= 2, "{name} compares {compared} numbers");
        }
    }

    /// The corrections of a diagnosis, turned one after another, leave a form that is right, and nothing more to turn.
    #[test]
    fn turned_as_told_the_form_is_right(
        rake in 5.0..18.0_f64, clearance in 6.0..15.0_f64,
        infeed in error(0.01, 0.15), height in error(0.02, 0.25), slope in error(0.0005, 0.005),
    ) {
        let mut tool = Tool { rake: rake.to_radians(), clearance: clearance.to_radians(), at: [infeed, height, slope] };
        let told = tool.diagnosis();
        for correction in told["corrections"].as_array().unwrap() {
            tool.turn(correction);
        }
        for place in PLACES {
            prop_assert!((tool.makes(place) - place.1).abs() < 1e-9, "{tool:?} {place:?}: {told}");
        }
        let again = tool.diagnosis();
        prop_assert_eq!(&again["result"]["leave_alone"], &json!(true), "{}", again);
    }
}
