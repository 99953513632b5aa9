//! The later hours of a setup over HTTP, on both databases: releases that rest on a second setter's word, spindles that
//! differ, what the last setup tells the next one, wear while running, and what is taken out of a station.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod left_out;
mod night;
#[path = "../main_job/past.rs"]
mod past;
#[path = "../main_job/shop.rs"]
#[allow(dead_code, reason = "this test uses its own part of it")]
mod shop;
mod spindles;
mod told;
#[path = "../main_job/walk.rs"]
#[allow(dead_code, reason = "this test uses its own part of it")]
mod walk;

use dovetally_tests::server::Backend;
use shop::Shop;

fn at_night(backend: Backend) {
    let shop = Shop::open(backend);
    told::nothing_yet(&shop);
    night::what_a_shop_may_allow(&shop);
    let setup = night::released_on_a_second_setters_word(&shop);
    night::judged_by_an_inspector(&shop, &setup);
    told::wear_while_running(&shop, &setup);
    night::rejected_while_it_runs(&shop, &setup);
    told::last_time(&shop, &setup);
    shop.records_are_sound();
}

fn by_day(backend: Backend) {
    let shop = Shop::open(backend);
    spindles::measured(&shop);
    spindles::judged_by(&shop);
    left_out::picked_and_left_out(&shop);
    left_out::taken_out(&shop);
    shop.records_are_sound();
}

#[test]
fn a_second_setters_word_carries_a_limited_release_on_sqlite() {
    at_night(Backend::Sqlite);
}

#[test]
fn a_second_setters_word_carries_a_limited_release_on_postgresql() {
    at_night(Backend::Postgres);
}

#[test]
fn spindles_that_differ_and_stations_that_are_emptied_on_sqlite() {
    by_day(Backend::Sqlite);
}

#[test]
fn spindles_that_differ_and_stations_that_are_emptied_on_postgresql() {
    by_day(Backend::Postgres);
}
