use super::*;
use crate::{code::Code, ids::SetupId, length::LengthUnit, life::ownership::Ownership, setup::facts::SetupPlace};
use uuid::Uuid;

const GRINDER: PersonId = PersonId::from_uuid(Uuid::from_u128(1));
const INSPECTOR: PersonId = PersonId::from_uuid(Uuid::from_u128(2));
const FLAT: ToolDesignKind = ToolDesignKind::Flat;
const CIRCULAR: ToolDesignKind = ToolDesignKind::Circular;

fn mm(value: f64) -> Length {
    Length::new(value, LengthUnit::Millimetre).unwrap()
}

fn code(text: &str) -> Code {
    Code::parse(text).unwrap()
}

fn tool() -> ToolLife {
    ToolLife {
        code: code("FT-1"),
        condition: Condition::NeedsCheck,
        height: mm(20.0),
        minimum_height: mm(12.0),
        regrind_count: 3,
        pieces_since_grind: 0,
        partly_ground: false,
        in_setup: None,
        ownership: Ownership::default(),
    }
}

fn ground() -> SincePassed {
    SincePassed { ground_by: vec![GRINDER], burn_open: false, face_offset_measured: false }
}

fn accepted() -> ToolCheckFields {
    ToolCheckFields {
        accepted: true,
        profile_checked: true,
        edge_sound: false,
        height: None,
        rake_deg: None,
        face_offset: None,
        found: vec![],
        condition: None,
        note: None,
    }
}

fn rejected(condition: Condition) -> ToolCheckFields {
    ToolCheckFields { accepted: false, condition: Some(condition), ..accepted() }
}

fn rules(result: Result<Checked, Vec<Refusal>>) -> Vec<Rule> {
    result.err().unwrap_or_default().into_iter().map(|refusal| refusal.rule).collect()
}

#[test]
fn an_accepted_tool_is_usable_and_another_is_as_said() {
    let passed = check(&tool(), FLAT, &ground(), &accepted(), INSPECTOR).unwrap();
    assert_eq!((passed.condition, passed.passed), (Condition::Usable, true));
    for condition in [Condition::NeedsGrinding, Condition::Damaged] {
        // Who ground it may still say that it is not good.
        let not = check(&tool(), FLAT, &ground(), &rejected(condition), GRINDER).unwrap();
        assert_eq!((not.condition, not.passed), (condition, false));
    }
    // A crash leaves a tool waiting without any grind.
    let crashed = check(&tool(), FLAT, &SincePassed::default(), &accepted(), GRINDER).unwrap();
    assert_eq!(crashed.condition, Condition::Usable);
}

#[test]
fn a_measured_height_is_the_records_downward_only() {
    let with = |height: f64| ToolCheckFields { height: Some(mm(height)), ..accepted() };
    let lower = check(&tool(), FLAT, &ground(), &with(15.0), INSPECTOR).unwrap();
    assert_eq!((lower.height, lower.remarks.len()), (mm(15.0), 1));
    let higher = check(&tool(), FLAT, &ground(), &with(20.05), INSPECTOR).unwrap();
    assert_eq!((higher.height, higher.remarks.len()), (mm(20.0), 1));
    let low = ToolCheckFields { height: Some(mm(11.9)), ..rejected(Condition::Damaged) };
    let retired = check(&tool(), FLAT, &ground(), &low, INSPECTOR).unwrap();
    assert_eq!((retired.condition, retired.passed), (Condition::Retired, false));
}

#[test]
fn each_rule_is_noticed_when_it_is_gone() {
    let in_setup =
        Some(SetupPlace { setup: SetupId::from_uuid(Uuid::nil()), machine: code("M-1"), station: code("S1") });
    let burnt = SincePassed { burn_open: true, ..ground() };
    let low = ToolCheckFields { height: Some(mm(11.999)), ..accepted() };
    let high = ToolCheckFields { height: Some(mm(20.051)), ..accepted() };
    let retired = ToolLife { condition: Condition::Retired, ..tool() };
    for (tool, design, since, fields, who, rule) in [
        (retired, FLAT, ground(), accepted(), INSPECTOR, Rule::ToolRetired),
        (ToolLife { in_setup, ..tool() }, FLAT, ground(), accepted(), INSPECTOR, Rule::ItemInSetup),
        (tool(), FLAT, ground(), high, INSPECTOR, Rule::ToolHeightRises),
        (tool(), FLAT, ground(), low, INSPECTOR, Rule::ToolBelowMinimumHeight),
        (tool(), FLAT, ground(), accepted(), GRINDER, Rule::OwnGrindNotPassed),
        (tool(), FLAT, burnt, accepted(), INSPECTOR, Rule::BurnNotCleared),
        (tool(), CIRCULAR, ground(), accepted(), INSPECTOR, Rule::FaceOffsetNotMeasured),
    ] {
        assert_eq!(rules(check(&tool, design, &since, &fields, who)), [rule]);
        assert!(check_under(RuleSet::without(rule), &tool, design, &since, &fields, who).is_ok(), "{rule:?}");
    }
}

#[test]
fn what_a_rule_asks_for_lets_the_tool_pass() {
    let burnt = SincePassed { burn_open: true, ..ground() };
    let sound = ToolCheckFields { edge_sound: true, ..accepted() };
    assert!(check(&tool(), FLAT, &burnt, &sound, INSPECTOR).is_ok());
    let offset = ToolCheckFields { face_offset: Some(mm(6.0)), ..accepted() };
    assert!(check(&tool(), CIRCULAR, &ground(), &offset, INSPECTOR).is_ok());
    let by_grinder = SincePassed { face_offset_measured: true, ..ground() };
    assert!(check(&tool(), CIRCULAR, &by_grinder, &accepted(), INSPECTOR).is_ok());
}
