//! What is measured next, what is thrown away before it, and which screws an advice names.

use crate::shop::*;
use dovetally_core::{
    adjuster::{AdjusterKind, Turn},
    refusal::Rule,
    setup::{
        advice::{Advice, Expected, on_depth, on_sizes},
        command::{Command, Turns},
        event::{DepthReading, SizeReading},
        measuring::{Spot, ThrowAway},
    },
};

fn spot(station: usize, feature: &str, spindle: u8) -> Spot {
    Spot { station, feature: code(feature), spindle: Some(spindle) }
}

/// Records a size with what is advised on it.
fn measure(bench: &mut Bench, station: &str, feature: &str, piece: u64, spindle: u8, value: f64) {
    let index = bench.setup.plan.index_of(&code(station)).unwrap();
    let readings = vec![SizeReading { feature: code(feature), value: mm(value) }];
    let correction = on_sizes(&bench.setup, &bench.events, index, Some(spindle), &readings, None).to_stored();
    let station = code(station);
    bench.record(&Command::ReadSizes { station, piece, spindle: Some(spindle), readings, correction });
}

fn measure_depth(bench: &mut Bench, piece: u64, spindle: u8, value: f64) {
    let reading = DepthReading::Depth(mm(value));
    let correction = on_depth(&bench.setup, 1, reading).to_stored();
    let station = code("E2");
    bench.record(&Command::ReadDepth { station, piece, spindle: Some(spindle), reading, correction });
}

fn turn_slide(bench: &mut Bench) {
    bench.record(&Command::Adjust {
        station: code("S1"),
        adjuster: code("SLIDE"),
        turns: Turns::new(0.1).unwrap(),
        direction: Turn::Clockwise,
        holder_move: None,
    });
}

#[test]
fn a_piece_is_measured_at_every_station_before_the_next_spindle() {
    let mut bench = Bench::in_trial();
    let mut at = bench.setup.next_to_measure(None);
    let mut walked = Vec::new();
    for piece in 1..=18_u64 {
        let here = at.unwrap();
        let spindle = here.spindle.unwrap();
        match here.station {
            0 => measure(&mut bench, "S1", "D-S1", piece, spindle, 10.0),
            1 => measure_depth(&mut bench, piece, spindle, 12.0),
            _ => measure(&mut bench, "S3", "D-S3", piece, spindle, 10.0),
        }
        walked.push((here.station, spindle));
        at = bench.setup.next_to_measure(Some(&here));
        assert_eq!(bench.setup.is_measured_all_round(), piece == 18, "piece {piece}");
    }
    let expected: Vec<_> = (1..=6).flat_map(|spindle| (0..3).map(move |station| (station, spindle))).collect();
    assert_eq!(walked, expected);
    // All are known: what was measured longest ago is next, and what was changed comes before it.
    assert_eq!(bench.setup.next_to_measure(None), Some(spot(0, "D-S1", 1)));
    measure(&mut bench, "S1", "D-S1", 19, 1, 10.0);
    assert_eq!(bench.setup.next_to_measure(None), Some(spot(1, "L-E2", 1)));
    turn_slide(&mut bench);
    assert_eq!(bench.setup.next_to_measure(Some(&spot(0, "D-S1", 4))), Some(spot(0, "D-S1", 4)));
    assert!(!bench.setup.is_measured_all_round());
}

#[test]
fn a_depth_is_read_by_itself_and_the_diameters_of_a_form_together() {
    let mut plan = plan();
    let second = plan.stations[0].operation.features[0].clone();
    plan.stations[0]
        .operation
        .features
        .push(dovetally_core::setup::plan::Feature { code: code("D-2"), ..second.clone() });
    plan.stations[1].operation.features.push(second);
    let bench = Bench::new(plan);
    let together = |station, feature: &str| {
        let found = bench.setup.read_together(station, &code(feature));
        found.into_iter().map(|feature| feature.code.to_string()).collect::<Vec<_>>()
    };
    assert_eq!(together(0, "D-2"), ["D-S1", "D-2"]);
    assert_eq!(together(1, "L-E2"), ["L-E2"]);
    assert_eq!(together(1, "D-S1"), ["D-S1"]);
    assert!(bench.setup.is_depth_asked_for(1, &code("L-E2")) && !bench.setup.is_depth_asked_for(1, &code("D-S1")));
    assert!(!bench.setup.is_depth_asked_for(0, &code("D-S1")));
}

/// From position 1 to the cut-off at 6 five pieces are on their way. Spindle 3 made piece 3: of those after the change, 8
/// would be spindle 2's, and 9 is the next of spindle 3.
#[test]
fn what_was_formed_before_the_turn_is_thrown_away() {
    let mut bench = Bench::in_trial();
    for piece in 1..=3_u8 {
        measure(&mut bench, "S1", "D-S1", u64::from(piece), piece, 10.05);
    }
    let before = |spindle| bench.setup.throw_away(&bench.events, 0, spindle);
    assert_eq!(before(Some(1)), ThrowAway { pieces: 0, piece: 1 });
    let after = bench.setup.throw_away_after(&bench.events, 5, Some(3));
    assert_eq!(after, ThrowAway { pieces: 5, piece: 9 });
    turn_slide(&mut bench);
    assert_eq!(bench.setup.throw_away(&bench.events, 0, Some(3)), after, "as it was foretold");
    assert_eq!(bench.setup.throw_away(&bench.events, 0, Some(2)), ThrowAway { pieces: 5, piece: 14 });
    // Of a spindle that was never measured nobody knows the piece.
    assert_eq!(bench.setup.throw_away(&bench.events, 0, Some(5)), ThrowAway { pieces: 5, piece: 9 });
    measure(&mut bench, "S1", "D-S1", 9, 3, 10.0);
    assert_eq!(bench.setup.throw_away(&bench.events, 0, Some(3)).pieces, 0);
}

#[test]
fn what_stands_in_the_way_of_measuring_is_told_before() {
    let bench = Bench::ready_for_trial();
    for station in 0..3 {
        let told = bench.setup.hindrances_to_measuring(&bench.facts, station, &setter(), bench.now);
        assert_eq!(rules(&told), [Rule::TrialNotBegun], "station {station}");
    }
    let bench = Bench::in_trial();
    for station in 0..3 {
        let told = bench.setup.hindrances_to_measuring(&bench.facts, station, &setter(), bench.now);
        assert_eq!(told, [], "station {station}");
    }
}

fn advice_at(bench: &Bench, station: usize) -> Advice {
    Advice::of_stored(bench.setup.stations[station].advice.as_ref().unwrap()).unwrap()
}

#[test]
fn advice_that_was_kept_names_its_screws_and_what_to_expect() {
    let mut bench = Bench::in_trial();
    measure(&mut bench, "S1", "D-S1", 1, 1, 10.05);
    let advice = advice_at(&bench, 0);
    let turns = advice.turns(&bench.setup, 0);
    let [turn] = &turns[..] else { panic!("{turns:?}") };
    assert_eq!((turn.screw.code.as_str(), turn.direction), ("SLIDE", Turn::Clockwise));
    assert_eq!(turn.screw.kind(), AdjusterKind::Infeed);
    assert!((turn.turns - 0.025).abs() < 1e-12 && !turn.moves.is_against_cut());
    assert_eq!(advice.expected, [Expected { feature: code("D-S1"), size: mm(10.0) }]);
    assert!(!advice.leave_alone);

    measure_depth(&mut bench, 1, 1, 12.3);
    let advice = advice_at(&bench, 1);
    let turns = advice.turns(&bench.setup, 1);
    assert_eq!((turns[0].screw.code.as_str(), turns[0].direction), ("DEPTH", Turn::Counterclockwise));
    assert!(turns[0].moves.is_against_cut(), "less deep, and the cut presses deeper");
    assert_eq!(advice.expected, [Expected { feature: code("L-E2"), size: mm(12.0) }]);
}

#[test]
fn what_is_in_its_zone_is_left_alone_and_what_is_outside_its_limits_never() {
    let alone = |values: &[f64]| {
        let mut bench = Bench::in_trial();
        for (piece, value) in (1_u8..).zip(values) {
            measure(&mut bench, "S1", "D-S1", u64::from(piece), piece, *value);
        }
        let advice = advice_at(&bench, 0);
        assert!(advice.turns(&bench.setup, 0).is_empty(), "{values:?}");
        advice.leave_alone
    };
    assert!(alone(&[10.005]));
    // The mean of six is in the zone, and the piece in hand is not good.
    assert!(!alone(&[9.994, 9.994, 9.994, 9.994, 9.994, 10.021]));
    // A slip of the unit.
    assert!(!alone(&[0.5]));

    let mut bench = Bench::in_trial();
    measure_depth(&mut bench, 1, 1, 12.005);
    assert!(advice_at(&bench, 1).leave_alone);
}

/// After a move both pieces together say 10.006, known to two of 0.005/√2 either way (0.005 an eighth of the tolerance).
#[test]
fn how_well_the_setting_is_known_is_told() {
    let mut bench = Bench::in_trial();
    measure(&mut bench, "S1", "D-S1", 1, 1, 10.05);
    assert_eq!(advice_at(&bench, 0).known_to, None, "one piece says nothing of its scatter");
    bench.record(&Command::Adjust {
        station: code("S1"),
        adjuster: code("SLIDE"),
        turns: Turns::new(0.025).unwrap(),
        direction: Turn::Clockwise,
        holder_move: None,
    });
    measure(&mut bench, "S1", "D-S1", 7, 1, 10.012);
    let advice = advice_at(&bench, 0);
    let (known, size) = (advice.known_to.unwrap().value(), advice.expected[0].size.value());
    assert!((known - 0.01 / 2.0_f64.sqrt()).abs() < 1e-9 && (size - 10.006).abs() < 1e-9, "{known} {size}");
    assert!(advice.leave_alone, "{advice:?}");
}

/// Advice that was stored before anything of this was kept is read as it is.
#[test]
fn older_advice_is_read() {
    let stored = serde_json::json!({"sentence": "Leave it alone.", "pieces_to_discard": 0, "answers": [], "notes": []});
    let advice = Advice::of_stored(&stored).unwrap();
    assert_eq!((advice.expected.len(), advice.known_to, advice.leave_alone), (0, None, false));
}
