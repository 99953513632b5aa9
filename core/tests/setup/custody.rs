//! Handing out, taking back, moving on.

use crate::{Refused, shop::*};
use dovetally_core::{
    custody::{Destination, ItemFacts, Judgement, MeantFor, Return, check_in, check_out, transfer},
    gauge::{GaugeMachine, stale},
    holder::not_to_pass,
    ids::{MachineId, PartId, PlaceId},
    item::{Condition, ItemKind, Keeper, Purpose},
    life::ownership::{Belonging, Consent, ConsentKind, Ownership, PartRef},
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
        ownership: Ownership::default(),
        not_to_use: Vec::new(),
        not_to_grind: Vec::new(),
        not_to_retire: Vec::new(),
        not_to_pass: Vec::new(),
    }
}

fn tool_with(who: u128) -> ItemFacts {
    ItemFacts { whereabouts: with(person(who)), ..tool() }
}

fn in_setup() -> ItemFacts {
    let place = SetupPlace { setup: SETUP, machine: code("M-1"), station: code("S1") };
    ItemFacts { whereabouts: at_machine(MACHINE), in_setup: Some(place), ..tool() }
}

/// A holder that is waiting for a check, and what its last check said.
fn holder_checked(accepted: Option<bool>) -> ItemFacts {
    let not_to_pass = not_to_pass(&code("H-1"), accepted).into_iter().collect();
    ItemFacts { kind: ItemKind::Holder, not_to_pass, ..crashed() }
}

/// A tool whose owner has not consented to a grind.
fn customers() -> ItemFacts {
    let refusal = Refusal::new(Rule::GrindWithoutConsent, "The owner did not consent.");
    ItemFacts { not_to_grind: vec![refusal], ..tool() }
}

/// The part that the customer's tool is kept for, and another.
fn part(number: u128) -> PartRef {
    PartRef { id: PartId::from_uuid(uuid::Uuid::from_u128(number)), code: code(&format!("P-{number}")) }
}

/// A tool that its owner has here for one part.
fn kept(consents: Vec<Consent>) -> ItemFacts {
    let belonging = Belonging { owner: Some("Ashby Pumps".to_owned()), reserved_for: Some(part(1)) };
    ItemFacts { ownership: Ownership { belonging, consents }, ..tool() }
}

/// Handed out for a job on this part.
fn for_part(number: u128, facts: ItemFacts, purpose: Purpose) -> Vec<Rule> {
    let part = part(number);
    let meant = MeantFor { part: Some((&part, start().date_naive())), ..MeantFor::default() };
    named(check_out(&[Scanned::Known(facts)], person(1), purpose, meant))
}

/// A gauge whose machine's centres may have moved at the instant of its check.
fn stale_gauge() -> ItemFacts {
    let refusal = stale::refusal(&code("CG-1"), &code("M-1"), Some(start()), Some(start()));
    ItemFacts { kind: ItemKind::CenterGauge, not_to_use: refusal.into_iter().collect(), ..tool() }
}

fn gauge_in(condition: Condition) -> ItemFacts {
    ItemFacts { kind: ItemKind::CenterGauge, condition, ..tool_with(1) }
}

fn named(result: Result<Vec<dovetally_core::custody::Move>, Vec<Refusal>>) -> Vec<Rule> {
    result.err().map(|refusals| rules(&refusals)).unwrap_or_default()
}

fn out(facts: ItemFacts, purpose: Purpose) -> Vec<Rule> {
    named(check_out(&[Scanned::Known(facts)], person(1), purpose, MeantFor::default()))
}

/// A gauge of this machine, handed out for some machine.
fn for_machine(machine: MachineId) -> Vec<Rule> {
    let own = GaugeMachine { machine: MACHINE, code: code("M-1") };
    let gauge = ItemFacts { kind: ItemKind::CenterGauge, gauge_of: Some(own), ..tool() };
    let asked = GaugeMachine { machine, code: code("M-2") };
    let meant = MeantFor { machine: Some(&asked), ..MeantFor::default() };
    named(check_out(&[Scanned::Known(gauge)], person(1), Purpose::Use, meant))
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

/// Another place inside the shop.
fn shelf() -> Destination {
    Destination { keeper: Keeper::Place(PlaceId::from_uuid(uuid::Uuid::from_u128(0x301))), outside: false }
}

/// A tool at an address outside the shop.
fn outside() -> ItemFacts {
    ItemFacts { whereabouts: at_place(true), ..tool() }
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
        Refused::new("a customer's tool, to be ground", &[Rule::GrindWithoutConsent], out(customers(), Purpose::Grind)),
        Refused::new("in a setup, for use", &[Rule::ItemInSetup], out(in_setup(), Purpose::Use)),
        Refused::new("a placed gauge, for a check", &[Rule::ItemInSetup], out(gauge_in_machine, Purpose::Check)),
        Refused::new("another machine's gauge", &[Rule::GaugeForOtherMachine], for_machine(OTHER_MACHINE)),
        Refused::new("a stale gauge", &[Rule::GaugeStale], out(stale_gauge(), Purpose::Use)),
        Refused::new("a stale gauge, taken in hand", &[Rule::GaugeStale], on(stale_gauge(), true)),
        Refused::new("kept for another part", &[Rule::ReservedForOtherPart], for_part(2, kept(vec![]), Purpose::Use)),
        Refused::new("not on record", &[Rule::ItemUnknown], {
            named(check_out(&unknown, person(1), Purpose::Use, MeantFor::default()))
        }),
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
        Refused::new("a customer's tool retired at the counter", &[Rule::RetireWithoutConsent], {
            let refusal = Refusal::new(Rule::RetireWithoutConsent, "The owner did not consent.");
            back(ItemFacts { not_to_retire: vec![refusal], ..tool_with(1) }, Condition::Retired)
        }),
        Refused::new("retired by an inspector", &[Rule::ItemNotUsable], {
            judged(tool_with(1), Condition::Retired, INSPECTOR)
        }),
        Refused::new("retired before its pieces are booked", &[Rule::RunNotBooked], {
            let refusal = Refusal::new(Rule::RunNotBooked, "not booked");
            back(ItemFacts { not_to_retire: vec![refusal], ..tool_with(1) }, Condition::Retired)
        }),
        Refused::new("ground, and passed at the counter", &[Rule::NotCheckedAfterGrind], {
            let refusal = Refusal::new(Rule::NotCheckedAfterGrind, "ground");
            judged(ItemFacts { not_to_pass: vec![refusal], ..crashed() }, usable, INSPECTOR)
        }),
        Refused::new("a holder that a check rejected, made good", &[Rule::ItemNotUsable], {
            judged(holder_checked(Some(false)), usable, INSPECTOR)
        }),
        Refused::new("taken in hand though worn", &[Rule::ItemNotUsable], {
            let worn = ItemFacts { condition: Condition::NeedsGrinding, ..tool() };
            on(worn, true)
        }),
        Refused::new("put away just ground", &[Rule::ItemNotUsable], {
            let just_ground = ItemFacts { purpose: Some(Purpose::Grind), ..tool_with(1) };
            named(transfer(&[Scanned::Known(just_ground)], bin(false), person(1), false))
        }),
        Refused::new("handed on from the grinder outside", &[Rule::ItemNotUsable], {
            on(ItemFacts { purpose: Some(Purpose::Grind), ..outside() }, true)
        }),
        Refused::new(
            "fetched from outside, nobody knows why it was there",
            &[Rule::ItemNotUsable],
            on(outside(), true),
        ),
        Refused::new("put away from outside", &[Rule::ItemNotUsable], {
            named(transfer(&[Scanned::Known(outside())], shelf(), person(1), true))
        }),
        Refused::new("taken back from outside as usable", &[Rule::ItemNotUsable], back(outside(), usable)),
        Refused::new("to a machine just ground", &[Rule::ItemNotUsable], {
            let just_ground = ItemFacts { purpose: Some(Purpose::Grind), ..tool_with(1) };
            let to = Destination { keeper: Keeper::Machine(MACHINE), outside: false };
            named(transfer(&[Scanned::Known(just_ground)], to, person(1), false))
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
    for purpose in [Purpose::Use, Purpose::Check] {
        assert_eq!(out(customers(), purpose), [], "consent is asked for grinding alone");
    }
    assert_eq!(out(at_machine, Purpose::Use), []);
    assert_eq!(for_machine(MACHINE), []);
    let moves = check_out(&[Scanned::Known(tool())], person(1), Purpose::Use, MeantFor::default()).unwrap();
    assert_eq!(moves.len(), 1);
    assert_eq!((moves[0].from, moves[0].to), (Keeper::Place(BIN), Keeper::Person(person(1))));
    assert_eq!((moves[0].purpose, moves[0].condition), (Some(Purpose::Use), Condition::Usable));
    assert_eq!(moves[0].leaves_setup, None);
}

/// It goes out to be checked, and is put away like any other.
#[test]
fn a_stale_gauge_goes_to_its_check() {
    assert_eq!(out(stale_gauge(), Purpose::Check), []);
    assert_eq!(named(transfer(&[Scanned::Known(stale_gauge())], shelf(), person(1), false)), []);
    let somebodys = ItemFacts { whereabouts: with(person(1)), ..stale_gauge() };
    assert_eq!(on(somebodys.clone(), false), [], "who has it passes it on");
    assert_eq!(back(somebodys, Condition::Usable), []);
}

#[test]
fn a_kept_tool_goes_out_for_its_part_or_with_its_owners_consent() {
    let lent = |part_lent: u128, day: chrono::NaiveDate| Consent {
        kind: ConsentKind::Lend,
        part: Some(part(part_lent).id),
        valid_until: Some(day),
    };
    let today = start().date_naive();
    assert_eq!(for_part(1, kept(vec![]), Purpose::Use), []);
    assert_eq!(out(kept(vec![]), Purpose::Use), [], "without a job nobody knows what it is for");
    assert_eq!(for_part(2, kept(vec![lent(2, today)]), Purpose::Use), []);
    let yesterday = today.pred_opt().unwrap();
    for consent in [lent(2, yesterday), lent(3, today)] {
        assert_eq!(for_part(2, kept(vec![consent]), Purpose::Use), [Rule::ReservedForOtherPart]);
    }
    assert_eq!(for_part(2, kept(vec![]), Purpose::Check), [], "a check cuts nothing");
    assert_eq!(for_part(2, tool(), Purpose::Use), []);
}

#[test]
fn a_tool_from_outside_waits_for_its_check_unless_it_was_checked_there() {
    assert_eq!(back(outside(), Condition::NeedsCheck), []);
    let checked = ItemFacts { purpose: Some(Purpose::Check), ..outside() };
    assert_eq!(back(checked, Condition::Usable), []);
    // From one grinder to another, at the shop or outside.
    let ground = ItemFacts { purpose: Some(Purpose::Grind), ..tool_with(1) };
    assert_eq!(on(ground.clone(), false), []);
    assert_eq!(named(transfer(&[Scanned::Known(ground)], bin(true), person(1), false)), []);
    // A holder or a gauge is judged by its own checks.
    assert_eq!(back(ItemFacts { kind: ItemKind::Holder, ..outside() }, Condition::Usable), []);
}

#[test]
fn a_tool_leaves_a_setup_to_be_ground_and_the_move_says_so() {
    let moves = check_out(&[Scanned::Known(in_setup())], person(1), Purpose::Grind, MeantFor::default()).unwrap();
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
        MeantFor::default(),
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
    assert_eq!(back(gauge_in(usable), usable), []);
    let just_ground = ItemFacts { purpose: Some(Purpose::Grind), ..tool_with(1) };
    assert_eq!(back(just_ground, Condition::NeedsCheck), []);
    assert_eq!(back(gauge_in(Condition::NeedsCheck), Condition::NeedsCheck), []);
    assert_eq!(judged(crashed(), usable, INSPECTOR), []);
    assert_eq!(judged(damaged(), Condition::NeedsCheck, INSPECTOR), []);
    for accepted in [None, Some(true)] {
        assert_eq!(judged(holder_checked(accepted), usable, INSPECTOR), [], "no check blocked it");
    }
    assert_eq!(judged(holder_checked(Some(false)), Condition::NeedsCheck, INSPECTOR), []);
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

/// What is away is in nobody's hands to give, for whatever purpose; and a tool that went out to be ground is taken back first.
#[test]
fn what_is_away_or_was_ground_is_taken_back_before_it_is_handed_out() {
    let away = ItemFacts { whereabouts: at_place(true), ..tool() };
    let ground = ItemFacts { purpose: Some(Purpose::Grind), ..tool() };
    let out = |item: &ItemFacts, purpose| {
        let items = [Scanned::Known(item.clone())];
        let refused = check_out(&items, setter().person, purpose, MeantFor::default()).err().unwrap_or_default();
        refused.into_iter().map(|refusal| refusal.rule).collect::<Vec<_>>()
    };
    for purpose in [Purpose::Use, Purpose::Check, Purpose::Grind] {
        assert_eq!(out(&away, purpose), [Rule::ItemHeldElsewhere], "{purpose:?}");
    }
    assert_eq!(out(&ground, Purpose::Use), [Rule::ItemNotUsable]);
    assert!(out(&ground, Purpose::Grind).is_empty());
    assert!(out(&ItemFacts { kind: ItemKind::Holder, ..ground }, Purpose::Use).is_empty());
}
