//! What does not fit between the setups' events and the guards that are kept beside them.

use super::{events, find, gauges_in, is_released, place_of, uses_of};
use crate::{
    columns,
    connection::Connection,
    error::Result,
    machines,
    schema::{items_in_setups, setups},
};
use diesel::prelude::*;
use dovetally_core::{
    ids::{ItemId, SetupId},
    setup::{runs::Uses, state},
};
use std::collections::BTreeSet;

/// Refolds every open setup and holds the machine's guard, the gauges, the release and the items in it against what the
/// events say. Empty when all is sound.
///
/// # Errors
/// A database error.
pub fn faults(connection: &mut Connection) -> Result<Vec<String>> {
    let open: Vec<String> = setups::table.filter(setups::closed_at.is_null()).select(setups::id).load(connection)?;
    let mut faults = Vec::new();
    for id in &open {
        let id: SetupId = columns::read(id)?;
        let Some(row) = find(connection, id)? else { continue };
        let mut setup = state::Setup::new(row.plan.clone());
        let events = events(connection, id)?;
        setup.apply_all(&events);
        let machine = &row.plan.machine_code;
        if setup.state != row.state {
            faults.push(format!("the setup of {machine} is recorded as {}, its events say {}", row.state, setup.state));
        }
        let guard = machines::guard(connection, row.machine)?;
        if setup.mode() != guard.mode {
            faults.push(format!("the guard of {machine} says {}, the setup's events say {}", guard.mode, setup.mode()));
        }
        if setup.is_released() != is_released(connection, id)? {
            faults.push(format!("the release of {machine} is not what the setup's events say"));
        }
        let placed: BTreeSet<_> = gauges_in(connection, row.machine)?
            .into_iter()
            .map(|gauge| (gauge.code.to_string(), gauge.station.to_string()))
            .collect();
        let stations = row.plan.stations.iter().zip(&setup.stations);
        let folded: BTreeSet<_> = stations
            .filter_map(|(plan, state)| Some((state.gauge.as_ref()?.code.to_string(), plan.code.to_string())))
            .collect();
        if placed != folded {
            faults.push(format!("the gauges in {machine} are not what the setup's events say"));
        }
        if uses_of(connection, id)? != Uses::of(&row.plan, &events) {
            faults.push(format!("the runs and gauge uses on record for {machine} are not what the setup's events say"));
        }
        for (item, station) in setup.items() {
            if place_of(connection, item)?.is_none_or(|place| place.setup != id || place.station != *station) {
                faults.push(format!("an item of station {station} of {machine} is not held by the setup"));
            }
        }
        let held: i64 = items_in_setups::table
            .filter(items_in_setups::setup_id.eq(id.to_string()))
            .count()
            .get_result(connection)?;
        let distinct: BTreeSet<ItemId> = setup.items().into_iter().map(|(item, _)| item).collect();
        if usize::try_from(held).ok() != Some(distinct.len()) {
            faults.push(format!("the setup of {machine} holds {held} items, its events say {}", distinct.len()));
        }
    }
    Ok(faults)
}
