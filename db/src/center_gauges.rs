//! Centre gauges, each bound to exactly one machine, and their checks.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    items::{self, ItemRow},
    schema::{center_gauge_stations, center_gauges, gauge_checks, items as items_table, machine_stations, machines},
};
use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{GaugeCheckId, ItemId, MachineId, PersonId, StationId},
    item::ItemKind,
    length::Deviations,
    registry::item::{CenterGauge, GaugeCheckFields, Item},
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
}

fn row(gauge: &CenterGauge) -> Row {
    Row {
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
    }
}

fn gauge((item, row, machine_code): (ItemRow, Row, String), stations: Vec<Code>) -> Result<CenterGauge> {
    Ok(CenterGauge {
        item: Item::try_from(item)?,
        machine: columns::read(&row.machine_id)?,
        machine_code: columns::code(&machine_code)?,
        stations,
        nominal: columns::length(row.nominal_pm, &row.nominal_unit)?,
        limits: Deviations::new(
            columns::length(row.lower_pm, &row.lower_unit)?,
            columns::length(row.upper_pm, &row.upper_unit)?,
        )
        .map_err(Error::unreadable)?,
        next_check: row.next_check,
        last_accepted_check_at: row.last_accepted_check_at.map(columns::time),
    })
}

fn with_stations(connection: &mut Connection, rows: Vec<(ItemRow, Row, String)>) -> Result<Vec<CenterGauge>> {
    use center_gauge_stations as limited;
    let ids: Vec<&str> = rows.iter().map(|(_, row, _)| row.item_id.as_str()).collect();
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
    diesel::insert_into(center_gauges::table).values(row(gauge)).execute(connection)?;
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
    diesel::update(center_gauges::table.find(&id)).set(row(gauge)).execute(connection)?;
    limit_to(connection, gauge, stations)
}

/// Writes a gauge's record over, its stations as they are.
///
/// # Errors
/// A database error.
pub fn update_record(connection: &mut Connection, gauge: &CenterGauge) -> Result<()> {
    items::update(connection, &gauge.item)?;
    diesel::update(center_gauges::table.find(gauge.item.id.to_string())).set(row(gauge)).execute(connection)?;
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
        .select((ItemRow::as_select(), Row::as_select(), machines::code))
        .first(connection)
        .optional()?;
    Ok(with_stations(connection, found.into_iter().collect())?.pop())
}

/// The gauges of these machines, by code.
///
/// # Errors
/// A database error.
pub fn of_machines(connection: &mut Connection, of: &[MachineId]) -> Result<Vec<CenterGauge>> {
    let rows = items_table::table
        .inner_join(center_gauges::table.on(center_gauges::item_id.eq(items_table::id)))
        .inner_join(machines::table.on(machines::id.eq(center_gauges::machine_id)))
        .filter(center_gauges::machine_id.eq_any(of.iter().map(MachineId::to_string).collect::<Vec<_>>()))
        .order(items_table::code)
        .select((ItemRow::as_select(), Row::as_select(), machines::code))
        .load(connection)?;
    with_stations(connection, rows)
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
        .select((ItemRow::as_select(), Row::as_select(), machines::code));
    let rows = match machine {
        Some(machine) => query.filter(center_gauges::machine_id.eq(machine.to_string())).load(connection)?,
        None => query.load(connection)?,
    };
    with_stations(connection, rows)
}

/// A check on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GaugeCheck {
    /// Its id.
    pub id: GaugeCheckId,
    /// The gauge.
    pub gauge: ItemId,
    /// The machine it was checked against.
    pub machine: MachineId,
    /// What was found.
    pub fields: GaugeCheckFields,
    /// Whether the gauge, as it was left, lay within its limits.
    pub accepted: bool,
    /// Who recorded it.
    pub recorded_by: PersonId,
    /// The server's time.
    pub recorded_at: DateTime<Utc>,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = gauge_checks)]
struct CheckRow {
    id: String,
    gauge_id: String,
    machine_id: String,
    as_found_pm: i64,
    as_found_unit: String,
    as_left_pm: Option<i64>,
    as_left_unit: Option<String>,
    standard_uncertainty_pm: i64,
    standard_uncertainty_unit: String,
    accepted: bool,
    certificate: Option<String>,
    next_check: NaiveDate,
    performed_at: NaiveDateTime,
    recorded_by: String,
    recorded_at: NaiveDateTime,
}

impl From<&GaugeCheck> for CheckRow {
    fn from(check: &GaugeCheck) -> Self {
        let fields = &check.fields;
        Self {
            id: check.id.to_string(),
            gauge_id: check.gauge.to_string(),
            machine_id: check.machine.to_string(),
            as_found_pm: fields.as_found.picometres(),
            as_found_unit: fields.as_found.unit().sign().to_owned(),
            as_left_pm: fields.as_left.map(|length| length.picometres()),
            as_left_unit: fields.as_left.map(|length| length.unit().sign().to_owned()),
            standard_uncertainty_pm: fields.standard_uncertainty.picometres(),
            standard_uncertainty_unit: fields.standard_uncertainty.unit().sign().to_owned(),
            accepted: check.accepted,
            certificate: fields.certificate.clone(),
            next_check: fields.next_check,
            performed_at: fields.performed_at.naive_utc(),
            recorded_by: check.recorded_by.to_string(),
            recorded_at: check.recorded_at.naive_utc(),
        }
    }
}

impl TryFrom<CheckRow> for GaugeCheck {
    type Error = Error;

    fn try_from(row: CheckRow) -> Result<Self> {
        Ok(Self {
            id: columns::read(&row.id)?,
            gauge: columns::read(&row.gauge_id)?,
            machine: columns::read(&row.machine_id)?,
            fields: GaugeCheckFields {
                as_found: columns::length(row.as_found_pm, &row.as_found_unit)?,
                as_left: columns::length_optional(row.as_left_pm, row.as_left_unit.as_deref())?,
                standard_uncertainty: columns::length(row.standard_uncertainty_pm, &row.standard_uncertainty_unit)?,
                certificate: row.certificate,
                next_check: row.next_check,
                performed_at: columns::time(row.performed_at),
            },
            accepted: row.accepted,
            recorded_by: columns::read(&row.recorded_by)?,
            recorded_at: columns::time(row.recorded_at),
        })
    }
}

/// Puts a check on record.
///
/// # Errors
/// A database error.
pub fn insert_check(connection: &mut Connection, check: &GaugeCheck) -> Result<()> {
    diesel::insert_into(gauge_checks::table).values(CheckRow::from(check)).execute(connection)?;
    Ok(())
}

/// A gauge's checks, newest first, before one.
///
/// # Errors
/// A database error.
pub fn checks_page(
    connection: &mut Connection,
    gauge: ItemId,
    before: Option<(DateTime<Utc>, GaugeCheckId)>,
    limit: i64,
) -> Result<Vec<GaugeCheck>> {
    use gauge_checks as c;
    let (at, id) = columns::before_or_newest(before);
    let rows: Vec<CheckRow> = c::table
        .filter(c::gauge_id.eq(gauge.to_string()))
        .filter(c::recorded_at.lt(at).or(c::recorded_at.eq(at).and(c::id.lt(id))))
        .order((c::recorded_at.desc(), c::id.desc()))
        .limit(limit)
        .select(CheckRow::as_select())
        .load(connection)?;
    rows.into_iter().map(GaugeCheck::try_from).collect()
}
