//! The rows that guard a setup: which items are in it, which gauges are in its machine, whether its release is in force.

use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{center_gauges, gauges_in_machines, items, items_in_setups, machines, releases_in_force, setups},
};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{ItemId, MachineId, SetupId},
    machine::MachineMode,
    setup::facts::{GaugeInMachine, SetupPlace},
};
use std::collections::BTreeMap;

/// Notes that an item is in an open setup.
///
/// # Errors
/// [`crate::Constraint::ItemInSetup`] when it is in one already.
pub fn put_item_in(connection: &mut Connection, setup: SetupId, item: ItemId, station: &Code) -> Result<()> {
    diesel::insert_into(items_in_setups::table)
        .values((
            items_in_setups::item_id.eq(item.to_string()),
            items_in_setups::setup_id.eq(setup.to_string()),
            items_in_setups::station.eq(station.as_str()),
        ))
        .execute(connection)?;
    Ok(())
}

/// Notes that an item is no longer in its setup.
///
/// # Errors
/// A database error.
pub fn take_item_out(connection: &mut Connection, item: ItemId) -> Result<()> {
    diesel::delete(items_in_setups::table.find(item.to_string())).execute(connection)?;
    Ok(())
}

/// Lets go of every item of a setup that is closed.
///
/// # Errors
/// A database error.
pub fn release_items(connection: &mut Connection, setup: SetupId) -> Result<()> {
    diesel::delete(items_in_setups::table.filter(items_in_setups::setup_id.eq(setup.to_string())))
        .execute(connection)?;
    Ok(())
}

/// In which open setup an item is.
///
/// # Errors
/// A database error.
pub fn place_of(connection: &mut Connection, item: ItemId) -> Result<Option<SetupPlace>> {
    let row: Option<(String, String, String)> = items_in_setups::table
        .inner_join(setups::table.on(setups::id.eq(items_in_setups::setup_id)))
        .inner_join(machines::table.on(machines::id.eq(setups::machine_id)))
        .filter(items_in_setups::item_id.eq(item.to_string()))
        .select((items_in_setups::setup_id, machines::code, items_in_setups::station))
        .first(connection)
        .optional()?;
    row.map(|(setup, machine, station)| {
        Ok(SetupPlace {
            setup: columns::read(&setup)?,
            machine: columns::code(&machine)?,
            station: columns::code(&station)?,
        })
    })
    .transpose()
}

/// In which open setups items are: held by one, or gauges placed in one. Items that are in none are left out.
///
/// # Errors
/// A database error.
pub fn places_of(connection: &mut Connection, of: &[ItemId]) -> Result<BTreeMap<ItemId, SetupPlace>> {
    use gauges_in_machines as g;
    let ids: Vec<String> = of.iter().map(ItemId::to_string).collect();
    let mut rows: Vec<(String, String, String, String)> = g::table
        .inner_join(machines::table.on(machines::id.eq(g::machine_id)))
        .filter(g::gauge_id.eq_any(&ids))
        .select((g::gauge_id, g::setup_id, machines::code, g::station))
        .load(connection)?;
    let held: Vec<(String, String, String, String)> = items_in_setups::table
        .inner_join(setups::table.on(setups::id.eq(items_in_setups::setup_id)))
        .inner_join(machines::table.on(machines::id.eq(setups::machine_id)))
        .filter(items_in_setups::item_id.eq_any(&ids))
        .select((items_in_setups::item_id, items_in_setups::setup_id, machines::code, items_in_setups::station))
        .load(connection)?;
    rows.extend(held);
    rows.into_iter()
        .map(|(item, setup, machine, station)| {
            let place = SetupPlace {
                setup: columns::read(&setup)?,
                machine: columns::code(&machine)?,
                station: columns::code(&station)?,
            };
            Ok((columns::read(&item)?, place))
        })
        .collect()
}

/// Puts a gauge into its machine; the machine's mode must say so first.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] for a gauge of another machine or a machine in another mode,
/// [`crate::Constraint::GaugeInMachine`] for a gauge that is in a machine already.
pub fn gauge_in(
    connection: &mut Connection,
    setup: SetupId,
    machine: MachineId,
    gauge: ItemId,
    station: &Code,
) -> Result<()> {
    use gauges_in_machines as g;
    diesel::insert_into(g::table)
        .values((
            g::gauge_id.eq(gauge.to_string()),
            g::machine_id.eq(machine.to_string()),
            g::setup_id.eq(setup.to_string()),
            g::station.eq(station.as_str()),
            g::mode.eq(MachineMode::Gauge.name()),
        ))
        .execute(connection)?;
    Ok(())
}

/// Takes a gauge out of its machine.
///
/// # Errors
/// A database error.
pub fn gauge_out(connection: &mut Connection, gauge: ItemId) -> Result<()> {
    diesel::delete(gauges_in_machines::table.find(gauge.to_string())).execute(connection)?;
    Ok(())
}

/// The gauges in a machine.
///
/// # Errors
/// A database error.
pub fn gauges_in(connection: &mut Connection, machine: MachineId) -> Result<Vec<GaugeInMachine>> {
    gauges_where(connection, Some(machine), None)
}

/// The gauges in any machine.
///
/// # Errors
/// A database error.
pub fn gauges_in_machines(connection: &mut Connection) -> Result<Vec<GaugeInMachine>> {
    gauges_where(connection, None, None)
}

/// Where a gauge is placed: in which machine, if any, and as what.
///
/// # Errors
/// A database error.
pub fn gauge_placed(connection: &mut Connection, gauge: ItemId) -> Result<Option<GaugeInMachine>> {
    Ok(gauges_where(connection, None, Some(gauge))?.pop())
}

fn gauges_where(
    connection: &mut Connection,
    machine: Option<MachineId>,
    gauge: Option<ItemId>,
) -> Result<Vec<GaugeInMachine>> {
    use gauges_in_machines as g;
    let mut query = g::table
        .inner_join(center_gauges::table.on(center_gauges::item_id.eq(g::gauge_id)))
        .inner_join(items::table.on(items::id.eq(center_gauges::item_id)))
        .order(g::station)
        .select((g::gauge_id, items::code, g::setup_id, g::station))
        .into_boxed();
    if let Some(machine) = machine {
        query = query.filter(g::machine_id.eq(machine.to_string()));
    }
    if let Some(gauge) = gauge {
        query = query.filter(g::gauge_id.eq(gauge.to_string()));
    }
    let rows: Vec<(String, String, String, String)> = query.load(connection)?;
    rows.into_iter()
        .map(|(gauge, code, setup, station)| {
            Ok(GaugeInMachine {
                gauge: columns::read(&gauge)?,
                code: columns::code(&code)?,
                setup: columns::read(&setup)?,
                station: columns::code(&station)?,
            })
        })
        .collect()
}

/// Puts a release in force; the machine's mode must say so first.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] for a machine in another mode, [`crate::Constraint::ReleaseInForce`] when one is.
pub fn release_on(connection: &mut Connection, setup: SetupId, machine: MachineId) -> Result<()> {
    use releases_in_force as r;
    diesel::insert_into(r::table)
        .values((
            r::setup_id.eq(setup.to_string()),
            r::machine_id.eq(machine.to_string()),
            r::mode.eq(MachineMode::Running.name()),
        ))
        .execute(connection)?;
    Ok(())
}

/// Ends a release.
///
/// # Errors
/// A database error.
pub fn release_off(connection: &mut Connection, setup: SetupId) -> Result<()> {
    diesel::delete(releases_in_force::table.find(setup.to_string())).execute(connection)?;
    Ok(())
}

/// Whether a release of this setup is in force, by the guard's own row.
///
/// # Errors
/// A database error.
pub fn is_released(connection: &mut Connection, setup: SetupId) -> Result<bool> {
    Ok(diesel::select(diesel::dsl::exists(releases_in_force::table.find(setup.to_string()))).get_result(connection)?)
}
