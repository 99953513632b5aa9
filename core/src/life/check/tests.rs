use super::*;
use crate::{
    ids::{PartId, SetupId},
    life::{
        example::{circular, circular_tool, code, flat, mm, tool as worn},
        facts::RunToBook,
        ownership::{Belonging, Consent, ConsentKind, Ownership, PartRef},
    },
    setup::facts::SetupPlace,
};
use uuid::Uuid;

const GRINDER: Checker = Checker { person: PersonId::from_uuid(Uuid::from_u128(1)), inspects: false };
const OTHER_GRINDER: Checker = Checker { person: PersonId::from_uuid(Uuid::from_u128(2)), inspects: false };
const INSPECTOR: Checker = Checker { person: PersonId::from_uuid(Uuid::from_u128(3)), inspects: true };

fn tool() -> ToolLife {
    ToolLife { condition: Condition::NeedsCheck, pieces_since_grind: 0, ..worn() }
}

fn today() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 6, 1).unwrap()
}

fn ground() -> SincePassed {
    SincePassed { ground: true, ground_by: vec![GRINDER.person], edge: EdgeDoubt::None }
}

/// Everything that is asked for after a grind of a flat tool.
fn accepted() -> ToolCheckFields {
    ToolCheckFields {
        accepted: true,
        profile_checked: true,
        edge_sound: false,
        edge_cleared: None,
        height: Some(mm(20.0)),
        rake_deg: Some(20.0),
        face_offset: None,
        found: vec![],
        condition: None,
        confirmed: false,
        note: None,
    }
}

/// The same for a circular one.
fn accepted_circular() -> ToolCheckFields {
    ToolCheckFields { rake_deg: Some(10.2), face_offset: Some(mm(15.05)), ..accepted() }
}

fn rejected(condition: Condition) -> ToolCheckFields {
    ToolCheckFields { accepted: false, condition: Some(condition), ..accepted() }
}

fn judge(
    tool: &ToolLife,
    since: &SincePassed,
    fields: &ToolCheckFields,
    who: Checker,
) -> Result<Checked, Vec<Refusal>> {
    check(tool, &flat(), since, fields, who, today())
}

fn rules(result: Result<Checked, Vec<Refusal>>) -> Vec<Rule> {
    result.err().unwrap_or_default().into_iter().map(|refusal| refusal.rule).collect()
}

#[test]
fn an_accepted_tool_is_usable_and_another_is_as_said() {
    let passed = judge(&tool(), &ground(), &accepted(), INSPECTOR).unwrap();
    assert_eq!((passed.condition, passed.passed), (Condition::Usable, true));
    assert!(passed.remarks.is_empty(), "{:?}", passed.remarks);
    for condition in [Condition::NeedsGrinding, Condition::Damaged] {
        // Who ground it may still say that it is not good.
        let not = judge(&tool(), &ground(), &rejected(condition), GRINDER).unwrap();
        assert_eq!((not.condition, not.passed), (condition, false));
        // Word that it is no good may come from outside, with the tool still there.
        let away = ToolLife { outside: Some("OUT-GRIND".to_owned()), ..tool() };
        assert_eq!(judge(&away, &ground(), &rejected(condition), INSPECTOR).unwrap().condition, condition);
    }
    // A crash leaves a tool waiting without any grind: its profile is compared, and nothing else was changed.
    let looked_at = ToolCheckFields { height: None, rake_deg: None, ..accepted() };
    let crashed = judge(&tool(), &SincePassed::default(), &looked_at, GRINDER).unwrap();
    assert_eq!(crashed.condition, Condition::Usable);
}

#[test]
fn a_measured_height_is_the_records_downward_only() {
    let with = |height: f64| ToolCheckFields { height: Some(mm(height)), ..accepted() };
    let lower = judge(&tool(), &ground(), &with(19.5), INSPECTOR).unwrap();
    assert_eq!((lower.height, lower.remarks.len()), (mm(19.5), 1));
    let higher = judge(&tool(), &ground(), &with(20.05), INSPECTOR).unwrap();
    assert_eq!((higher.height, higher.remarks.len()), (mm(20.0), 1));
    let low = ToolCheckFields { height: Some(mm(11.9)), confirmed: true, ..rejected(Condition::Damaged) };
    let retired = judge(&tool(), &ground(), &low, INSPECTOR).unwrap();
    assert_eq!((retired.condition, retired.passed), (Condition::Retired, false));
}

/// To the picometre: three usual grinds are taken as they are read, a picometre more is asked after.
#[test]
fn a_height_that_falls_far_is_taken_only_when_it_is_confirmed() {
    let least = mm(20.0).picometres() - 3 * mm(0.4).picometres();
    let read = |picometres: i64, confirmed: bool| {
        let height = Length::from_picometres(picometres, mm(1.0).unit());
        judge(&tool(), &ground(), &ToolCheckFields { height: Some(height), confirmed, ..accepted() }, INSPECTOR)
    };
    assert_eq!(read(least, false).unwrap().height.picometres(), least);
    assert_eq!(rules(read(least - 1, false)), [Rule::ReadingNotConfirmed]);
    let confirmed = read(least - 1, true).unwrap();
    assert!(confirmed.remarks.iter().any(|remark| remark.contains("confirmed")), "{:?}", confirmed.remarks);
    // 0.79 in are 20.066 mm: the same number in millimetres is a slip of the unit, told in both.
    let slip = ToolCheckFields { height: Some(mm(0.79)), ..rejected(Condition::NeedsGrinding) };
    let refusals = judge(&tool(), &ground(), &slip, INSPECTOR).unwrap_err();
    assert_eq!(refusals.iter().map(|refusal| refusal.rule).collect::<Vec<_>>(), [Rule::ReadingNotConfirmed]);
    let told = &refusals[0].sentence;
    assert!(told.contains("0.79 mm (0.03110 in)") && told.contains("Was 0.79 in meant?"), "{told}");
}

/// 56 mm of arc at 30 mm, of which 12 stay, are 84.03°; a millimetre is 1.91° (derived).
#[test]
fn of_a_circular_tool_the_angle_is_told() {
    let read = |height: f64| {
        let fields = ToolCheckFields { height: Some(mm(height)), ..accepted_circular() };
        check(&circular_tool(), &circular(), &ground(), &fields, INSPECTOR, today())
    };
    let sentence = |height: f64| read(height).unwrap_err()[0].sentence.clone();
    assert_eq!(sentence(57.0), "Tool FT-1 is on record with 84.03°; 85.94° would be more.");
    assert_eq!(sentence(54.0), "Tool FT-1 would have 80.21° left; it had 84.03°, and one usual grind takes 0.76°.");
    assert_eq!(read(55.0).unwrap().remarks, ["The record said 84.03°; from now on it is 82.12°."]);
    let kept = "84.11° was measured; the record's 84.03° stays, for the usable angle only falls.";
    assert_eq!(read(56.04).unwrap().remarks, [kept]);
    let low = ToolCheckFields { height: Some(mm(11.6)), confirmed: true, ..accepted_circular() };
    let refusals = check(&circular_tool(), &circular(), &ground(), &low, INSPECTOR, today()).unwrap_err();
    assert_eq!(refusals[0].sentence, "The usable angle of tool FT-1 is used up, and 0.76° more.");
    let bare = ToolCheckFields { height: None, ..accepted_circular() };
    let refusals = check(&circular_tool(), &circular(), &ground(), &bare, INSPECTOR, today()).unwrap_err();
    assert_eq!(refusals[0].sentence, "The usable angle of tool FT-1 was not measured after its grind.");
    // 30 sin 29.5° has all its digits only in the sum.
    let off = ToolCheckFields { height: Some(mm(56.0)), face_offset: Some(mm(14.7)), ..accepted_circular() };
    let refusals = check(&circular_tool(), &circular(), &ground(), &off, INSPECTOR, today()).unwrap_err();
    assert!(refusals[0].sentence.ends_with("not from 14.7727 mm to 15.2262 mm."), "{refusals:?}");
}

#[test]
pub(crate) fn each_rule_is_noticed_when_it_is_gone() {
    let place = SetupPlace { setup: SetupId::from_uuid(Uuid::nil()), machine: code("M-1"), station: code("S1") };
    let in_setup = Some(place.clone());
    let run_to_book = Some(RunToBook { place, number: 2 });
    let seen = SincePassed { edge: EdgeDoubt::Ground, ..ground() };
    let found = SincePassed { edge: EdgeDoubt::Found, ..SincePassed::default() };
    let low = ToolCheckFields { height: Some(mm(11.999)), confirmed: true, ..accepted() };
    let too_low = ToolCheckFields { height: Some(mm(11.0)), confirmed: true, ..rejected(Condition::Damaged) };
    let high = ToolCheckFields { height: Some(mm(20.051)), ..accepted() };
    let slip = ToolCheckFields { height: Some(mm(18.7)), ..accepted() };
    let retired = ToolLife { condition: Condition::Retired, ..tool() };
    let cleared = |by: &str| ToolCheckFields { edge_sound: true, edge_cleared: Some(by.to_owned()), ..accepted() };
    let sound = ToolCheckFields { edge_sound: true, ..accepted() };
    let flat_cases = [
        (retired, ground(), accepted(), INSPECTOR, Rule::ToolRetired),
        (ToolLife { in_setup, ..tool() }, ground(), accepted(), INSPECTOR, Rule::ItemInSetup),
        (ToolLife { run_to_book, ..tool() }, ground(), too_low, INSPECTOR, Rule::RunNotBooked),
        (
            ToolLife { outside: Some("OUT-GRIND".to_owned()), ..tool() },
            ground(),
            accepted(),
            INSPECTOR,
            Rule::ItemHeldElsewhere,
        ),
        (tool(), ground(), high, INSPECTOR, Rule::ToolHeightRises),
        (tool(), ground(), slip, INSPECTOR, Rule::ReadingNotConfirmed),
        (tool(), ground(), low, INSPECTOR, Rule::ToolBelowMinimumHeight),
        (tool(), ground(), accepted(), GRINDER, Rule::OwnGrindNotPassed),
        // Nor is the burn of one's own grind found gone, though the tool is not passed.
        (
            tool(),
            seen.clone(),
            ToolCheckFields { edge_sound: true, ..rejected(Condition::NeedsGrinding) },
            GRINDER,
            Rule::OwnGrindNotPassed,
        ),
        (tool(), seen, accepted(), INSPECTOR, Rule::BurnNotCleared),
        (tool(), found.clone(), accepted(), INSPECTOR, Rule::BurnNotCleared),
        // Neither without a word of what was done, nor by whoever does not inspect, nor while not passing it.
        (tool(), found.clone(), sound, INSPECTOR, Rule::FindingNotCleared),
        (tool(), found.clone(), cleared("looked again"), OTHER_GRINDER, Rule::FindingNotCleared),
        (
            tool(),
            found,
            ToolCheckFields { edge_sound: true, ..rejected(Condition::NeedsGrinding) },
            OTHER_GRINDER,
            Rule::FindingNotCleared,
        ),
        (
            tool(),
            SincePassed::default(),
            ToolCheckFields { profile_checked: false, ..accepted() },
            INSPECTOR,
            Rule::ProfileNotChecked,
        ),
        (tool(), ground(), ToolCheckFields { height: None, ..accepted() }, INSPECTOR, Rule::HeightNotMeasured),
        (tool(), ground(), ToolCheckFields { rake_deg: None, ..accepted() }, INSPECTOR, Rule::RakeNotMeasured),
        (tool(), ground(), ToolCheckFields { rake_deg: Some(20.6), ..accepted() }, INSPECTOR, Rule::RakeOff),
        (
            tool(),
            SincePassed::default(),
            ToolCheckFields { rake_deg: Some(19.4), ..accepted() },
            INSPECTOR,
            Rule::RakeOff,
        ),
    ];
    let circular_cases = [
        (ToolCheckFields { face_offset: None, ..accepted_circular() }, Rule::FaceOffsetNotMeasured),
        (ToolCheckFields { face_offset: Some(mm(14.7)), ..accepted_circular() }, Rule::FaceOffsetOff),
        (ToolCheckFields { face_offset: Some(mm(15.3)), ..accepted_circular() }, Rule::FaceOffsetOff),
    ];
    let circular_cases =
        circular_cases.into_iter().map(|(fields, rule)| (circular(), tool(), ground(), fields, INSPECTOR, rule));
    let cases = flat_cases.into_iter().map(|(tool, since, fields, who, rule)| (flat(), tool, since, fields, who, rule));
    for (design, tool, since, fields, who, rule) in cases.chain(circular_cases) {
        assert_eq!(rules(check(&tool, &design, &since, &fields, who, today())), [rule], "{fields:?}");
        let without = check_under(RuleSet::without(rule), &tool, &design, &since, &fields, who, today());
        assert!(without.is_ok(), "{rule:?}");
    }
}

#[test]
fn everything_that_is_missing_after_a_grind_is_told_at_once() {
    let bare = ToolCheckFields { profile_checked: false, height: None, rake_deg: None, ..accepted() };
    let mut told = rules(check(&tool(), &circular(), &ground(), &bare, INSPECTOR, today()));
    told.sort();
    let mut all =
        [Rule::ProfileNotChecked, Rule::HeightNotMeasured, Rule::RakeNotMeasured, Rule::FaceOffsetNotMeasured];
    all.sort();
    assert_eq!(told, all);
}

#[test]
fn what_a_rule_asks_for_lets_the_tool_pass() {
    let sound = ToolCheckFields { edge_sound: true, ..accepted() };
    // Ground since, anybody else who tests the edge clears it.
    let seen = SincePassed { edge: EdgeDoubt::Ground, ..ground() };
    assert!(judge(&tool(), &seen, &sound, OTHER_GRINDER).is_ok());
    // Whoever ground may say what they saw where nothing is in doubt.
    let left_out = ToolCheckFields { edge_sound: true, ..rejected(Condition::NeedsGrinding) };
    assert!(judge(&tool(), &ground(), &left_out, GRINDER).is_ok());
    // Not ground, an inspector who says what was done.
    let found = SincePassed { edge: EdgeDoubt::Found, ..SincePassed::default() };
    let cleared = ToolCheckFields { edge_cleared: Some("Dye penetrant: a scratch".to_owned()), ..sound };
    assert!(judge(&tool(), &found, &cleared, INSPECTOR).is_ok());
    // Ground outside the shop, nobody of the shop did it.
    let outside = SincePassed { ground_by: vec![], ..ground() };
    assert!(judge(&tool(), &outside, &accepted(), GRINDER).is_ok());
    let circle = check(&tool(), &circular(), &ground(), &accepted_circular(), INSPECTOR, today()).unwrap();
    assert!(circle.remarks.is_empty(), "{:?}", circle.remarks);
    // Without a radius there is nothing to hold an offset against, and it says so.
    let no_radius = ToolDesignFields { tool_radius: None, ..circular() };
    let circle = check(&tool(), &no_radius, &ground(), &accepted_circular(), INSPECTOR, today()).unwrap();
    assert!(circle.remarks[0].contains("could not be held"), "{:?}", circle.remarks);
}

#[test]
fn a_customers_tool_is_retired_only_with_their_consent() {
    let reserved_for = Some(PartRef { id: PartId::from_uuid(Uuid::nil()), code: code("P-1") });
    let belonging = Belonging { owner: Some("Ashby Pumps".to_owned()), reserved_for };
    let owned =
        |consents: Vec<Consent>| ToolLife { ownership: Ownership { belonging: belonging.clone(), consents }, ..tool() };
    let low = ToolCheckFields { height: Some(mm(11.9)), confirmed: true, ..rejected(Condition::NeedsGrinding) };
    let kept = judge(&owned(vec![]), &ground(), &low, INSPECTOR).unwrap();
    assert_eq!((kept.condition, kept.height, kept.passed), (Condition::Damaged, mm(11.9), false));
    assert!(kept.remarks.iter().any(|remark| remark.contains("keep it for them")), "{:?}", kept.remarks);
    let scrap = Consent { kind: ConsentKind::Scrap, part: None, valid_until: Some(today()) };
    let retired = judge(&owned(vec![scrap]), &ground(), &low, INSPECTOR).unwrap();
    assert_eq!(retired.condition, Condition::Retired);
}

#[test]
fn what_cannot_be_names_the_field() {
    let pointers =
        |fields: ToolCheckFields| fields.check(&flat()).into_iter().map(|error| error.pointer).collect::<Vec<_>>();
    assert!(pointers(accepted()).is_empty() && pointers(rejected(Condition::Damaged)).is_empty());
    let words = |text: &str| Some(text.to_owned());
    for (fields, pointer) in [
        (ToolCheckFields { edge_cleared: words("tested"), ..accepted() }, "/edge_cleared"),
        (ToolCheckFields { edge_sound: true, edge_cleared: words(" "), ..accepted() }, "/edge_cleared"),
        (
            ToolCheckFields { edge_sound: true, found: vec![ToolFinding::Crack], ..rejected(Condition::Damaged) },
            "/edge_sound",
        ),
        (ToolCheckFields { found: vec![ToolFinding::Burn], ..accepted() }, "/found/0"),
        (ToolCheckFields { height: Some(mm(0.0)), ..accepted() }, "/height/value"),
    ] {
        assert_eq!(pointers(fields.clone()), [pointer], "{fields:?}");
    }
}
