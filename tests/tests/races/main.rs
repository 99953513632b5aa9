//! Races on a live server, on both databases: whatever arrives together, one wins, the others are told why, nothing is
//! lost and nothing is half done.
//!
//! The requests of a round leave together and meet by chance; what they meet at is small, so that each race has many
//! rounds.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod against_release;
mod bookings;
mod controls;
mod gauges;
mod holders;
mod machine;
mod race;
mod records;
mod shop;

use dovetally_tests::server::Backend;
use machine::Order;
use race::Violations;
use serde_json::Value;
use shop::{Shop, items};

const ROUNDS: usize = 8;

/// Runs a race some times; every round must leave all as it must be, and the records must be sound at the end. Gives
/// how many changes were recorded.
fn run(what: &str, shop: &Shop, mut round: impl FnMut(usize) -> Violations) -> i64 {
    let before = shop.records().changes;
    for number in 0..ROUNDS {
        let violations = round(number);
        assert!(violations.is_empty(), "{what}, round {number}: {violations:#?}");
    }
    let after = shop.records();
    assert!(after.faults.is_empty(), "{what}: {:#?}", after.faults);
    after.changes - before
}

fn one_machine(backend: Backend) {
    let shop = Shop::open(backend);
    let setup = shop.open_setup(machine::RUNNING);
    run("two releases", &shop, |_| machine::releases(&shop, &setup));
    run("a release and a gauge", &shop, |_| machine::release_and_gauge(&shop, &setup));
    run("a release and a tag-out", &shop, |number| {
        let order = match number % 4 {
            0 => Order::ReleaseFirst,
            1 => Order::TagOutFirst,
            _ => Order::Together,
        };
        machine::release_and_tag_out(&shop, &setup, order)
    });
    let openings = run("two setups", &shop, |_| machine::openings(&shop));
    let rounds = i64::try_from(ROUNDS).expect("a small number");
    assert_eq!(openings, rounds * 2, "each round opens one setup and abandons it");
    assert_eq!(shop.count(&format!("/v1/setups?machine={}&limit=200", machine::FREE)), ROUNDS);
}

fn one_record(backend: Backend) {
    let shop = Shop::open(backend);
    let rounds = i64::try_from(ROUNDS).expect("a small number");
    let changes = run("two check-outs", &shop, |_| records::check_outs(&shop));
    assert_eq!(changes, rounds * 6, "three items out and back in each round");
    for code in records::KIT {
        let ledger = shop.read(&format!("/v1/movements?item={code}&limit=200"));
        let newest_first = items(&ledger).iter().map(|row| (row["item_sequence"].as_u64(), &row["kind"]));
        let (numbers, kinds): (Vec<_>, Vec<&Value>) = newest_first.rev().unzip();
        assert_eq!(numbers, (1..=1 + 2 * ROUNDS as u64).map(Some).collect::<Vec<_>>(), "{code}");
        let (out, back): (Vec<_>, Vec<_>) = kinds[1..].chunks(2).map(|pair| (pair[0], pair[1])).unzip();
        assert!(
            out.iter().all(|kind| *kind == "checked_out") && back.iter().all(|kind| *kind == "checked_in"),
            "{code}"
        );
    }
    let changes = run("one version of a record", &shop, |number| records::patches(&shop, number));
    assert_eq!(changes, rounds, "each round changes the record once");
    let changes = run("bookings of one kit", &shop, |_| bookings::of_one_kit(&shop));
    assert_eq!(changes, rounds * 6 + 6, "three items kept and let go in each round, six jobs once");
    for number in 0..3 {
        let violations = records::one_key(&shop, &format!("key-{number}"));
        assert!(violations.is_empty(), "one key, round {number}: {violations:#?}");
    }
    let records = shop.records();
    assert!(records.faults.is_empty(), "one key: {:#?}", records.faults);
}

#[test]
fn one_machine_has_one_release_or_one_gauge_or_a_tag_out_and_one_setup_on_sqlite() {
    one_machine(Backend::Sqlite);
}

#[test]
fn one_machine_has_one_release_or_one_gauge_or_a_tag_out_and_one_setup_on_postgresql() {
    one_machine(Backend::Postgres);
}

#[test]
fn one_item_has_one_keeper_one_version_one_successor_and_one_key_one_effect_on_sqlite() {
    one_record(Backend::Sqlite);
}

#[test]
fn one_item_has_one_keeper_one_version_one_successor_and_one_key_one_effect_on_postgresql() {
    one_record(Backend::Postgres);
}

/// A circle of waiting is broken by PostgreSQL after a second, and the request tried again: who asked sees it only as
/// slow, so it is PostgreSQL that is asked how often it had to.
#[test]
fn parts_whose_jobs_keep_each_others_tools_do_not_wait_in_a_circle_on_postgresql() {
    let shop = Shop::open(Backend::Postgres);
    bookings::two_parts_that_cross(&shop);
    run("two parts", &shop, |number| bookings::of_both_parts(&shop, number));
    let database = shop.server.postgres().expect("a PostgreSQL database");
    let circles = || -> i64 {
        let asked = "SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()";
        database.connect().query_one(asked, &[]).expect("the figures").get(0)
    };
    // Figures are told with a delay of a second.
    std::thread::sleep(std::time::Duration::from_millis(1500));
    assert_eq!(circles(), 0, "circles of waiting");
}
