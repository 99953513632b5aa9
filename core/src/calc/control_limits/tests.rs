use crate::calc::testing::{answer, at, refused};
use proptest::prelude::*;
use serde_json::json;

const INDIVIDUALS: &str = r#"{"chart": "individuals", "readings": [5, 6, 5, 7, 6]}"#;
const XBAR: &str = r#"{"chart": "xbar_r", "subgroups": [[1, 2, 3], [2, 3, 4], [2, 2, 5]]}"#;
const EWMA: &str = r#"{"chart": "ewma", "readings": [5, 6, 5], "parameters": {"lambda": 0.2}}"#;
const CUSUM: &str = r#"{"chart": "cusum", "readings": [5, 6, 5], "parameters": {"center": 5, "k": 0.5, "h": 4}}"#;

#[test]
fn impossible_charts_are_refused() {
    refused(
        INDIVIDUALS,
        "control-limits",
        &[
            (r#"{"chart": null}"#, "/chart"),
            (r#"{"chart": "pareto"}"#, "/chart"),
            (r#"{"readings": null}"#, "/readings"),
            (r#"{"readings": [1]}"#, "/readings"),
            (r#"{"readings": [1, 1e200]}"#, "/readings/1"),
            (r#"{"subgroups": [[1, 2]]}"#, "/subgroups"),
            (r#"{"parameters": {"lambda": 0.2}}"#, "/parameters/lambda"),
            (r#"{"parameters": {"sigma": 0.2}}"#, "/parameters/sigma"),
            (r#"{"sigma": 3}"#, "/sigma"),
        ],
    );
    refused(
        XBAR,
        "control-limits",
        &[
            (r#"{"subgroups": []}"#, "/subgroups"),
            (r#"{"subgroups": null}"#, "/subgroups"),
            (r#"{"subgroups": [[1], [2]]}"#, "/subgroups/0"),
            (r#"{"subgroups": [[1, 2], [2]]}"#, "/subgroups/1"),
            (r#"{"subgroups": [[1, 2], [2, 1e300]]}"#, "/subgroups/1/1"),
            (r#"{"readings": [1, 2]}"#, "/readings"),
            (r#"{"parameters": {"center": 1}}"#, "/parameters/center"),
        ],
    );
    refused(
        EWMA,
        "control-limits",
        &[
            (r#"{"parameters": {}}"#, "/parameters/lambda"),
            (r#"{"parameters": {"lambda": 0}}"#, "/parameters/lambda"),
            (r#"{"parameters": {"lambda": 1.1}}"#, "/parameters/lambda"),
            (r#"{"parameters": {"lambda": 0.2, "width": 0}}"#, "/parameters/width"),
            (r#"{"parameters": {"lambda": 0.2, "standard_deviation": 0}}"#, "/parameters/standard_deviation"),
            (r#"{"parameters": {"lambda": 0.2, "center": 1e200}}"#, "/parameters/center"),
            (r#"{"parameters": {"lambda": 0.2, "width": 1e300, "standard_deviation": 1e300}}"#, "/parameters/width"),
            (r#"{"parameters": {"lambda": 0.2, "k": 1}}"#, "/parameters/k"),
            (r#"{"readings": [1]}"#, "/readings"),
        ],
    );
    refused(
        CUSUM,
        "control-limits",
        &[
            (r#"{"parameters": {"k": 0.5, "h": 4}}"#, "/parameters/center"),
            (r#"{"parameters": {"center": 5, "h": 4}}"#, "/parameters/k"),
            (r#"{"parameters": {"center": 5, "k": 0.5}}"#, "/parameters/h"),
            (r#"{"parameters": {"center": 5, "k": -1, "h": 4}}"#, "/parameters/k"),
            (r#"{"parameters": {"center": 5, "k": 1, "h": 0}}"#, "/parameters/h"),
            (r#"{"readings": []}"#, "/readings"),
        ],
    );
}

/// Three subgroups of three, by hand: means 2, 3, 3, mean 8/3; ranges 2, 2, 3, mean 7/3; A2 = 1.0233 and
/// D4 = 2.5746 as printed in the tables (recalled).
#[test]
fn means_and_ranges_by_hand() {
    let got = answer(XBAR, "control-limits", "{}");
    assert!((at(&got, "/result/center") - 8.0 / 3.0).abs() < 1e-13);
    assert!((at(&got, "/result/upper") - (8.0 / 3.0 + 1.0233 * 7.0 / 3.0)).abs() < 2e-4, "{got}");
    assert!((at(&got, "/result/ranges/upper") - 2.5746 * 7.0 / 3.0).abs() < 2e-4);
    assert_eq!(at(&got, "/result/ranges/lower"), 0.0);
    assert_eq!(got["result"]["ranges"]["statistic"], json!([2.0, 2.0, 3.0]));
    assert_eq!(got["sentence"], "No signal: leave the setting alone.");
}

#[test]
fn a_jump_signals() {
    let mut readings = vec![5.0, 5.1, 4.9, 5.0, 5.1, 4.9, 5.0, 5.1, 4.9, 5.0, 5.1];
    readings.push(6.5);
    let got = answer(INDIVIDUALS, "control-limits", &json!({"readings": readings}).to_string());
    assert_eq!(got["result"]["signals"], json!([12]));
    assert_eq!(got["result"]["ranges"]["signals"], json!([11]));
    assert!(got["sentence"].as_str().unwrap().starts_with("Signal at number 12"));
}

proptest! {
    /// Every chart moves with its readings: a shift shifts it, and the sums of a CUSUM chart stay.
    #[test]
    fn charts_move_with_their_readings(readings in prop::collection::vec(0.0..10.0_f64, 4..30), shift in -100.0..100.0_f64) {
        let moved: Vec<f64> = readings.iter().map(|x| x + shift).collect();
        for (base, parameters) in [(INDIVIDUALS, json!(null)), (EWMA, json!({"lambda": 0.3}))] {
            let a = answer(base, "control-limits", &json!({"readings": readings, "parameters": parameters}).to_string());
            let b = answer(base, "control-limits", &json!({"readings": moved, "parameters": parameters}).to_string());
            for pointer in ["/result/center", "/result/upper", "/result/lower"] {
                prop_assert!((at(&b, pointer) - at(&a, pointer) - shift).abs() < 1e-10);
            }
        }
        let sums = |readings: &[f64], center: f64| answer(CUSUM, "control-limits",
            &json!({"readings": readings, "parameters": {"center": center, "k": 0.5, "h": 4.0}}).to_string());
        let (a, b) = (sums(&readings, 5.0), sums(&moved, 5.0 + shift));
        for i in 0..readings.len() {
            let pointer = format!("/result/statistic/{i}");
            prop_assert!((at(&a, &pointer) - at(&b, &pointer)).abs() < 1e-10);
        }
    }
}
