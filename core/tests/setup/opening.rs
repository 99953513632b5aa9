//! Opening a setup.

use crate::{Refused, shop::*};
use dovetally_core::{
    ids::SetupId,
    refusal::Rule,
    setup::{
        decide::{OpenRequest, StationRequest, open},
        facts::{MachineStation, OpeningFacts},
    },
};

fn request(stations: &[&str]) -> OpenRequest {
    let stations = stations
        .iter()
        .map(|name| StationRequest { station: code(name), planned_tool: None, planned_holder: Some(code("H-1")) })
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
    ]
}

#[test]
fn an_opened_setup_carries_all_that_its_rules_need() {
    let opened = open(&request(&["S1", "E2", "S3"]), &facts(), setter().person, start()).unwrap();
    let mut expected = plan();
    for station in &mut expected.stations {
        station.planned_holder = Some(code("H-1"));
    }
    assert_eq!(opened, expected);
    let stored = serde_json::to_string(&opened).unwrap();
    assert_eq!(serde_json::from_str::<dovetally_core::setup::plan::Plan>(&stored).unwrap(), opened);
}
