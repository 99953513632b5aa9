//! Cutting, stock, tool life, gauges and uncertainty.

use super::{
    Check,
    Check::{Holds, Near},
    ask, at, number,
};
use serde_json::{Value, json};

pub(super) fn production(id: &str, given: &Value, expected: &Value) -> Vec<Check> {
    let n = |name: &str| number(given, name);
    let life = |extra: Value| {
        let mut request = json!({"n": given["n"], "c": 100.0});
        request.as_object_mut().unwrap().extend(extra.as_object().unwrap().clone());
        ask("tool-life", &request)
    };
    match id {
        "T7-RPM-1" => {
            let got = ask(
                "cutting",
                &json!({"unit": "in", "diameter": given["d_in"], "surface_speed": given["v_fpm"],
                "feed_per_revolution": 0.005, "length": 1, "idle_seconds": 0}),
            );
            vec![Near("rpm", at(&got, "/result/rpm"))]
        }
        "T7-TIME-1" => {
            let got = ask(
                "cutting",
                &json!({"unit": "mm", "diameter": 10, "rpm": 100, "idle_seconds": 0,
                "feed_per_revolution": n("feed_mm_min") / 100.0, "length": given["length_mm"]}),
            );
            vec![Near("time_min", at(&got, "/result/cut_seconds") / 60.0)]
        }
        "T7-DRILL-1" => {
            let got = ask(
                "cutting",
                &json!({"unit": "mm", "diameter": 10, "rpm": given["rpm"], "idle_seconds": 0,
                "feed_per_revolution": given["feed"], "length": n("thickness") + n("breakthrough"), "approach": given["approach"]}),
            );
            vec![Near("time_min", at(&got, "/result/cut_seconds") / 60.0)]
        }
        "T7-CYCLE-1" => {
            let got = ask(
                "cutting",
                &json!({"unit": "in", "diameter": 0.75, "rpm": given["rpm"],
                "feed_per_revolution": given["feed"], "radial_depth": given["radial_depth"], "approach": given["approach"],
                "idle_seconds": given["idle_s"], "efficiency": given["efficiency"]}),
            );
            vec![
                Near("revs", at(&got, "/result/revolutions")),
                Near("cut_s", at(&got, "/result/cut_seconds")),
                Near("gross_per_hr", at(&got, "/result/gross_per_hour")),
                Near("net_per_hr", at(&got, "/result/net_per_hour")),
            ]
        }
        "T7-BAR-1" => {
            let got = ask(
                "bar-stock",
                &json!({"unit": "in", "bar_length": given["bar"], "remnant": given["remnant"],
                "part_length": given["part"], "cutoff": given["cutoff"], "facing": given["face"], "pieces": given["pieces"],
                "scrap_fraction": given["scrap"]}),
            );
            vec![
                Near("per_bar", at(&got, "/result/pieces_per_bar")),
                Near("blanks", at(&got, "/result/blanks")),
                Near("bars", at(&got, "/result/bars")),
            ]
        }
        "T8-TAYLOR1911" => {
            let speed = |minutes: &str| {
                at(&life(json!({"wanted_minutes": given[minutes]})), "/result/speed_for_wanted_minutes")
            };
            vec![Near("speed_ratio", speed("T_short_min") / speed("T_long_min"))]
        }
        "T8-GROOVER" => {
            let got = ask(
                "tool-life",
                &json!({"points": [{"speed": given["V1"], "minutes": given["T1"]},
                {"speed": given["V2"], "minutes": given["T2"]}]}),
            );
            vec![Near("n", at(&got, "/result/n")), Near("C", at(&got, "/result/c"))]
        }
        "T8-REGRIND-1" => {
            let pieces = ask(
                "tool-life",
                &json!({"n": 1.0, "c": given["life_min"], "speed": 1.0,
                "cut_seconds_per_piece": given["cut_s_per_piece"]}),
            );
            let pieces = &pieces["result"]["pieces_per_grind"];
            let got = ask(
                "regrind-outlook",
                &json!({"unit": "in", "kind": "flat", "height": 0.25 + n("usable_in"),
                "minimum_height": 0.25, "grind_stock": given["per_grind"], "pieces_per_grind": pieces, "pieces_left_on_edge": pieces}),
            );
            vec![
                Near("regrinds", at(&got, "/result/regrinds_left")),
                Near("pieces_per_grind", pieces.as_f64().unwrap()),
                Near("total", at(&got, "/result/pieces_left")),
            ]
        }
        _ if expected.get("life_ratio").is_some() => {
            let minutes = |speed: f64| at(&life(json!({"speed": speed})), "/result/minutes");
            vec![Near("life_ratio", minutes(50.0 * n("v_ratio")) / minutes(50.0))]
        }
        _ => panic!("{id} has no check"),
    }
}

pub(super) fn measurement(id: &str, given: &Value, expected: &Value) -> Vec<Check> {
    let n = |name: &str| number(given, name);
    let conforms = |extra: Value| {
        let mut request = json!({"unit": "mm", "upper_limit": 1.0, "measured": 0.9, "standard_uncertainty": 0.01});
        request.as_object_mut().unwrap().extend(extra.as_object().unwrap().clone());
        ask("gauge-conformity", &request)
    };
    if id.starts_with("T9-CTE") {
        // A bar that measures its cold length more by its own growth, on a gauge that does not grow.
        let (cold, ppm, rise) = (1000.0 * n("L_m"), n("alpha_ppm"), n("dT_C"));
        let got = ask(
            "thermal",
            &json!({"unit": "mm", "measured_length": cold * (1.0 + ppm * rise / 1e6),
            "part_temperature_c": 20.0 + rise, "gauge_temperature_c": 20, "part_ppm_per_c": ppm, "gauge_ppm_per_c": 0}),
        );
        return vec![Near("dL_um", -1000.0 * at(&got, "/result/correction"))];
    }
    if id.starts_with("T9-ILAC") {
        // At the acceptance limit, one guard band inside: the risk that it does not conform after all.
        let u = 0.01;
        let guard = n("guard_over_U") * n("k") * u;
        let got = conforms(
            json!({"measured": 1.0 - guard, "standard_uncertainty": u, "guard_factor": n("guard_over_U") * n("k")}),
        );
        let risk = 1.0 - at(&got, "/result/conformance_probability");
        assert_eq!(got["result"]["verdict"], "accept", "{got}");
        return vec![Holds("risk_upper_bound", risk <= number(expected, "risk_upper_bound"))];
    }
    match id {
        "T9-14253" => {
            vec![Near("g_over_u", at(&conforms(json!({"conformance": given["conformance"]})), "/result/guard_factor"))]
        }
        "T9-106-ZENER" => {
            let got = conforms(
                json!({"measured": given["y"], "standard_uncertainty": given["u"], "upper_limit": given["T_U"]}),
            );
            vec![Near("pc", at(&got, "/result/conformance_probability"))]
        }
        "T9-106-T1" => {
            let pairs = given["pc"].as_array().unwrap().iter().zip(expected["z"].as_array().unwrap());
            let all = pairs.clone().count() == 5
                && pairs.into_iter().all(|(pc, z)| {
                    let factor = at(&conforms(json!({"conformance": pc})), "/result/guard_factor");
                    (factor - z.as_f64().unwrap()).abs() < 0.005
                });
            vec![Holds("z", all)]
        }
        "T9-GUM-H1" => end_gauge(given),
        _ => panic!("{id} has no check"),
    }
}

/// The Guide's end gauge, in nanometres: comparison, expansion and temperature of gauge and standard.
fn end_gauge(given: &Value) -> Vec<Check> {
    let n = |name: &str| number(given, name);
    let standard = 1e6 * n("ls_mm");
    let flat = |half: f64| half / 3.0_f64.sqrt();
    // A 95 % half width of 5 degrees of freedom over Student's t, 2.57 in the Guide.
    let random = n("comp_random_95_nm") / 2.570_581_835_636_314;
    let line = |name: &str, u: f64, sensitivity: f64, degrees: &Value| {
        json!({"name": name, "standard_uncertainty": u,
        "sensitivity": sensitivity, "degrees_of_freedom": degrees})
    };
    let got = ask(
        "uncertainty-budget",
        &json!({"unit": "mm", "coverage": 0.99, "components": [
            line("standard", n("u_ls_nm"), 1.0, &given["nu_ls"]),
            line("repeated comparison", n("s_pooled_nm") / n("n_rep").sqrt(), 1.0, &given["nu_pooled"]),
            line("comparator, random", random, 1.0, &given["nu_rand"]),
            line("comparator, systematic", n("comp_syst_3s_nm") / 3.0, 1.0, &given["nu_syst"]),
            line("difference of expansion", flat(n("half_dalpha")), standard * n("theta"), &given["nu_dalpha"]),
            line("difference of temperature", flat(n("half_dtheta")), standard * n("alpha_s"), &given["nu_dtheta"]),
        ]}),
    );
    let combined = at(&got, "/result/combined");
    let factor = at(&got, "/result/coverage_factor");
    // Gauge and standard of one expansion at one temperature: the comparison holds as read.
    let length = ask(
        "thermal",
        &json!({"unit": "mm", "measured_length": n("ls_mm") + n("d_nm") / 1e6,
        "part_temperature_c": 20.0 + n("theta"), "gauge_temperature_c": 20.0 + n("theta"),
        "part_ppm_per_c": 1e6 * n("alpha_s"), "gauge_ppm_per_c": 1e6 * n("alpha_s")}),
    );
    vec![
        Near("l_mm", at(&length, "/result/length_at_20c")),
        Near("uc_nm", combined),
        Near("uc2_nm2", combined * combined),
        Near("nu_eff", at(&got, "/result/effective_degrees_of_freedom")),
        Near("t99", factor),
        // The Guide multiplies the rounded 32 nm.
        Near("U99_nm", combined.round() * factor),
    ]
}
