//! How a gauge stands on which a setup relies: one that is in the machine, or one on which a height was read that still
//! counts.
//!
//! A reading is in doubt while its gauge may not be used, and for good when a later check found the gauge, as it came, not
//! proved to lie inside its limits: whatever was read since the last accepted check was read on a gauge that nobody can
//! vouch for, however it was set right afterwards. That a check's day went by undoes nothing: the gauge was in date when
//! it was read on.

use super::{Checks, InUse, examine_use, impact::Window};
use crate::{
    code::Code,
    findings::{Findings, RuleSet},
    ids::ItemId,
    item::Condition,
    setup::facts::MachineFacts,
};
use chrono::{DateTime, NaiveDate, Utc};

/// What a check says of the time before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CheckFinding {
    /// When it was done; never later than it was recorded.
    pub performed_at: DateTime<Utc>,
    /// Whether the gauge, as it was found, is proved to lie inside its limits.
    pub found_right: bool,
    /// Whether the gauge, as it was left, is.
    pub accepted: bool,
}

/// What the records know of a gauge on which a setup relies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GaugeStanding {
    /// The gauge.
    pub gauge: ItemId,
    /// Its code.
    pub code: Code,
    /// The last judgement of it.
    pub condition: Condition,
    /// The last day on which its check is in date (UTC).
    pub next_check: Option<NaiveDate>,
    /// Its last accepted check.
    pub last_accepted_check_at: Option<DateTime<Utc>>,
    /// The times in which what was read on it is in doubt.
    pub doubts: Vec<Window>,
}

impl GaugeStanding {
    /// What speaks against reading a height on it now, in the machine that these facts are of.
    pub(crate) fn examine(&self, machine: &Code, facts: &MachineFacts, now: DateTime<Utc>, findings: &mut Findings) {
        let using = InUse {
            code: &self.code,
            machine_code: machine,
            condition: self.condition,
            checks: Checks {
                next: self.next_check,
                last_accepted_at: self.last_accepted_check_at,
                centers_may_have_moved_at: facts.centers_may_have_moved_at,
            },
        };
        examine_use(using, now, findings);
    }

    /// Whether nothing speaks against reading a height on it.
    pub(crate) fn may_be_read_on(&self, machine: &Code, facts: &MachineFacts, now: DateTime<Utc>) -> bool {
        let mut findings = Findings::under(RuleSet::ALL);
        self.examine(machine, facts, now, &mut findings);
        findings.is_empty()
    }

    /// Why what was read on it at an instant does not count, in words that follow on its code.
    #[must_use]
    pub fn doubt(&self, read_at: DateTime<Utc>) -> Option<String> {
        if !self.condition.is_usable() {
            return Some(format!("which may not be used: {}", self.condition.words()));
        }
        let in_doubt = self.doubts.iter().any(|doubt| doubt.includes(read_at));
        in_doubt.then(|| "which a later check did not find inside its limits".to_owned())
    }
}

/// The times that checks call into doubt, oldest check first: each from the last accepted check before it to the one that
/// set the gauge right again.
#[must_use]
pub fn doubts(checks: &[CheckFinding]) -> Vec<Window> {
    let mut doubts: Vec<Window> = Vec::new();
    let mut last_accepted = None;
    for check in checks {
        if !check.found_right {
            doubts.push(Window { since: last_accepted, until: None });
        }
        if check.accepted {
            for open in doubts.iter_mut().filter(|doubt| doubt.until.is_none()) {
                open.until = Some(open.since.map_or(check.performed_at, |since| check.performed_at.max(since)));
            }
            last_accepted = Some(check.performed_at);
        }
    }
    doubts
}

#[cfg(test)]
mod tests {
    use super::{CheckFinding, GaugeStanding, doubts};
    use crate::{code::Code, ids::ItemId, item::Condition};
    use chrono::{DateTime, TimeDelta, Utc};
    use uuid::Uuid;

    fn hour(hours: i64) -> DateTime<Utc> {
        DateTime::UNIX_EPOCH + TimeDelta::hours(hours)
    }

    fn check(hours: i64, found_right: bool, accepted: bool) -> CheckFinding {
        CheckFinding { performed_at: hour(hours), found_right, accepted }
    }

    fn standing(condition: Condition, checks: &[CheckFinding]) -> GaugeStanding {
        GaugeStanding {
            gauge: ItemId::from_uuid(Uuid::nil()),
            code: Code::parse("CG-1").unwrap(),
            condition,
            next_check: None,
            last_accepted_check_at: None,
            doubts: doubts(checks),
        }
    }

    fn in_doubt(checks: &[CheckFinding], hours: i64) -> bool {
        standing(Condition::Usable, checks).doubt(hour(hours)).is_some()
    }

    #[test]
    fn a_gauge_found_wrong_is_in_doubt_since_its_last_accepted_check() {
        let checks = [check(10, true, true), check(20, false, false)];
        assert_eq!([9, 10, 15, 20, 25].map(|at| in_doubt(&checks, at)), [false, true, true, true, true]);
        let never = [check(20, false, false)];
        assert!(in_doubt(&never, 1), "without an accepted check nothing is known of it");
    }

    #[test]
    fn set_right_in_the_same_check_it_was_wrong_until_then() {
        let checks = [check(10, true, true), check(20, false, true), check(30, true, true)];
        assert_eq!([9, 15, 20, 21, 31].map(|at| in_doubt(&checks, at)), [false, true, true, false, false]);
    }

    #[test]
    fn set_right_later_it_was_wrong_until_then() {
        let checks = [check(10, true, true), check(20, false, false), check(25, true, true)];
        assert_eq!([15, 22, 25, 26].map(|at| in_doubt(&checks, at)), [true, true, true, false]);
    }

    /// Found right, whatever it was left as: what was read before holds.
    #[test]
    fn a_check_that_finds_it_right_vouches_for_what_was_read_before() {
        assert!(!in_doubt(&[check(10, true, true), check(20, true, false)], 15));
        assert_eq!(doubts(&[check(10, true, true), check(20, true, true)]), []);
    }

    #[test]
    fn while_it_may_not_be_used_nothing_read_on_it_counts() {
        for condition in [Condition::NeedsCheck, Condition::Damaged, Condition::Retired, Condition::NeedsGrinding] {
            assert!(standing(condition, &[]).doubt(hour(1)).unwrap().contains(&condition.words()));
        }
        assert_eq!(standing(Condition::Usable, &[]).doubt(hour(1)), None);
    }
}
