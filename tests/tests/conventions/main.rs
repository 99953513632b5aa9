//! What holds for every operation, on both databases: how failures are answered, dry runs, entity tags, patches,
//! idempotency keys, pages, codes, lengths, times.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod failures;
mod predictions;
mod records;
mod repeats;
mod shop;
mod values;

use dovetally_tests::server::Backend;
use shop::Shop;

fn every_convention(backend: Backend) {
    let shop = Shop::open(backend);
    failures::each_kind_of_failure_is_a_problem_document(&shop);
    failures::a_refused_request_changes_nothing(&shop);
    failures::what_cannot_be_is_told_apart(&shop);
    records::a_dry_run_says_what_would_be_and_stores_nothing(&shop);
    records::a_version_is_read_once_and_changed_knowingly(&shop);
    records::a_patch_is_a_merge_patch(&shop);
    repeats::a_key_has_one_effect(&shop);
    repeats::a_walk_misses_and_repeats_nothing(&shop);
    predictions::every_write_is_foretold(&shop);
    values::codes(&shop);
    values::lengths(&shop);
    values::times(&shop);
    values::past_instants(&shop);
}

#[test]
fn every_convention_holds_on_sqlite() {
    every_convention(Backend::Sqlite);
}

#[test]
fn every_convention_holds_on_postgresql() {
    every_convention(Backend::Postgres);
}
