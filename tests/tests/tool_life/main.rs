//! The life of form tools over HTTP, on both databases: grinds and their checks, whose a tool is, what is left, and the
//! traveller.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod grinding;
mod outlook;
mod owners;
mod shop;

use dovetally_tests::server::Backend;
use shop::Shop;

fn the_toolroom(backend: Backend) {
    let shop = Shop::open(backend);
    grinding::a_grind_and_its_check(&shop);
    grinding::touch_ups_and_partial_grinds(&shop);
    grinding::burn_and_one_s_own_grind(&shop);
    grinding::below_the_minimum(&shop);
    grinding::circular_tools(&shop);
    grinding::what_cannot_be_names_the_field(&shop);
    outlook::a_tool_by_its_designs_expected_figure(&shop);
    outlook::a_design_learns_from_its_own_edges(&shop);
    outlook::what_is_booked_runs_out(&shop);
    owners::a_customers_tool_needs_consent(&shop);
    owners::a_setup_for_another_part_refuses_it(&shop);
    shop.records_are_sound();
}

#[test]
fn tools_live_as_the_toolroom_records_on_sqlite() {
    the_toolroom(Backend::Sqlite);
}

#[test]
fn tools_live_as_the_toolroom_records_on_postgresql() {
    the_toolroom(Backend::Postgres);
}
