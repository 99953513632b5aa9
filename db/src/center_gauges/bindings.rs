//! To which machine a gauge was bound, from when until when.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{center_gauge_stations, center_gauges, gauge_bindings, items},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    ids::{GaugeCheckId, ItemId, MachineId, PersonId, StationId},
    registry::item::CenterGauge,
};

/// One machine's time with a gauge.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GaugeBinding {
    /// The gauge.
    pub gauge: ItemId,
    /// Its number among the gauge's bindings, from 1.
    pub number: i32,
    /// The machine.
    pub machine: MachineId,
    /// From when.
    pub from: DateTime<Utc>,
    /// Until when; none while it is bound to it.
    pub until: Option<DateTime<Utc>>,
    /// Who bound it; none for gauges of older days.
    pub by: Option<PersonId>,
    /// The check against that machine; none for the first machine.
    pub check: Option<GaugeCheckId>,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = gauge_bindings)]
struct Row {
    gauge_id: String,
    number: i32,
    machine_id: String,
    bound_from: NaiveDateTime,
    bound_until: Option<NaiveDateTime>,
    bound_by: Option<String>,
    check_id: Option<String>,
}

impl From<&GaugeBinding> for Row {
    fn from(binding: &GaugeBinding) -> Self {
        Self {
            gauge_id: binding.gauge.to_string(),
            number: binding.number,
            machine_id: binding.machine.to_string(),
            bound_from: binding.from.naive_utc(),
            bound_until: binding.until.map(|at| at.naive_utc()),
            bound_by: binding.by.map(|person| person.to_string()),
            check_id: binding.check.map(|check| check.to_string()),
        }
    }
}

impl TryFrom<Row> for GaugeBinding {
    type Error = Error;

    fn try_from(row: Row) -> Result<Self> {
        Ok(Self {
            gauge: columns::read(&row.gauge_id)?,
            number: row.number,
            machine: columns::read(&row.machine_id)?,
            from: columns::time(row.bound_from),
            until: row.bound_until.map(columns::time),
            by: columns::read_optional(row.bound_by.as_deref())?,
            check: columns::read_optional(row.check_id.as_deref())?,
        })
    }
}

/// Writes down to which machine a gauge is bound from now on.
///
/// # Errors
/// A database error.
pub fn insert_binding(connection: &mut Connection, binding: &GaugeBinding) -> Result<()> {
    diesel::insert_into(gauge_bindings::table).values(Row::from(binding)).execute(connection)?;
    Ok(())
}

/// Gives a gauge to another machine: ends its binding, drops its stations, writes its record over with the machine in it,
/// and begins the new binding. Gives the new binding's number.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] while it is placed in its machine, or for a station of another machine.
pub fn rebind(
    connection: &mut Connection,
    gauge: &CenterGauge,
    stations: &[StationId],
    mut binding: GaugeBinding,
) -> Result<i32> {
    use center_gauge_stations as limited;
    use gauge_bindings as b;
    let id = gauge.item.id.to_string();
    let last: Option<i32> =
        b::table.filter(b::gauge_id.eq(&id)).select(diesel::dsl::max(b::number)).first(connection)?;
    diesel::update(b::table.filter(b::gauge_id.eq(&id)).filter(b::bound_until.is_null()))
        .set(b::bound_until.eq(binding.from.naive_utc()))
        .execute(connection)?;
    // The old machine's stations hold the gauge to that machine: they go first.
    diesel::delete(limited::table.filter(limited::gauge_id.eq(&id))).execute(connection)?;
    super::update(connection, gauge, stations)?;
    binding.number = last.unwrap_or(0) + 1;
    insert_binding(connection, &binding)?;
    Ok(binding.number)
}

/// Since when a gauge is bound to its machine.
///
/// # Errors
/// [`Error::Unreadable`] for a gauge without a binding.
pub fn bound_since(connection: &mut Connection, gauge: ItemId) -> Result<DateTime<Utc>> {
    use gauge_bindings as b;
    let from: Option<NaiveDateTime> = b::table
        .filter(b::gauge_id.eq(gauge.to_string()))
        .filter(b::bound_until.is_null())
        .select(b::bound_from)
        .first(connection)
        .optional()?;
    from.map(columns::time).ok_or_else(|| Error::unreadable("a gauge that is bound to no machine"))
}

/// A gauge's bindings, newest first, before a number.
///
/// # Errors
/// A database error.
pub fn bindings_page(
    connection: &mut Connection,
    gauge: ItemId,
    before: Option<i32>,
    limit: i64,
) -> Result<Vec<GaugeBinding>> {
    use gauge_bindings as b;
    let rows: Vec<Row> = b::table
        .filter(b::gauge_id.eq(gauge.to_string()))
        .filter(b::number.lt(before.unwrap_or(i32::MAX)))
        .order(b::number.desc())
        .limit(limit)
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(GaugeBinding::try_from).collect()
}

/// Gauges whose record names another machine than their binding. Empty when all is sound.
///
/// # Errors
/// A database error.
pub fn faults(connection: &mut Connection) -> Result<Vec<String>> {
    use gauge_bindings as b;
    let in_force = b::gauge_id.eq(center_gauges::item_id).and(b::bound_until.is_null());
    let codes: Vec<String> = center_gauges::table
        .inner_join(items::table.on(items::id.eq(center_gauges::item_id)))
        .left_join(b::table.on(in_force))
        .filter(
            b::machine_id.nullable().is_null().or(b::machine_id.nullable().ne(center_gauges::machine_id.nullable())),
        )
        .order(items::code)
        .select(items::code)
        .load(connection)?;
    Ok(codes
        .into_iter()
        .map(|code| format!("gauge {code} is not bound to the machine that its record names"))
        .collect())
}
