//! The gauge question: is this gauge the right one for this machine, and may it be used now?
//!
//! A centre gauge is cut to one machine's spindle centre height and is wrong on every other. Whatever is not known is
//! never "right".
//!
//! Beside the question stand what gauge control rests on: [`check`] decides a measurement, [`reading`] asks after one
//! that cannot be meant, [`drift`] follows a gauge over
//! its checks, [`impact`] tells what a gauge that was found wrong has touched and
//! [`impact_document`] is worked through, [`rebind`] gives a gauge to another machine, [`stale`] tells whether its
//! machine's centres may have moved since it was checked, [`standing`] whether what was read on one still counts.

pub mod check;
pub mod drift;
pub mod impact;
pub mod impact_document;
pub mod reading;
pub mod rebind;
pub mod stale;
pub mod standing;

use crate::{
    code::Code,
    findings::{Findings, RuleSet},
    ids::{ItemId, MachineId, PersonId, SetupId},
    item::{Condition, Keeper, Whereabouts},
    names::named,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    scan::Scanned,
};
use chrono::{DateTime, NaiveDate, Utc};

named! {
    /// The answer to the gauge question.
    GaugeVerdict {
        /// This machine's gauge, and it may be used now.
        Right = "right",
        /// Another machine's gauge. It outranks everything else.
        Wrong = "wrong",
        /// It may not be used now, or nothing is known of it.
        NotUsable = "not_usable",
    }
}

/// Where a gauge is placed, in an open setup.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GaugePlacement {
    /// The machine it is in.
    pub machine: MachineId,
    /// That machine's code.
    pub machine_code: Code,
    /// The setup in which it was placed.
    pub setup: SetupId,
    /// The station.
    pub station: Code,
}

/// What the records know of a centre gauge.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GaugeFacts {
    /// Its item id.
    pub item: ItemId,
    /// Its code.
    pub code: Code,
    /// The machine it was cut for.
    pub machine: MachineId,
    /// That machine's code.
    pub machine_code: Code,
    /// The stations it is limited to; none means every station of its machine.
    pub stations: Vec<Code>,
    /// The last judgement of it.
    pub condition: Condition,
    /// The last day on which its check is in date (UTC).
    pub next_check: Option<NaiveDate>,
    /// Its last accepted check against its machine.
    pub last_accepted_check_at: Option<DateTime<Utc>>,
    /// The last instant at which the spindle centres of *its* machine may have moved.
    pub centers_may_have_moved_at: Option<DateTime<Utc>>,
    /// Where it is.
    pub whereabouts: Whereabouts,
    /// Where it is placed.
    pub placed: Option<GaugePlacement>,
}

impl GaugeFacts {
    /// What a refusal about it names.
    #[must_use]
    pub fn subject(&self) -> Subject {
        Subject::coded(SubjectKind::CenterGauge, &self.code)
    }
}

/// The machine that is asked about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GaugeMachine {
    /// Its id.
    pub machine: MachineId,
    /// Its code.
    pub code: Code,
}

/// Answers the gauge question for a machine and a person at an instant, with everything that speaks against the gauge.
/// In its place, in the asker's hands or at this machine it is right.
#[must_use]
pub fn gauge_check(
    machine: &GaugeMachine,
    gauge: &Scanned<GaugeFacts>,
    who: PersonId,
    now: DateTime<Utc>,
) -> (GaugeVerdict, Vec<Refusal>) {
    let mut findings = Findings::under(RuleSet::ALL);
    examine(machine, gauge, who, now, &mut findings);
    let verdict = if findings.is_empty() {
        GaugeVerdict::Right
    } else if findings.includes(Rule::GaugeForOtherMachine) {
        GaugeVerdict::Wrong
    } else {
        GaugeVerdict::NotUsable
    };
    (verdict, findings.into_refusals())
}

/// The same, for rules that go further: writes what speaks against the gauge to `findings`.
pub(crate) fn examine(
    machine: &GaugeMachine,
    gauge: &Scanned<GaugeFacts>,
    who: PersonId,
    now: DateTime<Utc>,
    findings: &mut Findings,
) {
    if let Some((code, what)) = gauge.mismatch() {
        findings.add(
            Refusal::new(Rule::GaugeUnknown, format!("{what}: it is not known as a centre gauge."))
                .about(Subject::new(SubjectKind::CenterGauge, code)),
        );
    }
    let Some(gauge) = gauge.known() else { return };
    let about = |rule: Rule, sentence: String| Refusal::new(rule, sentence).about(gauge.subject());
    let code = &gauge.code;
    findings.add_if(gauge.machine != machine.machine, || {
        about(
            Rule::GaugeForOtherMachine,
            format!("Gauge {code} was cut for machine {}, not for {}.", gauge.machine_code, machine.code),
        )
        .saw(format!("cut for {}", gauge.machine_code))
    });
    let using = InUse {
        code,
        machine_code: &gauge.machine_code,
        condition: gauge.condition,
        checks: Checks {
            next: gauge.next_check,
            last_accepted_at: gauge.last_accepted_check_at,
            centers_may_have_moved_at: gauge.centers_may_have_moved_at,
        },
    };
    examine_use(using, now, findings);
    // Where a gauge is that is not for here does not matter: fetching it would be the next mistake.
    if !findings.includes(Rule::GaugeForOtherMachine) {
        examine_whereabouts(machine, gauge, who, findings);
    }
}

/// What decides whether a gauge of the right machine may be used, wherever it is.
#[derive(Clone, Copy)]
struct InUse<'a> {
    code: &'a Code,
    machine_code: &'a Code,
    condition: Condition,
    checks: Checks,
}

/// What is on record of a gauge's checks.
#[derive(Clone, Copy, Debug, Default)]
pub struct Checks {
    /// The last day on which it may be used.
    pub next: Option<NaiveDate>,
    /// When it was last accepted.
    pub last_accepted_at: Option<DateTime<Utc>>,
    /// When its machine's spindle centres may last have moved.
    pub centers_may_have_moved_at: Option<DateTime<Utc>>,
}

fn examine_use(gauge: InUse<'_>, now: DateTime<Utc>, findings: &mut Findings) {
    let code = gauge.code;
    let about = |rule: Rule, sentence: String| {
        Refusal::new(rule, sentence).about(Subject::coded(SubjectKind::CenterGauge, code))
    };
    findings.add_if(!gauge.condition.is_usable(), || {
        about(Rule::GaugeNotUsable, format!("Gauge {code} may not be used: {}.", gauge.condition.words()))
            .saw(gauge.condition.name())
    });
    checks_against_use(code, gauge.machine_code, gauge.checks, now.date_naive())
        .into_iter()
        .for_each(|found| findings.add(found));
}

/// What a gauge's checks say against using it on a day, whatever its condition: no accepted check, one that ran out, or
/// spindle centres that may have moved since.
#[must_use]
pub fn checks_against_use(code: &Code, machine_code: &Code, checks: Checks, today: NaiveDate) -> Vec<Refusal> {
    let about = |rule: Rule, sentence: String| {
        Refusal::new(rule, sentence).about(Subject::coded(SubjectKind::CenterGauge, code))
    };
    if checks.last_accepted_at.is_none() {
        return vec![about(Rule::GaugeNeverChecked, format!("Gauge {code} has no accepted check on record."))];
    }
    let ran_out = match checks.next {
        None => Some(about(Rule::GaugeCheckOverdue, format!("Gauge {code} has no date for its next check."))),
        Some(day) => (today > day).then(|| {
            about(Rule::GaugeCheckOverdue, format!("The check of gauge {code} ran out on {day}."))
                .saw(format!("next check {day}"))
        }),
    };
    let stale = stale::refusal(code, machine_code, checks.last_accepted_at, checks.centers_may_have_moved_at);
    ran_out.into_iter().chain(stale).collect()
}

fn examine_whereabouts(machine: &GaugeMachine, gauge: &GaugeFacts, who: PersonId, findings: &mut Findings) {
    let code = &gauge.code;
    let about = |rule: Rule, sentence: String| {
        Refusal::new(rule, sentence).about(gauge.subject()).saw(gauge.whereabouts.name.clone())
    };
    if let Some(placed) = gauge.placed.as_ref().filter(|placed| placed.machine != machine.machine) {
        findings.add(about(
            Rule::GaugePlacedElsewhere,
            format!("Gauge {code} is in machine {} at station {}.", placed.machine_code, placed.station),
        ));
        return;
    }
    let place = &gauge.whereabouts;
    match place.keeper {
        Keeper::Person(person) => findings
            .add_if(person != who, || about(Rule::GaugeNotInHand, format!("Gauge {code} is with {}.", place.name))),
        Keeper::Machine(at) => findings.add_if(at != machine.machine, || {
            about(Rule::GaugePlacedElsewhere, format!("Gauge {code} is at machine {}.", place.name))
        }),
        Keeper::Place(_) => findings.add_if(place.outside, || {
            about(Rule::GaugeNotInHand, format!("Gauge {code} is outside the shop, at {}.", place.name))
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::{GaugeFacts, GaugeMachine, GaugePlacement, GaugeVerdict, gauge_check};
    use crate::{
        code::Code,
        ids::{ItemId, MachineId, PersonId, PlaceId, SetupId},
        item::{Condition, Keeper, Whereabouts},
        refusal::Rule,
        scan::Scanned,
    };
    use chrono::{DateTime, NaiveDate, Utc};
    use uuid::Uuid;

    const ASKER: PersonId = PersonId::from_uuid(Uuid::from_u128(1));
    const OTHER: PersonId = PersonId::from_uuid(Uuid::from_u128(2));
    const HERE: MachineId = MachineId::from_uuid(Uuid::from_u128(10));
    const THERE: MachineId = MachineId::from_uuid(Uuid::from_u128(11));

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    fn code(text: &str) -> Code {
        Code::parse(text).unwrap()
    }

    fn whereabouts(keeper: Keeper, outside: bool) -> Whereabouts {
        Whereabouts { keeper, name: "SOMEWHERE".to_owned(), outside }
    }

    fn right_gauge() -> GaugeFacts {
        GaugeFacts {
            item: ItemId::from_uuid(Uuid::from_u128(20)),
            code: code("CG-1"),
            machine: HERE,
            machine_code: code("M-1"),
            stations: Vec::new(),
            condition: Condition::Usable,
            next_check: NaiveDate::from_ymd_opt(2026, 6, 30),
            last_accepted_check_at: Some(at("2026-01-10T08:00:00Z")),
            centers_may_have_moved_at: Some(at("2026-01-10T07:59:59Z")),
            whereabouts: whereabouts(Keeper::Place(PlaceId::from_uuid(Uuid::from_u128(30))), false),
            placed: None,
        }
    }

    fn ask(gauge: Scanned<GaugeFacts>) -> (GaugeVerdict, Vec<Rule>) {
        let machine = GaugeMachine { machine: HERE, code: code("M-1") };
        let (verdict, refusals) = gauge_check(&machine, &gauge, ASKER, at("2026-06-30T23:59:59Z"));
        (verdict, refusals.into_iter().map(|refusal| refusal.rule).collect())
    }

    fn ask_changed(change: impl FnOnce(&mut GaugeFacts)) -> (GaugeVerdict, Vec<Rule>) {
        let mut gauge = right_gauge();
        change(&mut gauge);
        ask(Scanned::Known(gauge))
    }

    #[test]
    fn right_in_its_place_in_the_askers_hands_and_at_the_machine() {
        let right = (GaugeVerdict::Right, vec![]);
        assert_eq!(ask(Scanned::Known(right_gauge())), right);
        assert_eq!(ask_changed(|g| g.whereabouts.keeper = Keeper::Person(ASKER)), right);
        assert_eq!(ask_changed(|g| g.whereabouts.keeper = Keeper::Machine(HERE)), right);
        let placed = GaugePlacement {
            machine: HERE,
            machine_code: code("M-1"),
            setup: SetupId::from_uuid(Uuid::nil()),
            station: code("S1"),
        };
        assert_eq!(ask_changed(|g| g.placed = Some(placed)), right);
        assert_eq!(ask_changed(|g| g.centers_may_have_moved_at = None), right);
    }

    #[test]
    fn what_is_not_known_is_never_right() {
        let not_known = (GaugeVerdict::NotUsable, vec![Rule::GaugeUnknown]);
        assert_eq!(ask(Scanned::Unknown { text: "?".to_owned() }), not_known);
        assert_eq!(ask(Scanned::OtherKind { code: code("H-1"), what: "a holder".to_owned() }), not_known);
    }

    #[test]
    fn each_reason_alone_makes_it_not_usable() {
        type Change = fn(&mut GaugeFacts);
        let cases: [(&str, Change, Rule); 12] = [
            ("never checked", |g| g.last_accepted_check_at = None, Rule::GaugeNeverChecked),
            ("out of date by a day", |g| g.next_check = NaiveDate::from_ymd_opt(2026, 6, 29), Rule::GaugeCheckOverdue),
            ("no next date", |g| g.next_check = None, Rule::GaugeCheckOverdue),
            ("work since", |g| g.centers_may_have_moved_at = Some(at("2026-01-10T08:00:01Z")), Rule::GaugeStale),
            ("work at once", |g| g.centers_may_have_moved_at = g.last_accepted_check_at, Rule::GaugeStale),
            ("needs check", |g| g.condition = Condition::NeedsCheck, Rule::GaugeNotUsable),
            ("damaged", |g| g.condition = Condition::Damaged, Rule::GaugeNotUsable),
            ("retired", |g| g.condition = Condition::Retired, Rule::GaugeNotUsable),
            ("with another", |g| g.whereabouts.keeper = Keeper::Person(OTHER), Rule::GaugeNotInHand),
            ("at another machine", |g| g.whereabouts.keeper = Keeper::Machine(THERE), Rule::GaugePlacedElsewhere),
            ("outside the shop", |g| g.whereabouts.outside = true, Rule::GaugeNotInHand),
            (
                "in another machine",
                |g| {
                    g.placed = Some(GaugePlacement {
                        machine: THERE,
                        machine_code: code("M-2"),
                        setup: SetupId::from_uuid(Uuid::nil()),
                        station: code("S1"),
                    });
                },
                Rule::GaugePlacedElsewhere,
            ),
        ];
        for (name, change, rule) in cases {
            assert_eq!(ask_changed(change), (GaugeVerdict::NotUsable, vec![rule]), "{name}");
        }
    }

    #[test]
    fn another_machines_gauge_is_wrong_whatever_else_is_and_all_is_listed() {
        let (verdict, rules) = ask_changed(|g| {
            g.machine = THERE;
            g.condition = Condition::Damaged;
            g.next_check = None;
            g.centers_may_have_moved_at = g.last_accepted_check_at;
            g.whereabouts.keeper = Keeper::Person(OTHER);
        });
        assert_eq!(verdict, GaugeVerdict::Wrong);
        assert_eq!(
            rules,
            [Rule::GaugeForOtherMachine, Rule::GaugeNotUsable, Rule::GaugeCheckOverdue, Rule::GaugeStale],
            "but not where it is: nobody is to fetch it"
        );
        assert_eq!(ask_changed(|g| g.machine = THERE), (GaugeVerdict::Wrong, vec![Rule::GaugeForOtherMachine]));
    }
}
