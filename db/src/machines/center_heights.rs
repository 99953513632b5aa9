//! Measured spindle centre heights.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::center_heights,
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    ids::{CenterHeightId, MachineId, PersonId},
    registry::machine::CenterHeightFields,
};

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

/// The newest measurement recorded at or before an instant.
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
        .filter(c::recorded_at.le(at.naive_utc()))
        .order((c::recorded_at.desc(), c::id.desc()))
        .select(CenterHeightRow::as_select())
        .first(connection)
        .optional()?;
    row.map(CenterHeight::try_from).transpose()
}
