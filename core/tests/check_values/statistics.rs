//! Capability, charts, tolerance intervals, stock and lives.

use super::{Check, Check::Near, ask, at, number};
use dovetally_core::calc::{control_constants::constants, summary, tolerance_interval::one_sided_factor_natrella};
use serde_json::{Value, json};

pub(super) fn statistics(id: &str, given: &Value) -> Vec<Check> {
    let n = |name: &str| number(given, name);
    let whole = |name: &str| usize::try_from(given[name].as_u64().unwrap()).unwrap();
    match id {
        "T10-CAP" => {
            let got = ask(
                "capability",
                &json!({"unit": "mm", "lower_limit": given["LSL"], "upper_limit": given["USL"],
                "mean": given["mean"], "standard_deviation": given["s"]}),
            );
            let index = |name: &str| at(&got, &format!("/result/{name}"));
            vec![
                Near("Cp", index("cp")),
                Near("Cpk", index("cpk")),
                Near("Cpu", index("cpu")),
                Near("Cpl", index("cpl")),
                // Cpk = Cp (1 − k).
                Near("k", 1.0 - index("cpk") / index("cp")),
            ]
        }
        "T10-REJ-1.0" | "T10-REJ-1.66" => {
            let limit = 3.0 * n("Cp");
            let got = ask(
                "capability",
                &json!({"unit": "mm", "lower_limit": -limit, "upper_limit": limit, "mean": 0,
                "standard_deviation": 1}),
            );
            vec![Near("fraction", at(&got, "/result/rejects_per_million") / 1e6)]
        }
        "T10-CPKCI" => {
            let got = ask(
                "capability",
                &json!({"unit": "mm", "lower_limit": given["LSL"], "upper_limit": given["USL"],
                "readings": given["data"], "confidence": given["confidence"]}),
            );
            vec![Near("lower", at(&got, "/result/cpk_lower")), Near("upper", at(&got, "/result/cpk_upper"))]
        }
        "T10-CONST-2" | "T10-CONST-4" | "T10-CONST-6" => {
            let known = constants(whole("n")).unwrap();
            vec![
                Near("d2", known.d2),
                Near("A2", known.a2),
                Near("D3", known.d3_limit),
                Near("D4", known.d4_limit),
                Near("c4", known.c4),
            ]
        }
        "T10-C4-10" => vec![Near("c4", constants(whole("n")).unwrap().c4)],
        "T10-IMR" => {
            let got = ask("control-limits", &json!({"chart": "individuals", "readings": given["data"]}));
            vec![
                Near("mean", at(&got, "/result/center")),
                Near("MRbar", at(&got, "/result/ranges/center")),
                Near("UCL", at(&got, "/result/upper")),
                Near("LCL", at(&got, "/result/lower")),
            ]
        }
        "T10-TOLINT" | "T10-K1EXACT" => {
            let (mean, s) = if id == "T10-TOLINT" { (n("mean"), n("s")) } else { (0.0, 1.0) };
            let got = ask(
                "capability",
                &json!({"unit": "mm", "upper_limit": 100, "mean": mean, "standard_deviation": s,
                "n": given["n"], "tolerance_interval": {"share": given["p"], "confidence": given["conf"]}}),
            );
            let interval = |name: &str| at(&got, &format!("/result/tolerance_interval/{name}"));
            if id == "T10-K1EXACT" {
                return vec![Near("k1", interval("one_sided_factor"))];
            }
            // The worksheet's one-sided limits rest on the closed form.
            let closed = one_sided_factor_natrella(whole("n"), n("p"), n("conf")).unwrap();
            vec![
                Near("k2", interval("two_sided_factor")),
                Near("lower", interval("lower")),
                Near("upper", interval("upper")),
                Near("k1_approx", closed),
                Near("upper_one", mean + closed * s),
                Near("lower_one", mean - closed * s),
            ]
        }
        "T10-NUMACC2" | "T10-NUMACC4" => {
            let middle = if id == "T10-NUMACC2" { 1.2 } else { 10_000_000.2 };
            let mut values = vec![middle];
            for _ in 0..500 {
                values.extend([middle - 0.1, middle + 0.1]);
            }
            assert_eq!(values.len(), whole("n"));
            vec![Near("mean", summary::mean(&values)), Near("sd", summary::standard_deviation(&values))]
        }
        _ => panic!("{id} has no check"),
    }
}

pub(super) fn stock_and_lives(id: &str, given: &Value) -> Vec<Check> {
    let n = |name: &str| number(given, name);
    let reorder = |demand: f64, days: f64, deviation: Option<f64>, extra: Value| {
        let mut request = json!({"demand_per_day": demand, "lead_time_days": days,
            "model": if deviation.is_some() { "normal" } else { "poisson" }});
        let fields = request.as_object_mut().unwrap();
        fields.extend(deviation.map(|sd| ("standard_deviation".to_owned(), sd.into())));
        fields.extend(extra.as_object().unwrap().clone());
        ask("reorder", &request)
    };
    let costs = |h: &str, p: &str| json!({"holding_cost": given[h], "shortage_cost": given[p]});
    let with = |mut base: Value, extra: Value| {
        base.as_object_mut().unwrap().extend(extra.as_object().unwrap().clone());
        base
    };
    let point = |got: &Value| at(got, "/result/reorder_point");
    let cost = |got: &Value| at(got, "/result/expected_cost_per_day");
    match id {
        "T11-NV-NORMAL" | "T11-NV-POIS50" => {
            let got = reorder(n("mean"), 1.0, given.get("sd").and_then(Value::as_f64), costs("h", "p"));
            vec![Near("S", point(&got)), Near("cost", cost(&got))]
        }
        "T11-NV-COST" => {
            let got =
                reorder(n("mean"), 1.0, Some(n("sd")), with(costs("h", "p"), json!({"reorder_point": given["S"]})));
            vec![Near("cost", cost(&got))]
        }
        "T11-NV-NAHMIAS" => vec![Near("Q", point(&reorder(n("mean"), 1.0, Some(n("sd")), costs("Co", "Cu"))))],
        "T11-EOQB" => {
            let got = reorder(
                n("rate"),
                1.0,
                Some(0.0),
                with(costs("h", "p"), json!({"ordering_cost": given["K"], "method": "least_cost"})),
            );
            let quantity = at(&got, "/result/order_quantity");
            vec![Near("Q", quantity), Near("x", -at(&got, "/result/safety_stock") / quantity), Near("cost", cost(&got))]
        }
        "T11-RQ-EOQSS" => {
            let got =
                reorder(n("rate"), n("L"), Some(n("sd")), with(costs("h", "p"), json!({"ordering_cost": given["K"]})));
            vec![Near("r", point(&got)), Near("Q", at(&got, "/result/order_quantity"))]
        }
        "T11-RQ-R" => {
            let fixed = json!({"ordering_cost": 0, "method": "least_cost", "order_quantity": given["Q"]});
            vec![Near("r", point(&reorder(n("rate"), n("L"), Some(n("sd")), with(costs("h", "p"), fixed))))]
        }
        "T12-WEIB-NIST" | "T12-WEIB-JQT" => {
            let got =
                ask("life-distribution", &json!({"failures": given["failures"], "suspensions": given["suspensions"]}));
            vec![Near("shape", at(&got, "/result/shape")), Near("scale", at(&got, "/result/scale"))]
        }
        "T12-WEIB-PLOT" => {
            let failures = given["failures"].as_array().unwrap();
            let running = usize::try_from(given["n"].as_u64().unwrap()).unwrap() - failures.len();
            let got = ask("life-distribution", &json!({"failures": failures, "suspensions": vec![500; running]}));
            let ranks = |name: &str| at(&got, &format!("/result/median_ranks/{name}"));
            vec![
                Near("slope", ranks("shape")),
                Near("intercept", -ranks("shape") * ranks("scale").log10()),
                Near("y1", ranks("points/0/cumulative_hazard")),
                Near("y10", ranks("points/9/cumulative_hazard")),
            ]
        }
        "T12-MTBF" | "T12-MTBF-F" => {
            let time = given.get("T").map_or_else(|| n("r"), |time| time.as_f64().unwrap());
            let got = ask(
                "mtbf",
                &json!({"total_time": time, "failures": given["r"], "confidence": given["conf"], "sided": "two"}),
            );
            let mut checks = vec![Near("lower", at(&got, "/result/lower")), Near("upper", at(&got, "/result/upper"))];
            if id == "T12-MTBF" {
                checks.push(Near("mtbf", at(&got, "/result/mtbf")));
            }
            checks
        }
        _ => panic!("{id} has no check"),
    }
}
