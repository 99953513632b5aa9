use crate::calc::testing::{answer, at, refused};
use proptest::prelude::*;
use serde_json::json;

const SERVICE: &str = r#"{"demand_per_day": 0.4, "lead_time_days": 10, "model": "poisson", "service": 0.95}"#;
const COSTS: &str = r#"{"demand_per_day": 1300, "lead_time_days": 0.08333333333333333, "model": "normal",
    "standard_deviation": 150, "holding_cost": 0.225, "shortage_cost": 7.5, "ordering_cost": 8}"#;

#[test]
fn impossible_items_are_refused() {
    refused(
        SERVICE,
        "reorder",
        &[
            (r#"{"demand_per_day": 0}"#, "/demand_per_day"),
            (r#"{"demand_per_day": 1e7}"#, "/demand_per_day"),
            (r#"{"lead_time_days": -1}"#, "/lead_time_days"),
            (r#"{"model": null}"#, "/model"),
            (r#"{"model": "uniform"}"#, "/model"),
            (r#"{"model": "normal"}"#, "/standard_deviation"),
            (r#"{"standard_deviation": 1}"#, "/standard_deviation"),
            (r#"{"service": 1}"#, "/service"),
            (r#"{"service": 0.3}"#, "/service"),
            (r#"{"service": null}"#, "/service"),
            (r#"{"shortage_cost": 1}"#, "/service"),
            (r#"{"method": "least_cost"}"#, "/method"),
            (r#"{"holding_cost": 1}"#, "/ordering_cost"),
            (r#"{"order_quantity": 5}"#, "/order_quantity"),
            (r#"{"reorder_point": 7.5}"#, "/reorder_point"),
            (r#"{"reorder_point": 1e12}"#, "/reorder_point"),
            (r#"{"color": 1}"#, "/color"),
        ],
    );
    refused(
        COSTS,
        "reorder",
        &[
            (r#"{"holding_cost": null}"#, "/holding_cost"),
            (r#"{"holding_cost": 0}"#, "/holding_cost"),
            (r#"{"shortage_cost": 1e12}"#, "/shortage_cost"),
            (r#"{"ordering_cost": -1}"#, "/ordering_cost"),
            (r#"{"standard_deviation": -1}"#, "/standard_deviation"),
            (r#"{"method": "least_cost", "order_quantity": 0}"#, "/order_quantity"),
            (r#"{"method": "least_cost", "order_quantity": 1e12}"#, "/order_quantity"),
            (
                r#"{"model": "poisson", "standard_deviation": null, "method": "least_cost", "order_quantity": 1.5}"#,
                "/order_quantity",
            ),
            (r#"{"model": "poisson", "standard_deviation": null, "ordering_cost": 1e6}"#, "/ordering_cost"),
        ],
    );
}

/// Poisson of mean 4: P(D ≤ 7) = 0.9489, P(D ≤ 8) = 0.9786 (printed tables, recalled), so eight for 95 %.
#[test]
fn service_by_the_poisson_table() {
    let got = answer(SERVICE, "reorder", "{}");
    assert_eq!(at(&got, "/result/reorder_point"), 8.0);
    assert!((at(&got, "/result/stock_out_probability") - (1.0 - 0.978_636_566)).abs() < 1e-8, "{got}");
    assert!(got["result"].get("order_quantity").is_none());
    let judged = answer(SERVICE, "reorder", r#"{"reorder_point": 7}"#);
    assert!((at(&judged, "/result/stock_out_probability") - (1.0 - 0.948_866_384)).abs() < 1e-8, "{judged}");
    // √(2 · 5 · 0.4 / 0.01) = 20.
    let with_quantity = answer(SERVICE, "reorder", r#"{"holding_cost": 0.01, "ordering_cost": 5}"#);
    assert_eq!(at(&with_quantity, "/result/order_quantity"), 20.0);
    assert_eq!(answer(SERVICE, "reorder", r#"{"holding": 0.01, "ordering": 5}"#)["result"], with_quantity["result"]);
}

/// Without scatter the least cost is the economic quantity with backorders: `Q = √(2Kλ(h+p)/(hp))`, and a share
/// `h/(h+p)` of each lot is owed when it comes (derived).
#[test]
fn without_scatter_it_is_the_economic_quantity_with_backorders() {
    let got = answer(COSTS, "reorder", r#"{"standard_deviation": 0, "method": "least_cost", "shortage_cost": 5}"#);
    let quantity = (2.0 * 8.0 * 1300.0 * 5.225 / (0.225 * 5.0_f64)).sqrt();
    assert!((at(&got, "/result/order_quantity") - quantity).abs() < 1e-7, "{got}");
    assert!((at(&got, "/result/safety_stock") + quantity * 0.225 / 5.225).abs() < 1e-7);
}

fn poisson_cost(mean: f64, h: f64, p: f64, level: i32) -> f64 {
    let mut term = (-mean).exp();
    let mut sum = 0.0;
    for d in 0..200 {
        let left = f64::from(level - d);
        sum += term * if left > 0.0 { h * left } else { -p * left };
        term *= mean / f64::from(d + 1);
    }
    sum
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// No neighbouring policy costs less, by direct summation of the Poisson terms.
    #[test]
    fn the_least_cost_is_least_for_single_items(mean in 0.5..20.0_f64, h in 0.05..2.0_f64, p in 0.5..20.0_f64, k in 0.5..30.0_f64) {
        let change = json!({"demand_per_day": mean / 10.0, "service": null, "holding_cost": h, "shortage_cost": p,
            "ordering_cost": k, "method": "least_cost"});
        let got = answer(SERVICE, "reorder", &change.to_string());
        #[expect(clippy::cast_possible_truncation, reason = "small whole numbers")]
        let (r, q) = (at(&got, "/result/reorder_point") as i32, at(&got, "/result/order_quantity") as i32);
        let cost = |r: i32, q: i32| {
            (k * mean / 10.0 + (r + 1..=r + q).map(|y| poisson_cost(mean, h, p, y)).sum::<f64>()) / f64::from(q)
        };
        let best = cost(r, q);
        prop_assert!((best / at(&got, "/result/expected_cost_per_day") - 1.0).abs() < 1e-9);
        for (dr, dq) in [(1, 0), (-1, 0), (0, 1), (-1, 1), (1, -1), (0, -1), (-1, 2), (1, -2)] {
            prop_assert!(q + dq < 1 || cost(r + dr, q + dq) >= best * (1.0 - 1e-12), "{r} {q}: {dr} {dq}");
        }
        let fixed = json!({"demand_per_day": mean / 10.0, "service": null, "holding_cost": h, "shortage_cost": p,
            "ordering_cost": k, "method": "least_cost", "order_quantity": q});
        prop_assert_eq!(at(&answer(SERVICE, "reorder", &fixed.to_string()), "/result/reorder_point"), f64::from(r));
    }

    /// For normal demand: point and quantity are stationary, and never dearer than the economic quantity.
    #[test]
    fn the_least_cost_is_least_for_many_items(sd in 1.0..400.0_f64, h in 0.05..2.0_f64, p in 0.5..20.0_f64, k in 0.5..50.0_f64) {
        let ask = |extra: serde_json::Value| {
            let mut change = json!({"standard_deviation": sd, "holding_cost": h, "shortage_cost": p, "ordering_cost": k});
            change.as_object_mut().unwrap().extend(extra.as_object().unwrap().clone());
            answer(COSTS, "reorder", &change.to_string())
        };
        let best = ask(json!({"method": "least_cost"}));
        let cost = at(&best, "/result/expected_cost_per_day");
        let economic = at(&ask(json!({"method": "economic_quantity"})), "/result/expected_cost_per_day");
        prop_assert!(cost <= economic * (1.0 + 1e-12), "{cost} {economic}");
        let quantity = at(&best, "/result/order_quantity");
        for factor in [0.99, 1.01] {
            let other = ask(json!({"method": "least_cost", "order_quantity": quantity * factor}));
            prop_assert!(at(&other, "/result/expected_cost_per_day") >= cost * (1.0 - 1e-12));
        }
        let same = ask(json!({"method": "least_cost", "order_quantity": quantity}));
        prop_assert!((at(&same, "/result/expected_cost_per_day") / cost - 1.0).abs() < 1e-10);
    }

    /// A higher service never means a lower reorder point, nor a longer lead time.
    #[test]
    fn more_service_never_means_less_stock(demand in 0.01..5.0_f64, days in 1.0..40.0_f64, service in 0.5..0.99_f64, more in 0.0..0.009_f64) {
        let point = |days: f64, service: f64| {
            let change = json!({"demand_per_day": demand, "lead_time_days": days, "service": service});
            at(&answer(SERVICE, "reorder", &change.to_string()), "/result/reorder_point")
        };
        prop_assert!(point(days, service + more) >= point(days, service));
        prop_assert!(point(days * 1.5, service) >= point(days, service));
    }
}
