//! The main job end to end over HTTP, on both databases: the gauge question, kits, a setup from the first holder to the
//! last piece, what each change re-opens, and what a run permit says.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod changes;
mod custody;
mod depth;
mod gauge_question;
mod past;
mod permit;
mod settings;
mod setup;
mod shop;
mod walk;

use dovetally_tests::server::Backend;
use shop::Shop;

fn the_crib(backend: Backend) {
    let shop = Shop::open(backend);
    gauge_question::whose_and_where(&shop);
    gauge_question::checks(&shop);
    gauge_question::after_work_on_the_machine(&shop);
    custody::a_kit_is_handed_out_whole_or_not_at_all(&shop);
    custody::what_is_out_is_passed_on_or_brought_back_by_whoever_has_it(&shop);
    custody::at_the_counter(&shop);
    custody::the_ledger_tells_everything(&shop);
    shop.records_are_sound();
}

fn one_setup(backend: Backend) {
    let shop = Shop::open(backend);
    setup::from_the_first_holder_to_the_last_piece(&shop);
    shop.records_are_sound();
}

fn the_shops_choices(backend: Backend) {
    let shop = Shop::open(backend);
    let setup = changes::every_row_of_the_table(&shop);
    changes::pieces_from_before(&shop, &setup);
    changes::a_crash(&shop, &setup);
    settings::each_choice_bears_on_the_next_setup(&shop);
    depth::an_end_slide_moves_every_depth_that_hangs_on_it(&shop);
    shop.records_are_sound();
}

#[test]
fn the_crib_hands_out_what_may_be_used_on_sqlite() {
    the_crib(Backend::Sqlite);
}

#[test]
fn the_crib_hands_out_what_may_be_used_on_postgresql() {
    the_crib(Backend::Postgres);
}

#[test]
fn a_setup_runs_only_when_nothing_stands_against_it_on_sqlite() {
    one_setup(Backend::Sqlite);
}

#[test]
fn a_setup_runs_only_when_nothing_stands_against_it_on_postgresql() {
    one_setup(Backend::Postgres);
}

#[test]
fn what_a_change_touches_is_proven_again_on_sqlite() {
    the_shops_choices(Backend::Sqlite);
}

#[test]
fn what_a_change_touches_is_proven_again_on_postgresql() {
    the_shops_choices(Backend::Postgres);
}
