//! Giving a gauge to another machine. A gauge is cut to one machine; another may have it only once a check against that
//! other machine was accepted, and only while it lies where nobody relies on it.

use super::{GaugeFacts, GaugeMachine};
use crate::{
    findings::{Findings, RuleSet},
    ids::PersonId,
    item::{Condition, Keeper},
    refusal::{Refusal, Rule},
};
use chrono::{DateTime, Utc};

/// What is asked: this gauge for that machine, with this check.
#[derive(Clone, Debug)]
pub struct Rebinding<'a> {
    /// The gauge as it is.
    pub gauge: &'a GaugeFacts,
    /// The machine that is to have it.
    pub to: &'a GaugeMachine,
    /// The last instant at which that machine's spindle centres may have moved.
    pub centers_may_have_moved_at: Option<DateTime<Utc>>,
    /// Whether the check against that machine accepts the gauge.
    pub accepted: bool,
    /// When the check was done.
    pub checked_at: DateTime<Utc>,
    /// When it was last taken out of a machine.
    pub last_used_at: Option<DateTime<Utc>>,
    /// Who asks.
    pub who: PersonId,
}

/// Grants or refuses it.
///
/// # Errors
/// Everything that speaks against it.
pub fn rebind(asked: &Rebinding<'_>) -> Result<(), Vec<Refusal>> {
    rebind_under(RuleSet::ALL, asked)
}

fn rebind_under(rules: RuleSet, asked: &Rebinding<'_>) -> Result<(), Vec<Refusal>> {
    let mut findings = Findings::under(rules);
    let gauge = asked.gauge;
    let (code, to) = (&gauge.code, &asked.to.code);
    let about = |rule: Rule, sentence: String| Refusal::new(rule, sentence).about(gauge.subject());
    findings.add_if(!asked.accepted, || {
        about(Rule::RebindingNotAccepted, format!("The check against machine {to} does not accept gauge {code}."))
            .saw("not accepted")
    });
    // At the same instant the order is not known.
    findings.add_if(asked.centers_may_have_moved_at.is_some_and(|moved_at| moved_at >= asked.checked_at), || {
        about(Rule::GaugeStale, format!("The spindle centres of {to} may have moved since gauge {code} was checked."))
            .saw(format!("checked {}", at_minute(asked.checked_at)))
    });
    // What was set with it since was set with the gauge as it is now, and nobody looked at it against its old machine: it was
    // either recut before that use, or it is not what the check measured.
    if let Some(used_at) = asked.last_used_at.filter(|used_at| *used_at >= asked.checked_at) {
        let own = &gauge.machine_code;
        findings.add(
            about(
                Rule::RebindingCheckTooOld,
                format!("Gauge {code} was used after that check, for machine {own}, until {}.", at_minute(used_at)),
            )
            .saw(format!("checked {}", at_minute(asked.checked_at))),
        );
    }
    findings.add_if(gauge.condition == Condition::Retired, || {
        about(Rule::GaugeNotUsable, format!("Gauge {code} is retired."))
            .saw(gauge.condition.name())
            .clears("Take another gauge.")
    });
    if let Some(placed) = &gauge.placed {
        let sentence = format!("Gauge {code} is in machine {} at station {}.", placed.machine_code, placed.station);
        findings.add(about(Rule::RebindingWhileInUse, sentence).saw(format!("placed in {}", placed.machine_code)));
    }
    let elsewhere = match gauge.whereabouts.keeper {
        Keeper::Person(person) => person != asked.who,
        Keeper::Place(_) => gauge.whereabouts.outside,
        Keeper::Machine(_) => false,
    };
    findings.add_if(elsewhere, || {
        let name = &gauge.whereabouts.name;
        about(Rule::RebindingWhileInUse, format!("Gauge {code} is not at hand: {name} has it.")).saw(name.clone())
    });
    let refusals = findings.into_refusals();
    if refusals.is_empty() { Ok(()) } else { Err(refusals) }
}

fn at_minute(at: DateTime<Utc>) -> impl std::fmt::Display {
    at.format("%Y-%m-%d %H:%M UTC")
}

#[cfg(test)]
mod tests {
    use super::{Rebinding, rebind, rebind_under};
    use crate::{
        code::Code,
        findings::RuleSet,
        gauge::{GaugeFacts, GaugeMachine, GaugePlacement},
        ids::{ItemId, MachineId, PersonId, PlaceId, SetupId},
        item::{Condition, Keeper, Whereabouts},
        refusal::Rule,
    };
    use uuid::Uuid;

    const INSPECTOR: PersonId = PersonId::from_uuid(Uuid::from_u128(1));
    const SETTER: PersonId = PersonId::from_uuid(Uuid::from_u128(2));
    const OLD: MachineId = MachineId::from_uuid(Uuid::from_u128(10));

    fn code(text: &str) -> Code {
        Code::parse(text).unwrap()
    }

    fn gauge() -> GaugeFacts {
        let keeper = Keeper::Place(PlaceId::from_uuid(Uuid::from_u128(3)));
        GaugeFacts {
            item: ItemId::from_uuid(Uuid::from_u128(20)),
            code: code("CG-1"),
            machine: OLD,
            machine_code: code("M-1"),
            stations: vec![code("S1")],
            condition: Condition::Usable,
            next_check: None,
            last_accepted_check_at: None,
            centers_may_have_moved_at: None,
            whereabouts: Whereabouts { keeper, name: "BIN".to_owned(), outside: false },
            placed: None,
        }
    }

    /// The rules that refuse; and that each refuses only while it is in force.
    fn refused(change: impl FnOnce(&mut GaugeFacts), ask: impl FnOnce(&mut Rebinding<'_>)) -> Vec<Rule> {
        let mut gauge = gauge();
        change(&mut gauge);
        let to = GaugeMachine { machine: MachineId::from_uuid(Uuid::from_u128(11)), code: code("M-2") };
        let mut asked = Rebinding {
            gauge: &gauge,
            to: &to,
            centers_may_have_moved_at: Some("2026-06-01T07:59:59Z".parse().unwrap()),
            accepted: true,
            checked_at: "2026-06-01T08:00:00Z".parse().unwrap(),
            last_used_at: Some("2026-06-01T07:59:59Z".parse().unwrap()),
            who: INSPECTOR,
        };
        ask(&mut asked);
        let rules: Vec<Rule> = rebind(&asked).err().unwrap_or_default().into_iter().map(|found| found.rule).collect();
        if let [only] = rules.as_slice() {
            assert!(rebind_under(RuleSet::without(*only), &asked).is_ok(), "{} alone stands in the way", only.id());
        }
        rules
    }

    #[test]
    fn an_accepted_check_and_a_gauge_at_hand_are_enough() {
        assert!(refused(|_| {}, |_| {}).is_empty());
        assert!(refused(|_| {}, |asked| asked.last_used_at = None).is_empty());
        assert!(refused(|g| g.whereabouts.keeper = Keeper::Person(INSPECTOR), |_| {}).is_empty());
        assert!(refused(|g| g.whereabouts.keeper = Keeper::Machine(OLD), |_| {}).is_empty());
        // It is for this that a check is done.
        assert!(refused(|g| g.condition = Condition::NeedsCheck, |_| {}).is_empty());
    }

    #[test]
    fn each_rule_refuses_alone() {
        assert_eq!(refused(|_| {}, |asked| asked.accepted = false), [Rule::RebindingNotAccepted]);
        let at_once = |asked: &mut Rebinding<'_>| asked.centers_may_have_moved_at = Some(asked.checked_at);
        assert_eq!(refused(|_| {}, at_once), [Rule::GaugeStale]);
        let used_since = |asked: &mut Rebinding<'_>| asked.last_used_at = Some(asked.checked_at);
        assert_eq!(refused(|_| {}, used_since), [Rule::RebindingCheckTooOld]);
        assert_eq!(refused(|g| g.condition = Condition::Retired, |_| {}), [Rule::GaugeNotUsable]);
        let with_another = |g: &mut GaugeFacts| g.whereabouts.keeper = Keeper::Person(SETTER);
        assert_eq!(refused(with_another, |_| {}), [Rule::RebindingWhileInUse]);
        assert_eq!(refused(|g| g.whereabouts.outside = true, |_| {}), [Rule::RebindingWhileInUse]);
        let placed = |g: &mut GaugeFacts| {
            let setup = SetupId::from_uuid(Uuid::nil());
            g.placed = Some(GaugePlacement { machine: OLD, machine_code: code("M-1"), setup, station: code("S1") });
        };
        assert_eq!(refused(placed, |_| {}), [Rule::RebindingWhileInUse]);
    }

    #[test]
    fn everything_is_told_at_once() {
        let change = |g: &mut GaugeFacts| {
            g.condition = Condition::Retired;
            g.whereabouts.outside = true;
        };
        let rules = refused(change, |asked| asked.accepted = false);
        assert_eq!(rules, [Rule::RebindingNotAccepted, Rule::GaugeNotUsable, Rule::RebindingWhileInUse]);
    }
}
