//! What is recorded: the walk to a release, bad news, effects, withdrawals, and the pieces of a run.

use crate::shop::*;
use dovetally_core::{
    item::{Keeper, Purpose},
    refusal::Rule,
    scan::Scanned,
    setup::{
        command::Command,
        decide::{Decision, Effect, tag_out as decide_tag_out, take_out},
        event::{Event, FirstPieceReading, HeightPhase, HeightReading, HolderMove, SeatAnswers, TakenOut, Withdrawal},
        state::{Run, SetupState},
    },
};

const ALL_FALSE: SeatAnswers = SeatAnswers { seat_clean: false, seated_flush: false, side_screw_free: false };

#[test]
fn the_walk_to_a_release_and_back() {
    let mut bench = Bench::ready_for_release();
    assert_eq!(bench.blocked(), []);
    let released = bench.record(&Command::ReleaseRun);
    assert_eq!(released.effects, [Effect::ReleaseOn]);
    assert_eq!(bench.setup.state, SetupState::Released);
    bench.record(&sizes("S1", 30));
    bench.record(&depth(31));
    bench.record(&adjust("S3", "SLIDE", None));
    bench.record(&adjust("E2", "DEPTH", None));
    bench.record(&Command::HandOver { to: second_setter().person });
    assert!(bench.setup.is_released(), "what is taken during a run does not stop it");
    let stopped = bench.record(&stop(480));
    let tools = [0x701, 0x702, 0x703].map(item).to_vec();
    assert_eq!(stopped.effects, [Effect::ReleaseOff, Effect::AddPieces { items: tools, pieces: 480 }]);
    assert_eq!((bench.setup.state, bench.setup.pieces), (SetupState::Stopped, 480));
    assert_eq!(bench.against(&setter(), &stop(480)), [Rule::NoReleaseInForce], "pieces are added once");
    let closed = bench.record_by(&second_setter(), &close());
    assert_eq!(closed.effects, [Effect::Close]);
    assert_eq!(bench.setup.state, SetupState::Closed);
}

#[test]
fn a_stopped_run_is_released_again_as_it_stands_and_its_pieces_add() {
    let mut bench = Bench::released();
    bench.record(&stop(100));
    bench.record(&Command::ReleaseRun);
    bench.record(&stop(50));
    assert_eq!(bench.setup.pieces, 150);
}

#[test]
fn putting_in_moves_the_items_to_the_machine_and_taking_a_gauge_out_to_who_took_it() {
    let mut bench = Bench::new(plan());
    let machine = Keeper::Machine(MACHINE);
    let station = code("S1");
    let seated = bench.record(&seat("S1"));
    let enter = |number| Effect::EnterSetup { item: item(number), station: station.clone() };
    let to_machine = |number| Effect::MoveItem { item: item(number), to: machine };
    assert_eq!(seated.effects, [to_machine(0x601), enter(0x601)]);
    assert_eq!(bench.record(&insert("S1")).effects, [to_machine(0x701), enter(0x701)]);
    let placed = bench.record(&place(GAUGE, "S1", &setter()));
    assert_eq!(placed.effects, [to_machine(GAUGE), Effect::GaugeIn { gauge: item(GAUGE), station: station.clone() }]);
    let removed = bench.record_by(&second_setter(), &remove(GAUGE, "S1"));
    let to_remover = Effect::MoveItem { item: item(GAUGE), to: Keeper::Person(second_setter().person) };
    assert_eq!(removed.effects, [Effect::GaugeOut { gauge: item(GAUGE) }, to_remover]);
    // What is at the machine already is not moved again.
    let mut facts = holder(0x605);
    facts.whereabouts = at_machine(MACHINE);
    let again = Command::SeatHolder { station: station.clone(), holder: Scanned::Known(facts), seat: good_seat() };
    let leave = |number| Effect::LeaveSetup { item: item(number) };
    assert_eq!(bench.record(&again).effects, [leave(0x701), leave(0x601), enter(0x605)]);
}

#[test]
fn a_gauge_at_this_machine_is_placed_too() {
    let mut facts = gauge(GAUGE, setter().person);
    facts.whereabouts = at_machine(MACHINE);
    facts.stations = vec![code("S3"), code("S1")];
    let command = Command::PlaceGauge { station: code("S1"), gauge: Scanned::Known(facts), machine_stopped: true };
    assert_eq!(Bench::new(plan()).against(&setter(), &command), []);
}

#[test]
fn two_setters_work_on_two_stations_at_once_with_two_gauges() {
    let mut bench = Bench::new(plan());
    let (one, two) = (setter(), second_setter());
    for (who, name) in [(&one, "S1"), (&two, "S3")] {
        bench.record_by(who, &seat(name));
    }
    for (who, name) in [(&two, "S3"), (&one, "S1")] {
        bench.record_by(who, &insert(name));
    }
    bench.record_by(&one, &place(GAUGE, "S1", &one));
    bench.record_by(&two, &place(SECOND_GAUGE, "S3", &two));
    let gauges: Vec<_> = bench.blocked().into_iter().filter(|(rule, _)| *rule == Rule::GaugeStillInMachine).collect();
    assert_eq!(gauges.len(), 2);
    assert!(bench.setup.recorders.contains(&two.person));
}

#[test]
fn a_bad_seat_answer_is_recorded_and_blocks() {
    for index in 0..3 {
        let answers = SeatAnswers { seat_clean: index != 0, seated_flush: index != 1, side_screw_free: index != 2 };
        let mut bench = Bench::new(plan());
        bench.record(&seat_with("S1", answers));
        let shown = dovetally_core::setup::blockers::blockers(&bench.setup, &bench.facts);
        let seat_shown = shown.iter().find(|refusal| refusal.rule == Rule::SeatNotConfirmed).unwrap();
        let names = ["seat_clean: false", "seated_flush: false", "side_screw_free: false"];
        assert_eq!(seat_shown.saw.as_deref(), Some(names[index]));
        bench.record(&seat("S1"));
        assert!(!bench.blocked().contains(&(Rule::SeatNotConfirmed, "S1".to_owned())));
    }
    let mut bench = Bench::new(plan());
    bench.record(&seat_with("S1", ALL_FALSE));
    let on_screw = HolderMove { holder_retightened: true, side_screw_free: false };
    bench.record(&adjust("S1", "SIDE", Some(on_screw)));
    let shown = dovetally_core::setup::blockers::blockers(&bench.setup, &bench.facts);
    let seat = shown.iter().find(|refusal| refusal.rule == Rule::SeatNotConfirmed).unwrap();
    assert_eq!(seat.saw.as_deref(), Some("seat_clean: false, seated_flush: false, side_screw_free: false"));
}

#[test]
fn a_holder_left_loose_or_on_its_screw_is_recorded_and_blocks_until_it_is_put_right() {
    let loose = HolderMove { holder_retightened: false, side_screw_free: true };
    let on_screw = HolderMove { holder_retightened: true, side_screw_free: false };
    for (adjuster, left) in [("TAPER", loose), ("SIDE", on_screw)] {
        let mut bench = Bench::ready_for_release();
        bench.record(&adjust("S1", adjuster, Some(left)));
        assert!(bench.blocked().contains(&(Rule::SeatNotConfirmed, "S1".to_owned())));
        assert!(!bench.setup.trial, "nothing turns on a holder that is not tight on its seat");
        bench.record(&adjust("S1", adjuster, Some(good_move())));
        assert!(!bench.blocked().contains(&(Rule::SeatNotConfirmed, "S1".to_owned())));
    }
}

#[test]
fn a_height_outside_its_limit_is_recorded_and_blocks_and_the_limit_itself_is_inside() {
    for (reading, blocks) in [
        (HeightReading::OnGauge, false),
        (HeightReading::Deviation(mm(0.05)), false),
        (HeightReading::Deviation(mm(-0.05)), false),
        (HeightReading::Deviation(mm(0.050_001)), true),
        (HeightReading::Deviation(mm(-0.050_001)), true),
    ] {
        let mut bench = Bench::ready_for_stock();
        bench.record(&place(GAUGE, "S1", &setter()));
        bench.record(&read("S1", HeightPhase::AfterClamping, reading));
        bench.record(&remove(GAUGE, "S1"));
        let blocked = bench.blocked().contains(&(Rule::HeightOutsideLimit, "S1".to_owned()));
        assert_eq!(blocked, blocks, "{reading:?}");
        bench.record(&unclamp("S1"));
        bench.record(&place(GAUGE, "S1", &setter()));
        bench.record(&read("S1", HeightPhase::BeforeClamping, reading));
        assert_eq!(bench.blocked().contains(&(Rule::HeightOutsideLimit, "S1".to_owned())), blocks, "{reading:?}");
    }
}

#[test]
fn a_rejected_first_piece_is_recorded_and_a_second_is_judged_by_the_same_inspector() {
    let mut bench = Bench::in_trial();
    bench.record(&depth(1));
    bench.record_by(&inspector(), &judge(false, vec![]));
    assert_eq!(bench.blocked(), [(Rule::FirstPieceNotAccepted, "M-1".to_owned())]);
    bench.record_by(&inspector(), &judge(true, on_target()));
    assert_eq!(bench.blocked(), []);
}

/// Two stations may call their features alike, and each is judged by its own size, from its own spindle.
#[test]
fn a_reading_belongs_to_its_station_and_its_feature() {
    let mut alike = plan();
    alike.settings.first_piece_from_every_spindle = true;
    alike.running_spindles = vec![1, 2];
    alike.stations[2].operation.features = alike.stations[0].operation.features.clone();
    alike.stations[2].operation.features[0].target = mm(8.0);
    let mut length = alike.stations[0].operation.features[0].clone();
    length.code = code("L-S1");
    length.target = mm(5.0);
    alike.stations[0].operation.features.push(length);
    let bench = Bench::in_trial_with(alike);
    let sizes = [("S1", "D-S1", 10.0), ("S1", "L-S1", 5.0), ("E2", "L-E2", 12.0), ("S3", "D-S1", 8.0)];
    let mut readings = Vec::new();
    for spindle in [1, 2] {
        for (station, feature, value) in sizes {
            readings.push(FirstPieceReading {
                station: code(station),
                feature: code(feature),
                spindle: Some(spindle),
                value: mm(value),
            });
        }
    }
    assert_eq!(bench.against(&inspector(), &judge(true, readings.clone())), []);
    for missing in 0..readings.len() {
        let mut fewer = readings.clone();
        fewer.remove(missing);
        assert_eq!(bench.against(&inspector(), &judge(true, fewer)), [Rule::FirstPieceSpindleMissing], "{missing}");
    }
    for (station, feature, _) in sizes {
        let is_it = |reading: &FirstPieceReading| reading.station == code(station) && reading.feature == code(feature);
        let fewer = readings.iter().filter(|reading| !is_it(reading)).cloned().collect();
        let expected = [Rule::ReadingOutsideLimits, Rule::FirstPieceSpindleMissing, Rule::FirstPieceSpindleMissing];
        assert_eq!(bench.against(&inspector(), &judge(true, fewer)), expected, "{station} {feature}");
    }
}

#[test]
fn a_shop_may_let_the_setter_judge_and_the_record_says_so() {
    let mut relaxed = plan();
    relaxed.settings.first_piece_by_another_person = false;
    let mut bench = Bench::in_trial_with(relaxed);
    bench.record(&judge(true, on_target()));
    assert!(!bench.setup.first_piece.as_ref().unwrap().independent);
    bench.record_by(&inspector(), &judge(true, on_target()));
    assert!(bench.setup.first_piece.as_ref().unwrap().independent);
}

#[test]
fn a_setter_who_had_no_hand_in_it_judges_until_they_have() {
    let mut bench = Bench::in_trial();
    bench.record_by(&second_setter(), &judge(true, on_target()));
    bench.record_by(&second_setter(), &sizes("S1", 1));
    assert_eq!(bench.against(&second_setter(), &judge(true, on_target())), [Rule::FirstPieceSamePerson]);
}

#[test]
fn a_tag_out_withdraws_a_release_and_the_pieces_are_still_booked() {
    let mut bench = Bench::released();
    let tag = tag_out();
    let withdrawn = decide_tag_out(&bench.setup, tag.tag_out);
    let because = Withdrawal::TagOut { tag_out: tag.tag_out };
    assert_eq!(withdrawn.events, [Event::ReleaseWithdrawn { withdrawal: because }]);
    assert_eq!(withdrawn.effects, [Effect::ReleaseOff]);
    bench.facts.tag_outs.push(tag);
    bench.store(&inspector(), &withdrawn);
    assert!(!bench.setup.is_released() && !bench.setup.trial);
    assert_eq!(bench.setup.state, SetupState::Stopped);
    assert_eq!(bench.against(&inspector(), &judge(false, vec![])), [Rule::TrialNotBegun]);
    let stopped = bench.record(&stop(7));
    let tools = [0x701, 0x702, 0x703].map(item).to_vec();
    assert_eq!(stopped.effects, [Effect::AddPieces { items: tools, pieces: 7 }], "the release is off already");
    bench.facts.tag_outs.clear();
    assert_eq!(bench.blocked(), [(Rule::TrialNotBegun, "M-1".to_owned())], "the machine is proven clear again first");
    bench.record(&Command::BeginTrialCut);
    bench.record(&Command::ReleaseRun);
}

#[test]
fn a_tag_out_ends_a_trial_and_leaves_anything_else_alone() {
    let mut bench = Bench::in_trial();
    let tag = tag_out().tag_out;
    let ended = decide_tag_out(&bench.setup, tag);
    assert_eq!(
        ended,
        Decision {
            events: vec![Event::TrialWithdrawn { withdrawal: Withdrawal::TagOut { tag_out: tag } }],
            effects: vec![],
        }
    );
    bench.store(&inspector(), &ended);
    assert!(!bench.setup.trial);
    assert_eq!(decide_tag_out(&bench.setup, tag), Decision::default());
    let mut closed = Bench::released();
    closed.record(&stop(1));
    closed.record(&close());
    assert_eq!(decide_tag_out(&closed.setup, tag), Decision::default());
}

#[test]
fn a_crash_puts_the_station_and_its_neighbours_out_of_use_until_tools_are_put_in_anew() {
    let mut bench = Bench::released();
    let crash = bench.record(&Command::ReportCrash { station: code("S1") });
    let struck = vec![item(0x701), item(0x601), item(0x702)];
    let leave = |number| Effect::LeaveSetup { item: item(number) };
    assert_eq!(
        crash.effects,
        [
            Effect::ReleaseOff,
            leave(0x701),
            leave(0x601),
            leave(0x702),
            Effect::BlockItems { items: struck },
            Effect::MakeGaugesStale,
        ]
    );
    assert_eq!(crash.events.len(), 2);
    assert!(!bench.setup.is_released() && !bench.setup.trial);
    let out_of_use: Vec<_> = bench.blocked().into_iter().filter(|(rule, _)| *rule == Rule::CrashNotCleared).collect();
    assert_eq!(out_of_use, ["S1", "E2"].map(|name| (Rule::CrashNotCleared, name.to_owned())));
    bench.record(&stop(12));
    bench.record(&seat("S1"));
    bench.record(&insert("E2"));
    assert!(!bench.blocked().iter().any(|(rule, _)| *rule == Rule::CrashNotCleared));
}

#[test]
fn stations_at_one_position_and_around_the_carrier_are_neighbours() {
    let mut wide = plan();
    wide.stations = vec![
        cross_slide("S1", 1, 1),
        cross_slide("S2", 2, 1),
        cross_slide("S3", 3, 1),
        cross_slide("S5", 5, 1),
        cross_slide("S6", 6, 1),
        cross_slide("T1", 1, 1),
    ];
    assert_eq!(wide.with_neighbours(0), [0, 1, 4, 5]);
    assert_eq!(wide.with_neighbours(2), [1, 2]);
    assert_eq!(wide.with_neighbours(4), [0, 3, 4, 5]);
    assert_eq!(wide.with_neighbours(9), Vec::<usize>::new());
}

#[test]
fn a_tool_or_holder_handed_out_leaves_its_station_open() {
    let bench = Bench::ready_for_release();
    let mut without_tool = bench.clone();
    let taken = take_out(&bench.setup, item(0x701), Purpose::Grind).unwrap();
    assert_eq!(taken.effects, [Effect::LeaveSetup { item: item(0x701) }]);
    without_tool.store(&inspector(), &taken);
    assert!(without_tool.setup.stations[0].holder.is_some() && without_tool.setup.stations[0].tool.is_none());
    assert!(!without_tool.setup.recorders.contains(&inspector().person), "the counter is no part of the setting");

    let mut without_holder = bench.clone();
    let taken = take_out(&bench.setup, item(0x601), Purpose::Check).unwrap();
    assert!(matches!(&taken.events[..], [Event::ItemTakenOut { what: TakenOut::Holder, .. }]));
    assert_eq!(taken.effects.len(), 2, "the tool leaves with its holder");
    without_holder.store(&inspector(), &taken);
    assert!(without_holder.setup.stations[0].holder.is_none() && without_holder.setup.stations[0].tool.is_none());
}

#[test]
fn a_hand_over_says_what_is_open_and_where_the_gauge_is_and_lets_the_next_person_close() {
    let mut bench = Bench::ready_for_stock();
    bench.record(&place(GAUGE, "S3", &setter()));
    assert_eq!(bench.against(&second_setter(), &close()), [Rule::GaugeStillInMachine, Rule::NotYourSetup]);
    let handed = bench.record(&Command::HandOver { to: second_setter().person });
    let Event::HandedOver { to, gauges, open } = &handed.events[0] else { panic!("{handed:?}") };
    assert_eq!(*to, second_setter().person);
    assert_eq!((gauges[0].gauge.as_str(), gauges[0].station.as_str()), ("CG-1281", "S3"));
    let open: Vec<_> = open.iter().map(|step| step.rule).collect();
    assert_eq!(open.len(), bench.blocked().len());
    assert!(open.contains(&Rule::GaugeStillInMachine) && open.contains(&Rule::StockNotFed));
    bench.record(&remove(GAUGE, "S3"));
    bench.record_by(&second_setter(), &close());
}

#[test]
fn a_supervisor_closes_and_abandons_anybodys() {
    let abandon = Command::Abandon { reason: "part withdrawn".to_owned() };
    for (command, state) in [(close(), SetupState::Closed), (abandon, SetupState::Abandoned)] {
        let mut bench = Bench::in_trial();
        bench.record_by(&supervisor(), &command);
        assert_eq!(bench.setup.state, state);
        assert_eq!(bench.setup.run, Run::None);
    }
}
