//! Planning end to end over HTTP, on both databases: readiness and what it names, conflicts that both jobs see, kits with
//! least waste, bookings and what becomes of them.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod bookings;
mod floor;
mod readiness;

use dovetally_tests::server::Backend;
use floor::Floor;

fn plans(backend: Backend) {
    let floor = Floor::open(backend);
    readiness::a_job_with_everything_there_is_ready(&floor);
    readiness::what_is_missing_is_named_with_why(&floor);
    readiness::two_jobs_that_want_one_tool_both_see_it(&floor);
    readiness::a_machine_that_is_down_is_told(&floor);
    readiness::the_list_names_the_jobs_in_their_order(&floor);
    readiness::pieces_made_are_not_needed_again(&floor);
    readiness::bad_questions_are_told(&floor);
}

fn keeping(backend: Backend) {
    let floor = Floor::open(backend);
    bookings::an_item_is_kept_for_one_job_on_one_day(&floor);
    bookings::what_cannot_serve_is_not_kept(&floor);
    bookings::the_proposal_is_taken_as_it_stands(&floor);
    bookings::bookings_move_and_end_with_their_job(&floor);
    bookings::a_job_that_runs_over_keeps_its_tools_and_both_see_it(&floor);
    bookings::handing_out_what_is_kept_for_another_is_told(&floor);
    bookings::a_customers_tool_is_booked_with_consent(&floor);
    floor.records_are_sound();
}

#[test]
fn plans_say_what_serves_and_what_is_missing_on_sqlite() {
    plans(Backend::Sqlite);
}

#[test]
fn plans_say_what_serves_and_what_is_missing_on_postgresql() {
    plans(Backend::Postgres);
}

#[test]
fn items_are_kept_for_jobs_on_sqlite() {
    keeping(Backend::Sqlite);
}

#[test]
fn items_are_kept_for_jobs_on_postgresql() {
    keeping(Backend::Postgres);
}
