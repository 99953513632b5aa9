use super::*;
use crate::{
    ids::{PartId, SetupId},
    length::Deviations,
    life::ownership::{Belonging, PartRef},
    registry::tool_design::Step,
};
use proptest::prelude::*;
use uuid::Uuid;

fn mm(value: f64) -> Length {
    Length::new(value, LengthUnit::Millimetre).unwrap()
}

fn code(text: &str) -> Code {
    Code::parse(text).unwrap()
}

fn today() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 6, 1).unwrap()
}

fn design() -> ToolDesignFields {
    ToolDesignFields {
        name: "Form".to_owned(),
        kind: ToolDesignKind::Flat,
        tool_face: None,
        steps: vec![Step { diameter: mm(10.0), z: mm(0.0), tolerance: Deviations::new(mm(-0.1), mm(0.1)).unwrap() }],
        rake_deg: 20.0,
        clearance_deg: 40.0,
        new_height: mm(30.0),
        minimum_height: mm(12.0),
        grind_stock: mm(0.4),
        holder_style: "DT-A".to_owned(),
        expected_pieces_per_grind: 5000,
        tool_radius: None,
        usable_angle_deg: None,
        lead_time_days: None,
        retired: false,
    }
}

fn tool() -> ToolLife {
    ToolLife {
        code: code("FT-1"),
        condition: Condition::NeedsGrinding,
        height: mm(20.0),
        minimum_height: mm(12.0),
        regrind_count: 3,
        pieces_since_grind: 4100,
        partly_ground: false,
        in_setup: None,
        ownership: Ownership::default(),
    }
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
    assert_eq!(ground.ended, Some(EndedEdge { pieces: 4100, ended: EdgeEnd::Worn, partly_ground: false }));
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
    let partly = ToolLife { partly_ground: true, ..tool() };
    assert!(!grind(&partly, &full(19.6), None, today()).unwrap().ended.unwrap().failed());
}

/// To the picometre: at the minimum a tool is used, one picometre below it is not.
#[test]
fn below_its_minimum_a_tool_retires_itself_and_says_so() {
    let at = |picometres: i64| {
        let after = Length::from_picometres(picometres, LengthUnit::Millimetre);
        grind(&tool(), &RegrindFields { removal: Some(Removal::Down(after)), ..full(0.0) }, None, today()).unwrap()
    };
    assert_eq!(at(12_000_000_000).condition, Condition::NeedsCheck);
    let retired = at(11_999_999_999);
    assert_eq!(retired.condition, Condition::Retired);
    assert!(retired.remarks[0].contains("retired with this grind"), "{:?}", retired.remarks);
    let partial = RegrindFields { kind: GrindKind::Partial, edge_ended: None, ..full(11.0) };
    let ended = grind(&tool(), &partial, None, today()).unwrap().ended.unwrap();
    assert_eq!((ended.ended, ended.pieces), (EdgeEnd::Retired, 4100));
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
fn each_rule_is_noticed_when_it_is_gone() {
    let in_setup =
        Some(SetupPlace { setup: SetupId::from_uuid(Uuid::nil()), machine: code("M-1"), station: code("S1") });
    let reserved_for = Some(PartRef { id: PartId::from_uuid(Uuid::nil()), code: code("P-1") });
    let belonging = Belonging { owner: Some("Ashby Pumps".to_owned()), reserved_for };
    let cases = [
        (ToolLife { condition: Condition::Retired, ..tool() }, full(19.6), Rule::ToolRetired),
        (ToolLife { in_setup, ..tool() }, full(19.6), Rule::ItemInSetup),
        (
            ToolLife { ownership: Ownership { belonging, consents: vec![] }, ..tool() },
            full(19.6),
            Rule::GrindWithoutConsent,
        ),
        (tool(), full(20.0), Rule::ToolHeightRises),
        (tool(), full(20.1), Rule::ToolHeightRises),
        (tool(), RegrindFields { height_before: Some(mm(20.04)), ..full(20.01) }, Rule::ToolHeightRises),
        (tool(), RegrindFields { height_before: Some(mm(21.0)), ..full(19.0) }, Rule::ToolHeightDiffers),
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
    assert_eq!(height_loss(&design(), land, mm(20.0)).unwrap(), Some(mm(0.3)));
    assert_eq!(height_loss(&design(), Removal::Stock(mm(0.15)), mm(20.0)).unwrap(), Some(mm(0.3)));
    assert_eq!(height_loss(&design(), Removal::Down(mm(19.0)), mm(20.0)).unwrap(), None);
    // Ten of stock would be twenty of height: nothing would be left.
    assert_eq!(height_loss(&design(), Removal::Stock(mm(10.0)), mm(20.0)).unwrap_err()[0].pointer, "/stock");
    let fields = RegrindFields { removal: Some(land), ..full(0.0) };
    let ground = grind(&tool(), &fields, Some(mm(0.3)), today()).unwrap();
    assert_eq!(ground.height_after, mm(19.7));
}

#[test]
fn what_cannot_be_names_the_field() {
    let pointers =
        |fields: RegrindFields| fields.check(&design()).into_iter().map(|error| error.pointer).collect::<Vec<_>>();
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
        (RegrindFields { note: Some("\n".to_owned()), ..full(19.6) }, "/note"),
    ] {
        assert!(pointers(fields.clone()).iter().any(|found| found == pointer), "{pointer} for {fields:?}");
    }
    let circular = ToolDesignFields { kind: ToolDesignKind::Circular, tool_radius: Some(mm(30.0)), ..design() };
    let offset = |value: f64| RegrindFields { face_offset: Some(mm(value)), ..full(19.6) }.check(&circular);
    assert!(offset(6.0).is_empty());
    assert_eq!(offset(30.0)[0].pointer, "/face_offset/value");
}

proptest! {
    /// Whatever is asked: what is granted never raises a height or lowers a count, and always waits for a check.
    #[test]
    fn height_falls_and_count_rises(
        before in prop::option::of(19.8..20.2_f64), after in 1.0..22.0_f64, kind in 0..3_usize,
        count in prop::option::of(0..9_u32), pieces in 0..10_000_i64,
    ) {
        let kind = GrindKind::ALL[kind];
        let takes = kind != GrindKind::TouchUp;
        let fields = RegrindFields {
            kind,
            height_before: before.map(mm).filter(|_| takes),
            removal: takes.then(|| Removal::Down(mm(after))),
            regrind_count: count,
            edge_ended: (kind == GrindKind::Full).then_some(EdgeEnd::Early),
            ..full(after)
        };
        let tool = ToolLife { pieces_since_grind: pieces, ..tool() };
        if let Ok(ground) = grind(&tool, &fields, None, today()) {
            prop_assert!(ground.height_after <= tool.height);
            prop_assert!(!takes || ground.height_after < ground.height_before);
            prop_assert!(ground.regrind_count >= tool.regrind_count + u32::from(takes));
            prop_assert_eq!(ground.condition == Condition::Retired, ground.height_after < tool.minimum_height);
            let kept = if kind == GrindKind::Full { 0 } else { pieces };
            prop_assert_eq!(ground.pieces_since_grind, kept);
        }
    }
}
