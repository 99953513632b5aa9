//! The setup record, custody and the gauge question, from outside: what is refused, what is recorded, what re-opens what.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that fails says so by panicking")]

mod ghost;
mod shop;

mod advised;
mod custody;
mod forever;
mod gauge_control;
mod last_time;
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

use dovetally_core::refusal::Rule;
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

/// Rules of plans and bookings: the tests of `planning` in this crate refuse by each of them.
const OF_PLANS: [Rule; 13] = [
    Rule::ItemBooked,
    Rule::WantedByOtherJob,
    Rule::NotNeededThere,
    Rule::JobNotOpen,
    Rule::ReservedForOtherPart,
    Rule::LifeTooShort,
    Rule::NoneOnRecord,
    Rule::OutForGrinding,
    Rule::OutForCheck,
    Rule::OutsideTheShop,
    Rule::CheckDueInRun,
    Rule::StationMissing,
    Rule::MachinePlannedTwice,
];

/// Rules of grinds, checks and owners: the tests of `life` in this crate refuse by each of them.
const OF_LIFE: [Rule; 9] = [
    Rule::ToolHeightRises,
    Rule::ToolHeightDiffers,
    Rule::GrindCountGoesBack,
    Rule::ToolRetired,
    Rule::OwnGrindNotPassed,
    Rule::BurnNotCleared,
    Rule::FaceOffsetNotMeasured,
    Rule::GrindWithoutConsent,
    Rule::RetireWithoutConsent,
];

/// Every case is refused with exactly its rules, and there is a case for every rule that there is.
#[test]
fn every_rule_refuses_what_it_says() {
    let cases = [
        refused::holder_and_tool(),
        refused::gauge_and_height(),
        refused_later::turning(),
        refused_later::pieces(),
        refused_later::run_and_close(),
        night::refused(),
        spindles::taken_out(),
        opening::refused(),
        custody::refused(),
        upkeep::refused(),
        gauge_control::refused(),
    ]
    .into_iter()
    .flatten();
    let mut seen = BTreeSet::new();
    for case in cases {
        let (expected, got): (BTreeSet<Rule>, BTreeSet<Rule>) =
            (case.expected.iter().copied().collect(), case.got.iter().copied().collect());
        assert!(!expected.is_empty(), "{}", case.name);
        assert_eq!(got, expected, "{}", case.name);
        seen.extend(expected);
    }
    let missing: Vec<_> = Rule::ALL
        .iter()
        .filter(|rule| !seen.contains(rule) && !OF_PLANS.contains(rule) && !OF_LIFE.contains(rule))
        .collect();
    assert!(missing.is_empty(), "no case refuses with {missing:?}");
}
