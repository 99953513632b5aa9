//! Machines, their stations, their guard, their centre heights.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{center_heights, machine_states, machine_stations, machines},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{CenterHeightId, MachineId, PersonId, StationId},
    machine::{MachineMode, SpindleRotation, StationKind, ToolFace},
    registry::{
        Record,
        machine::{CenterHeightFields, Machine, MachineFields, StationFields},
    },
};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = machines)]
#[diesel(treat_none_as_null = true)]
struct Row {
    id: String,
    code: String,
    name: String,
    spindles: i32,
    positions: i32,
    cutoff_position: i32,
    pieces_per_cycle: i32,
    spindle_rotation: String,
    center_height_nominal_pm: i64,
    center_height_nominal_unit: String,
    spindle_center_spread_pm: Option<i64>,
    spindle_center_spread_unit: Option<String>,
    centers_may_have_moved_at: Option<NaiveDateTime>,
    retired: bool,
    version: i64,
    created_at: NaiveDateTime,
    updated_at: NaiveDateTime,
}

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = machine_stations)]
struct StationRow {
    id: String,
    machine_id: String,
    code: String,
    position: i32,
    kind: String,
    tool_face: String,
    adjusters: String,
}

fn row(machine: &Machine) -> Row {
    let (record, fields) = (&machine.record, &machine.record.fields);
    Row {
        id: record.id.to_string(),
        code: record.code.to_string(),
        name: fields.name.clone(),
        spindles: fields.spindles.into(),
        positions: fields.positions.into(),
        cutoff_position: fields.cutoff_position.into(),
        pieces_per_cycle: fields.pieces_per_cycle.into(),
        spindle_rotation: fields.spindle_rotation.name().to_owned(),
        center_height_nominal_pm: fields.center_height_nominal.picometres(),
        center_height_nominal_unit: fields.center_height_nominal.unit().sign().to_owned(),
        spindle_center_spread_pm: fields.spindle_center_spread.map(|spread| spread.picometres()),
        spindle_center_spread_unit: fields.spindle_center_spread.map(|spread| spread.unit().sign().to_owned()),
        centers_may_have_moved_at: machine.centers_may_have_moved_at.map(|at| at.naive_utc()),
        retired: fields.retired,
        version: record.version,
        created_at: record.created_at.naive_utc(),
        updated_at: record.updated_at.naive_utc(),
    }
}

fn station_rows(machine: &Machine) -> Result<Vec<StationRow>> {
    machine
        .station_ids
        .iter()
        .zip(&machine.record.fields.stations)
        .map(|(id, station)| {
            Ok(StationRow {
                id: id.to_string(),
                machine_id: machine.record.id.to_string(),
                code: station.code.to_string(),
                position: station.position.into(),
                kind: station.kind.name().to_owned(),
                tool_face: station.tool_face.name().to_owned(),
                adjusters: columns::document(&station.adjusters)?,
            })
        })
        .collect()
}

fn small(number: i32) -> Result<u8> {
    u8::try_from(number).map_err(Error::unreadable)
}

fn machine(row: &Row, stations: Vec<StationRow>) -> Result<Machine> {
    let mut station_ids = Vec::with_capacity(stations.len());
    let mut fields = Vec::with_capacity(stations.len());
    for station in stations {
        station_ids.push(columns::read::<StationId>(&station.id)?);
        fields.push(StationFields {
            code: columns::code(&station.code)?,
            position: small(station.position)?,
            kind: columns::named(&station.kind, StationKind::from_name)?,
            tool_face: columns::named(&station.tool_face, ToolFace::from_name)?,
            adjusters: columns::from_document(&station.adjusters)?,
        });
    }
    Ok(Machine {
        record: Record {
            id: columns::read(&row.id)?,
            code: columns::code(&row.code)?,
            fields: MachineFields {
                name: row.name.clone(),
                spindles: small(row.spindles)?,
                positions: small(row.positions)?,
                cutoff_position: small(row.cutoff_position)?,
                pieces_per_cycle: small(row.pieces_per_cycle)?,
                spindle_rotation: columns::named(&row.spindle_rotation, SpindleRotation::from_name)?,
                center_height_nominal: columns::length(row.center_height_nominal_pm, &row.center_height_nominal_unit)?,
                spindle_center_spread: columns::length_optional(
                    row.spindle_center_spread_pm,
                    row.spindle_center_spread_unit.as_deref(),
                )?,
                retired: row.retired,
                stations: fields,
            },
            version: row.version,
            created_at: columns::time(row.created_at),
            updated_at: columns::time(row.updated_at),
        },
        station_ids,
        centers_may_have_moved_at: row.centers_may_have_moved_at.map(columns::time),
    })
}

fn with_stations(connection: &mut Connection, rows: &[Row]) -> Result<Vec<Machine>> {
    let ids: Vec<&str> = rows.iter().map(|row| row.id.as_str()).collect();
    let mut stations: Vec<StationRow> = machine_stations::table
        .filter(machine_stations::machine_id.eq_any(ids))
        .order((machine_stations::position, machine_stations::code))
        .select(StationRow::as_select())
        .load(connection)?;
    rows.iter()
        .map(|row| {
            let (own, others) = stations.drain(..).partition(|station| station.machine_id == row.id);
            stations = others;
            machine(row, own)
        })
        .collect()
}

/// Puts a machine on record, with its stations and its guard; its code must be taken already.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, machine: &Machine) -> Result<()> {
    diesel::insert_into(machines::table).values(row(machine)).execute(connection)?;
    for station in station_rows(machine)? {
        diesel::insert_into(machine_stations::table).values(station).execute(connection)?;
    }
    diesel::insert_into(machine_states::table)
        .values((
            machine_states::machine_id.eq(machine.record.id.to_string()),
            machine_states::version.eq(1_i64),
            machine_states::mode.eq(MachineMode::Idle.name()),
            machine_states::tagged_out.eq(false),
        ))
        .execute(connection)?;
    Ok(())
}

/// Writes a machine's record over; stations are matched by id, new ones are added, missing ones are removed.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] when a removed station is in use by a gauge.
pub fn update(connection: &mut Connection, machine: &Machine) -> Result<()> {
    let id = machine.record.id.to_string();
    diesel::update(machines::table.find(&id)).set(row(machine)).execute(connection)?;
    let stations = station_rows(machine)?;
    let kept: Vec<&str> = stations.iter().map(|station| station.id.as_str()).collect();
    diesel::delete(
        machine_stations::table.filter(machine_stations::machine_id.eq(&id)).filter(machine_stations::id.ne_all(kept)),
    )
    .execute(connection)?;
    for station in stations {
        let known = diesel::update(machine_stations::table.find(&station.id)).set(&station).execute(connection)?;
        if known == 0 {
            diesel::insert_into(machine_stations::table).values(&station).execute(connection)?;
        }
    }
    Ok(())
}

/// Deletes a machine that nothing refers to.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] when something does.
pub fn delete(connection: &mut Connection, id: MachineId) -> Result<()> {
    let id = id.to_string();
    diesel::delete(machine_states::table.find(&id)).execute(connection)?;
    diesel::delete(machine_stations::table.filter(machine_stations::machine_id.eq(&id))).execute(connection)?;
    diesel::delete(machines::table.find(&id)).execute(connection)?;
    Ok(())
}

/// One machine.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: MachineId) -> Result<Option<Machine>> {
    let row: Option<Row> =
        machines::table.find(id.to_string()).select(Row::as_select()).first(connection).optional()?;
    Ok(with_stations(connection, row.as_slice())?.pop())
}

/// A machine's code.
///
/// # Errors
/// A database error.
pub fn code_of(connection: &mut Connection, id: MachineId) -> Result<Option<Code>> {
    let code: Option<String> =
        machines::table.find(id.to_string()).select(machines::code).first(connection).optional()?;
    code.as_deref().map(columns::code).transpose()
}

/// Machines by code, after a code.
///
/// # Errors
/// A database error.
pub fn page(connection: &mut Connection, after: Option<&Code>, limit: i64) -> Result<Vec<Machine>> {
    let rows: Vec<Row> = machines::table
        .filter(machines::code.gt(after.map_or("", Code::as_str)))
        .order(machines::code)
        .limit(limit)
        .select(Row::as_select())
        .load(connection)?;
    with_stations(connection, &rows)
}

/// The machine guard's row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Guard {
    /// Raised by every setup event, tag-out and centre-height record.
    pub version: i64,
    /// Idle, a gauge in it, or running.
    pub mode: MachineMode,
    /// Whether a tag-out is in force.
    pub tagged_out: bool,
}

/// Takes the machine's guard for this transaction by raising its version: the first statement of whatever must not
/// happen side by side on one machine.
///
/// # Errors
/// A database error; [`Error::Unreadable`] when the machine has no guard.
pub fn take_guard(connection: &mut Connection, id: MachineId) -> Result<Guard> {
    #[cfg(feature = "race-control")]
    if crate::race_control::is_removed("machine-guard") {
        return guard(connection, id);
    }
    diesel::update(machine_states::table.find(id.to_string()))
        .set(machine_states::version.eq(machine_states::version + 1))
        .execute(connection)?;
    guard(connection, id)
}

/// Reads the guard without taking it.
///
/// # Errors
/// A database error; [`Error::Unreadable`] when the machine has no guard.
pub fn guard(connection: &mut Connection, id: MachineId) -> Result<Guard> {
    let row: Option<(i64, String, bool)> = machine_states::table
        .find(id.to_string())
        .select((machine_states::version, machine_states::mode, machine_states::tagged_out))
        .first(connection)
        .optional()?;
    let (version, mode, tagged_out) = row.ok_or_else(|| Error::unreadable("a machine without its guard"))?;
    Ok(Guard { version, mode: columns::named(&mode, MachineMode::from_name)?, tagged_out })
}

/// Sets the guard's mode.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] while a gauge or a release holds the present mode, [`crate::Constraint::Check`]
/// for running while tagged out.
pub fn set_mode(connection: &mut Connection, id: MachineId, mode: MachineMode) -> Result<()> {
    diesel::update(machine_states::table.find(id.to_string()))
        .set(machine_states::mode.eq(mode.name()))
        .execute(connection)?;
    Ok(())
}

/// Sets whether the machine is tagged out.
///
/// # Errors
/// [`crate::Constraint::Check`] while it is running.
pub fn set_tagged_out(connection: &mut Connection, id: MachineId, tagged_out: bool) -> Result<()> {
    diesel::update(machine_states::table.find(id.to_string()))
        .set(machine_states::tagged_out.eq(tagged_out))
        .execute(connection)?;
    Ok(())
}

/// Notes that the spindle centres may have moved, at the latest now: gauges checked before are stale.
///
/// # Errors
/// A database error.
pub fn set_centers_may_have_moved(connection: &mut Connection, id: MachineId, at: DateTime<Utc>) -> Result<()> {
    diesel::update(machines::table.find(id.to_string()))
        .set(machines::centers_may_have_moved_at.eq(at.naive_utc()))
        .execute(connection)?;
    Ok(())
}

/// A centre height on record.
#[derive(Clone, Debug, PartialEq)]
pub struct CenterHeight {
    /// Its id.
    pub id: CenterHeightId,
    /// The machine.
    pub machine: MachineId,
    /// What was measured.
    pub fields: CenterHeightFields,
    /// Who recorded it.
    pub recorded_by: PersonId,
    /// The server's time.
    pub recorded_at: DateTime<Utc>,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = center_heights)]
struct CenterHeightRow {
    id: String,
    machine_id: String,
    measured_pm: i64,
    measured_unit: String,
    standard_uncertainty_pm: i64,
    standard_uncertainty_unit: String,
    reason: String,
    after_work: bool,
    performed_at: NaiveDateTime,
    recorded_by: String,
    recorded_at: NaiveDateTime,
}

impl TryFrom<CenterHeightRow> for CenterHeight {
    type Error = Error;

    fn try_from(row: CenterHeightRow) -> Result<Self> {
        Ok(Self {
            id: columns::read(&row.id)?,
            machine: columns::read(&row.machine_id)?,
            fields: CenterHeightFields {
                measured: columns::length(row.measured_pm, &row.measured_unit)?,
                standard_uncertainty: columns::length(row.standard_uncertainty_pm, &row.standard_uncertainty_unit)?,
                reason: row.reason,
                after_work: row.after_work,
                performed_at: columns::time(row.performed_at),
            },
            recorded_by: columns::read(&row.recorded_by)?,
            recorded_at: columns::time(row.recorded_at),
        })
    }
}

/// Puts a centre height on record.
///
/// # Errors
/// A database error.
pub fn insert_center_height(connection: &mut Connection, height: &CenterHeight) -> Result<()> {
    let fields = &height.fields;
    diesel::insert_into(center_heights::table)
        .values(CenterHeightRow {
            id: height.id.to_string(),
            machine_id: height.machine.to_string(),
            measured_pm: fields.measured.picometres(),
            measured_unit: fields.measured.unit().sign().to_owned(),
            standard_uncertainty_pm: fields.standard_uncertainty.picometres(),
            standard_uncertainty_unit: fields.standard_uncertainty.unit().sign().to_owned(),
            reason: fields.reason.clone(),
            after_work: fields.after_work,
            performed_at: fields.performed_at.naive_utc(),
            recorded_by: height.recorded_by.to_string(),
            recorded_at: height.recorded_at.naive_utc(),
        })
        .execute(connection)?;
    Ok(())
}

/// A machine's centre heights, newest first, before one.
///
/// # Errors
/// A database error.
pub fn center_heights_page(
    connection: &mut Connection,
    machine: MachineId,
    before: Option<(DateTime<Utc>, CenterHeightId)>,
    limit: i64,
) -> Result<Vec<CenterHeight>> {
    use center_heights as c;
    let (at, id) = columns::before_or_newest(before);
    let rows: Vec<CenterHeightRow> = c::table
        .filter(c::machine_id.eq(machine.to_string()))
        .filter(c::recorded_at.lt(at).or(c::recorded_at.eq(at).and(c::id.lt(id))))
        .order((c::recorded_at.desc(), c::id.desc()))
        .limit(limit)
        .select(CenterHeightRow::as_select())
        .load(connection)?;
    rows.into_iter().map(CenterHeight::try_from).collect()
}
