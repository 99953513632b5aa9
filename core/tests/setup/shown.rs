//! What is shown: next steps, permits, discards, the view; and events to and from their rows.

use crate::shop::*;
use dovetally_core::{
    adjuster::Turn,
    people::Permission,
    refusal::Rule,
    setup::{
        blockers::blockers,
        command::{Command, Turns},
        discard::{pieces_to_discard, pieces_to_discard_at},
        event::{Event, EventKind, HeightPhase, HeightReading, PAYLOAD_VERSION, Recorded, SeatAnswers, Withdrawal},
        next::next,
        permit::{PermitPurpose, RunPermit, run_permit},
        plan::{Plan, Settings},
        state::Setup,
        stored::{StoredEvent, StoredEventError},
        view::SetupView,
    },
};

fn wanted(bench: &Bench) -> Vec<(Option<String>, EventKind)> {
    next(&bench.setup, &bench.facts, bench.now)
        .into_iter()
        .filter(|step| step.wanted)
        .map(|step| (step.station.map(|code| code.to_string()), step.kind))
        .collect()
}

fn at(name: &str, kind: EventKind) -> (Option<String>, EventKind) {
    (Some(name.to_owned()), kind)
}

#[test]
fn the_steps_that_are_waited_for_lead_to_a_release() {
    use EventKind as Kind;
    let mut bench = Bench::new(plan());
    let gauge = at("S1", Kind::GaugePlaced);
    assert!(wanted(&bench).contains(&at("S1", Kind::HolderSeated)));
    assert!(!wanted(&bench).contains(&at("S1", Kind::ToolInserted)) && !wanted(&bench).contains(&gauge));
    bench.record(&seat_with("S1", SeatAnswers { seated_flush: false, ..good_seat() }));
    assert!(!wanted(&bench).contains(&at("S1", Kind::ToolInserted)));
    bench.record(&seat("S1"));
    assert!(wanted(&bench).contains(&at("S1", Kind::ToolInserted)));
    assert!(!wanted(&bench).contains(&at("S1", Kind::HolderSeated)));
    bench.record(&insert("S1"));
    assert!(wanted(&bench).contains(&gauge));
    bench.record(&place(GAUGE, "S1", &setter()));
    assert!(wanted(&bench).contains(&at("S1", Kind::HeightRead)) && !wanted(&bench).contains(&gauge));
    assert!(!wanted(&bench).contains(&at("S1", Kind::GaugeRemoved)));
    bench.record(&read("S1", HeightPhase::BeforeClamping, HeightReading::Deviation(mm(0.1))));
    assert!(wanted(&bench).contains(&at("S1", Kind::Adjusted)));
    assert!(!wanted(&bench).contains(&at("S1", Kind::ToolUnclamped)));
    bench.record(&read("S1", HeightPhase::BeforeClamping, HeightReading::OnGauge));
    assert!(wanted(&bench).contains(&at("S1", Kind::ToolClamped)));
    bench.record(&clamp("S1"));
    bench.record(&read("S1", HeightPhase::AfterClamping, HeightReading::Deviation(mm(0.1))));
    assert!(wanted(&bench).contains(&at("S1", Kind::ToolUnclamped)));
    bench.record(&read("S1", HeightPhase::AfterClamping, HeightReading::OnGauge));
    assert!(wanted(&bench).contains(&at("S1", Kind::GaugeRemoved)));

    let mut bench = Bench::ready_for_stock();
    assert_eq!(wanted(&bench), [(None, Kind::StockFed)]);
    bench.record(&Command::FeedStock { stock: stock("A") });
    assert_eq!(wanted(&bench), [(None, Kind::IndexClearanceConfirmed)]);
    bench.record(&Command::ConfirmIndexClearance { confirmed: true });
    assert_eq!(wanted(&bench), [at("S1", Kind::ApproachRead), at("S3", Kind::ApproachRead)]);
    let mut bench = Bench::ready_for_trial();
    assert_eq!(wanted(&bench), [(None, Kind::TrialCutBegun)]);
    bench.record(&Command::BeginTrialCut);
    assert_eq!(wanted(&bench), [at("E2", Kind::DepthRead), (None, Kind::FirstPieceJudged)]);
    bench.record(&depth(1));
    bench.record_by(&inspector(), &judge(false, on_target()));
    assert!(wanted(&bench).contains(&at("S1", Kind::SizesRead)));
    // After a turn a first piece has to be named, and is still waited for.
    let mut turned = bench.clone();
    turned.record(&adjust("S1", "SLIDE", None));
    assert!(wanted(&turned).contains(&(None, Kind::FirstPieceJudged)), "{:?}", wanted(&turned));
    bench.record_by(&inspector(), &judge(true, on_target()));
    assert_eq!(wanted(&bench), [(None, Kind::RunReleased)]);
    bench.record(&Command::ReleaseRun);
    assert_eq!(wanted(&bench), []);
    let tag = tag_out().tag_out;
    bench.store(&setter(), &dovetally_core::setup::decide::tag_out(&bench.setup, tag));
    assert_eq!(wanted(&bench), [(None, Kind::TrialCutBegun), (None, Kind::RunStopped)]);
}

#[test]
fn while_released_only_six_kinds_are_offered() {
    let bench = Bench::released();
    let mut kinds: Vec<_> = next(&bench.setup, &bench.facts, bench.now).into_iter().map(|step| step.kind).collect();
    kinds.sort();
    kinds.dedup();
    assert_eq!(
        kinds,
        [
            EventKind::SizesRead,
            EventKind::DepthRead,
            EventKind::Adjusted,
            EventKind::RunStopped,
            EventKind::CrashReported,
            EventKind::HandedOver,
        ]
    );
    let mut closed = Bench::new(plan());
    closed.record(&close());
    assert_eq!(next(&closed.setup, &closed.facts, closed.now), []);
}

fn permit(bench: &Bench, purpose: PermitPurpose) -> Vec<Rule> {
    let RunPermit { permitted, blockers, not_beyond } =
        run_permit(Some(&bench.setup), &code("M-1"), &bench.facts, purpose, bench.now);
    assert_eq!(not_beyond, None, "only a provisional release has an end");
    assert_eq!(permitted, blockers.is_empty());
    rules(&blockers)
}

#[test]
fn a_permit_follows_the_record() {
    use PermitPurpose::{Production, Trial};
    let mut bench = Bench::ready_for_trial();
    assert_eq!(permit(&bench, Trial), [Rule::TrialNotBegun]);
    bench.record(&Command::BeginTrialCut);
    assert_eq!(permit(&bench, Trial), []);
    assert_eq!(permit(&bench, Production), [Rule::NoReleaseInForce, Rule::DepthNotRead, Rule::FirstPieceNotAccepted]);
    let mut gauged = bench.clone();
    gauged.record(&place(GAUGE, "S1", &setter()));
    assert_eq!(permit(&gauged, Trial), [Rule::TrialNotBegun, Rule::GaugeStillInMachine]);
    let mut released = Bench::released();
    assert_eq!((permit(&released, Trial), permit(&released, Production)), (vec![], vec![]));
    released.record(&adjust("S1", "SLIDE", None));
    assert_eq!(permit(&released, Production), [], "a slide turned during the run does not stop it");
    assert!(!released.blocked().is_empty(), "and has to be proven before the next release");
    released.facts.tag_outs.push(tag_out());
    assert_eq!(permit(&released, Production), [Rule::MachineTaggedOut]);
}

#[test]
fn a_machine_without_an_open_setup_has_no_permit_and_shows_what_else_is_against_it() {
    use PermitPurpose::{Production, Trial};
    let mut bench = Bench::released();
    bench.record(&stop(1));
    bench.record(&close());
    bench.facts.tag_outs.push(tag_out());
    bench.facts.gauges = {
        let mut gauged = Bench::new(plan());
        gauged.record(&place(GAUGE, "S1", &setter()));
        gauged.facts.gauges
    };
    let against = |setup: Option<&Setup>, purpose| {
        rules(&run_permit(setup, &code("M-1"), &bench.facts, purpose, bench.now).blockers)
    };
    for setup in [None, Some(&bench.setup)] {
        let rest = [Rule::MachineTaggedOut, Rule::GaugeStillInMachine];
        assert_eq!(against(setup, Production), [&[Rule::NoReleaseInForce], &rest[..]].concat());
        assert_eq!(against(setup, Trial), [&[Rule::TrialNotBegun], &rest[..]].concat());
    }
}

#[test]
fn pieces_on_the_way_to_the_cut_off() {
    let discard = |position: u8, cutoff_position: u8, pieces_per_cycle: u8| {
        let stations = vec![cross_slide("S1", position, 1)];
        pieces_to_discard(&Plan { stations, cutoff_position, pieces_per_cycle, ..plan() }, 0)
    };
    assert_eq!(discard(1, 6, 1), 5);
    assert_eq!(discard(3, 6, 1), 3);
    assert_eq!(discard(6, 6, 1), 0);
    assert_eq!(discard(3, 6, 2), 6);
    assert_eq!(discard(2, 1, 1), 5, "around the carrier");
    assert_eq!(pieces_to_discard_at(&plan(), &[1, 2]), 4);
    assert_eq!(pieces_to_discard_at(&plan(), &[]), 0);
    assert_eq!(pieces_to_discard(&plan(), 9), 0);
}

#[test]
fn the_view_shows_each_station_with_its_own_open_steps() {
    let mut bench = Bench::ready_for_stock();
    bench.record(&unclamp("S1"));
    bench.record(&adjust("S1", "HEIGHT", None));
    bench.record(&place(GAUGE, "S3", &setter()));
    let view = serde_json::to_value(SetupView::of(&bench.setup, &bench.facts, bench.now)).unwrap();
    assert_eq!(view["state"], "setting");
    assert_eq!(view["machine"], "M-1");
    let [s1, e2, s3] = [0, 1, 2].map(|index| &view["stations"][index]);
    assert_eq!((&s1["station"], &s1["holder"], &s1["tool"]), (&"S1".into(), &"H-1537".into(), &"T-1793".into()));
    assert_eq!(s1["open"].as_array().unwrap().len(), 4, "{}", s1["open"]);
    assert_eq!(s1["adjustments"][0]["adjuster"], "HEIGHT");
    assert_eq!((&s1["clamped"], &s1["seat_confirmed"]), (&false.into(), &true.into()));
    assert_eq!(s1["pieces_to_discard"], 5);
    assert_eq!(e2["depth_read"], false);
    assert_eq!(s3["gauge"], "CG-1281");
    let after = |view: &serde_json::Value| view["stations"][2]["height_after_clamping"].clone();
    assert_eq!((&after(&view)["reading"], &after(&view)["gauge"]), (&"on_gauge".into(), &"CG-1281".into()));
    assert_eq!(s3["depth_read"], serde_json::Value::Null);
    assert_eq!(view["blockers"].as_array().unwrap().len(), blockers(&bench.setup, &bench.facts).len());
    assert_eq!(view["next"].as_array().unwrap().len(), next(&bench.setup, &bench.facts, bench.now).len());
    bench.record(&remove(GAUGE, "S3"));
    bench.record(&close());
    let view = serde_json::to_value(SetupView::of(&bench.setup, &bench.facts, bench.now)).unwrap();
    assert_eq!((&view["stations"][2]["gauge"], &after(&view)["gauge"]), (&serde_json::Value::Null, &"CG-1281".into()));
    assert_eq!((&view["blockers"], &view["next"]), (&serde_json::json!([]), &serde_json::json!([])));
}

#[test]
fn a_withdrawn_release_shows_that_its_pieces_wait() {
    let mut bench = Bench::released();
    assert!(!SetupView::of(&bench.setup, &bench.facts, bench.now).pieces_to_book);
    bench.store(&setter(), &dovetally_core::setup::decide::tag_out(&bench.setup, tag_out().tag_out));
    assert!(SetupView::of(&bench.setup, &bench.facts, bench.now).pieces_to_book);
}

/// Every kind once, through its row and back, and the history folds to the same setup.
#[test]
fn events_come_back_from_their_rows() {
    let mut bench = Bench::released();
    bench.setup = Setup::new(night_plan());
    bench.setup.apply_all(&bench.events.clone());
    bench.record(&sizes("S1", 4));
    bench.record(&adjust("S1", "SLIDE", None));
    bench.record(&Command::HandOver { to: second_setter().person });
    bench.record(&Command::ReportCrash { station: code("S1") });
    bench.record(&stop(9));
    let taken =
        dovetally_core::setup::decide::take_out(&bench.setup, item(0x703), dovetally_core::item::Purpose::Grind);
    bench.store(&setter(), &taken.unwrap());
    bench.record(&insert("S3"));
    bench.record(&unclamp("S3"));
    bench.record(&remove_tool(0x703, "S3"));
    bench.record(&remove_holder(0x603, "S3"));
    bench.store(
        &setter(),
        &dovetally_core::setup::decide::Decision {
            events: vec![
                Event::HeldPiecesJudged { accepted: true, readings: on_target() },
                Event::TrialWithdrawn { withdrawal: Withdrawal::TagOut { tag_out: tag_out().tag_out } },
                Event::Abandoned { reason: "test".to_owned() },
                Event::Closed { reason: "test".to_owned() },
            ],
            effects: vec![],
        },
    );
    let mut kinds: Vec<EventKind> = Vec::new();
    let mut folded = Setup::new(night_plan());
    for recorded in &bench.events {
        let stored = recorded.event.to_stored().unwrap();
        assert_eq!(stored.payload["kind"], stored.kind.as_str());
        assert_eq!(stored.station.as_deref(), stored.payload.get("station").and_then(serde_json::Value::as_str));
        let back = Event::from_stored(stored.clone()).unwrap();
        assert_eq!(back, recorded.event);
        let other = |kind: &str| EventKind::ALL.iter().find(|other| other.name() != kind).unwrap().name().to_owned();
        let swapped = dovetally_core::setup::stored::StoredEvent { kind: other(&stored.kind), ..stored.clone() };
        assert!(matches!(Event::from_stored(swapped), Err(StoredEventError::Disagree { .. })));
        for unknown in [0, PAYLOAD_VERSION + 1] {
            let later = dovetally_core::setup::stored::StoredEvent { payload_version: unknown, ..stored.clone() };
            let read = Event::from_stored(later);
            assert!(matches!(read, Err(StoredEventError::Version(version)) if version == unknown));
        }
        kinds.push(back.kind());
        folded.apply(&dovetally_core::setup::event::Recorded { event: back, ..recorded.clone() });
    }
    assert_eq!(folded, bench.setup);
    let mut at_once = Setup::new(night_plan());
    at_once.apply_all(&bench.events);
    assert_eq!(at_once, bench.setup);
    for kind in EventKind::ALL {
        assert!(kinds.contains(kind), "{kind} is not in this history");
    }
}

/// What was stored before the payloads grew is read and folds as it did.
#[test]
fn payloads_of_the_first_version_still_fold() {
    let read = |kind: &str, station: Option<&str>, payload: serde_json::Value| {
        let station = station.map(str::to_owned);
        Event::from_stored(StoredEvent { kind: kind.to_owned(), station, payload, payload_version: 1 }).unwrap()
    };
    let length = serde_json::json!({"value": 0.05, "unit": "mm"});
    let height = serde_json::json!({"kind": "height_read", "station": "S1", "gauge": item(GAUGE), "limit": length,
        "phase": "after_clamping", "reading": "on_gauge", "within_limit": true});
    let height = read("height_read", Some("S1"), height);
    assert!(matches!(height, Event::HeightRead { spread: None, within_limit: true, .. }), "{height:?}");
    let judged = serde_json::json!({"kind": "first_piece_judged", "accepted": true, "piece": null, "readings": [],
        "independent": true});
    let judged = read("first_piece_judged", None, judged);
    assert!(matches!(judged, Event::FirstPieceJudged { provisional: false, .. }), "{judged:?}");
    let released = read("run_released", None, serde_json::json!({"kind": "run_released", "tools": []}));
    let mut setup = Setup::new(night_plan());
    for (sequence, event) in (1..).zip([height, judged, released]) {
        let (recorded_at, by) = (start(), setter().person);
        setup.apply(&Recorded { sequence, by, recorded_at, occurred_at: recorded_at, event });
    }
    assert!(setup.is_released() && setup.held.is_none());
    // A plan that was stored before it knew of what is left out.
    let mut stored = serde_json::to_value(plan()).unwrap();
    assert!(stored.get("left_out").is_none() && stored["settings"].get("provisional_release").is_none(), "{stored}");
    assert_eq!(serde_json::from_value::<Plan>(stored.take()).unwrap(), plan());
}

#[test]
fn a_payload_with_a_field_too_many_is_not_an_event() {
    let mut stored = Event::ToolClamped { station: code("S1") }.to_stored().unwrap();
    stored.payload["extra"] = true.into();
    assert!(matches!(Event::from_stored(stored), Err(StoredEventError::Payload(_))));
}

#[test]
fn an_event_about_a_station_that_is_not_in_use_changes_only_the_count() {
    let mut bench = Bench::ready_for_release();
    let before = bench.setup.clone();
    bench.store(
        &second_setter(),
        &dovetally_core::setup::decide::Decision {
            events: vec![Event::ToolUnclamped { station: code("S9") }],
            effects: vec![],
        },
    );
    assert_eq!(bench.setup.last_sequence, before.last_sequence + 1);
    bench.setup.last_sequence = before.last_sequence;
    assert_eq!(bench.setup, before);
}

#[test]
fn who_may_record_what() {
    assert_eq!(EventKind::FirstPieceJudged.permissions(), [Permission::JudgeFirstPiece]);
    assert_eq!(EventKind::Closed.permissions(), [Permission::RecordSetup, Permission::CloseAnySetup]);
    assert_eq!(EventKind::TrialCutBegun.permissions(), [Permission::RecordSetup]);
    assert_eq!(EventKind::ReleaseWithdrawn.permissions(), []);
    let turned = adjust("S1", "SLIDE", None);
    assert_eq!(turned.kind(), EventKind::Adjusted);
}

#[test]
fn turns_are_counted_and_the_direction_says_which_way() {
    for nonsense in [-0.25, 0.0, f64::NAN, f64::INFINITY, 1000.1] {
        assert!(Turns::new(nonsense).is_err(), "{nonsense}");
    }
    let turned = Command::Adjust {
        station: code("S1"),
        adjuster: code("SLIDE"),
        turns: Turns::new(1.5).unwrap(),
        direction: Turn::Counterclockwise,
        holder_move: Some(good_move()),
    };
    let mut bench = Bench::new(plan());
    let decision = bench.record(&turned);
    let Event::Adjusted { turns, direction, holder_move, recheck, affected, .. } = &decision.events[0] else {
        panic!("{decision:?}")
    };
    assert_eq!((*turns, *direction, *holder_move, *recheck), (1.5, Turn::Counterclockwise, None, None));
    assert_eq!(*affected, [code("S1")]);
}

/// 0.05 mm or 0.002 in: common practice, no published source.
#[test]
fn a_new_shops_height_limit_is_in_its_own_unit() {
    use dovetally_core::length::{Length, LengthUnit};
    let limit = |unit| Settings::of_a_new_shop(unit).height_limit;
    assert_eq!(limit(LengthUnit::Millimetre), mm(0.05));
    assert_eq!(limit(LengthUnit::Inch), Length::new(0.002, LengthUnit::Inch).unwrap());
    assert_eq!(limit(LengthUnit::Inch).unit(), LengthUnit::Inch);
}
