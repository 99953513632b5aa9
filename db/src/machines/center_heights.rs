//! Measured spindle centre heights.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{center_height_spindles, center_heights, machines, spindle_spreads},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::{
    dsl::sql,
    prelude::*,
    sql_types::{Nullable, Text, Timestamp},
};
use dovetally_core::{
    code::Code,
    ids::{CenterHeightId, MachineId, PersonId},
    length::Length,
    registry::machine::{CenterHeightFields, SpindleHeight},
    setup::height_limit::SpindleSpreads,
};
use std::collections::BTreeMap;

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
    station: Option<String>,
}

impl CenterHeightRow {
    fn with_spindles(self, spindles: Vec<SpindleHeight>) -> Result<CenterHeight> {
        let row = self;
        Ok(CenterHeight {
            id: columns::read(&row.id)?,
            machine: columns::read(&row.machine_id)?,
            fields: CenterHeightFields {
                measured: columns::length(row.measured_pm, &row.measured_unit)?,
                standard_uncertainty: columns::length(row.standard_uncertainty_pm, &row.standard_uncertainty_unit)?,
                reason: row.reason,
                after_work: row.after_work,
                performed_at: columns::time(row.performed_at),
                station: row.station.as_deref().map(columns::code).transpose()?,
                spindles,
            },
            recorded_by: columns::read(&row.recorded_by)?,
            recorded_at: columns::time(row.recorded_at),
        })
    }
}

/// Measurements with their spindles, which are asked for once.
fn whole(connection: &mut Connection, rows: Vec<CenterHeightRow>) -> Result<Vec<CenterHeight>> {
    use center_height_spindles as s;
    let ids: Vec<&str> = rows.iter().map(|row| row.id.as_str()).collect();
    let mut spindles: BTreeMap<String, Vec<SpindleHeight>> = BTreeMap::new();
    for ids in ids.chunks(columns::MOST_IDS) {
        let found: Vec<(String, i32, i64, String)> = s::table
            .filter(s::center_height_id.eq_any(ids))
            .order((s::center_height_id, s::spindle))
            .select((s::center_height_id, s::spindle, s::measured_pm, s::measured_unit))
            .load(connection)?;
        for (height, spindle, measured, unit) in found {
            let spindle = u8::try_from(spindle).map_err(Error::unreadable)?;
            let measured = columns::length(measured, &unit)?;
            spindles.entry(height).or_default().push(SpindleHeight { spindle, measured });
        }
    }
    let with_its_own = |row: CenterHeightRow| {
        let spindles = spindles.remove(&row.id).unwrap_or_default();
        row.with_spindles(spindles)
    };
    rows.into_iter().map(with_its_own).collect()
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
            station: fields.station.as_ref().map(ToString::to_string),
        })
        .execute(connection)?;
    for spindle in &fields.spindles {
        use center_height_spindles as s;
        diesel::insert_into(s::table)
            .values((
                s::center_height_id.eq(height.id.to_string()),
                s::spindle.eq(i32::from(spindle.spindle)),
                s::measured_pm.eq(spindle.measured.picometres()),
                s::measured_unit.eq(spindle.measured.unit().sign()),
            ))
            .execute(connection)?;
    }
    match fields.spread() {
        Some(spread) => keep_spread(connection, height, spread),
        None => Ok(()),
    }
}

/// The newest measurement of the spindles takes the place of the one before it; the machine's guard is taken.
fn keep_spread(connection: &mut Connection, height: &CenterHeight, spread: Length) -> Result<()> {
    use spindle_spreads as s;
    let (machine, station) = (height.machine.to_string(), station_key(height));
    diesel::delete(s::table.find((&machine, &station))).execute(connection)?;
    diesel::insert_into(s::table)
        .values((
            s::machine_id.eq(&machine),
            s::station.eq(&station),
            s::center_height_id.eq(height.id.to_string()),
            s::spread_pm.eq(spread.picometres()),
            s::spread_unit.eq(spread.unit().sign()),
        ))
        .execute(connection)?;
    Ok(())
}

fn station_key(height: &CenterHeight) -> String {
    height.fields.station.as_ref().map(ToString::to_string).unwrap_or_default()
}

/// How far a machine's spindle centres lie apart: measured at stations, measured for the machine, or written about it.
///
/// # Errors
/// A database error.
pub fn spindle_spreads(connection: &mut Connection, machine: MachineId) -> Result<SpindleSpreads> {
    use spindle_spreads as s;
    let rows: Vec<(String, i64, String)> = s::table
        .filter(s::machine_id.eq(machine.to_string()))
        .order(s::station)
        .select((s::station, s::spread_pm, s::spread_unit))
        .load(connection)?;
    let written: Option<(Option<i64>, Option<String>)> = machines::table
        .find(machine.to_string())
        .select((machines::spindle_center_spread_pm, machines::spindle_center_spread_unit))
        .first(connection)
        .optional()?;
    let mut spreads = SpindleSpreads::default();
    if let Some((picometres, unit)) = written {
        spreads.machine = columns::length_optional(picometres, unit.as_deref())?;
    }
    for (station, picometres, unit) in rows {
        let spread = columns::length(picometres, &unit)?;
        match station.as_str() {
            "" => spreads.machine = Some(spread),
            station => spreads.stations.push((columns::code(station)?, spread)),
        }
    }
    Ok(spreads)
}

/// The newest centre height at a station, or without one the newest that holds for the machine as a whole.
///
/// # Errors
/// A database error.
pub fn newest_center_height(
    connection: &mut Connection,
    machine: MachineId,
    station: Option<&Code>,
) -> Result<Option<CenterHeight>> {
    use center_heights as c;
    let query = c::table
        .filter(c::machine_id.eq(machine.to_string()))
        .order((c::recorded_at.desc(), c::id.desc()))
        .limit(1)
        .select(CenterHeightRow::as_select())
        .into_boxed();
    let query = match station {
        Some(station) => query.filter(c::station.eq(station.as_str())),
        None => query.filter(c::station.is_null()),
    };
    let rows: Vec<CenterHeightRow> = query.load(connection)?;
    Ok(whole(connection, rows)?.pop())
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
    whole(connection, rows)
}

/// The newest centre height for a machine as a whole that was recorded at or before an instant.
///
/// # Errors
/// A database error.
pub fn center_height_at(
    connection: &mut Connection,
    machine: MachineId,
    at: DateTime<Utc>,
) -> Result<Option<CenterHeight>> {
    use center_heights as c;
    let row: Option<CenterHeightRow> = c::table
        .filter(c::machine_id.eq(machine.to_string()))
        .filter(c::station.is_null())
        .filter(c::recorded_at.le(at.naive_utc()))
        .order((c::recorded_at.desc(), c::id.desc()))
        .select(CenterHeightRow::as_select())
        .first(connection)
        .optional()?;
    Ok(whole(connection, row.into_iter().collect())?.pop())
}

/// How far a machine's spindle centres lay apart by what had been measured until an instant; what is written about the
/// machine itself is left out.
///
/// # Errors
/// A database error.
pub fn measured_spreads_at(
    connection: &mut Connection,
    machine: MachineId,
    at: DateTime<Utc>,
) -> Result<SpindleSpreads> {
    use {center_heights as c, spindle_spreads as s};
    // What was ever measured by spindles has its row there: of each the newest until then, by its own search in the index.
    let newest = |station: &str| {
        format!(
            "(SELECT height.id FROM center_heights AS height WHERE height.machine_id = spindle_spreads.machine_id \
             AND height.station {station} AND EXISTS (SELECT 1 FROM center_height_spindles AS spindle \
             WHERE spindle.center_height_id = height.id) AND height.recorded_at <= "
        )
    };
    let last = " ORDER BY height.recorded_at DESC, height.id DESC LIMIT 1)";
    let at = at.naive_utc();
    let ids: Vec<Option<String>> = s::table
        .filter(s::machine_id.eq(machine.to_string()))
        .select(
            sql::<Nullable<Text>>(&format!("CASE WHEN spindle_spreads.station = '' THEN {}", newest("IS NULL")))
                .bind::<Timestamp, _>(at)
                .sql(&format!("{last} ELSE {}", newest("= spindle_spreads.station")))
                .bind::<Timestamp, _>(at)
                .sql(&format!("{last} END")),
        )
        .load(connection)?;
    let rows: Vec<CenterHeightRow> = c::table
        .filter(c::id.eq_any(ids.into_iter().flatten()))
        .order(c::station)
        .select(CenterHeightRow::as_select())
        .load(connection)?;
    let mut spreads = SpindleSpreads::default();
    for height in whole(connection, rows)? {
        match (height.fields.spread(), height.fields.station) {
            (Some(spread), Some(station)) => spreads.stations.push((station, spread)),
            (spread, _) => spreads.machine = spread,
        }
    }
    Ok(spreads)
}
