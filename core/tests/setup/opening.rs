//! Opening a setup.

use crate::{Refused, shop::*};
use dovetally_core::{
    ids::SetupId,
    machine::ToolFace,
    refusal::Rule,
    scan::Scanned,
    setup::{
        decide::{OpenRequest, StationRequest, open, open_without},
        facts::{HolderFacts, MachineStation, OpeningFacts, ToolFacts},
    },
};

fn request(stations: &[&str]) -> OpenRequest {
    let stations = stations
        .iter()
        .map(|name| StationRequest {
            station: code(name),
            planned_tool: None,
            planned_holder: Some(Scanned::Known(holder(0x601))),
        })
        .collect();
    OpenRequest { setup: SETUP, stations }
}

/// The machine of [`plan`], with one station more, at which the part has no operation.
fn facts() -> OpeningFacts {
    let plan = plan();
    let mut spare = cross_slide("S5", 5, 5);
    spare.code = code("S5");
    let stations = plan.stations.iter().chain([&spare]).map(|station| MachineStation {
        code: station.code.clone(),
        position: station.position,
        kind: station.kind,
        tool_face: station.tool_face,
        adjusters: station.adjusters.clone(),
    });
    OpeningFacts {
        machine: plan.machine,
        machine_code: plan.machine_code.clone(),
        retired: false,
        open_setup: None,
        running_spindles: plan.running_spindles.clone(),
        positions: plan.positions,
        cutoff_position: plan.cutoff_position,
        pieces_per_cycle: plan.pieces_per_cycle,
        stations: stations.collect(),
        part: plan.part,
        part_code: plan.part_code.clone(),
        operations: plan.stations.iter().map(|station| (station.code.clone(), station.operation.clone())).collect(),
        settings: plan.settings,
    }
}

pub(crate) fn refused() -> Vec<Refused> {
    let against = |stations: &[&str], facts: &OpeningFacts| {
        rules(&open(&request(stations), facts, setter().person, start()).err().unwrap_or_default())
    };
    let retired = OpeningFacts { retired: true, ..facts() };
    let open_already = OpeningFacts { open_setup: Some(SetupId::from_uuid(uuid::Uuid::nil())), ..facts() };
    vec![
        Refused::new("a retired machine", &[Rule::MachineRetired], against(&["S1"], &retired)),
        Refused::new("a setup is open", &[Rule::SetupAlreadyOpen], against(&["S1"], &open_already)),
        Refused::new("no station", &[Rule::StationUnknown], against(&[], &facts())),
        Refused::new("a station of no machine", &[Rule::StationUnknown], against(&["S1", "S9"], &facts())),
        Refused::new("a station twice", &[Rule::StationTaken], against(&["S1", "S3", "S1"], &facts())),
        Refused::new("no operation there", &[Rule::OperationMissing], against(&["S5"], &facts())),
        Refused::new("a tool of another design", &[Rule::ToolDesignMismatch], against_picked(&picked(form_tool(7, 3)))),
        Refused::new("a tool without a form", &[Rule::ToolDesignMismatch], against_picked(&picked(drill(7)))),
        Refused::new("a tool that faces down", &[Rule::ToolHandMismatch], against_picked(&picked(facing_down()))),
        Refused::new("a tool that is none", &[Rule::ItemUnknown], {
            against_picked(&picked_scan(Scanned::OtherKind { code: code("H-1"), what: "a holder".to_owned() }))
        }),
        Refused::new("a holder of another style", &[Rule::HolderStyleMismatch], {
            let mut request = request(&["S1"]);
            request.stations[0].planned_holder =
                Some(Scanned::Known(HolderFacts { style: "square".to_owned(), ..holder(0x601) }));
            against_picked(&request)
        }),
    ]
}

fn picked_scan(tool: Scanned<ToolFacts>) -> OpenRequest {
    let mut request = request(&["S1"]);
    request.stations[0].planned_tool = Some(tool);
    request
}

fn picked(tool: ToolFacts) -> OpenRequest {
    picked_scan(Scanned::Known(tool))
}

fn facing_down() -> ToolFacts {
    let mut tool = form_tool(7, 1);
    if let Some(form) = &mut tool.form {
        form.design.tool_face = Some(ToolFace::Down);
    }
    tool
}

fn against_picked(request: &OpenRequest) -> Vec<Rule> {
    rules(&open(request, &facts(), setter().person, start()).err().unwrap_or_default())
}

/// What is picked must be able to serve; whether it may be used now is asked when it is put in. Each rule is missed.
#[test]
fn what_is_picked_fits_its_station() {
    let mut worn = form_tool(7, 1);
    worn.condition = dovetally_core::item::Condition::NeedsGrinding;
    let opened = open(&picked(worn), &facts(), setter().person, start()).unwrap();
    assert_eq!(opened.stations[0].planned_tool, Some(code("T-7")));
    for (rule, request) in
        [(Rule::ToolDesignMismatch, picked(form_tool(7, 3))), (Rule::ToolHandMismatch, picked(facing_down()))]
    {
        assert!(open_without(rule, &request, &facts(), setter().person, start()).is_ok(), "{rule:?} is not missed");
    }
}

/// Allowed and shown: the trade sometimes runs a part without one of its stations.
#[test]
fn a_station_that_is_left_out_is_shown() {
    let opened = open(&request(&["S3"]), &facts(), setter().person, start()).unwrap();
    assert_eq!(opened.left_out, ["S1", "E2"].map(code));
    let setup = dovetally_core::setup::state::Setup::new(opened);
    let view = dovetally_core::setup::view::SetupView::of(&setup, &Default::default(), start());
    assert_eq!(view.left_out, ["S1", "E2"].map(code));
}

#[test]
fn an_opened_setup_carries_all_that_its_rules_need() {
    let opened = open(&request(&["S1", "E2", "S3"]), &facts(), setter().person, start()).unwrap();
    let mut expected = plan();
    for station in &mut expected.stations {
        station.planned_holder = Some(code("H-1537"));
    }
    assert_eq!(opened, expected);
    let stored = serde_json::to_string(&opened).unwrap();
    assert_eq!(serde_json::from_str::<dovetally_core::setup::plan::Plan>(&stored).unwrap(), opened);
}
