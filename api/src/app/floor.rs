//! The floor as it stands: every machine with its setup, its gauges, its tag-outs, and whether it may run.

use super::{
    facts::stale_gauge,
    items::place_shown,
    registry::machine_state,
    run_permit::{self, Judged},
    setups::{names, shown},
};
use crate::{
    conditional::answer_read,
    extract::IfNoneMatch,
    principal::{Guarded, Read},
    problem::Problem,
    transport::{
        floor::{FloorGauge, FloorMachine, FloorTagOut, FloorView},
        setup::{SetupView, person},
    },
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    floor::need,
    ids::{ItemId, MachineId},
    item::Keeper,
    registry::machine::Machine,
    setup::permit::PermitPurpose,
};
use dovetally_db::{Connection, Error, center_gauges, custody, machines, setups, tag_outs};
use std::collections::BTreeMap;

/// Machines that are read at once.
const AT_ONCE: i64 = 200;

/// Answers how the floor stands.
///
/// # Errors
/// A database error.
pub async fn show(guarded: &Guarded<Read>, condition: &IfNoneMatch) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let floor = guarded.database().read(move |connection| as_it_stands(connection, now)).await?;
    answer_read(&floor, condition)
}

/// How the floor stands.
///
/// # Errors
/// A database error.
pub(crate) fn as_it_stands(connection: &mut Connection, now: DateTime<Utc>) -> Result<FloorView, Problem> {
    let mut stand = Vec::new();
    let mut after = None;
    loop {
        let some = machines::page(connection, after.as_ref(), AT_ONCE)?;
        let in_use: Vec<&Machine> = some.iter().filter(|machine| !machine.record.fields.retired).collect();
        let ids: Vec<MachineId> = in_use.iter().map(|machine| machine.record.id).collect();
        let mut gauges = gauges_of(connection, &ids)?;
        for machine in in_use {
            let own = gauges.remove(&machine.record.id).unwrap_or_default();
            stand.push(with_gauges(connection, machine, own, now)?.0);
        }
        match some.last() {
            Some(last) => after = Some(last.record.code.clone()),
            None => break,
        }
    }
    // By code they are already.
    stand.sort_by_key(|machine| machine.need);
    Ok(FloorView { machines: stand })
}

/// How one machine stands, and its open setup in full.
///
/// # Errors
/// A database error.
pub(crate) fn machine_stands(
    connection: &mut Connection,
    machine: &Machine,
    now: DateTime<Utc>,
) -> Result<(FloorMachine, Option<SetupView>), Problem> {
    let id = machine.record.id;
    let own = gauges_of(connection, &[id])?.remove(&id).unwrap_or_default();
    with_gauges(connection, machine, own, now)
}

fn with_gauges(
    connection: &mut Connection,
    machine: &Machine,
    gauges: Vec<FloorGauge>,
    now: DateTime<Utc>,
) -> Result<(FloorMachine, Option<SetupView>), Problem> {
    let (id, record) = (machine.record.id, &machine.record);
    let Judged { permit, open, facts } = run_permit::judged(connection, machine, PermitPurpose::Production, now)?;
    let setup = open.map(|open| shown(connection, &open, &facts, now)).transpose()?;
    let state = machine_state(record.fields.retired, machines::guard(connection, id)?, setup.is_some());
    let held = setup.as_ref().is_some_and(|setup| setup.held.is_some());
    let stands = FloorMachine {
        machine: record.code.clone(),
        name: record.fields.name.clone(),
        state,
        need: need(state, permit.permitted, held),
        permitted: permit.permitted,
        blockers: permit.blockers,
        tag_outs: tag_outs_of(connection, id)?,
        gauges,
        setup: setup.clone().map(Into::into),
    };
    Ok((stands, setup))
}

/// What is in force against a machine, with who placed it.
///
/// # Errors
/// A database error.
pub(crate) fn tag_outs_of(connection: &mut Connection, machine: MachineId) -> Result<Vec<FloorTagOut>, Problem> {
    let placed = tag_outs::in_force(connection, machine)?;
    let people = names(connection, placed.iter().map(|tag_out| tag_out.placed_by))?;
    let shown = placed.into_iter().map(|tag_out| FloorTagOut {
        id: tag_out.id.uuid(),
        reason: tag_out.reason,
        placed_by: person(&people, tag_out.placed_by),
        placed_at: tag_out.placed_at,
    });
    Ok(shown.collect())
}

/// The gauges of these machines, each machine's by code.
fn gauges_of(
    connection: &mut Connection,
    machines: &[MachineId],
) -> Result<BTreeMap<MachineId, Vec<FloorGauge>>, Problem> {
    let gauges = center_gauges::of_machines(connection, machines)?;
    let ids: Vec<ItemId> = gauges.iter().map(|gauge| gauge.item.id).collect();
    let custody = custody::find_all(connection, &ids)?;
    let keepers: Vec<Keeper> = custody.values().map(|now| now.keeper).collect();
    let known = custody::all_known_as(connection, &keepers)?;
    let inside = setups::gauges_in_machines(connection)?;
    let mut shown: BTreeMap<MachineId, Vec<FloorGauge>> = BTreeMap::new();
    for gauge in gauges {
        let now = custody.get(&gauge.item.id).ok_or_else(|| Error::unreadable("a gauge that is nowhere"))?;
        let found = known.get(&now.keeper).ok_or_else(|| Error::unreadable("a keeper that is not on record"))?;
        let placed = inside.iter().find(|inside| inside.gauge == gauge.item.id);
        shown.entry(gauge.machine).or_default().push(FloorGauge {
            stale: stale_gauge(&gauge).is_some(),
            code: gauge.item.code,
            condition: gauge.item.fields.condition,
            next_check: gauge.next_check,
            whereabouts: place_shown(now.keeper, found),
            station: placed.map(|placed| placed.station.clone()),
        });
    }
    Ok(shown)
}
