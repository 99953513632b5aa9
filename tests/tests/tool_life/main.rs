//! The life of form tools over HTTP, on both databases: grinds and their checks, whose a tool is, what is left, and the
//! traveller.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod findings;
mod grinding;
mod late;
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
    findings::a_crack_stays_until_it_is_cleared(&shop);
    findings::who_ground_does_not_pass(&shop);
    outlook::a_tool_by_its_designs_expected_figure(&shop);
    outlook::a_design_learns_from_its_own_edges(&shop);
    outlook::what_is_booked_runs_out(&shop);
    outlook::an_edge_from_before_the_records_is_no_edges_life(&shop);
    late::pieces_count_for_the_edge_that_cut_them(&shop);
    late::a_booking_and_a_grind_at_once(&shop);
    late::what_came_after_a_check_is_not_covered_by_it(&shop);
    owners::a_customers_tool_needs_consent(&shop);
    owners::only_its_owner_has_it_scrapped(&shop);
    owners::the_counter_keeps_it_for_its_part(&shop);
    findings::what_is_outside_is_passed_by_nobody_here(&shop);
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
