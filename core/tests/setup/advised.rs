//! What is advised on readings, from stored machine, holder, design and part. Expected numbers follow from plane geometry and
//! from Grubbs' harmonic rule (F. E. Grubbs, 1954, recalled), worked by hand beside each.

use crate::shop::*;
use dovetally_core::{
    adjuster::{Adjuster, Motion, Turn},
    calc::lateral_correction::MeasuredFrom,
    length::{Deviations, Length, LengthUnit},
    registry::tool_design::{Step, ToolDesignFields, ToolDesignKind},
    setup::{
        advice::{Advice, on_depth, on_height, on_sizes},
        command::{Command, Turns},
        event::{DepthReading, HeightReading, SizeReading},
        height_limit::HeightLimit,
        plan::{Feature, FeatureKind},
    },
};
use serde_json::Value;

fn read_at(value: f64) -> Vec<SizeReading> {
    vec![SizeReading { feature: code("D-S1"), value: mm(value) }]
}

fn advised(bench: &Bench, readings: &[SizeReading], design: Option<&ToolDesignFields>) -> Advice {
    on_sizes(&bench.setup, &bench.events, 0, Some(1), readings, design)
}

/// Measures a piece of S1 and records it with what is advised.
fn measure(bench: &mut Bench, piece: u64, value: f64) -> Advice {
    let readings = read_at(value);
    let advice = advised(bench, &readings, None);
    let correction = advice.to_stored();
    bench.record(&Command::ReadSizes { station: code("S1"), piece, spindle: Some(1), readings, correction });
    advice
}

fn turn(bench: &mut Bench, turns: f64) {
    bench.record(&Command::Adjust {
        station: code("S1"),
        adjuster: code("SLIDE"),
        turns: Turns::new(turns).unwrap(),
        direction: Turn::Clockwise,
        holder_move: None,
    });
}

fn number(value: &Value, pointer: &str) -> f64 {
    value.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("no {pointer} in {value:#}"))
}

#[track_caller]
fn assert_near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} is not {expected}");
}

/// 0.05 mm large in diameter is 0.025 mm of slide, and the screw moves 1 mm in a turn.
#[test]
fn a_size_alone_is_the_slides() {
    let mut bench = Bench::in_trial();
    let advice = measure(&mut bench, 1, 10.05);
    let [answer] = &advice.answers[..] else { panic!("{advice:#?}") };
    assert_eq!(answer["calculation"], "slide-correction");
    assert_near(number(answer, "/corrections/0/turns"), 0.025, 1e-12);
    assert_eq!((&answer["corrections"][0]["direction"], advice.pieces_to_discard), (&"clockwise".into(), 5));
    assert!(advice.sentence.ends_with("throw them away before measuring again."), "{}", advice.sentence);
    // It stands at the station until something is changed there, and stays with the reading for good.
    assert_eq!(bench.setup.stations[0].advice, advice.to_stored());
    turn(&mut bench, 0.025);
    assert_eq!(bench.setup.stations[0].advice, None);

    let fine = measure(&mut Bench::in_trial(), 1, 10.005);
    assert!(fine.sentence.contains("Leave it alone"), "{}", fine.sentence);
    assert_eq!((fine.pieces_to_discard, &fine.answers[0]["corrections"]), (0, &serde_json::json!([])));
}

/// After a move, 0.012 mm large is outside the setting zone of ±0.01 mm; but both pieces together say 0.006 mm: without
/// the move they would lie 0.050 and 0.062 large, 0.056 in the mean, and 0.050 was taken out. With a third at 0.020 they say
/// (0.050 + 0.062 + 0.070)/3 − 0.050 = 0.032/3 mm: half of it in turns.
#[test]
fn noise_is_not_chased() {
    let mut bench = Bench::in_trial();
    measure(&mut bench, 1, 10.05);
    turn(&mut bench, 0.025);
    let second = measure(&mut bench, 7, 10.012);
    assert_eq!(second.answers[0]["calculation"], "setting-adjustment");
    assert_near(number(&second.answers[0], "/result/estimated_deviation"), 0.006, 1e-9);
    assert_eq!((second.answers.len(), second.pieces_to_discard), (1, 0), "{second:#?}");
    let third = measure(&mut bench, 8, 10.02);
    assert_near(number(&third.answers[0], "/result/estimated_deviation"), 0.032 / 3.0, 1e-9);
    assert_eq!(third.answers[1]["calculation"], "slide-correction");
    assert_near(number(&third.answers[1], "/corrections/0/turns"), 0.016 / 3.0, 1e-9);
    assert!(third.notes.iter().any(|note| note.contains("an eighth of the tolerance")), "{third:#?}");

    // Another tool begins anew.
    bench.record(&insert("S1"));
    assert_eq!(advised(&bench, &read_at(10.05), None).answers[0]["calculation"], "slide-correction");
}

/// A turn that nothing came of is not averaged away: the pieces since it count, and it is said.
#[test]
fn a_slide_that_did_not_follow_is_told() {
    let mut bench = Bench::in_trial();
    measure(&mut bench, 1, 10.05);
    turn(&mut bench, 0.025);
    let again = measure(&mut bench, 7, 10.05);
    assert_eq!(again.answers[0]["calculation"], "slide-correction");
    assert_near(number(&again.answers[0], "/corrections/0/turns"), 0.025, 1e-12);
    assert!(again.notes.iter().any(|note| note.contains("lost motion")), "{again:#?}");
    // Another spindle's piece is not compared with this one's.
    let other = on_sizes(&bench.setup, &bench.events, 0, Some(4), &read_at(10.05), None);
    assert_eq!(other.answers[0]["calculation"], "slide-correction");
    assert!(!other.notes.iter().any(|note| note.contains("lost motion")), "{other:#?}");
}

/// The piece in hand is never passed over for the mean of others, and a slip of the unit turns nothing.
#[test]
fn the_piece_in_hand_counts() {
    let mut bench = Bench::in_trial();
    for (piece, spindle) in (1..=5).zip(1..=5) {
        let (station, readings) = (code("S1"), read_at(9.994));
        bench.record(&Command::ReadSizes { station, piece, spindle: Some(spindle), readings, correction: None });
    }
    let outside = on_sizes(&bench.setup, &bench.events, 0, Some(6), &read_at(10.021), None);
    assert!(outside.sentence.starts_with("D-S1 is outside its limits: measure another"), "{outside:#?}");
    let slip = advised(&bench, &read_at(0.5), None);
    assert!(slip.answers.is_empty() && slip.sentence.contains("check the reading and its unit"), "{slip:#?}");
}

/// With limits to one side the aim is their middle, for one diameter and for a form alike: target − 0.01 mm here.
#[test]
fn limits_to_one_side_are_aimed_at_in_their_middle() {
    let bench = two_diameters_within(Deviations::new(mm(-0.02), mm(0.0)).unwrap());
    let alone = advised(&bench, &read_at(10.03), None);
    assert_near(number(&alone.answers[0], "/result/expected_diameter"), 9.99, 1e-9);
    let mut both = read_at(10.03);
    both.push(SizeReading { feature: code("D-2"), value: mm(14.03) });
    let form = advised(&bench, &both, Some(&form()));
    assert_near(number(&form.answers[0], "/result/expected_diameters/0"), 9.99, 1e-6);
    let mut on_the_limit = read_at(10.0);
    on_the_limit.push(SizeReading { feature: code("D-2"), value: mm(14.0) });
    assert!(!advised(&bench, &on_the_limit, Some(&self::form())).sentence.contains("Leave it alone"));
}

/// Two steps of one diameter: which of them was measured is not known, so no taper is made up.
#[test]
fn where_a_diameter_lies_is_not_guessed() {
    let bench = two_diameters();
    let mut design = form();
    let twin = Step { z: mm(9.0), ..design.steps[1].clone() };
    design.steps.push(twin);
    let mut readings = read_at(10.06);
    readings.push(SizeReading { feature: code("D-2"), value: mm(14.08) });
    let advice = advised(&bench, &readings, Some(&design));
    assert_eq!(advice.answers[0]["calculation"], "slide-correction");
    assert!(advice.notes.iter().any(|note| note.contains("where D-2 lies")), "{advice:#?}");
}

/// While a release is in force no holder's screw is turned.
#[test]
fn a_holders_screw_waits_for_the_run() {
    let mut bench = two_diameters();
    let mut readings = read_at(10.06);
    readings.push(SizeReading { feature: code("D-2"), value: mm(14.08) });
    let trial = advised(&bench, &readings, Some(&form()));
    assert!(
        trial.sentence.contains("Turn the taper") && !trial.sentence.contains("Stop the run"),
        "{}",
        trial.sentence
    );
    bench.setup.run = dovetally_core::setup::state::Run::InForce { tools: Vec::new() };
    let running = advised(&bench, &readings, Some(&form()));
    assert!(running.sentence.starts_with("Stop the run and book its pieces first"), "{}", running.sentence);
}

/// One piece from each of the six spindles: the slide goes by their mean, and the spread is told.
#[test]
fn a_full_round_of_spindles_is_taken_together() {
    let mut bench = Bench::in_trial();
    for spindle in 1..=5 {
        let readings = read_at(10.03 + f64::from(spindle) * 0.01);
        let station = code("S1");
        bench.record(&Command::ReadSizes {
            station,
            piece: u64::from(spindle),
            spindle: Some(spindle),
            readings,
            correction: None,
        });
    }
    let advice = on_sizes(&bench.setup, &bench.events, 0, Some(6), &read_at(10.09), None);
    let answer = &advice.answers[0];
    assert_eq!(answer["inputs"]["spindles"], 6);
    assert_near(number(answer, "/result/mean_diameter"), 10.065, 1e-9);
    assert_near(number(answer, "/result/spindle_spread"), 0.05, 1e-9);
}

fn form() -> ToolDesignFields {
    let step = |diameter: f64, z: f64| Step {
        diameter: mm(diameter),
        z: mm(z),
        tolerance: Deviations::new(mm(-0.02), mm(0.02)).unwrap(),
    };
    ToolDesignFields {
        name: "form".to_owned(),
        kind: ToolDesignKind::Flat,
        tool_face: None,
        steps: vec![step(10.0, 0.0), step(14.0, 5.0)],
        rake_deg: 0.0,
        clearance_deg: 10.0,
        rake_tolerance_deg: 0.5,
        new_height: mm(30.0),
        minimum_height: mm(20.0),
        grind_stock: mm(0.2),
        holder_style: "dovetail".to_owned(),
        expected_pieces_per_grind: 1000,
        tool_radius: None,
        usable_angle_deg: None,
        lead_time_days: None,
        retired: false,
    }
}

/// A second diameter of the form at S1, and a taper screw with its arm.
fn two_diameters() -> Bench {
    two_diameters_within(Deviations::new(mm(-0.02), mm(0.02)).unwrap())
}

fn two_diameters_within(tolerance: Deviations) -> Bench {
    let mut plan = plan();
    let first = Feature { tolerance, ..plan.stations[0].operation.features[0].clone() };
    let second = Feature { code: code("D-2"), target: mm(14.0), ..first.clone() };
    plan.stations[0].operation.features = vec![first, second];
    let mut bench = Bench::in_trial_with(plan);
    let taper = Adjuster { arm: Some(mm(60.0)), ..screw("TAPER", Motion::FarDiameterUp, &[]) };
    let screws = vec![screw("HEIGHT", Motion::EdgeUp, &[]), taper];
    if let Some(holder) = &mut bench.setup.stations[0].holder {
        holder.adjusters = screws.into();
    }
    bench
}

/// A form 0.03 mm too far out and swung by 0.1° makes 2(5 + 0.03) at z = 0 and 2(7 + 0.03 + 5 tan 0.1°) at z = 5.
#[test]
fn diameters_of_one_form_are_diagnosed_together() {
    let bench = two_diameters();
    let swung = 10.0 * 0.1_f64.to_radians().tan();
    let mut readings = read_at(10.06);
    readings.push(SizeReading { feature: code("D-2"), value: mm(14.06 + swung) });
    let advice = advised(&bench, &readings, Some(&form()));
    let [answer] = &advice.answers[..] else { panic!("{advice:#?}") };
    assert_eq!(answer["calculation"], "form-diagnosis");
    assert_near(number(answer, "/result/infeed/value"), 0.03, 1e-8);
    assert_near(number(answer, "/result/taper/half_angle_deg"), 0.1, 1e-7);
    // The taper first: 60 mm of arm by tan 0.1° is 0.10472 mm of screw, 1 mm in a turn; the far diameter is to shrink.
    assert_near(number(answer, "/corrections/0/turns"), 60.0 * 0.1_f64.to_radians().tan(), 1e-6);
    assert_eq!(answer["corrections"][0]["direction"], "counterclockwise");
    assert_eq!(answer["corrections"][1]["moves"], "tool_in");
    assert!(advice.notes.iter().any(|note| note.contains("standard uncertainty of 0.002 mm")), "{advice:#?}");
    // Of a tool without a design, only the slide can be told.
    assert_eq!(advised(&bench, &readings, None).answers[0]["calculation"], "slide-correction");
}

/// 0.1 mm high on ways that lean by 10° is 0.1/cos 10° of screw.
#[test]
fn a_height_is_the_height_screws() {
    let bench = Bench::in_trial();
    let limit = HeightLimit::of(mm(0.05), None);
    let advise =
        |deviation: f64| on_height(&bench.setup, 0, HeightReading::Deviation(mm(deviation)), limit, Some(&form()));
    let high = advise(0.1).unwrap();
    let correction = &high.answers[0]["corrections"][0];
    assert_near(number(correction, "/turns"), 0.1 / 10.0_f64.to_radians().cos(), 1e-9);
    assert_eq!((&correction["direction"], &correction["moves"]), (&"counterclockwise".into(), &"edge_down".into()));
    assert!(high.sentence.starts_with("Loosen the tool first"), "{}", high.sentence);
    assert_eq!(advise(-0.1).unwrap().answers[0]["corrections"][0]["direction"], "clockwise");
    let within = advise(0.04).unwrap();
    assert!(within.answers.is_empty() && within.sentence.contains("Leave it alone"), "{within:#?}");
    // Both in the unit that was read, with no more digits than a shop measures: 0.05 mm less half of 0.0018 in.
    let in_inches = HeightLimit::of(mm(0.05), Some(Length::new(0.0018, LengthUnit::Inch).unwrap()));
    let told = on_height(&bench.setup, 0, HeightReading::Deviation(mm(0.02)), in_inches, None).unwrap();
    assert_eq!(told.sentence, "Leave it alone: 0.02 mm is within the limit of 0.0271 mm.");
    assert_eq!(on_height(&bench.setup, 0, HeightReading::OnGauge, limit, None), None);
    // Half of what the spindles differ is taken off the limit, and beyond it nothing is turned.
    let apart = |spread: f64| {
        let limit = HeightLimit::of(mm(0.05), Some(mm(spread)));
        on_height(&bench.setup, 0, HeightReading::Deviation(mm(0.045)), limit, Some(&form())).unwrap()
    };
    assert!(apart(0.01).sentence.contains("within the limit of 0.045 mm"), "{:?}", apart(0.01));
    assert!(!apart(0.02).answers.is_empty());
    assert!(apart(0.2).answers.is_empty() && apart(0.2).sentence.contains("0.2 mm"), "{:?}", apart(0.2));
}

/// 0.3 mm too deep is 0.3 mm of the depth screw; four pieces are on their way from position 2 to 6.
#[test]
fn a_depth_is_the_end_slides() {
    let bench = Bench::in_trial();
    let advice = on_depth(&bench.setup, 1, DepthReading::Depth(mm(12.3)));
    let correction = &advice.answers[0]["corrections"][0];
    assert_near(number(correction, "/turns"), 0.3, 1e-9);
    assert_eq!((&correction["direction"], advice.pieces_to_discard), (&"counterclockwise".into(), 4));
    let cone = on_depth(&bench.setup, 1, DepthReading::MouthDiameter(mm(6.0)));
    assert!(cone.answers.is_empty() && cone.notes[0].contains("cone is not on record"), "{cone:#?}");
}

/// Too long from the free end: the form goes away from the collet. Which end it was, the part has to say.
#[test]
fn a_length_is_the_side_screws() {
    let with = |measured_from: Option<MeasuredFrom>| {
        let mut plan = plan();
        let first = plan.stations[0].operation.features[0].clone();
        let length = Feature { code: code("L-1"), kind: FeatureKind::Length, target: mm(20.0), measured_from, ..first };
        plan.stations[0].operation.features.push(length);
        let bench = Bench::in_trial_with(plan);
        let long: Length = mm(20.1);
        advised(&bench, &[SizeReading { feature: code("L-1"), value: long }], None)
    };
    let advice = with(Some(MeasuredFrom::FreeEnd));
    let correction = &advice.answers[0]["corrections"][0];
    assert_near(number(correction, "/turns"), 0.1, 1e-9);
    assert_eq!(
        (&correction["moves"], &correction["direction"]),
        (&"away_from_collet".into(), &"counterclockwise".into())
    );
    assert_eq!(with(Some(MeasuredFrom::ColletEnd)).answers[0]["corrections"][0]["moves"], "toward_collet");
    let unsaid = with(None);
    assert!(unsaid.answers.is_empty() && unsaid.notes[0].contains("from which end L-1"), "{unsaid:#?}");
}
