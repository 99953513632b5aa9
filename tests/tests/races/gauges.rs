//! A check of a gauge against what rests on that gauge at the same moment: one comes first, and the other knows it.

use crate::{
    against_release::{Check, FIRST},
    shop::{Shop, text},
};
use dovetally_tests::{client::Answer, server::Backend};
use serde_json::{Value, json};
use std::thread;

const GAUGE: &str = "CG-102";
/// A gauge on which nothing was read.
const UNUSED: &str = "CG-101";
/// A check that finds wrong what the heights of the setup were read on.
const FOUND_WRONG: Check = Check { send: found_wrong, rule: "height-in-doubt" };

fn check(shop: &Shop, gauge: &str, as_found: f64) -> Answer {
    let inches = |value: f64| json!({"value": value, "unit": "in"});
    let body =
        json!({"as_found": inches(as_found), "standard_uncertainty": inches(0.000_05), "next_check": "2999-12-31"});
    shop.person("inspector").post(&format!("/v1/center-gauges/{gauge}/checks")).json(&body).send()
}

fn found_wrong(shop: &Shop) -> Answer {
    check(shop, GAUGE, 3.7531)
}

#[test]
fn a_check_and_a_release_have_one_order_on_sqlite() {
    FOUND_WRONG.has_one_order_with_a_release(Backend::Sqlite);
}

#[test]
fn a_check_and_a_release_have_one_order_on_postgresql() {
    FOUND_WRONG.has_one_order_with_a_release(Backend::Postgres);
}

/// Both begin with the gauge's custody row. Without that lock neither knows of the other.
#[test]
fn without_the_gauges_row_they_have_none_on_postgresql() {
    FOUND_WRONG.has_none_without_the_custody_row();
}

/// A check finds the open document and is held; the document is closed; nothing is added to it.
fn closed_stays_closed(backend: Backend) {
    let shop = Shop::controlled(backend, "");
    let raised = shop.person("inspector").post("/v1/impacts");
    let raised = raised.json(&json!({"gauge": UNUSED, "reason": "It fell"})).send().expect(201).json();
    let document = format!("/v1/impacts/{}", text(&raised["id"]));
    let nominal = shop.read(&format!("/v1/center-gauges/{UNUSED}"))["nominal"]["value"].as_f64().expect("a height");
    shop.hold("impact-found=600");
    let found: Value = thread::scope(|scope| {
        let checked = scope.spawn(|| check(&shop, UNUSED, nominal + 0.001));
        thread::sleep(FIRST);
        let close = shop.person("inspector").post(&format!("{document}/close"));
        let closed = close.json(&json!({"note": "Nothing was set with it"})).send();
        let found = checked.join().expect("the check").expect(201).json();
        // On SQLite the check, begun first, is done first, and the document that it added to is closed.
        let _ = closed.expect(200);
        found
    });
    let now = shop.read(&document);
    assert_eq!((&now["open"], &now["closed_by"]), (&json!(false), &json!("inspector")), "{now}");
    if backend == Backend::Postgres {
        assert_ne!(found["impact"], raised["id"], "it has a document of its own");
        assert!(found["impact"].is_string(), "{found}");
    }
    let faults = shop.records().faults;
    assert!(faults.is_empty(), "{faults:#?}");
}

#[test]
fn a_document_that_is_closed_stays_closed_on_sqlite() {
    closed_stays_closed(Backend::Sqlite);
}

#[test]
fn a_document_that_is_closed_stays_closed_on_postgresql() {
    closed_stays_closed(Backend::Postgres);
}
