use super::*;
use crate::{
    ids::{PartId, SetupId},
    length::LengthUnit,
    life::{
        example::{circular, circular_tool, code, flat, mm, tool},
        facts::RunToBook,
        ownership::{Belonging, Consent, ConsentKind, Ownership, PartRef},
    },
    setup::facts::SetupPlace,
};
use proptest::prelude::*;
use uuid::Uuid;

fn today() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 6, 1).unwrap()
}

fn full(after: f64) -> RegrindFields {
    RegrindFields {
        kind: GrindKind::Full,
        height_before: None,
        removal: Some(Removal::Down(mm(after))),
        regrind_count: None,
        wheel: None,
        dressed: true,
        burn_seen: false,
        rake_deg: None,
        face_offset: None,
        profile_checked: true,
        edge_ended: Some(EdgeEnd::Worn),
        ground_by: GroundBy::Person(PersonId::from_uuid(Uuid::nil())),
        confirmed: false,
        note: None,
    }
}

fn touch_up() -> RegrindFields {
    RegrindFields { kind: GrindKind::TouchUp, removal: None, edge_ended: None, ..full(0.0) }
}

fn rules(result: Result<Ground, Vec<Refusal>>) -> Vec<Rule> {
    result.err().unwrap_or_default().into_iter().map(|refusal| refusal.rule).collect()
}

#[test]
fn a_full_grind_makes_a_new_edge_that_waits_for_its_check() {
    let ground = grind(&tool(), &full(19.6), None, today()).unwrap();
    assert_eq!((ground.height_after, ground.regrind_count, ground.pieces_since_grind), (mm(19.6), 4, 0));
    assert_eq!(ground.condition, Condition::NeedsCheck);
    let edge = EndedEdge { pieces: 4100, ended: EdgeEnd::Worn, partly_ground: false, begun_before: false };
    assert_eq!(ground.ended, Some(edge));
    assert!(ground.remarks.is_empty(), "{:?}", ground.remarks);
}

#[test]
fn a_touch_up_takes_nothing_and_the_pieces_keep_counting() {
    let ground = grind(&tool(), &touch_up(), None, today()).unwrap();
    assert_eq!((ground.height_after, ground.regrind_count, ground.pieces_since_grind), (mm(20.0), 3, 4100));
    assert_eq!((ground.ended, ground.condition), (None, Condition::NeedsCheck));
}

#[test]
fn a_partial_grind_takes_height_and_leaves_the_edge() {
    let partial = RegrindFields { kind: GrindKind::Partial, edge_ended: None, ..full(19.8) };
    let ground = grind(&tool(), &partial, None, today()).unwrap();
    assert_eq!((ground.height_after, ground.regrind_count, ground.pieces_since_grind), (mm(19.8), 4, 4100));
    assert_eq!(ground.ended, None);
    for edge in [ToolLife { partly_ground: true, ..tool() }, ToolLife { begun_before: true, ..tool() }] {
        assert!(!grind(&edge, &full(19.6), None, today()).unwrap().ended.unwrap().failed());
    }
}

/// To the picometre: at the minimum a tool is used, one picometre below it is not.
#[test]
fn below_its_minimum_a_tool_retires_itself_and_says_so() {
    let at = |picometres: i64| {
        let after = Length::from_picometres(picometres, LengthUnit::Millimetre);
        let fields = RegrindFields { removal: Some(Removal::Down(after)), confirmed: true, ..full(0.0) };
        grind(&tool(), &fields, None, today()).unwrap()
    };
    assert_eq!(at(12_000_000_000).condition, Condition::NeedsCheck);
    let retired = at(11_999_999_999);
    assert_eq!(retired.condition, Condition::Retired);
    assert!(retired.remarks[1].contains("the tool is retired"), "{:?}", retired.remarks);
    let partial = RegrindFields { kind: GrindKind::Partial, edge_ended: None, confirmed: true, ..full(11.0) };
    let ended = grind(&tool(), &partial, None, today()).unwrap().ended.unwrap();
    assert_eq!((ended.ended, ended.pieces), (EdgeEnd::Retired, 4100));
}

#[test]
fn a_customers_tool_is_not_retired_by_a_grind_that_they_did_not_know_to_be_the_last() {
    let reserved_for = Some(PartRef { id: PartId::from_uuid(Uuid::nil()), code: code("P-1") });
    let belonging = Belonging { owner: Some("Ashby Pumps".to_owned()), reserved_for };
    let consented = |kind: ConsentKind| Consent { kind, part: None, valid_until: None };
    let ground = |kinds: &[ConsentKind]| {
        let consents = kinds.iter().copied().map(consented).collect();
        let tool = ToolLife { ownership: Ownership { belonging: belonging.clone(), consents }, ..tool() };
        grind(&tool, &RegrindFields { confirmed: true, ..full(11.0) }, None, today()).unwrap()
    };
    let kept = ground(&[ConsentKind::Grind]);
    assert_eq!((kept.condition, kept.height_after), (Condition::Damaged, mm(11.0)));
    assert!(kept.remarks.iter().any(|remark| remark.contains("keep it for them")), "{:?}", kept.remarks);
    assert_eq!(ground(&[ConsentKind::Grind, ConsentKind::Scrap]).condition, Condition::Retired);
}

/// Half an inch entered as half a millimetre: told in both units, with the number that was meant.
#[test]
fn a_slip_of_the_unit_is_told_and_nothing_is_retired() {
    let short = ToolLife { height: Length::new(0.52, LengthUnit::Inch).unwrap(), ..tool() };
    let refusals = grind(&short, &full(0.5), None, today()).unwrap_err();
    assert_eq!(refusals[0].rule, Rule::ReadingNotConfirmed);
    let told = &refusals[0].sentence;
    assert!(told.contains("0.5 mm (0.01969 in)") && told.contains("Was 0.5 in meant?"), "{told}");
}

/// 56 mm of arc at 30 mm, of which 12 stay: 44/30 of a radian are 84.03°; three grinds of 0.4 mm are 2.29° (derived).
#[test]
fn of_a_circular_tool_the_angle_is_told() {
    let sentence = |fields: &RegrindFields| {
        let refusals = grind(&circular_tool(), fields, None, today()).unwrap_err();
        (refusals[0].rule, refusals[0].sentence.clone(), refusals[0].saw.clone().unwrap_or_default())
    };
    let (rule, told, saw) = sentence(&full(54.7));
    assert_eq!((rule, saw.as_str()), (Rule::ReadingNotConfirmed, "81.55°"));
    assert_eq!(told, "Tool FT-1 would have 81.55° left; it had 84.03°, and one usual grind takes 0.76°.");
    let confirmed = RegrindFields { confirmed: true, ..full(54.7) };
    let ground = grind(&circular_tool(), &confirmed, None, today()).unwrap();
    assert_eq!(ground.remarks, ["The usable angles were confirmed by whoever recorded them."]);
    assert_eq!(sentence(&full(57.0)).1, "Tool FT-1 would have 85.94° left after a grind; before, it has 84.03°.");
    let measured = |before: f64| RegrindFields { height_before: Some(mm(before)), ..full(55.6) };
    assert_eq!(sentence(&measured(57.0)).1, "Tool FT-1 has 85.94° left before the grind; on record is 84.03°.");
    let ground = grind(&circular_tool(), &measured(56.04), None, today()).unwrap();
    assert!(ground.remarks[0].starts_with("Before the grind 84.11° was measured; on record was 84.03°."), "{ground:?}");
    let below = grind(&circular_tool(), &RegrindFields { confirmed: true, ..full(11.6) }, None, today()).unwrap();
    assert_eq!(below.remarks[1], "The usable angle is used up, and 0.76° more: the tool is retired.");
}

/// What stock came to has every digit of its arithmetic: a sentence has what a shop reads.
#[test]
fn lengths_in_sentences_are_read_off() {
    let fields = RegrindFields { removal: Some(Removal::Stock(mm(0.7))), ..full(0.0) };
    let refusals = grind(&tool(), &fields, Some(mm(1.895_268_187)), today()).unwrap_err();
    assert!(refusals[0].sentence.starts_with("Tool FT-1 would be 18.1047 mm (0.71278 in) high"), "{refusals:?}");
}

#[test]
fn what_two_measurements_may_differ_is_told_and_more_is_refused() {
    let measured = |before: f64| RegrindFields { height_before: Some(mm(before)), ..full(19.5) };
    let ground = grind(&tool(), &measured(19.95), None, today()).unwrap();
    assert_eq!((ground.height_before, ground.remarks.len()), (mm(19.95), 1));
    for before in [19.949, 20.051, 15.0, 25.0] {
        assert!(rules(grind(&tool(), &measured(before), None, today())).contains(&Rule::ToolHeightDiffers), "{before}");
    }
}

#[test]
pub(crate) fn each_rule_is_noticed_when_it_is_gone() {
    let place = SetupPlace { setup: SetupId::from_uuid(Uuid::nil()), machine: code("M-1"), station: code("S1") };
    let in_setup = Some(place.clone());
    let run_to_book = Some(RunToBook { place, number: 2 });
    let reserved_for = Some(PartRef { id: PartId::from_uuid(Uuid::nil()), code: code("P-1") });
    let belonging = Belonging { owner: Some("Ashby Pumps".to_owned()), reserved_for };
    let cases = [
        (ToolLife { condition: Condition::Retired, ..tool() }, full(19.6), Rule::ToolRetired),
        (ToolLife { in_setup, ..tool() }, full(19.6), Rule::ItemInSetup),
        (ToolLife { run_to_book: run_to_book.clone(), ..tool() }, full(19.6), Rule::RunNotBooked),
        (ToolLife { run_to_book, ..tool() }, touch_up(), Rule::RunNotBooked),
        (tool(), full(18.7), Rule::ReadingNotConfirmed),
        (tool(), RegrindFields { height_before: Some(mm(20.04)), ..full(18.83) }, Rule::ReadingNotConfirmed),
        (
            ToolLife { ownership: Ownership { belonging, consents: vec![] }, ..tool() },
            full(19.6),
            Rule::GrindWithoutConsent,
        ),
        (tool(), full(20.0), Rule::ToolHeightRises),
        (tool(), full(20.1), Rule::ToolHeightRises),
        (tool(), RegrindFields { height_before: Some(mm(20.04)), ..full(20.01) }, Rule::ToolHeightRises),
        (tool(), RegrindFields { height_before: Some(mm(21.0)), ..full(19.9) }, Rule::ToolHeightDiffers),
        (tool(), RegrindFields { regrind_count: Some(3), ..full(19.6) }, Rule::GrindCountGoesBack),
        (tool(), RegrindFields { regrind_count: Some(2), ..touch_up() }, Rule::GrindCountGoesBack),
    ];
    for (tool, fields, rule) in cases {
        assert_eq!(rules(grind(&tool, &fields, None, today())), [rule]);
        assert!(grind_under(RuleSet::without(rule), &tool, &fields, None, today()).is_ok(), "{rule:?}");
    }
}

#[test]
fn a_count_that_the_tool_carries_is_taken_when_it_is_ahead() {
    let ground = grind(&tool(), &RegrindFields { regrind_count: Some(6), ..full(19.6) }, None, today()).unwrap();
    assert_eq!((ground.regrind_count, ground.remarks.len()), (6, 1));
}

/// α + γ = 60°: 0.2 mm of land and 0.05 mm of clean-up are 0.15 mm of stock and 0.3 mm of height (derived).
#[test]
fn stock_and_wear_land_become_height() {
    let land = Removal::WearLand { width: mm(0.2), clean_up: mm(0.05) };
    assert_eq!(height_loss(&flat(), land, mm(20.0)).unwrap(), Some(mm(0.3)));
    assert_eq!(height_loss(&flat(), Removal::Stock(mm(0.15)), mm(20.0)).unwrap(), Some(mm(0.3)));
    assert_eq!(height_loss(&flat(), Removal::Down(mm(19.0)), mm(20.0)).unwrap(), None);
    // Ten of stock would be twenty of height: nothing would be left.
    assert_eq!(height_loss(&flat(), Removal::Stock(mm(10.0)), mm(20.0)).unwrap_err()[0].pointer, "/stock");
    let fields = RegrindFields { removal: Some(land), ..full(0.0) };
    let ground = grind(&tool(), &fields, Some(mm(0.3)), today()).unwrap();
    assert_eq!(ground.height_after, mm(19.7));
}

#[test]
fn what_cannot_be_names_the_field() {
    let pointers =
        |fields: RegrindFields| fields.check(&flat()).into_iter().map(|error| error.pointer).collect::<Vec<_>>();
    assert!(pointers(full(19.6)).is_empty() && pointers(touch_up()).is_empty());
    for (fields, pointer) in [
        (RegrindFields { height_before: Some(mm(0.0)), ..full(19.6) }, "/height_before/value"),
        (full(-1.0), "/height_after/value"),
        (RegrindFields { removal: Some(Removal::Stock(mm(0.0))), ..full(0.0) }, "/stock/value"),
        (
            RegrindFields { removal: Some(Removal::WearLand { width: mm(0.0), clean_up: mm(0.0) }), ..full(0.0) },
            "/wear_land/value",
        ),
        (
            RegrindFields { removal: Some(Removal::WearLand { width: mm(0.1), clean_up: mm(-0.1) }), ..full(0.0) },
            "/clean_up/value",
        ),
        (RegrindFields { removal: None, ..full(0.0) }, "/height_after"),
        (RegrindFields { height_before: Some(mm(20.0)), ..touch_up() }, "/height_before"),
        (RegrindFields { removal: Some(Removal::Down(mm(19.0))), ..touch_up() }, "/height_after"),
        (RegrindFields { edge_ended: None, ..full(19.6) }, "/edge_ended"),
        (RegrindFields { edge_ended: Some(EdgeEnd::Worn), ..touch_up() }, "/edge_ended"),
        (RegrindFields { edge_ended: Some(EdgeEnd::Retired), ..full(19.6) }, "/edge_ended"),
        (RegrindFields { rake_deg: Some(45.0), ..full(19.6) }, "/rake_deg"),
        (RegrindFields { face_offset: Some(mm(5.0)), ..full(19.6) }, "/face_offset"),
        (RegrindFields { wheel: Some(" ".to_owned()), ..full(19.6) }, "/wheel"),
        (RegrindFields { ground_by: GroundBy::Outside(" ".to_owned()), ..full(19.6) }, "/ground_outside"),
        (RegrindFields { note: Some("\n".to_owned()), ..full(19.6) }, "/note"),
    ] {
        assert!(pointers(fields.clone()).iter().any(|found| found == pointer), "{pointer} for {fields:?}");
    }
    let circular = circular();
    let offset = |value: f64| RegrindFields { face_offset: Some(mm(value)), ..full(19.6) }.check(&circular);
    assert!(offset(6.0).is_empty());
    assert_eq!(offset(30.0)[0].pointer, "/face_offset/value");
}

proptest! {
    /// Whatever is asked: what is granted never raises a height or lowers a count, and always waits for a check.
    #[test]
    fn height_falls_and_count_rises(
        before in prop::option::of(19.8..20.2_f64), after in 1.0..22.0_f64, kind in 0..3_usize,
        count in prop::option::of(0..9_u32), pieces in 0..10_000_i64, confirmed: bool,
    ) {
        let kind = GrindKind::ALL[kind];
        let takes = kind != GrindKind::TouchUp;
        let fields = RegrindFields {
            kind,
            height_before: before.map(mm).filter(|_| takes),
            removal: takes.then(|| Removal::Down(mm(after))),
            regrind_count: count,
            edge_ended: (kind == GrindKind::Full).then_some(EdgeEnd::Early),
            confirmed,
            ..full(after)
        };
        let tool = ToolLife { pieces_since_grind: pieces, ..tool() };
        if let Ok(ground) = grind(&tool, &fields, None, today()) {
            prop_assert!(ground.height_after <= tool.height);
            prop_assert!(!takes || ground.height_after < ground.height_before);
            prop_assert!(confirmed || ground.height_after >= mm(18.6));
            prop_assert!(ground.regrind_count >= tool.regrind_count + u32::from(takes));
            prop_assert_eq!(ground.condition == Condition::Retired, ground.height_after < tool.minimum_height);
            let kept = if kind == GrindKind::Full { 0 } else { pieces };
            prop_assert_eq!(ground.pieces_since_grind, kept);
        }
    }
}
