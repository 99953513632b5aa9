//! The proof that the races would see a fault: the same rounds against a program that holds its transactions at the
//! point between reading and writing, and from which the locks, the keys or both were taken.
//!
//! Locks and keys each suffice alone; without either, every race must break something. On SQLite there is nothing to
//! take away: one thread writes, one use case after the other; there the pause alone is tried.

use crate::{
    bookings,
    machine::{self, Order},
    race::{Violation, Violations},
    records,
    shop::Shop,
};
use dovetally_tests::server::Backend;

const HELD: &str = "setup-read=40,custody-read=40,booking-read=40,tag-out-read=40";
const NO_LOCKS: &str = "machine-guard,custody-lock";
/// And without the look, just before writing, whether an item has moved since it was judged.
const NO_LOCKS_NO_LOOK: &str = "machine-guard,custody-lock,custody-check";
const ROUNDS: usize = 3;
/// A race without locks and keys breaks something in its first round on an idle machine.
const MOST_ROUNDS: usize = 10;

type Race = (&'static str, fn(&Shop, &str) -> Violations);

const RACES: [Race; 6] = [
    ("two releases", machine::releases),
    ("a release and a gauge", machine::release_and_gauge),
    ("a release and a tag-out", |shop, setup| machine::release_and_tag_out(shop, setup, Order::Together)),
    ("two setups", |shop, _| machine::openings(shop)),
    ("two check-outs", |shop, _| records::check_outs(shop)),
    ("bookings of one kit", |shop, _| bookings::of_one_kit(shop)),
];

fn shop(backend: Backend, left_out: &str) -> Shop {
    let shop = Shop::controlled(backend, left_out);
    shop.hold(HELD);
    shop
}

/// Takes every key and check from the tables that the races meet at.
fn drop_keys(shop: &Shop) {
    let database = shop.server.postgres().expect("a PostgreSQL database");
    let dropped = "DO $$ DECLARE found record; BEGIN
        FOR found IN SELECT conrelid::regclass AS on_table, conname FROM pg_constraint
            WHERE contype IN ('p', 'u', 'f', 'c') AND conrelid::regclass::text IN ('setup_events', 'items_in_setups',
                'gauges_in_machines', 'releases_in_force', 'machine_states', 'custody', 'movements', 'changes', 'booking_days')
            ORDER BY contype = 'p' LOOP
            EXECUTE format('ALTER TABLE %s DROP CONSTRAINT IF EXISTS %I CASCADE', found.on_table, found.conname);
        END LOOP;
        DROP INDEX setups_one_open_a_machine;
    END $$";
    database.connect().batch_execute(dropped).expect("the keys are dropped");
}

fn nothing_breaks(what: &str, shop: &Shop) {
    let setup = shop.open_setup(machine::RUNNING);
    for (race, round) in RACES {
        for number in 0..ROUNDS {
            let violations = round(shop, &setup);
            assert!(violations.is_empty(), "{what}: {race}, round {number}: {violations:#?}");
        }
    }
}

#[test]
fn the_locks_alone_suffice_on_postgresql() {
    let shop = shop(Backend::Postgres, "");
    drop_keys(&shop);
    nothing_breaks("locks without keys", &shop);
}

/// Without locks a loser may be told "failed" and a round may not clear up after itself, so each race has a shop of its
/// own and one round; but nothing comes together that must not.
#[test]
fn the_keys_alone_suffice_on_postgresql() {
    for (race, round) in RACES {
        let shop = shop(Backend::Postgres, NO_LOCKS);
        let violations = round(&shop, &shop.open_setup(machine::RUNNING));
        let together: Vec<_> = violations.iter().filter(|found| matches!(found, Violation::Together(_))).collect();
        assert!(together.is_empty(), "keys without locks: {race}: {together:#?}");
        let nobody = violations.iter().any(|found| matches!(found, Violation::Promise(what) if what == "0 winners"));
        assert!(!nobody, "keys without locks: {race}: nobody was taken: {violations:#?}");
    }
}

/// What makes a hundred requests under one key one piece of work is the key of the record that each begins with.
#[test]
fn without_its_records_key_one_key_has_more_than_one_answer_on_postgresql() {
    let shop = shop(Backend::Postgres, "");
    let database = shop.server.postgres().expect("a PostgreSQL database");
    let dropped = "ALTER TABLE idempotency_keys DROP CONSTRAINT idempotency_keys_pkey";
    database.connect().batch_execute(dropped).expect("the key is dropped");
    assert!(!records::one_key(&shop, "one-key").is_empty(), "the race sees nothing");
}

#[test]
fn one_writer_suffices_on_sqlite() {
    let shop = shop(Backend::Sqlite, "");
    nothing_breaks("one writer", &shop);
}

#[test]
#[expect(clippy::print_stdout, reason = "what was seen belongs to the proof")]
fn without_locks_and_keys_every_race_breaks_something_on_postgresql() {
    for (race, round) in RACES {
        let shop = shop(Backend::Postgres, NO_LOCKS_NO_LOOK);
        drop_keys(&shop);
        let setup = shop.open_setup(machine::RUNNING);
        let broken = (1..=MOST_ROUNDS).find_map(|number| {
            let violations = round(&shop, &setup);
            let violation = violations.into_iter().find(|violation| matches!(violation, Violation::Together(_)))?;
            Some((number, violation))
        });
        let Some((number, violation)) = broken else {
            panic!("{race}: nothing broke in {MOST_ROUNDS} rounds without locks and keys: the race sees nothing")
        };
        println!("{race}, without locks and keys, round {number}: {violation:?}");
    }
}
