//! Whether a gauge is stale: its machine's spindle centres may have moved since it was last accepted against them.

use crate::{
    code::Code,
    refusal::{Refusal, Rule, Subject, SubjectKind},
};
use chrono::{DateTime, Utc};

/// Whether the spindle centres may have moved since the last accepted check. Without one nothing is stale: the gauge was
/// never right for this machine, and says so by itself. At the same instant the order is not known, and what is not known
/// is never right.
#[must_use]
pub fn is_stale(
    last_accepted_check_at: Option<DateTime<Utc>>,
    centers_may_have_moved_at: Option<DateTime<Utc>>,
) -> bool {
    last_accepted_check_at.zip(centers_may_have_moved_at).is_some_and(|(checked_at, moved_at)| moved_at >= checked_at)
}

/// Why a stale gauge sets nothing, and is not handed out for it.
#[must_use]
pub fn refusal(
    gauge: &Code,
    machine: &Code,
    last_accepted_check_at: Option<DateTime<Utc>>,
    centers_may_have_moved_at: Option<DateTime<Utc>>,
) -> Option<Refusal> {
    let checked_at = last_accepted_check_at.filter(|_| is_stale(last_accepted_check_at, centers_may_have_moved_at))?;
    let sentence = format!("The spindle centres of {machine} may have moved since gauge {gauge} was checked.");
    let refusal = Refusal::new(Rule::GaugeStale, sentence)
        .saw(format!("last accepted check {}", checked_at.format("%Y-%m-%d %H:%M UTC")))
        .about(Subject::coded(SubjectKind::CenterGauge, gauge));
    Some(refusal)
}

#[cfg(test)]
mod tests {
    use super::{is_stale, refusal};
    use crate::{code::Code, refusal::Rule};
    use chrono::{DateTime, TimeDelta, Utc};

    fn hour(hours: i64) -> Option<DateTime<Utc>> {
        Some(DateTime::UNIX_EPOCH + TimeDelta::hours(hours))
    }

    #[test]
    fn stale_from_the_instant_of_its_check_on() {
        assert!(!is_stale(hour(8), None) && !is_stale(hour(8), hour(7)));
        assert!(is_stale(hour(8), hour(8)), "at the same instant the order is not known");
        assert!(is_stale(hour(8), hour(9)));
        assert!(!is_stale(None, hour(9)), "never accepted is another reason");
    }

    #[test]
    fn it_says_since_when() {
        let code = |text: &str| Code::parse(text).unwrap();
        let told = refusal(&code("CG-1"), &code("M-1"), hour(8), hour(9)).unwrap();
        assert_eq!(
            (told.rule, told.saw.as_deref()),
            (Rule::GaugeStale, Some("last accepted check 1970-01-01 08:00 UTC"))
        );
        assert_eq!(refusal(&code("CG-1"), &code("M-1"), hour(9), hour(8)), None);
    }
}
