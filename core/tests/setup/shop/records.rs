//! What the shop's records hold.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use dovetally_core::{
    adjuster::{Adjuster, Motion, Travel},
    code::Code,
    gauge::{GaugeFacts, GaugePlacement, standing::GaugeStanding},
    ids::{ItemId, MachineId, PartId, PersonId, PlaceId, SetupId, TagOutId, ToolDesignId},
    item::{Condition, Keeper, Whereabouts},
    length::{Deviations, Length, LengthUnit},
    life::ownership::Ownership,
    machine::{StationKind, ToolFace},
    people::Role,
    setup::{
        event::{HolderMove, SeatAnswers, Stock},
        facts::{Actor, DesignFacts, FormFacts, HolderFacts, HolderStanding, TagOutFacts, ToolFacts},
        plan::{DesignRef, Feature, FeatureKind, Operation, Plan, ProvisionalRelease, Settings, StationPlan},
    },
};
use uuid::Uuid;

pub(crate) const MACHINE: MachineId = MachineId::from_uuid(Uuid::from_u128(0x100));
pub(crate) const OTHER_MACHINE: MachineId = MachineId::from_uuid(Uuid::from_u128(0x101));
pub(crate) const SETUP: SetupId = SetupId::from_uuid(Uuid::from_u128(0x200));
pub(crate) const BIN: PlaceId = PlaceId::from_uuid(Uuid::from_u128(0x300));
pub(crate) const GAUGE: u128 = 0x501;
pub(crate) const SECOND_GAUGE: u128 = 0x502;

pub(crate) fn code(text: &str) -> Code {
    Code::parse(text).unwrap()
}

pub(crate) fn person(number: u128) -> PersonId {
    PersonId::from_uuid(Uuid::from_u128(number))
}

pub(crate) fn item(number: u128) -> ItemId {
    ItemId::from_uuid(Uuid::from_u128(number))
}

pub(crate) fn setter() -> Actor {
    Actor { person: person(1), roles: vec![Role::Setter] }
}

pub(crate) fn second_setter() -> Actor {
    Actor { person: person(2), roles: vec![Role::Setter] }
}

pub(crate) fn inspector() -> Actor {
    Actor { person: person(3), roles: vec![Role::Inspector] }
}

pub(crate) fn supervisor() -> Actor {
    Actor { person: person(4), roles: vec![Role::Supervisor] }
}

pub(crate) fn start() -> DateTime<Utc> {
    "2026-03-02T06:00:00Z".parse().unwrap()
}

pub(crate) fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

pub(crate) fn mm(value: f64) -> Length {
    Length::new(value, LengthUnit::Millimetre).unwrap()
}

pub(crate) fn at_place(outside: bool) -> Whereabouts {
    Whereabouts { keeper: Keeper::Place(BIN), name: "BIN-1".to_owned(), outside }
}

pub(crate) fn with(who: PersonId) -> Whereabouts {
    Whereabouts { keeper: Keeper::Person(who), name: "a person".to_owned(), outside: false }
}

pub(crate) fn at_machine(machine: MachineId) -> Whereabouts {
    Whereabouts { keeper: Keeper::Machine(machine), name: "M-1".to_owned(), outside: false }
}

pub(crate) fn screw(name: &str, clockwise_moves: Motion, affects: &[&str]) -> Adjuster {
    Adjuster {
        code: code(name),
        name: name.to_lowercase(),
        travel: Travel::PerTurn(mm(1.0)),
        ratio: 1.0,
        clockwise_moves,
        seen_from: "the operator's side".to_owned(),
        arm: None,
        has_stop: false,
        backlash: None,
        affects: affects.iter().map(|text| code(text)).collect(),
    }
}

pub(crate) fn design(number: u128) -> DesignRef {
    DesignRef { id: ToolDesignId::from_uuid(Uuid::from_u128(number)), code: code(&format!("D-{number}")) }
}

fn feature(name: &str, kind: FeatureKind, target: f64) -> Feature {
    let tolerance = Deviations::new(mm(-0.02), mm(0.02)).unwrap();
    Feature { code: code(name), name: name.to_lowercase(), kind, target: mm(target), tolerance, measured_from: None }
}

/// A cross slide with a form tool of its own design, one feature, and a slide screw.
pub(crate) fn cross_slide(name: &str, position: u8, tool_design: u128) -> StationPlan {
    StationPlan {
        code: code(name),
        position,
        kind: StationKind::CrossSlide,
        tool_face: ToolFace::Up,
        adjusters: vec![screw("SLIDE", Motion::ToolIn, &[])],
        operation: Operation {
            tool_design: Some(design(tool_design)),
            holder_style: Some("dovetail".to_owned()),
            features: vec![feature(&format!("D-{name}"), FeatureKind::Diameter, 10.0)],
        },
        planned_tool: None,
        planned_holder: None,
    }
}

/// An end slide with a drill and a depth; its turnbuckle moves station S3 too.
pub(crate) fn end_slide() -> StationPlan {
    StationPlan {
        code: code("E2"),
        position: 2,
        kind: StationKind::EndSlide,
        tool_face: ToolFace::Up,
        adjusters: vec![screw("DEPTH", Motion::Deeper, &["E2", "S3", "S9"])],
        operation: Operation {
            tool_design: None,
            holder_style: None,
            features: vec![feature("L-E2", FeatureKind::Depth, 12.0)],
        },
        planned_tool: None,
        planned_holder: None,
    }
}

/// Six positions, cut-off at the sixth; S1 and S3 form, E2 drills.
pub(crate) fn plan() -> Plan {
    Plan {
        setup: SETUP,
        machine: MACHINE,
        machine_code: code("M-1"),
        part: PartId::from_uuid(Uuid::from_u128(0x400)),
        part_code: code("P-1"),
        running_spindles: vec![1, 2, 3, 4, 5, 6],
        positions: 6,
        cutoff_position: 6,
        pieces_per_cycle: 1,
        stations: vec![cross_slide("S1", 1, 1), end_slide(), cross_slide("S3", 3, 3)],
        left_out: Vec::new(),
        settings: Settings::of_a_new_shop(LengthUnit::Millimetre),
        opened_by: setter().person,
        opened_at: start(),
    }
}

/// The same in a shop where a second setter may accept a first piece for eight hours and a thousand pieces.
pub(crate) fn night_plan() -> Plan {
    let mut plan = plan();
    plan.settings.provisional_release = Some(ProvisionalRelease { most_pieces: 1_000, most_minutes: 480 });
    plan
}

pub(crate) fn good_seat() -> SeatAnswers {
    SeatAnswers { seat_clean: true, seated_flush: true, side_screw_free: true }
}

pub(crate) fn good_move() -> HolderMove {
    HolderMove { holder_retightened: true, side_screw_free: true }
}

/// A usable holder with its three screws. Holders are numbered from 0x600, tools from 0x700.
pub(crate) fn holder(number: u128) -> HolderFacts {
    HolderFacts {
        item: item(number),
        code: code(&format!("H-{number}")),
        style: "dovetail".to_owned(),
        condition: Condition::Usable,
        next_check: Some(day("2026-12-31")),
        adjusters: vec![
            screw("HEIGHT", Motion::EdgeUp, &[]),
            screw("TAPER", Motion::FarDiameterUp, &[]),
            screw("SIDE", Motion::TowardCollet, &[]),
        ],
        whereabouts: with(setter().person),
        in_setup: None,
    }
}

/// The same holder once it was seated: nothing was found on it since.
pub(crate) fn usable_holder(holder: ItemId) -> HolderStanding {
    HolderStanding { holder, condition: Condition::Usable }
}

pub(crate) fn form_tool(number: u128, tool_design: u128) -> ToolFacts {
    let design = DesignFacts { design: design(tool_design), tool_face: Some(ToolFace::Up), minimum_height: mm(20.0) };
    ToolFacts { form: Some(FormFacts { design, height: mm(20.0), checked_after_grind: true }), ..drill(number) }
}

pub(crate) fn drill(number: u128) -> ToolFacts {
    ToolFacts {
        item: item(number),
        code: code(&format!("T-{number}")),
        condition: Condition::Usable,
        form: None,
        ownership: Ownership::default(),
        whereabouts: with(setter().person),
        purpose: None,
        in_setup: None,
    }
}

/// This machine's gauge, in a person's hands.
pub(crate) fn gauge(number: u128, hands: PersonId) -> GaugeFacts {
    GaugeFacts {
        item: item(number),
        code: code(&format!("CG-{number}")),
        machine: MACHINE,
        machine_code: code("M-1"),
        stations: Vec::new(),
        condition: Condition::Usable,
        next_check: Some(day("2026-12-31")),
        last_accepted_check_at: Some(start() - TimeDelta::days(30)),
        centers_may_have_moved_at: None,
        whereabouts: with(hands),
        placed: None,
    }
}

/// The same gauge once it was placed: in date, and in no doubt.
pub(crate) fn standing(gauge: ItemId) -> GaugeStanding {
    GaugeStanding {
        gauge,
        code: code(&format!("CG-{}", gauge.uuid().as_u128())),
        condition: Condition::Usable,
        next_check: Some(day("2026-12-31")),
        last_accepted_check_at: Some(start() - TimeDelta::days(30)),
        doubts: Vec::new(),
    }
}

pub(crate) fn placement(machine: MachineId, station: &str) -> GaugePlacement {
    GaugePlacement { machine, machine_code: code("M-1"), setup: SETUP, station: code(station) }
}

pub(crate) fn tag_out() -> TagOutFacts {
    TagOutFacts { tag_out: TagOutId::from_uuid(Uuid::from_u128(0x900)), reason: "Belt".to_owned() }
}

pub(crate) fn stock(heat: &str) -> Stock {
    Stock { bar_diameter: mm(12.0), bar_shape: "round".to_owned(), heat: Some(heat.to_owned()) }
}
