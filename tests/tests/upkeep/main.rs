//! Maintenance and supplies over HTTP, on both databases: plans and how they stand, work orders and what they touch, what
//! breakdowns tell, the shelf and its ledger, and what happens when many reach for the same thing at once.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod due;
mod orders;
mod plans;
mod races;
mod reliability;
mod shop;
mod supplies;

use dovetally_tests::server::Backend;
use shop::Shop;

fn maintenance(backend: Backend) {
    let shop = Shop::open(backend);
    plans::a_plan_is_kept_and_retired(&shop);
    reliability::what_the_records_do_not_allow_is_said(&shop);
    plans::use_is_counted_from_runs(&shop);
    orders::a_breakdown_is_reported_by_anyone_and_mended(&shop);
    orders::work_on_the_spindles_makes_gauges_stale_and_heights_unread(&shop);
    orders::work_that_is_called_off_says_what_it_touched(&shop);
    orders::a_plan_has_one_open_order_and_begins_anew_when_it_is_done(&shop);
    orders::all_of_it_or_nothing(&shop);
    orders::what_cannot_be_is_named(&shop);
    orders::a_tag_out_is_seen_at_once(&shop);
    reliability::breakdowns_against_running_hours(&shop);
    shop.records_are_sound();
}

fn the_shelf(backend: Backend) {
    let shop = Shop::open(backend);
    supplies::what_is_on_hand_is_the_sum_of_its_ledger(&shop);
    supplies::a_count_keeps_what_happened_meanwhile(&shop);
    supplies::a_count_sees_what_work_had_used_before_it_was_written_up(&shop);
    supplies::who_may_and_what_cannot_be(&shop);
    supplies::when_to_order(&shop);
    races::thirty_two_withdrawals_and_a_count(&shop);
    races::the_last_one_is_withdrawn_once(&shop);
    races::an_order_ends_once(&shop);
    races::a_plan_gives_one_order(&shop);
    shop.records_are_sound();
}

fn what_is_due(backend: Backend) {
    let shop = Shop::open(backend);
    due::as_the_shop_opens(&shop);
    due::as_things_happen(&shop);
    due::what_was_used_up_long_ago_stands_first(&shop);
    shop.records_are_sound();
}

#[test]
fn what_is_due_is_listed_on_sqlite() {
    what_is_due(Backend::Sqlite);
}

#[test]
fn what_is_due_is_listed_on_postgresql() {
    what_is_due(Backend::Postgres);
}

#[test]
fn maintenance_is_kept_on_sqlite() {
    maintenance(Backend::Sqlite);
}

#[test]
fn maintenance_is_kept_on_postgresql() {
    maintenance(Backend::Postgres);
}

#[test]
fn the_shelf_is_kept_on_sqlite() {
    the_shelf(Backend::Sqlite);
}

#[test]
fn the_shelf_is_kept_on_postgresql() {
    the_shelf(Backend::Postgres);
}
