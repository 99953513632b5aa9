//! Gauge control over HTTP, on both databases: how checks are decided, what drifts, which machine has which gauge, what
//! makes a gauge stale, what one that was wrong has touched; and checks of holders.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod checks;
mod doubt;
mod holders;
mod impact;
#[path = "../main_job/past.rs"]
mod past;
mod rebinding;
#[path = "../main_job/shop.rs"]
#[allow(dead_code, reason = "the main job's tests use more of it")]
mod shop;
mod uses;

use chrono::{DateTime, SecondsFormat, TimeDelta, Utc};
use dovetally_tests::server::Backend;
use serde_json::{Value, json};
use shop::{Shop, inches};
use std::time::SystemTime;

fn now() -> DateTime<Utc> {
    #[expect(clippy::disallowed_methods, reason = "the server under test goes by the machine's clock")]
    SystemTime::now().into()
}

fn days_ago(days: f64) -> DateTime<Utc> {
    #[expect(clippy::cast_possible_truncation, reason = "a few days of seconds")]
    let seconds = (days * 86_400.0) as i64;
    now() - TimeDelta::seconds(seconds)
}

fn instant(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Micros, true)
}

/// A check with an uncertainty of 0.00005 in: guard bands of 0.000082 in at 95 %.
fn check(as_found: f64) -> Value {
    json!({"as_found": inches(as_found), "standard_uncertainty": inches(0.000_05), "next_check": "2999-12-31"})
}

fn checked_at(as_found: f64, performed_at: DateTime<Utc>) -> Value {
    let mut body = check(as_found);
    body["performed_at"] = json!(instant(performed_at));
    body
}

fn checks_of(gauge: &str) -> String {
    format!("/v1/center-gauges/{gauge}/checks")
}

/// What a request was refused for: the pointers to its faults.
#[track_caller]
fn faults(shop: &Shop, badge: &str, path: &str, body: &Value) -> Vec<String> {
    let problem = shop.send(badge, path, body).expect(422).json();
    let errors = problem["errors"].as_array().unwrap_or_else(|| panic!("no faults: {problem}")).clone();
    errors.iter().map(|error| shop::text(&error["pointer"])).collect()
}

/// The answer to the gauge question: the verdict and the rules that speak against the gauge.
#[track_caller]
fn question(shop: &Shop, badge: &str, machine: &str, gauge: &str) -> (String, Vec<String>) {
    let question = format!("/v1/machines/{machine}/gauge-check?gauge={gauge}");
    let answer = shop.person(badge).get(&question).send().expect(200).json();
    (shop::text(&answer["verdict"]), shop::named(&answer["refusals"]))
}

fn gauge_control(backend: Backend) {
    let shop = Shop::open(backend);
    uses::of_any_instant(&shop);
    checks::decided_by_a_rule_that_is_stated(&shop);
    checks::only_an_accepted_check_clears_a_stale_gauge(&shop);
    checks::a_height_that_departs_makes_gauges_stale(&shop);
    checks::a_slip_of_the_unit_is_asked_after(&shop);
    checks::drift_and_the_day_it_proposes(&shop);
    rebinding::not_by_a_check_from_before_its_last_use(&shop);
    rebinding::centres_moved_never_go_back(&shop);
    rebinding::to_another_machine_and_back(&shop);
    impact::from_the_check_to_the_closed_document(&shop);
    impact::a_doubt_ends_by_no_check_from_before_it(&shop);
    checks::what_came_after_a_check_is_not_covered_by_it(&shop);
    doubt::a_height_counts_while_somebody_vouches_for_its_gauge(&shop);
    holders::blocked_until_cleared(&shop);
    checks::a_gauge_out_of_date_stays_at_the_counter(&shop);
    checks::a_jump_is_no_drift(&shop);
    shop.records_are_sound();
}

#[test]
fn gauges_and_holders_are_controlled_on_sqlite() {
    gauge_control(Backend::Sqlite);
}

#[test]
fn gauges_and_holders_are_controlled_on_postgresql() {
    gauge_control(Backend::Postgres);
}
