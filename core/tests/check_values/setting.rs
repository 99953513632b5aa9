//! Form tools, tapers, screws and cones.

use super::{
    Check,
    Check::{Holds, Near},
    ask, at, number,
};
use dovetally_core::length::{Length, LengthUnit};
use serde_json::{Value, json};

pub(super) fn form_tools(id: &str, given: &Value) -> Vec<Check> {
    let n = |name: &str| number(given, name);
    if id.starts_with("T1-FLAT") {
        let got = ask(
            "flat-form-profile",
            &json!({"unit": "in", "clearance_deg": given["clearance_deg"],
            "rake_deg": given["rake_deg"], "smallest_diameter": 2.0 * n("r_min"), "steps": [{"diameter": 2.0 * n("r_step")}]}),
        );
        return vec![
            Near("face_length_C", at(&got, "/result/steps/0/face_length")),
            Near("profile_depth_T", at(&got, "/result/steps/0/tool_depth")),
        ];
    }
    if id.starts_with("T2-CIRC") {
        let got = ask(
            "circular-form-profile",
            &json!({"unit": "in", "tool_radius": given["R_tool"],
            "face_below_center": given["face_below_centre_h"], "rake_deg": given["rake_deg"],
            "smallest_diameter": 2.0 * n("r_min"), "steps": [{"diameter": 2.0 * n("r_step")}]}),
        );
        return vec![
            Near("R_step", at(&got, "/result/steps/0/tool_radius")),
            Near("clearance_deg", at(&got, "/result/clearance_deg")),
        ];
    }
    if id.starts_with("T2-TAB") {
        let got = ask(
            "circular-form-profile",
            &json!({"unit": "in", "tool_radius": n("D") / 2.0,
            "face_below_center": given["h"], "rake_deg": 0, "smallest_diameter": 0.5,
            "steps": [{"diameter": 0.5 + 2.0 * n("work_step_c")}]}),
        );
        return vec![Near("D_corrected", 2.0 * at(&got, "/result/steps/0/tool_radius"))];
    }
    let (smallest, step, hold) = if id.starts_with("T3-OFF") {
        (n("d_set"), n("d_set"), "slide")
    } else {
        (n("d_ref"), n("d_ref") + 2.0 * n("radial_step"), "smallest_diameter")
    };
    let got = ask(
        "center-height-effect",
        &json!({"unit": "in", "height": given["h"], "clearance_deg": 15, "rake_deg": 0,
        "smallest_diameter": smallest, "steps": [{"diameter": step}], "hold": hold}),
    );
    let made = if id.starts_with("T3-OFF") { "d_actual" } else { "d_step" };
    vec![Near(made, at(&got, "/result/steps/0/made_diameter")), Near("error", at(&got, "/result/steps/0/error"))]
}

pub(super) fn setting(id: &str, given: &Value, expected: &Value) -> Vec<Check> {
    let n = |name: &str| number(given, name);
    if id.starts_with("T4-COLVIN") {
        // The printed taper, measured over an inch, must be that of the angle: what is left of the half angle is less
        // than the last printed digit makes.
        let printed = number(expected, "taper_per_inch");
        let got = ask(
            "taper",
            &json!({"unit": "in", "near_diameter": 1.0, "far_diameter": 1.0 + printed, "distance": 1.0,
            "target_half_angle_deg": n("included_deg") / 2.0}),
        );
        let off = at(&got, "/result/error_half_angle_deg").to_radians();
        let half = (n("included_deg") / 2.0).to_radians();
        return vec![Near("taper_per_inch", 2.0 * (half + off).tan()), Holds("taper_per_inch", off.abs() < 0.75e-5)];
    }
    if id.starts_with("T4") {
        let length = if id == "T4-SETOVER-2" { n("L_taper") } else { n("length") };
        let got = ask(
            "taper",
            &json!({"unit": "in", "near_diameter": given["D_small"], "far_diameter": given["D_large"],
            "distance": length, "adjuster": {"travel_per_turn": 0.1, "arm": 8.0, "clockwise_moves": "far_diameter_up"}}),
        );
        // A tailstock's set-over is the taper screw's travel with the whole work as arm.
        return if id == "T4-SETOVER-2" {
            assert_eq!(n("L_total"), 8.0);
            vec![Near("setover", at(&got, "/corrections/0/travel"))]
        } else if expected.get("half_angle_deg").is_some() {
            vec![
                Near("taper_per_foot", at(&got, "/result/taper_per_foot")),
                Near("half_angle_deg", at(&got, "/result/half_angle_deg")),
            ]
        } else {
            vec![Near("taper_per_foot", at(&got, "/result/taper_per_foot"))]
        };
    }
    if id.starts_with("T5") {
        let (threads, arrangement) = match given.get("tpi") {
            Some(tpi) => (json!([{"per_inch": tpi, "hand": "right"}]), "single"),
            None => {
                let same = given["same_hand"].as_bool().unwrap();
                let second = if same { "right" } else { "left" };
                let threads = json!([{"per_inch": given["tpi_a"], "hand": "right"}, {"per_inch": given["tpi_b"], "hand": second}]);
                (threads, if same { "differential" } else { "turnbuckle" })
            }
        };
        let got = ask(
            "screw-travel",
            &json!({"unit": "in", "threads": threads, "arrangement": arrangement, "turns": given["turns"]}),
        );
        return vec![Near("travel", at(&got, "/result/travel"))];
    }
    let cone = |mouth: f64, pilot: f64, length: f64, angle: &Value| {
        let got = ask(
            "drill-depth",
            &json!({"unit": "in", "target_depth": 1.0, "cone": {"mouth_diameter": mouth,
            "pilot_diameter": pilot, "pilot_length": length, "included_angle_deg": angle}}),
        );
        at(&got, "/result/depth")
    };
    if id.starts_with("T6-CONE") {
        return vec![Near("factor", cone(1.0, 0.0, 0.0, &given["included_deg"]))];
    }
    if id == "T6-CD4" {
        return vec![Near("depth", cone(n("mouth_dia"), n("drill_dia"), n("drill_length"), &given["cone_deg"]))];
    }
    // Combined drill sizes: the inch fractions, converted as every length is, give the printed millimetres.
    let millimetres = |name: &str| {
        Length::new(number(&given["inch"], name), LengthUnit::Inch).unwrap().value_in(LengthUnit::Millimetre)
    };
    vec![Near("drill", millimetres("drill")), Near("length", millimetres("length")), Near("body", millimetres("body"))]
}
