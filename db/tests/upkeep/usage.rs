//! Pieces, setups and hours of a machine and of an item, against the same summed run by run.

use crate::{SHOP, both};
use chrono::{DateTime, TimeDelta, Utc};
use diesel::connection::SimpleConnection;
use dovetally_core::{
    ids::{ItemId, MachineId},
    maintenance::Usage,
};
use dovetally_db::usage;
use std::fmt::Write;
use uuid::Uuid;

const MACHINE: MachineId = MachineId::from_uuid(Uuid::from_u128(1));
const ITEM: ItemId = ItemId::from_uuid(Uuid::from_u128(2));

/// One run: its setup, whether the item was in it, from when, until when, pieces.
struct Run {
    setup: usize,
    with_item: bool,
    released_at: DateTime<Utc>,
    ended_at: Option<DateTime<Utc>>,
    pieces: Option<i64>,
}

/// Numbers that look drawn, the same in every run of the test.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, limit: u64) -> i64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        i64::try_from((self.0 >> 33) % limit).unwrap()
    }
}

fn begin() -> DateTime<Utc> {
    "2026-01-01T00:00:00Z".parse().unwrap()
}

/// Setups with the instants they were opened at, and their runs, one after the other; the last one still goes on.
fn history(numbers: &mut Numbers) -> (Vec<DateTime<Utc>>, Vec<Run>) {
    let (mut now, mut setups, mut runs) = (begin(), Vec::new(), Vec::new());
    let mut step = |numbers: &mut Numbers, limit| {
        now += TimeDelta::microseconds(1 + numbers.below(limit));
        now
    };
    for setup in 0..40 {
        setups.push(step(numbers, 3_600_000_000));
        for _ in 0..=numbers.below(3) {
            let released_at = step(numbers, 7_200_000_000);
            let ended_at = step(numbers, 40_000_000_000);
            let booked = numbers.below(5) > 0;
            let pieces = booked.then(|| numbers.below(5000));
            runs.push(Run { setup, with_item: numbers.below(3) > 0, released_at, ended_at: Some(ended_at), pieces });
        }
    }
    let last = runs.last_mut().unwrap();
    (last.ended_at, last.pieces) = (None, None);
    (setups, runs)
}

fn stored(setups: &[DateTime<Utc>], runs: &[Run]) -> String {
    let at = |at: DateTime<Utc>| at.format("'%Y-%m-%d %H:%M:%S%.6f'").to_string();
    let mut sql = SHOP.replace("'m'", &format!("'{MACHINE}'")).replace("'item', FALSE", &format!("'{ITEM}', FALSE"));
    sql = sql.replace("VALUES ('item',", &format!("VALUES ('{ITEM}',"));
    for (number, opened_at) in setups.iter().enumerate() {
        let closed = at(*opened_at + TimeDelta::days(400));
        writeln!(
            sql,
            "INSERT INTO setups VALUES ('s{number}', '{MACHINE}', 'part', NULL, 'closed', '{{}}', 'p', {}, {closed}, 1);",
            at(*opened_at)
        )
        .unwrap();
    }
    for (number, run) in runs.iter().enumerate() {
        let ended = run.ended_at.map_or("NULL".to_owned(), at);
        let pieces = run.pieces.map_or("NULL".to_owned(), |pieces| pieces.to_string());
        writeln!(
            sql,
            "INSERT INTO runs VALUES ('r{number}', 's{}', {number} + 1, '{MACHINE}', 'part', NULL, 1, {}, {ended}, {pieces}, 'free');",
            run.setup,
            at(run.released_at)
        )
        .unwrap();
        if run.with_item {
            writeln!(sql, "INSERT INTO run_items VALUES ('r{number}', '{ITEM}', 'S1');").unwrap();
        }
    }
    sql
}

/// The same, run by run.
fn summed<'a>(runs: impl Iterator<Item = &'a Run>, from: DateTime<Utc>, until: DateTime<Utc>) -> Usage {
    let mut usage = Usage::default();
    let mut setups = std::collections::BTreeSet::new();
    for run in runs {
        if run.released_at > from && run.released_at <= until {
            setups.insert(run.setup);
        }
        if run.ended_at.is_some_and(|ended| ended > from && ended <= until) {
            usage.pieces += run.pieces.unwrap_or(0);
        }
        let span = run.ended_at.unwrap_or(until).min(until) - run.released_at.max(from);
        usage.running_hours += span.num_microseconds().unwrap().max(0) as f64 / 3.6e9;
    }
    usage.setups = i64::try_from(setups.len()).unwrap();
    usage
}

#[test]
fn sums_are_those_of_the_runs() {
    for (mut connection, _server) in both() {
        let mut numbers = Numbers(7);
        let (setups, runs) = history(&mut numbers);
        connection.batch_execute(&stored(&setups, &runs)).unwrap();
        let span = u64::try_from((runs.last().unwrap().released_at - begin()).num_seconds() + 90_000).unwrap();
        let mut seen = 0;
        for round in 0..300 {
            let (a, b) = (numbers.below(span), numbers.below(span));
            // Now and then exactly at an instant of a run, where "after" and "up to" matter.
            let from = if round % 3 == 0 {
                runs[usize::try_from(numbers.below(40)).unwrap()].released_at
            } else {
                begin() + TimeDelta::seconds(a.min(b))
            };
            let until = (begin() + TimeDelta::seconds(a.max(b) + 1)).max(from + TimeDelta::seconds(1));
            let expected = summed(runs.iter(), from, until);
            let opened = setups.iter().filter(|opened| **opened > from && **opened <= until).count();
            let machine = usage::of_machine(&mut connection, MACHINE, from, until).unwrap();
            assert_eq!(
                (machine.pieces, machine.setups),
                (expected.pieces, i64::try_from(opened).unwrap()),
                "{from} {until}"
            );
            // SQLite reckons in milliseconds.
            assert!((machine.running_hours - expected.running_hours).abs() < 1e-4, "{machine:?} {expected:?}");
            let expected = summed(runs.iter().filter(|run| run.with_item), from, until);
            let item = usage::of_items(&mut connection, &[(ITEM, from)], until).unwrap()[0];
            assert_eq!((item.pieces, item.setups), (expected.pieces, expected.setups), "{from} {until}");
            assert!((item.running_hours - expected.running_hours).abs() < 1e-4, "{item:?} {expected:?}");
            seen += expected.pieces;
        }
        assert!(seen > 0);
        let other = MachineId::from_uuid(Uuid::from_u128(9));
        assert_eq!(
            usage::of_machine(&mut connection, other, begin(), begin() + TimeDelta::days(1000)).unwrap(),
            Usage::default()
        );
        // Several are answered as each is, in the order in which they are asked: also one twice.
        let until = begin() + TimeDelta::days(1000);
        let asked =
            [(MACHINE, runs[7].released_at), (other, begin()), (MACHINE, begin()), (MACHINE, runs[7].released_at)];
        let together = usage::of_machines(&mut connection, &asked, until).unwrap();
        let alone = asked.map(|(machine, from)| usage::of_machine(&mut connection, machine, from, until).unwrap());
        assert_eq!(together, alone);
        assert!(together[0] != together[2] && together[0] == together[3]);
        assert_eq!(usage::of_machines(&mut connection, &[], until).unwrap(), []);
    }
}
