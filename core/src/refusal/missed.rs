//! Rules that only tests inside this crate refuse by: with any one of them taken out, one of these tests fails.

use super::Rule;
use crate::{findings::with_rule_removed, life, planning};

const INSIDE: &[Rule] = &include!("../../tests/setup/tested_inside.in");

const TESTS: &[fn()] = &[
    planning::tests::each_rule_is_told_and_is_not_without_it,
    planning::tests::a_station_that_the_machine_lacks_is_told,
    planning::tests::what_a_lot_lacks_is_told_in_pieces_and_grinding_within_it_is_counted_only_when_asked,
    planning::tests::a_tool_that_two_jobs_want_is_a_conflict_that_both_see_until_one_has_it,
    planning::tests::a_machine_makes_one_job_at_a_time,
    planning::tests::bookings::only_what_a_station_needs_is_kept_for_a_job_and_for_one_job_at_a_time,
    life::regrind::tests::each_rule_is_noticed_when_it_is_gone,
    life::ownership::tests::each_deed_needs_its_own_consent_while_it_holds,
    life::check::tests::each_rule_is_noticed_when_it_is_gone,
];

#[test]
fn each_of_them_is_missed_when_it_is_gone() {
    for test in TESTS {
        test();
    }
    for rule in INSIDE {
        let misses = |test: &fn()| std::panic::catch_unwind(|| with_rule_removed(*rule, test)).is_err();
        assert!(TESTS.iter().any(misses), "no test misses {}", rule.id());
    }
}
