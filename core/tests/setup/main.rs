//! The setup record, custody and the gauge question, from outside: what is refused, what is recorded, what re-opens what.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that fails says so by panicking")]

mod ghost;
mod shop;

mod advised;
mod counted;
mod custody;
mod doubt;
mod forever;
mod gauge_control;
mod last_time;
mod measuring;
mod night;
mod opening;
mod recorded;
mod refused;
mod refused_later;
mod reopened;
mod shown;
mod spindles;
mod upkeep;
mod uses;
mod wear;

use dovetally_core::{findings::with_rule_removed, refusal::Rule};
use std::collections::BTreeSet;

/// One refused request: what it is, the rules it must be refused with (no more, no less), and those it was.
pub(crate) struct Refused {
    name: &'static str,
    expected: Vec<Rule>,
    got: Vec<Rule>,
}

impl Refused {
    pub(crate) fn new(name: &'static str, expected: &[Rule], got: Vec<Rule>) -> Self {
        Self { name, expected: expected.to_vec(), got }
    }
}

/// Rules that the tests inside the crate are for.
const INSIDE: &[Rule] = &include!("tested_inside.in");

const GROUPS: [fn() -> Vec<Refused>; 13] = [
    refused::holder_and_tool,
    refused::gauge_and_height,
    refused_later::turning,
    refused_later::pieces,
    refused_later::run_and_close,
    night::refused,
    spindles::taken_out,
    opening::refused,
    custody::refused,
    upkeep::refused,
    gauge_control::refused,
    doubt::refused,
    counted::refused,
];

fn sorted(rules: &[Rule]) -> BTreeSet<Rule> {
    rules.iter().copied().collect()
}

/// Every case is refused with exactly its rules, and there is a case for every rule that there is.
#[test]
fn every_rule_refuses_what_it_says() {
    let mut seen = sorted(INSIDE);
    for case in GROUPS.into_iter().flat_map(|group| group()) {
        let (expected, got) = (sorted(&case.expected), sorted(&case.got));
        assert!(!expected.is_empty(), "{}", case.name);
        assert_eq!(got, expected, "{}", case.name);
        seen.extend(expected);
    }
    let missing: Vec<_> = Rule::ALL.iter().filter(|rule| !seen.contains(rule)).collect();
    assert!(missing.is_empty(), "no case refuses with {missing:?}");
}

/// With any one rule taken out, something above is not refused as it should be: the test would fail.
#[test]
fn every_rule_is_missed_when_it_is_gone() {
    for rule in Rule::ALL.iter().filter(|rule| !INSIDE.contains(rule)) {
        let misses = |group: &fn() -> Vec<Refused>| {
            let cases = std::panic::catch_unwind(|| with_rule_removed(*rule, group));
            // A history that can no longer be told as it was fails as well.
            cases.is_err()
                || cases.is_ok_and(|cases| cases.iter().any(|case| sorted(&case.got) != sorted(&case.expected)))
        };
        assert!(GROUPS.iter().any(misses), "nothing is missed without {}", rule.id());
    }
}
