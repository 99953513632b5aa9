//! Refusals about holders, tools, gauges and heights.

use crate::{Refused, shop::*};
use dovetally_core::{
    gauge::standing::GaugeStanding,
    ids::PartId,
    item::{Condition, Purpose},
    life::ownership::PartRef,
    machine::ToolFace,
    refusal::Rule,
    scan::Scanned,
    setup::{
        command::Command,
        event::{HeightPhase, HeightReading},
        facts::{FormFacts, HolderFacts, SetupPlace, ToolFacts},
    },
};
use uuid::Uuid;

const BEFORE: HeightPhase = HeightPhase::BeforeClamping;
const AFTER: HeightPhase = HeightPhase::AfterClamping;

fn elsewhere(setup: dovetally_core::ids::SetupId, station: &str) -> Option<SetupPlace> {
    Some(SetupPlace { setup, machine: code("M-2"), station: code(station) })
}

fn form(tool: &mut ToolFacts, change: fn(&mut FormFacts)) {
    change(tool.form.as_mut().unwrap());
}

pub(crate) fn holder_and_tool() -> Vec<Refused> {
    let fresh = Bench::new(plan());
    let mut seated = fresh.clone();
    seated.record(&seat("S1"));
    let mut tagged = fresh.clone();
    tagged.facts.tag_outs.push(tag_out());
    let mut tagged_later = seated.clone();
    tagged_later.facts.tag_outs.push(tag_out());

    let seat_changed = |name, bench: &Bench, expected: &[Rule], change: fn(&mut HolderFacts)| {
        let mut facts = holder(0x601);
        change(&mut facts);
        let command = Command::SeatHolder { station: code("S1"), holder: Scanned::Known(facts), seat: good_seat() };
        Refused::new(name, expected, bench.against(&setter(), &command))
    };
    let insert_changed = |name, expected: &[Rule], change: fn(&mut ToolFacts)| {
        let mut facts = form_tool(0x701, 1);
        change(&mut facts);
        let command = Command::InsertTool { station: code("S1"), tool: Scanned::Known(facts) };
        Refused::new(name, expected, seated.against(&setter(), &command))
    };
    let unknown_holder = Scanned::Unknown { text: "H-999".to_owned() };
    let unknown_holder = Command::SeatHolder { station: code("S1"), holder: unknown_holder, seat: good_seat() };
    let not_a_tool = Scanned::OtherKind { code: code("CG-1"), what: "a centre gauge".to_owned() };
    let not_a_tool = Command::InsertTool { station: code("S1"), tool: not_a_tool };

    vec![
        Refused::new("a station not in the setup", &[Rule::StationUnknown], fresh.against(&setter(), &clamp("S9"))),
        Refused::new("an unknown holder", &[Rule::ItemUnknown], fresh.against(&setter(), &unknown_holder)),
        Refused::new("a gauge for a tool", &[Rule::ItemUnknown], seated.against(&setter(), &not_a_tool)),
        seat_changed("seating under a tag-out", &tagged, &[Rule::MachineTaggedOut], |_| {}),
        seat_changed("another style", &fresh, &[Rule::HolderStyleMismatch], |h| h.style = "round".to_owned()),
        seat_changed("a damaged holder", &fresh, &[Rule::HolderNotUsable], |h| h.condition = Condition::Damaged),
        seat_changed("a holder out of date", &fresh, &[Rule::HolderNotUsable], |h| {
            h.next_check = Some(day("2026-03-01"));
        }),
        seat_changed("a holder of another setup", &fresh, &[Rule::ItemInSetup], |h| {
            h.in_setup = elsewhere(dovetally_core::ids::SetupId::from_uuid(uuid::Uuid::nil()), "S1");
        }),
        seat_changed("a holder of another station", &fresh, &[Rule::ItemInSetup], |h| {
            h.in_setup = elsewhere(SETUP, "S3");
        }),
        seat_changed(
            "everything at once",
            &tagged,
            &[Rule::MachineTaggedOut, Rule::HolderStyleMismatch, Rule::HolderNotUsable, Rule::ItemInSetup],
            |h| {
                h.style = "round".to_owned();
                h.condition = Condition::NeedsCheck;
                h.in_setup = elsewhere(SETUP, "S3");
            },
        ),
        Refused::new("a tool without a holder", &[Rule::HolderNotSeated], fresh.against(&setter(), &insert("S1"))),
        Refused::new(
            "inserting under a tag-out",
            &[Rule::MachineTaggedOut],
            tagged_later.against(&setter(), &insert("S1")),
        ),
        insert_changed("another design", &[Rule::ToolDesignMismatch], |t| form(t, |f| f.design.design = design(2))),
        insert_changed("a tool without a form", &[Rule::ToolDesignMismatch], |t| t.form = None),
        insert_changed("kept for another part", &[Rule::ReservedForOtherPart], |t| {
            t.ownership.belonging.reserved_for =
                Some(PartRef { id: PartId::from_uuid(Uuid::nil()), code: code("P-9") });
        }),
        insert_changed("made to face down", &[Rule::ToolHandMismatch], |t| {
            form(t, |f| f.design.tool_face = Some(ToolFace::Down));
        }),
        insert_changed("a hair too low", &[Rule::ToolBelowMinimumHeight], |t| form(t, |f| f.height = mm(19.999_999))),
        insert_changed("a worn tool", &[Rule::ToolNotUsable], |t| t.condition = Condition::NeedsGrinding),
        insert_changed("ground, not checked", &[Rule::NotCheckedAfterGrind], |t| {
            form(t, |f| f.checked_after_grind = false);
        }),
        insert_changed("out for grinding still", &[Rule::NotCheckedAfterGrind], |t| t.purpose = Some(Purpose::Grind)),
        insert_changed("outside still", &[Rule::NotCheckedAfterGrind], |t| t.whereabouts = at_place(true)),
        insert_changed("a tool of another station", &[Rule::ItemInSetup], |t| t.in_setup = elsewhere(SETUP, "S3")),
        Refused::new(
            "a form tool where no form is asked for",
            &[Rule::ToolDesignMismatch],
            fresh.against(
                &setter(),
                &Command::InsertTool { station: code("E2"), tool: Scanned::Known(form_tool(0x701, 1)) },
            ),
        ),
        Refused::new("clamping nothing", &[Rule::ToolNotInserted], fresh.against(&setter(), &clamp("E2"))),
        Refused::new("loosening nothing", &[Rule::ToolNotInserted], fresh.against(&setter(), &unclamp("E2"))),
    ]
}

/// S1 with holder and tool in.
fn nipped() -> Bench {
    let mut bench = Bench::new(plan());
    bench.record(&seat("S1"));
    bench.record(&insert("S1"));
    bench
}

fn gauged() -> Bench {
    let mut bench = nipped();
    bench.record(&place(GAUGE, "S1", &setter()));
    bench
}

/// The gauge is in the machine, and something is found out about it.
fn gauged_and(change: fn(&mut GaugeStanding)) -> Bench {
    let mut bench = gauged();
    bench.gauge_changes(GAUGE, change);
    bench
}

pub(crate) fn gauge_and_height() -> Vec<Refused> {
    let gauged = gauged();
    let mut high = gauged.clone();
    high.record(&read("S1", BEFORE, HeightReading::Deviation(mm(0.050_001))));
    let mut clamped = gauged.clone();
    clamped.record(&read("S1", BEFORE, HeightReading::OnGauge));
    clamped.record(&clamp("S1"));
    let mut moved = gauged.clone();
    moved.facts.centers_may_have_moved_at = Some(moved.now);
    let mut tagged = nipped();
    tagged.facts.tag_outs.push(tag_out());
    let on_gauge = HeightReading::OnGauge;

    let place_changed = |name, expected: &[Rule], change: fn(&mut dovetally_core::gauge::GaugeFacts)| {
        let mut facts = gauge(GAUGE, setter().person);
        change(&mut facts);
        let gauge = Scanned::Known(facts);
        let command = Command::PlaceGauge { station: code("S1"), gauge, machine_stopped: true };
        Refused::new(name, expected, nipped().against(&setter(), &command))
    };
    let running = Command::PlaceGauge {
        station: code("S1"),
        gauge: Scanned::Known(gauge(GAUGE, setter().person)),
        machine_stopped: false,
    };
    let unknown = Command::PlaceGauge {
        station: code("S1"),
        gauge: Scanned::Unknown { text: "CG-99".to_owned() },
        machine_stopped: true,
    };
    let unknown_removed =
        Command::RemoveGauge { station: code("S1"), gauge: Scanned::Unknown { text: "CG-99".to_owned() } };

    vec![
        place_changed("another machine's gauge", &[Rule::GaugeForOtherMachine], |g| g.machine = OTHER_MACHINE),
        place_changed("another station's gauge", &[Rule::GaugeForOtherMachine], |g| g.stations = vec![code("S3")]),
        // Where it is does not matter then: nobody is to fetch it.
        place_changed("another machine's gauge, in its bin", &[Rule::GaugeForOtherMachine], |g| {
            (g.machine, g.whereabouts) = (OTHER_MACHINE, at_place(false));
        }),
        place_changed("another station's gauge, at another machine", &[Rule::GaugeForOtherMachine], |g| {
            (g.stations, g.whereabouts) = (vec![code("S3")], at_machine(OTHER_MACHINE));
        }),
        place_changed("never checked", &[Rule::GaugeNeverChecked], |g| g.last_accepted_check_at = None),
        place_changed("overdue", &[Rule::GaugeCheckOverdue], |g| g.next_check = Some(day("2026-03-01"))),
        place_changed("damaged", &[Rule::GaugeNotUsable], |g| g.condition = Condition::Damaged),
        place_changed("stale", &[Rule::GaugeStale], |g| g.centers_may_have_moved_at = Some(start())),
        place_changed("in a colleague's hands", &[Rule::GaugeNotInHand], |g| {
            g.whereabouts = with(second_setter().person);
        }),
        place_changed("in its bin", &[Rule::GaugeNotInHand], |g| g.whereabouts = at_place(false)),
        place_changed("at the laboratory", &[Rule::GaugeNotInHand], |g| g.whereabouts = at_place(true)),
        place_changed("at another machine", &[Rule::GaugePlacedElsewhere], |g| {
            g.whereabouts = at_machine(OTHER_MACHINE);
        }),
        place_changed("at another station", &[Rule::GaugePlacedElsewhere], |g| {
            g.whereabouts = at_machine(MACHINE);
            g.placed = Some(placement(MACHINE, "S3"));
        }),
        Refused::new(
            "placed twice",
            &[Rule::GaugePlacedElsewhere],
            gauged.against(&setter(), &place(GAUGE, "S3", &setter())),
        ),
        Refused::new(
            "a second gauge at the same station",
            &[Rule::GaugeStillInMachine],
            gauged.against(&setter(), &place(SECOND_GAUGE, "S1", &setter())),
        ),
        Refused::new("not stopped", &[Rule::MachineRunning], nipped().against(&setter(), &running)),
        Refused::new("an unknown gauge", &[Rule::GaugeUnknown], nipped().against(&setter(), &unknown)),
        Refused::new(
            "placing under a tag-out",
            &[Rule::MachineTaggedOut],
            tagged.against(&setter(), &place(GAUGE, "S1", &setter())),
        ),
        Refused::new(
            "height without gauge",
            &[Rule::GaugeNotPlaced],
            nipped().against(&setter(), &read("S1", BEFORE, on_gauge)),
        ),
        Refused::new(
            "height without tool",
            &[Rule::ToolNotInserted, Rule::GaugeNotPlaced],
            gauged.against(&setter(), &read("S3", BEFORE, on_gauge)),
        ),
        Refused::new(
            "after clamping, loose",
            &[Rule::NotClamped],
            gauged.against(&setter(), &read("S1", AFTER, on_gauge)),
        ),
        Refused::new(
            "before clamping, tight",
            &[Rule::StillClamped],
            clamped.against(&setter(), &read("S1", BEFORE, on_gauge)),
        ),
        Refused::new(
            "centres moved since",
            &[Rule::GaugeStale],
            moved.against(&setter(), &read("S1", BEFORE, on_gauge)),
        ),
        Refused::new(
            "a height on a gauge that was found damaged in the machine",
            &[Rule::GaugeNotUsable],
            gauged_and(|gauge| gauge.condition = Condition::Damaged).against(&setter(), &read("S1", BEFORE, on_gauge)),
        ),
        Refused::new(
            "a height on a gauge whose check ran out in the machine",
            &[Rule::GaugeCheckOverdue],
            gauged_and(|gauge| gauge.next_check = Some(day("2026-03-01")))
                .against(&setter(), &read("S1", BEFORE, on_gauge)),
        ),
        Refused::new(
            "a height on a gauge whose limits were changed in the machine",
            &[Rule::GaugeNeverChecked],
            gauged_and(|gauge| gauge.last_accepted_check_at = None).against(&setter(), &read("S1", BEFORE, on_gauge)),
        ),
        Refused::new("a height on a gauge of which nothing is known", &[Rule::GaugeUnknown], {
            let mut forgotten = gauged.clone();
            forgotten.facts.gauge_standings.clear();
            forgotten.against(&setter(), &read("S1", BEFORE, on_gauge))
        }),
        Refused::new("clamping at a height in doubt", &[Rule::HeightInDoubt], {
            let mut doubtful = gauged.clone();
            doubtful.record(&read("S1", BEFORE, on_gauge));
            doubtful.gauge_changes(GAUGE, |gauge| gauge.condition = Condition::NeedsCheck);
            doubtful.against(&setter(), &clamp("S1"))
        }),
        Refused::new("clamping unread", &[Rule::HeightNotRead], gauged.against(&setter(), &clamp("S1"))),
        Refused::new("clamping too high", &[Rule::HeightOutsideLimit], high.against(&setter(), &clamp("S1"))),
        Refused::new("removing nothing", &[Rule::GaugeNotPlaced], nipped().against(&setter(), &remove(GAUGE, "S1"))),
        Refused::new(
            "removing another",
            &[Rule::GaugeNotPlaced],
            gauged.against(&setter(), &remove(SECOND_GAUGE, "S1")),
        ),
        Refused::new(
            "removing an unknown one",
            &[Rule::GaugeUnknown, Rule::GaugeNotPlaced],
            gauged.against(&setter(), &unknown_removed),
        ),
    ]
}
