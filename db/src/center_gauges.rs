//! Centre gauges, each bound to exactly one machine, the machines they were bound to, and their checks.

mod bindings;
mod checks;

pub use bindings::{GaugeBinding, bindings_page, bound_since, faults, insert_binding, rebind};
pub use checks::{
    GaugeCheck, accepted_after, checks_of_binding, checks_page, checks_that_judge, insert_check, last_accepted_check,
};

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    items::{self, ItemRow},
    schema::{center_gauge_stations, center_gauges, gauge_bindings, items as items_table, machine_stations, machines},
};
use chrono::{NaiveDate, NaiveDateTime};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{ItemId, MachineId, StationId},
    item::ItemKind,
    length::Deviations,
    registry::item::{CenterGauge, Item},
};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = center_gauges)]
#[diesel(treat_none_as_null = true)]
struct Row {
    item_id: String,
    kind: String,
    machine_id: String,
    nominal_pm: i64,
    nominal_unit: String,
    lower_pm: i64,
    lower_unit: String,
    upper_pm: i64,
    upper_unit: String,
    next_check: Option<NaiveDate>,
    last_accepted_check_at: Option<NaiveDateTime>,
    check_interval_days: Option<i32>,
}

fn row(gauge: &CenterGauge) -> Result<Row> {
    Ok(Row {
        item_id: gauge.item.id.to_string(),
        kind: ItemKind::CenterGauge.name().to_owned(),
        machine_id: gauge.machine.to_string(),
        nominal_pm: gauge.nominal.picometres(),
        nominal_unit: gauge.nominal.unit().sign().to_owned(),
        lower_pm: gauge.limits.lower().picometres(),
        lower_unit: gauge.limits.lower().unit().sign().to_owned(),
        upper_pm: gauge.limits.upper().picometres(),
        upper_unit: gauge.limits.upper().unit().sign().to_owned(),
        next_check: gauge.next_check,
        last_accepted_check_at: gauge.last_accepted_check_at.map(|at| at.naive_utc()),
        check_interval_days: gauge.check_interval_days.map(i32::try_from).transpose().map_err(Error::unreadable)?,
    })
}

/// A gauge's record with what it shows of its machine: the code, and when the spindle centres may have moved.
type Found = (ItemRow, Row, String, Option<NaiveDateTime>);

fn gauge((item, row, machine_code, moved_at): Found, stations: Vec<Code>) -> Result<CenterGauge> {
    Ok(CenterGauge {
        item: Item::try_from(item)?,
        machine: columns::read(&row.machine_id)?,
        machine_code: columns::code(&machine_code)?,
        centers_may_have_moved_at: moved_at.map(columns::time),
        stations,
        nominal: columns::length(row.nominal_pm, &row.nominal_unit)?,
        limits: Deviations::new(
            columns::length(row.lower_pm, &row.lower_unit)?,
            columns::length(row.upper_pm, &row.upper_unit)?,
        )
        .map_err(Error::unreadable)?,
        next_check: row.next_check,
        last_accepted_check_at: row.last_accepted_check_at.map(columns::time),
        check_interval_days: row.check_interval_days.map(u32::try_from).transpose().map_err(Error::unreadable)?,
    })
}

fn with_stations(connection: &mut Connection, rows: Vec<Found>) -> Result<Vec<CenterGauge>> {
    use center_gauge_stations as limited;
    let ids: Vec<&str> = rows.iter().map(|(_, row, ..)| row.item_id.as_str()).collect();
    let stations: Vec<(String, String)> = limited::table
        .inner_join(machine_stations::table.on(machine_stations::id.eq(limited::station_id)))
        .filter(limited::gauge_id.eq_any(ids))
        .order(machine_stations::code)
        .select((limited::gauge_id, machine_stations::code))
        .load(connection)?;
    rows.into_iter()
        .map(|found| {
            let own = stations.iter().filter(|(id, _)| *id == found.1.item_id);
            let codes = own.map(|(_, code)| columns::code(code)).collect::<Result<_>>()?;
            gauge(found, codes)
        })
        .collect()
}

/// Puts a gauge on record; its code must be taken already. `stations` are ids of its machine's stations.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] for a station of another machine.
pub fn insert(connection: &mut Connection, gauge: &CenterGauge, stations: &[StationId]) -> Result<()> {
    items::insert(connection, &gauge.item)?;
    diesel::insert_into(center_gauges::table).values(row(gauge)?).execute(connection)?;
    limit_to(connection, gauge, stations)
}

/// Writes a gauge's record over, its stations too.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] for a station of another machine.
pub fn update(connection: &mut Connection, gauge: &CenterGauge, stations: &[StationId]) -> Result<()> {
    use center_gauge_stations as limited;
    let id = gauge.item.id.to_string();
    items::update(connection, &gauge.item)?;
    diesel::delete(limited::table.filter(limited::gauge_id.eq(&id))).execute(connection)?;
    diesel::update(center_gauges::table.find(&id)).set(row(gauge)?).execute(connection)?;
    limit_to(connection, gauge, stations)
}

/// Writes a gauge's record over, its stations as they are.
///
/// # Errors
/// A database error.
pub fn update_record(connection: &mut Connection, gauge: &CenterGauge) -> Result<()> {
    items::update(connection, &gauge.item)?;
    diesel::update(center_gauges::table.find(gauge.item.id.to_string())).set(row(gauge)?).execute(connection)?;
    Ok(())
}

fn limit_to(connection: &mut Connection, gauge: &CenterGauge, stations: &[StationId]) -> Result<()> {
    use center_gauge_stations as limited;
    for station in stations {
        diesel::insert_into(limited::table)
            .values((
                limited::gauge_id.eq(gauge.item.id.to_string()),
                limited::machine_id.eq(gauge.machine.to_string()),
                limited::station_id.eq(station.to_string()),
            ))
            .execute(connection)?;
    }
    Ok(())
}

/// Deletes a gauge that nothing refers to.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] when something does.
pub fn delete(connection: &mut Connection, id: ItemId) -> Result<()> {
    use center_gauge_stations as limited;
    diesel::delete(limited::table.filter(limited::gauge_id.eq(id.to_string()))).execute(connection)?;
    // Its first machine; one that was bound to another was checked, and stays.
    diesel::delete(gauge_bindings::table.filter(gauge_bindings::gauge_id.eq(id.to_string()))).execute(connection)?;
    diesel::delete(center_gauges::table.find(id.to_string())).execute(connection)?;
    items::delete(connection, id)
}

/// One gauge.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: ItemId) -> Result<Option<CenterGauge>> {
    let found = items_table::table
        .inner_join(center_gauges::table.on(center_gauges::item_id.eq(items_table::id)))
        .inner_join(machines::table.on(machines::id.eq(center_gauges::machine_id)))
        .filter(items_table::id.eq(id.to_string()))
        .select((ItemRow::as_select(), Row::as_select(), machines::code, machines::centers_may_have_moved_at))
        .first(connection)
        .optional()?;
    Ok(with_stations(connection, found.into_iter().collect())?.pop())
}

/// Gauges by code, after a code, of one machine or all.
///
/// # Errors
/// A database error.
pub fn page(
    connection: &mut Connection,
    machine: Option<MachineId>,
    after: Option<&Code>,
    limit: i64,
) -> Result<Vec<CenterGauge>> {
    let query = items_table::table
        .inner_join(center_gauges::table.on(center_gauges::item_id.eq(items_table::id)))
        .inner_join(machines::table.on(machines::id.eq(center_gauges::machine_id)))
        .filter(items_table::code.gt(after.map_or("", Code::as_str)))
        .order(items_table::code)
        .limit(limit)
        .select((ItemRow::as_select(), Row::as_select(), machines::code, machines::centers_may_have_moved_at));
    let rows = match machine {
        Some(machine) => query.filter(center_gauges::machine_id.eq(machine.to_string())).load(connection)?,
        None => query.load(connection)?,
    };
    with_stations(connection, rows)
}

/// All gauges of these machines, by code.
///
/// # Errors
/// A database error.
pub fn of_machines(connection: &mut Connection, of: &[MachineId]) -> Result<Vec<CenterGauge>> {
    let ids: Vec<String> = of.iter().map(MachineId::to_string).collect();
    let rows = center_gauges::table
        .inner_join(items_table::table.on(items_table::id.eq(center_gauges::item_id)))
        .inner_join(machines::table.on(machines::id.eq(center_gauges::machine_id)))
        .filter(center_gauges::machine_id.eq_any(ids))
        .select((ItemRow::as_select(), Row::as_select(), machines::code, machines::centers_may_have_moved_at))
        .load(connection)?;
    let mut gauges = with_stations(connection, rows)?;
    gauges.sort_by(|one, other| one.item.code.cmp(&other.item.code));
    Ok(gauges)
}
