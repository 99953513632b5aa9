//! Machines, their stations, their guard, their centre heights.

mod as_of;
mod center_heights;
mod guard;

pub use as_of::{Standing, standing_as_of};
pub use center_heights::{
    CenterHeight, center_height_at, center_heights_page, insert_center_height, measured_spreads_at,
    newest_center_height, spindle_spreads,
};
pub use guard::{Guard, guard, note_centers_moved, set_centers_may_have_moved, set_mode, set_tagged_out, take_guard};

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{centers_moved, machine_states, machine_stations, machines},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{MachineId, StationId},
    machine::{MachineMode, SpindleRotation, StationKind, ToolFace},
    registry::{
        Record,
        machine::{Machine, MachineFields, StationFields},
    },
};
use std::collections::{BTreeMap, BTreeSet};

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
    if let Some(moved_at) = machine.centers_may_have_moved_at {
        guard::keep_centers_moved(connection, machine.record.id, moved_at)?;
    }
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
    diesel::delete(centers_moved::table.filter(centers_moved::machine_id.eq(&id))).execute(connection)?;
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

/// When several machines were put on record.
///
/// # Errors
/// A database error.
pub fn created_at(
    connection: &mut Connection,
    ids: &BTreeSet<MachineId>,
) -> Result<BTreeMap<MachineId, DateTime<Utc>>> {
    let ids: Vec<String> = ids.iter().map(MachineId::to_string).collect();
    let mut created = BTreeMap::new();
    for some in ids.chunks(columns::MOST_IDS) {
        let rows: Vec<(String, NaiveDateTime)> = machines::table
            .filter(machines::id.eq_any(some))
            .select((machines::id, machines::created_at))
            .load(connection)?;
        for (id, at) in rows {
            created.insert(columns::read(&id)?, columns::time(at));
        }
    }
    Ok(created)
}

/// The codes of several machines.
///
/// # Errors
/// A database error.
pub fn codes_of(connection: &mut Connection, ids: &BTreeSet<MachineId>) -> Result<BTreeMap<MachineId, Code>> {
    if ids.is_empty() {
        return Ok(BTreeMap::new());
    }
    let ids: Vec<String> = ids.iter().map(MachineId::to_string).collect();
    let rows: Vec<(String, String)> =
        machines::table.filter(machines::id.eq_any(ids)).select((machines::id, machines::code)).load(connection)?;
    rows.into_iter().map(|(id, code)| Ok((columns::read(&id)?, columns::code(&code)?))).collect()
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
