//! Where spindles differ: the height limit less half of it, sizes by spindle. And what is taken out of a station.

use crate::{Refused, shop::*};
use dovetally_core::{
    item::Keeper,
    refusal::{Refusal, Rule},
    scan::Scanned,
    setup::{
        command::Command,
        decide::Effect,
        event::{DepthReading, Event, HeightPhase, HeightReading, SizeReading},
        height_limit::SpindleSpreads,
        view::SetupView,
    },
};

/// A tool at S1 with the gauge placed, on a machine whose spindles differ.
fn on_gauge(machine: Option<f64>, s1: Option<f64>) -> Bench {
    let mut bench = Bench::new(plan());
    let stations = s1.map(|spread| (code("S1"), mm(spread))).into_iter().collect();
    bench.facts.spindle_spreads = SpindleSpreads { machine: machine.map(mm), stations };
    bench.record(&seat("S1"));
    bench.record(&insert("S1"));
    bench.record(&place(GAUGE, "S1", &setter()));
    bench
}

fn high(deviation: f64) -> Command {
    read("S1", HeightPhase::BeforeClamping, HeightReading::Deviation(mm(deviation)))
}

fn outside(refusals: Vec<Refusal>) -> Refusal {
    let told = refusals.into_iter().find(|refusal| refusal.rule == Rule::HeightOutsideLimit);
    told.unwrap_or_else(|| panic!("no height outside its limit"))
}

#[test]
fn half_of_the_spread_comes_off_the_limit_on_either_side() {
    for (machine, s1, inside, beyond) in [
        (None, None, 0.05, 0.050_001),
        (Some(0.02), None, 0.04, 0.040_001),
        // What was measured at the station is nearer the truth than what holds for the machine.
        (Some(0.02), Some(0.06), 0.02, 0.020_001),
        (Some(0.06), Some(0.0), 0.05, 0.050_001),
    ] {
        let mut bench = on_gauge(machine, s1);
        for side in [1.0, -1.0] {
            bench.record(&high(side * inside));
            assert_eq!(bench.against(&setter(), &clamp("S1")), [], "{machine:?} {s1:?}");
            bench.record(&high(side * beyond));
            assert_eq!(bench.against(&setter(), &clamp("S1")), [Rule::HeightOutsideLimit]);
        }
    }
}

#[test]
fn a_height_outside_tells_both_numbers() {
    let mut bench = on_gauge(Some(0.02), None);
    let recorded = bench.record(&high(0.045));
    let Event::HeightRead { limit, spread, within_limit, .. } = &recorded.events[0] else { panic!("{recorded:?}") };
    assert_eq!((*limit, *spread, *within_limit), (mm(0.04), Some(mm(0.02)), false));
    let told = [
        outside(bench.ask(&setter(), &clamp("S1")).unwrap_err()),
        outside(dovetally_core::setup::blockers::blockers(&bench.setup, &bench.facts)),
    ];
    for refusal in told {
        let saw = refusal.saw.unwrap();
        assert!(saw.contains("±0.05 mm") && saw.contains("0.02 mm") && saw.contains("±0.04 mm"), "{saw}");
    }
    let view = SetupView::of(&bench.setup, &bench.facts, bench.now);
    let limit = view.stations[0].height_limit.unwrap();
    assert_eq!((limit.limit, limit.shop, limit.spread), (mm(0.04), mm(0.05), Some(mm(0.02))));
    assert_eq!(view.stations[1].height_limit, None, "a drill is not set on a gauge");
}

/// A measurement that comes later does not shift what was judged; the next reading is judged by it.
#[test]
fn a_reading_keeps_the_limit_of_its_day() {
    let mut bench = on_gauge(None, None);
    bench.record(&high(0.045));
    bench.facts.spindle_spreads.machine = Some(mm(0.02));
    assert_eq!(bench.against(&setter(), &clamp("S1")), []);
    bench.record(&high(0.045));
    assert_eq!(bench.against(&setter(), &clamp("S1")), [Rule::HeightOutsideLimit]);
}

#[test]
fn spindles_too_far_apart_leave_no_height_at_all() {
    let mut bench = on_gauge(Some(0.100_002), None);
    bench.record(&read("S1", HeightPhase::BeforeClamping, HeightReading::OnGauge));
    let refusal = outside(bench.ask(&setter(), &clamp("S1")).unwrap_err());
    let saw = refusal.saw.unwrap();
    assert!(saw.contains("±0.05 mm") && saw.contains("0.100002 mm"), "{saw}");
    assert!(refusal.clears.contains("spindle centres"), "{}", refusal.clears);
    // A hair less, and the very middle serves.
    let mut bench = on_gauge(Some(0.1), None);
    bench.record(&read("S1", HeightPhase::BeforeClamping, HeightReading::OnGauge));
    assert_eq!(bench.against(&setter(), &clamp("S1")), []);
}

fn size(piece: u64, spindle: Option<u8>, value: f64) -> Command {
    let readings = vec![SizeReading { feature: code("D-S1"), value: mm(value) }];
    Command::ReadSizes { station: code("S1"), piece, spindle, readings, correction: None }
}

#[test]
fn the_last_size_of_each_spindle_is_shown() {
    let mut bench = Bench::in_trial();
    assert_eq!(bench.setup.sizes_by_spindle(0), []);
    bench.record(&size(1, Some(2), 10.03));
    bench.record(&size(2, Some(5), 10.02));
    bench.record(&size(3, None, 10.5));
    bench.record(&size(8, Some(2), 10.01));
    let [sizes] = &SetupView::of(&bench.setup, &bench.facts, bench.now).stations[0].sizes[..] else {
        panic!("one feature")
    };
    let shown: Vec<_> = sizes.sizes.iter().map(|size| (size.spindle, size.piece, size.value)).collect();
    assert_eq!(shown, [(None, Some(3), mm(10.5)), (Some(2), Some(8), mm(10.01)), (Some(5), Some(2), mm(10.02))]);
    // A size of nobody knows which spindle is shown, and taken for none.
    assert_eq!((sizes.mean, sizes.spread), (Some(mm(10.015)), Some(mm(0.01))));
    assert_eq!((&sizes.missing[..], sizes.target), (&[1, 3, 4, 6][..], mm(10.0)));
    // A first piece is a piece too, and so is a depth.
    bench.record(&depth(9));
    bench.record_by(&inspector(), &judge(true, reading_all(Some(2))));
    assert_eq!(bench.setup.sizes_by_spindle(0)[0].sizes[1].value, mm(10.0));
    let depths = &bench.setup.sizes_by_spindle(1)[0];
    assert_eq!((depths.sizes.len(), depths.spread, depths.mean), (1, None, Some(mm(12.0))));
    // What is changed makes what was before worthless.
    bench.record(&adjust("S1", "SLIDE", None));
    assert_eq!(bench.setup.sizes_by_spindle(0), []);
    assert_eq!(bench.setup.sizes_by_spindle(1).len(), 1, "at that station only");
    let mouth = Command::ReadDepth {
        station: code("E2"),
        piece: 20,
        spindle: Some(1),
        reading: DepthReading::MouthDiameter(mm(3.0)),
        correction: None,
    };
    bench.record(&mouth);
    assert_eq!(bench.setup.sizes_by_spindle(1)[0].sizes.len(), 1, "a mouth is no depth");
}

pub(crate) fn taken_out() -> Vec<Refused> {
    let ready = Bench::ready_for_release();
    let released = Bench::released();
    let empty = Bench::new(plan());
    let against = |bench: &Bench, command: &Command| bench.against(&setter(), command);
    let unknown = |tool| Command::RemoveTool { station: code("S1"), tool };
    vec![
        Refused::new("another tool", &[Rule::ToolNotInserted], against(&ready, &remove_tool(0x703, "S1"))),
        Refused::new("no tool there", &[Rule::ToolNotInserted], against(&empty, &remove_tool(0x701, "S1"))),
        Refused::new("a tool nobody knows", &[Rule::ItemUnknown, Rule::ToolNotInserted], {
            against(&ready, &unknown(Scanned::Unknown { text: "?".to_owned() }))
        }),
        Refused::new("another holder", &[Rule::HolderNotSeated], against(&ready, &remove_holder(0x603, "S1"))),
        Refused::new("no holder there", &[Rule::HolderNotSeated], against(&empty, &remove_holder(0x601, "S1"))),
        Refused::new("at no station", &[Rule::StationUnknown], against(&ready, &remove_tool(0x701, "S9"))),
        Refused::new("tool, in a run", &[Rule::MachineRunning], against(&released, &remove_tool(0x701, "S1"))),
        Refused::new("holder, in a run", &[Rule::MachineRunning], against(&released, &remove_holder(0x601, "S1"))),
    ]
}

#[test]
fn a_tool_taken_out_is_in_the_hands_of_who_took_it_and_reopens_its_station() {
    let mut bench = Bench::ready_for_release();
    bench.facts.tag_outs.push(tag_out());
    let taken = bench.record_by(&second_setter(), &remove_tool(0x701, "S1"));
    let to = Keeper::Person(second_setter().person);
    assert_eq!(taken.effects, [Effect::LeaveSetup { item: item(0x701) }, Effect::MoveItem { item: item(0x701), to }]);
    bench.facts.tag_outs.clear();
    let state = &bench.setup.stations[0];
    assert!(state.tool.is_none() && state.holder.is_some() && !state.clamped);
    assert!(!bench.setup.trial && !bench.setup.index_clear && bench.setup.first_piece.is_none());
    assert!(bench.blocked().contains(&(Rule::ToolNotInserted, "S1".to_owned())));
    assert!(bench.setup.recorders.contains(&second_setter().person));
}

#[test]
fn a_holder_taken_off_brings_its_tool_with_it() {
    let mut bench = Bench::ready_for_release();
    let taken = bench.record(&remove_holder(0x603, "S3"));
    let to = Keeper::Person(setter().person);
    let leave = |number| Effect::LeaveSetup { item: item(number) };
    let moved = |number| Effect::MoveItem { item: item(number), to };
    assert_eq!(taken.effects, [leave(0x703), leave(0x603), moved(0x703), moved(0x603)]);
    let state = &bench.setup.stations[2];
    assert!(state.tool.is_none() && state.holder.is_none());
    assert_eq!(bench.setup.items().len(), 3);
}
