//! Handing out, taking back, moving on.

use crate::{Refused, shop::*};
use dovetally_core::{
    custody::{Destination, ItemFacts, Judgement, Return, check_in, check_out, transfer},
    gauge::GaugeMachine,
    ids::{MachineId, PlaceId},
    item::{Condition, ItemKind, Keeper, Purpose},
    refusal::{Refusal, Rule},
    scan::Scanned,
    setup::facts::SetupPlace,
};

fn tool() -> ItemFacts {
    ItemFacts {
        item: item(1),
        code: code("T-1"),
        kind: ItemKind::FormTool,
        condition: Condition::Usable,
        whereabouts: at_place(false),
        in_setup: None,
        movements: 1,
        purpose: None,
        gauge_of: None,
        not_to_retire: None,
    }
}

fn tool_with(who: u128) -> ItemFacts {
    ItemFacts { whereabouts: with(person(who)), ..tool() }
}

fn in_setup() -> ItemFacts {
    let place = SetupPlace { setup: SETUP, machine: code("M-1"), station: code("S1") };
    ItemFacts { whereabouts: at_machine(MACHINE), in_setup: Some(place), ..tool() }
}

fn gauge_in(condition: Condition) -> ItemFacts {
    ItemFacts { kind: ItemKind::CenterGauge, condition, ..tool_with(1) }
}

fn named(result: Result<Vec<dovetally_core::custody::Move>, Vec<Refusal>>) -> Vec<Rule> {
    result.err().map(|refusals| rules(&refusals)).unwrap_or_default()
}

fn out(facts: ItemFacts, purpose: Purpose) -> Vec<Rule> {
    named(check_out(&[Scanned::Known(facts)], person(1), purpose, None))
}

/// A gauge of this machine, handed out for some machine.
fn for_machine(machine: MachineId) -> Vec<Rule> {
    let own = GaugeMachine { machine: MACHINE, code: code("M-1") };
    let gauge = ItemFacts { kind: ItemKind::CenterGauge, gauge_of: Some(own), ..tool() };
    let asked = GaugeMachine { machine, code: code("M-2") };
    named(check_out(&[Scanned::Known(gauge)], person(1), Purpose::Use, Some(&asked)))
}

/// The crib takes back, and retires; it does not judge.
const CRIB: Judgement = Judgement { may_improve: false, may_retire: true };
const INSPECTOR: Judgement = Judgement { may_improve: true, may_retire: false };

fn to_person(who: u128) -> Destination {
    Destination { keeper: Keeper::Person(person(who)), outside: false }
}

fn bin(outside: bool) -> Destination {
    Destination { keeper: Keeper::Place(BIN), outside }
}

fn judged(facts: ItemFacts, condition: Condition, judgement: Judgement) -> Vec<Rule> {
    let item = Scanned::Known(facts);
    named(check_in(&[Return { item, place: Keeper::Place(BIN), condition }], person(1), judgement))
}

fn back(facts: ItemFacts, condition: Condition) -> Vec<Rule> {
    let item = Scanned::Known(facts);
    named(check_in(&[Return { item, place: Keeper::Place(BIN), condition }], person(1), CRIB))
}

fn on(facts: ItemFacts, for_anyone: bool) -> Vec<Rule> {
    named(transfer(&[Scanned::Known(facts)], to_person(9), person(1), for_anyone))
}

fn crashed() -> ItemFacts {
    ItemFacts { condition: Condition::NeedsCheck, ..tool_with(1) }
}

fn damaged() -> ItemFacts {
    ItemFacts { condition: Condition::Damaged, ..tool_with(1) }
}

pub(crate) fn refused() -> Vec<Refused> {
    let usable = Condition::Usable;
    let worn = ItemFacts { condition: Condition::NeedsGrinding, ..tool() };
    let retired = ItemFacts { condition: Condition::Retired, ..tool() };
    let retired_out = ItemFacts { condition: Condition::Retired, ..tool_with(1) };
    let gauge_in_machine = ItemFacts { kind: ItemKind::CenterGauge, ..in_setup() };
    let just_ground = ItemFacts { purpose: Some(Purpose::Grind), ..tool_with(1) };
    let unknown = [Scanned::Unknown { text: "X".to_owned() }];
    vec![
        Refused::new("out with another", &[Rule::ItemHeldElsewhere], out(tool_with(2), Purpose::Use)),
        Refused::new("out with themselves", &[Rule::ItemHeldElsewhere], out(tool_with(1), Purpose::Grind)),
        Refused::new("worn, for use", &[Rule::ItemNotUsable], out(worn, Purpose::Use)),
        Refused::new("retired, for a check", &[Rule::ItemNotUsable], out(retired.clone(), Purpose::Check)),
        Refused::new("retired, to be ground", &[Rule::ItemNotUsable], out(retired, Purpose::Grind)),
        Refused::new("in a setup, for use", &[Rule::ItemInSetup], out(in_setup(), Purpose::Use)),
        Refused::new("a placed gauge, for a check", &[Rule::ItemInSetup], out(gauge_in_machine, Purpose::Check)),
        Refused::new("another machine's gauge", &[Rule::GaugeForOtherMachine], for_machine(OTHER_MACHINE)),
        Refused::new("not on record", &[Rule::ItemUnknown], named(check_out(&unknown, person(1), Purpose::Use, None))),
        Refused::new("brought by who has it not", &[Rule::ItemHeldElsewhere], back(tool_with(2), usable)),
        Refused::new("in its place already", &[Rule::ItemHeldElsewhere], back(tool(), usable)),
        Refused::new("taken back from a setup", &[Rule::ItemInSetup], back(in_setup(), usable)),
        Refused::new("a gauge made good", &[Rule::ItemNotUsable], back(gauge_in(Condition::NeedsCheck), usable)),
        Refused::new("just ground, without a check", &[Rule::ItemNotUsable], back(just_ground, usable)),
        Refused::new("retired made good", &[Rule::ItemNotUsable], back(retired_out, Condition::NeedsCheck)),
        Refused::new("moved on from a setup", &[Rule::ItemInSetup], on(in_setup(), true)),
        Refused::new("moved on for another", &[Rule::ItemHeldElsewhere], on(tool_with(2), false)),
        Refused::new("made good at the counter", &[Rule::ItemNotUsable], back(crashed(), usable)),
        Refused::new("repaired at the counter", &[Rule::ItemNotUsable], back(damaged(), Condition::NeedsCheck)),
        Refused::new("retired by an inspector", &[Rule::ItemNotUsable], {
            judged(tool_with(1), Condition::Retired, INSPECTOR)
        }),
        Refused::new("taken in hand though worn", &[Rule::ItemNotUsable], {
            let worn = ItemFacts { condition: Condition::NeedsGrinding, ..tool() };
            on(worn, true)
        }),
        Refused::new("put away just ground", &[Rule::ItemNotUsable], {
            let just_ground = ItemFacts { purpose: Some(Purpose::Grind), ..tool_with(1) };
            named(transfer(&[Scanned::Known(just_ground)], bin(false), person(1), false))
        }),
        Refused::new("moved on to where it is", &[Rule::ItemHeldElsewhere], on(tool_with(9), true)),
        Refused::new("moved on unknown", &[Rule::ItemUnknown], {
            named(transfer(&unknown, bin(false), person(1), true))
        }),
    ]
}

#[test]
fn what_may_be_handed_out_is() {
    let worn = ItemFacts { condition: Condition::NeedsGrinding, ..tool() };
    let at_machine = ItemFacts { whereabouts: at_machine(MACHINE), ..tool() };
    assert_eq!(out(tool(), Purpose::Use), []);
    assert_eq!(out(worn, Purpose::Grind), []);
    assert_eq!(out(at_machine, Purpose::Use), []);
    assert_eq!(for_machine(MACHINE), []);
    let moves = check_out(&[Scanned::Known(tool())], person(1), Purpose::Use, None).unwrap();
    assert_eq!(moves.len(), 1);
    assert_eq!((moves[0].from, moves[0].to), (Keeper::Place(BIN), Keeper::Person(person(1))));
    assert_eq!((moves[0].purpose, moves[0].condition), (Some(Purpose::Use), Condition::Usable));
    assert_eq!(moves[0].leaves_setup, None);
}

#[test]
fn a_tool_leaves_a_setup_to_be_ground_and_the_move_says_so() {
    let moves = check_out(&[Scanned::Known(in_setup())], person(1), Purpose::Grind, None).unwrap();
    assert_eq!(moves[0].leaves_setup, in_setup().in_setup);
}

#[test]
fn one_refused_item_refuses_all_and_every_item_is_named() {
    let second = ItemFacts { item: item(2), code: code("T-2"), condition: Condition::Damaged, ..tool() };
    let third = ItemFacts { item: item(3), code: code("T-3"), ..tool_with(2) };
    let refusals = check_out(
        &[Scanned::Known(tool()), Scanned::Known(second), Scanned::Known(third)],
        person(1),
        Purpose::Use,
        None,
    )
    .unwrap_err();
    let about: Vec<_> = refusals.iter().map(|r| (r.rule, r.subject.as_ref().unwrap().code.as_str())).collect();
    assert_eq!(about, [(Rule::ItemNotUsable, "T-2"), (Rule::ItemHeldElsewhere, "T-3")]);
}

#[test]
fn taking_back_records_place_and_condition() {
    let usable = Condition::Usable;
    assert_eq!(back(tool_with(1), Condition::Damaged), []);
    assert_eq!(back(ItemFacts { whereabouts: at_machine(MACHINE), ..tool() }, usable), []);
    assert_eq!(back(ItemFacts { whereabouts: at_place(true), ..tool() }, usable), []);
    assert_eq!(back(gauge_in(usable), usable), []);
    let just_ground = ItemFacts { purpose: Some(Purpose::Grind), ..tool_with(1) };
    assert_eq!(back(just_ground, Condition::NeedsCheck), []);
    assert_eq!(back(gauge_in(Condition::NeedsCheck), Condition::NeedsCheck), []);
    assert_eq!(judged(crashed(), usable, INSPECTOR), []);
    assert_eq!(judged(damaged(), Condition::NeedsCheck, INSPECTOR), []);
    assert_eq!(back(crashed(), Condition::NeedsGrinding), [], "worn and unchecked are level");
    assert_eq!(back(tool_with(1), Condition::Retired), []);
    assert_eq!(back(ItemFacts { condition: Condition::Retired, ..tool_with(1) }, Condition::Retired), []);
    let shelf = Keeper::Place(PlaceId::from_uuid(uuid::Uuid::from_u128(0x301)));
    let brought = Return { item: Scanned::Known(tool_with(1)), place: shelf, condition: Condition::NeedsGrinding };
    let moves = check_in(&[brought], person(1), CRIB).unwrap();
    assert_eq!((moves[0].from, moves[0].to), (Keeper::Person(person(1)), shelf));
    assert_eq!((moves[0].condition, moves[0].purpose), (Condition::NeedsGrinding, None));
}

#[test]
fn what_one_has_or_nobody_has_is_moved_on() {
    assert_eq!(on(tool_with(1), false), []);
    assert_eq!(on(tool(), false), []);
    assert_eq!(on(tool_with(2), true), []);
    let moves = transfer(
        &[Scanned::Known(tool_with(1))],
        Destination { keeper: Keeper::Machine(MACHINE), outside: false },
        person(1),
        false,
    )
    .unwrap();
    assert_eq!((moves[0].from, moves[0].to), (Keeper::Person(person(1)), Keeper::Machine(MACHINE)));
    assert_eq!((moves[0].condition, moves[0].purpose), (Condition::Usable, None));
}
