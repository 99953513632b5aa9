//! Work orders, supplies, and handing over.

use crate::{Refused, shop::*};
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::{
    handover::take_over,
    ids::{MaintenancePlanId, SupplyId, WorkOrderId},
    machine::MachineMode,
    maintenance::Maintained,
    refusal::{Refusal, Rule},
    registry::Record,
    supply::{SinceCount, Supply, SupplyFields},
    work_order::{Completion, PlanAtOpening, Stamp, Touched, WorkOrder, WorkOrderState, open_from},
};
use uuid::Uuid;

fn noon() -> DateTime<Utc> {
    "2026-03-02T12:00:00Z".parse().unwrap()
}

fn stamp(hours: i64) -> Stamp {
    Stamp { by: person(1), at: noon() + TimeDelta::hours(hours) }
}

fn order() -> WorkOrder {
    WorkOrder {
        id: WorkOrderId::from_uuid(Uuid::from_u128(1)),
        plan: None,
        subject: Maintained::Machine { id: MACHINE, code: code("M-1") },
        what: "Bearing of spindle 3 runs hot".to_owned(),
        breakdown: true,
        down_from: Some(noon()),
        down_until: None,
        state: WorkOrderState::Open,
        opened: stamp(0),
        started: None,
        ended: None,
        done_at: None,
        note: None,
        touched: None,
        version: 1,
    }
}

fn completion(touched: Touched) -> Completion {
    Completion {
        note: "Bearing replaced".to_owned(),
        touched,
        done_at: noon() + TimeDelta::hours(3),
        breakdown: None,
        down_from: None,
        down_until: None,
    }
}

fn supply() -> Supply {
    let fields = SupplyFields {
        name: "Way oil".to_owned(),
        unit: "litre".to_owned(),
        minimum: 2,
        reorder_quantity: 5,
        lead_time_days: 10,
        place: None,
        retired: false,
    };
    let id = SupplyId::from_uuid(Uuid::from_u128(1));
    let record = Record { id, code: code("SUP-1"), fields, version: 1, created_at: noon(), updated_at: noon() };
    Supply { record, on_hand: 5, movements: 2 }
}

fn named<T>(result: Result<T, Vec<Refusal>>) -> Vec<Rule> {
    result.err().map(|refusals| rules(&refusals)).unwrap_or_default()
}

pub(crate) fn refused() -> Vec<Refused> {
    let plan = |retired, open: bool| PlanAtOpening {
        code: code("MP-1"),
        retired,
        open_order: open.then(|| WorkOrderId::from_uuid(Uuid::nil())),
    };
    let done = || order().finish(completion(Touched::Nothing), Some(MachineMode::Idle), stamp(3)).unwrap();
    let cancelled = || order().cancel("not needed".to_owned(), None, None, stamp(1)).unwrap();
    let finish = |order: WorkOrder, touched, mode| named(order.finish(completion(touched), Some(mode), stamp(4)));
    let since = |change, last_count| SinceCount { change, last_count };
    let cases = vec![
        ("an order from a plan out of use", vec![Rule::PlanRetired], named(open_from(&plan(true, false)))),
        ("a second order from a plan", vec![Rule::PlanOrderOpen], named(open_from(&plan(false, true)))),
        ("starting twice", vec![Rule::WorkOrderStarted], named(order().start(stamp(1)).unwrap().start(stamp(2)))),
        ("starting what is done", vec![Rule::WorkOrderEnded], named(done().start(stamp(4)))),
        ("doing what is done", vec![Rule::WorkOrderEnded], finish(done(), Touched::Nothing, MachineMode::Idle)),
        (
            "doing what is cancelled",
            vec![Rule::WorkOrderEnded],
            finish(cancelled(), Touched::Slide, MachineMode::Gauge),
        ),
        (
            "cancelling what is done",
            vec![Rule::WorkOrderEnded],
            named(done().cancel("why".to_owned(), None, None, stamp(4))),
        ),
        (
            "work on the carrier of a machine that is released",
            vec![Rule::MachineRunning],
            finish(order(), Touched::SpindleCarrier, MachineMode::Running),
        ),
        (
            "work on a slide of a machine that is released",
            vec![Rule::MachineRunning],
            finish(order(), Touched::Slide, MachineMode::Running),
        ),
        (
            "calling off what was begun on the carrier of a machine that is released",
            vec![Rule::MachineRunning],
            named(order().cancel(
                "part missing".to_owned(),
                Some(Touched::SpindleCarrier),
                Some(MachineMode::Running),
                stamp(4),
            )),
        ),
        ("more than there is", vec![Rule::NotEnoughOnHand], named(supply().withdraw(6))),
        (
            "a count of a moment before the last count",
            vec![Rule::CountSuperseded],
            named(supply().count(5, noon(), since(0, Some(noon() + TimeDelta::minutes(1))))),
        ),
        (
            "a count of less than went out since",
            vec![Rule::CountContradicted],
            named(supply().count(1, noon(), since(-2, None))),
        ),
        ("taking over another floor than was read", vec![Rule::FloorChanged], named(take_over("one", "another"))),
    ];
    cases.into_iter().map(|(name, expected, got)| Refused { name, expected, got }).collect()
}

#[test]
fn a_floor_that_was_read_is_taken_over() {
    assert!(take_over("one", "one").is_ok());
}

#[test]
fn an_order_goes_its_way_and_keeps_who_and_when() {
    let started = order().start(stamp(1)).unwrap();
    assert_eq!((started.state, started.started, started.version), (WorkOrderState::Started, Some(stamp(1)), 2));
    let done = started.finish(completion(Touched::SpindleCarrier), Some(MachineMode::Gauge), stamp(4)).unwrap();
    assert_eq!((done.state, done.ended, done.version), (WorkOrderState::Done, Some(stamp(4)), 3));
    assert_eq!(done.down_until, Some(noon() + TimeDelta::hours(3)), "down until the work was done");
    assert!(done.touched.unwrap().may_move_centers() && Touched::Slide.may_move_centers());
    assert!(!Touched::Nothing.may_move_centers());
    // Work that touched neither goes on record while the machine runs.
    assert!(order().finish(completion(Touched::Nothing), Some(MachineMode::Running), stamp(4)).is_ok());
    assert!(open_from(&PlanAtOpening { code: code("MP-1"), retired: false, open_order: None }).is_ok());
}

#[test]
fn what_turns_out_to_be_a_breakdown_was_down_from_when_it_was_reported() {
    let mut reported = order();
    (reported.breakdown, reported.down_from) = (false, None);
    let said = Completion { breakdown: Some(true), ..completion(Touched::Nothing) };
    let done = reported.finish(said, Some(MachineMode::Idle), stamp(4)).unwrap();
    assert_eq!((done.breakdown, done.down_from), (true, Some(noon())));
}

#[test]
fn what_cannot_be_said_of_an_order_is_named() {
    let pointers = |order: &WorkOrder| order.check().into_iter().map(|fault| fault.pointer).collect::<Vec<_>>();
    assert!(pointers(&order()).is_empty());
    let mut wrong = order();
    wrong.what = " ".to_owned();
    wrong.plan = Some((MaintenancePlanId::from_uuid(Uuid::nil()), code("MP-1")));
    wrong.subject = Maintained::Other("Compressor".to_owned());
    assert_eq!(pointers(&wrong), ["/what", "/breakdown", "/down_from"]);

    let said = |order: &WorkOrder, change: &dyn Fn(&mut Completion)| {
        let mut said = completion(Touched::Nothing);
        change(&mut said);
        order
            .check_completion(&said, noon() + TimeDelta::hours(10))
            .into_iter()
            .map(|fault| fault.pointer)
            .collect::<Vec<_>>()
    };
    assert!(said(&order(), &|_| {}).is_empty());
    assert_eq!(said(&order(), &|said| said.note = String::new()), ["/note"]);
    assert_eq!(said(&order(), &|said| said.down_until = Some(noon() - TimeDelta::hours(1))), ["/down_until"]);
    assert_eq!(said(&order(), &|said| said.down_from = Some(noon() + TimeDelta::hours(9))), ["/down_from"]);
    let late = noon() + TimeDelta::hours(11);
    assert_eq!(said(&order(), &|said| said.down_until = Some(late)), ["/down_until"], "ahead of now");
    let ahead = |said: &mut Completion| (said.down_from, said.down_until) = (Some(late), Some(late));
    assert_eq!(said(&order(), &ahead), ["/down_from", "/down_until"], "ahead of now");
    let mut other = order();
    (other.subject, other.down_from) = (Maintained::Other("Compressor".to_owned()), None);
    assert_eq!(said(&other, &|said| said.touched = Touched::Slide), ["/touched"]);
    assert_eq!(said(&other, &|said| said.down_until = Some(noon())), ["/down_until"]);
    let mut planned = order();
    planned.plan = Some((MaintenancePlanId::from_uuid(Uuid::nil()), code("MP-1")));
    assert_eq!(said(&planned, &|said| said.breakdown = Some(true)), ["/breakdown"]);
}

/// Half the work may have moved the centres as well as the whole.
#[test]
fn work_that_was_begun_says_what_it_touched_when_it_is_called_off() {
    let faults = |order: &WorkOrder, touched| {
        order.check_cancellation("Part missing", touched).into_iter().map(|fault| fault.pointer).collect::<Vec<_>>()
    };
    let started = order().start(stamp(1)).unwrap();
    assert_eq!(faults(&started, None), ["/touched"]);
    assert!(faults(&started, Some(Touched::Nothing)).is_empty() && faults(&order(), None).is_empty());
    let mut other = started.clone();
    other.subject = Maintained::Other("Compressor".to_owned());
    assert!(faults(&other, None).is_empty());
    assert_eq!(faults(&other, Some(Touched::Slide)), ["/touched"]);
    assert_eq!(order().check_cancellation(" ", None)[0].pointer, "/note");
    let off =
        started.cancel("Part missing".to_owned(), Some(Touched::Slide), Some(MachineMode::Idle), stamp(2)).unwrap();
    assert_eq!((off.state, off.touched), (WorkOrderState::Cancelled, Some(Touched::Slide)));
}
