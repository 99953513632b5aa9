//! Supplies and their ledger.

mod counted_parts;
mod faults;

pub use counted_parts::{CountedParts, keep as keep_counted_parts, of_order as counted_parts_of};
pub use faults::faults;

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{places, supplies, supply_movements},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{SupplyId, WorkOrderId},
    registry::Record,
    supply::{LastCount, SinceCount, Supply, SupplyFields, SupplyMovement, SupplyMovementKind},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = supplies)]
struct Row {
    id: String,
    code: String,
    name: String,
    unit: String,
    minimum: i64,
    reorder_quantity: i64,
    lead_time_days: i64,
    place_id: Option<String>,
    retired: bool,
    on_hand: i64,
    movements: i64,
    version: i64,
    created_at: NaiveDateTime,
    updated_at: NaiveDateTime,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = supply_movements)]
struct MovementRow {
    supply_id: String,
    number: i64,
    id: String,
    kind: String,
    previous_number: Option<i64>,
    on_hand_before: i64,
    change: i64,
    on_hand: i64,
    counted: Option<i64>,
    work_order_id: Option<String>,
    machine_id: Option<String>,
    note: Option<String>,
    recorded_by: String,
    occurred_at: NaiveDateTime,
    recorded_at: NaiveDateTime,
}

impl From<&SupplyMovement> for MovementRow {
    fn from(movement: &SupplyMovement) -> Self {
        Self {
            supply_id: movement.supply.to_string(),
            number: movement.number,
            id: movement.id.to_string(),
            kind: movement.kind.name().to_owned(),
            previous_number: (movement.number > 1).then(|| movement.number - 1),
            on_hand_before: movement.on_hand - movement.change,
            change: movement.change,
            on_hand: movement.on_hand,
            counted: movement.counted,
            work_order_id: movement.work_order.map(|id| id.to_string()),
            machine_id: movement.machine.map(|id| id.to_string()),
            note: movement.note.clone(),
            recorded_by: movement.recorded_by.to_string(),
            occurred_at: movement.occurred_at.naive_utc(),
            recorded_at: movement.recorded_at.naive_utc(),
        }
    }
}

impl TryFrom<MovementRow> for SupplyMovement {
    type Error = Error;

    fn try_from(row: MovementRow) -> Result<Self> {
        Ok(Self {
            id: columns::read(&row.id)?,
            supply: columns::read(&row.supply_id)?,
            number: row.number,
            kind: columns::named(&row.kind, SupplyMovementKind::from_name)?,
            change: row.change,
            on_hand: row.on_hand,
            counted: row.counted,
            work_order: columns::read_optional(row.work_order_id.as_deref())?,
            machine: columns::read_optional(row.machine_id.as_deref())?,
            note: row.note,
            recorded_by: columns::read(&row.recorded_by)?,
            occurred_at: columns::time(row.occurred_at),
            recorded_at: columns::time(row.recorded_at),
        })
    }
}

fn supply((row, place): (Row, Option<String>)) -> Result<Supply> {
    let place = row.place_id.zip(place).map(|(id, code)| Ok::<_, Error>((columns::read(&id)?, columns::code(&code)?)));
    Ok(Supply {
        record: Record {
            id: columns::read(&row.id)?,
            code: columns::code(&row.code)?,
            fields: SupplyFields {
                name: row.name,
                unit: row.unit,
                minimum: row.minimum,
                reorder_quantity: row.reorder_quantity,
                lead_time_days: row.lead_time_days,
                place: place.transpose()?,
                retired: row.retired,
            },
            version: row.version,
            created_at: columns::time(row.created_at),
            updated_at: columns::time(row.updated_at),
        },
        on_hand: row.on_hand,
        movements: row.movements,
    })
}

/// Puts a supply on record, with nothing on hand; its code must be taken already.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, supply: &Supply) -> Result<()> {
    let (record, fields) = (&supply.record, &supply.record.fields);
    diesel::insert_into(supplies::table)
        .values(Row {
            id: record.id.to_string(),
            code: record.code.to_string(),
            name: fields.name.clone(),
            unit: fields.unit.clone(),
            minimum: fields.minimum,
            reorder_quantity: fields.reorder_quantity,
            lead_time_days: fields.lead_time_days,
            place_id: fields.place.as_ref().map(|(id, _)| id.to_string()),
            retired: fields.retired,
            on_hand: supply.on_hand,
            movements: supply.movements,
            version: record.version,
            created_at: record.created_at.naive_utc(),
            updated_at: record.updated_at.naive_utc(),
        })
        .execute(connection)?;
    Ok(())
}

/// Writes a supply's record over; what is on hand stays with the ledger.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, supply: &Supply) -> Result<()> {
    let (record, fields) = (&supply.record, &supply.record.fields);
    diesel::update(supplies::table.find(record.id.to_string()))
        .set((
            supplies::code.eq(record.code.as_str()),
            supplies::name.eq(&fields.name),
            supplies::unit.eq(&fields.unit),
            supplies::minimum.eq(fields.minimum),
            supplies::reorder_quantity.eq(fields.reorder_quantity),
            supplies::lead_time_days.eq(fields.lead_time_days),
            supplies::place_id.eq(fields.place.as_ref().map(|(id, _)| id.to_string())),
            supplies::retired.eq(fields.retired),
            supplies::version.eq(record.version),
            supplies::updated_at.eq(record.updated_at.naive_utc()),
        ))
        .execute(connection)?;
    Ok(())
}

/// Deletes a supply that never moved.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] when it did.
pub fn delete(connection: &mut Connection, id: SupplyId) -> Result<()> {
    diesel::delete(supplies::table.find(id.to_string())).execute(connection)?;
    Ok(())
}

/// One supply.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: SupplyId) -> Result<Option<Supply>> {
    let found = supplies::table
        .left_join(places::table.on(supplies::place_id.eq(places::id.nullable())))
        .filter(supplies::id.eq(id.to_string()))
        .select((Row::as_select(), places::code.nullable()))
        .first(connection)
        .optional()?;
    found.map(supply).transpose()
}

/// Supplies by code, after a code; only those below their minimum where asked.
///
/// # Errors
/// A database error.
pub fn page(connection: &mut Connection, below_minimum: bool, after: Option<&Code>, limit: i64) -> Result<Vec<Supply>> {
    let mut query = supplies::table
        .left_join(places::table.on(supplies::place_id.eq(places::id.nullable())))
        .filter(supplies::code.gt(after.map_or("", Code::as_str).to_owned()))
        .order(supplies::code)
        .limit(limit)
        .select((Row::as_select(), places::code.nullable()))
        .into_boxed();
    if below_minimum {
        query = query.filter(supplies::on_hand.lt(supplies::minimum));
    }
    let rows: Vec<(Row, Option<String>)> = query.load(connection)?;
    rows.into_iter().map(supply).collect()
}

/// Appends a movement and sets what is on hand by it; the supply is locked already.
///
/// # Errors
/// [`crate::Constraint::SupplyMovementNumber`] when somebody recorded one in between, [`crate::Constraint::Check`] for less
/// than nothing on hand, [`crate::Constraint::ForeignKey`] for a sum that does not follow from the movement before.
pub fn append(connection: &mut Connection, movement: &SupplyMovement) -> Result<()> {
    diesel::insert_into(supply_movements::table).values(MovementRow::from(movement)).execute(connection)?;
    diesel::update(supplies::table.find(movement.supply.to_string()))
        .set((supplies::on_hand.eq(movement.on_hand), supplies::movements.eq(movement.number)))
        .execute(connection)?;
    Ok(())
}

/// A supply's movements, newest first, before a number.
///
/// # Errors
/// A database error.
pub fn movements_page(
    connection: &mut Connection,
    supply: SupplyId,
    before: Option<i64>,
    limit: i64,
) -> Result<Vec<SupplyMovement>> {
    let rows: Vec<MovementRow> = supply_movements::table
        .filter(supply_movements::supply_id.eq(supply.to_string()))
        .filter(supply_movements::number.lt(before.unwrap_or(i64::MAX)))
        .order(supply_movements::number.desc())
        .limit(limit)
        .select(MovementRow::as_select())
        .load(connection)?;
    rows.into_iter().map(SupplyMovement::try_from).collect()
}

/// What was used for a work order, with the supplies' codes, in the order of recording.
///
/// # Errors
/// A database error.
pub fn used_for(connection: &mut Connection, order: WorkOrderId) -> Result<Vec<(Code, SupplyMovement)>> {
    let rows: Vec<(String, MovementRow)> = supply_movements::table
        .inner_join(supplies::table.on(supplies::id.eq(supply_movements::supply_id)))
        .filter(supply_movements::work_order_id.eq(order.to_string()))
        .order((supply_movements::recorded_at, supplies::code, supply_movements::number))
        .select((supplies::code, MovementRow::as_select()))
        .load(connection)?;
    rows.into_iter().map(|(code, row)| Ok((columns::code(&code)?, row.try_into()?))).collect()
}

/// What the ledger holds after the moment of a count.
///
/// # Errors
/// A database error.
pub fn since(connection: &mut Connection, supply: SupplyId, moment: DateTime<Utc>) -> Result<SinceCount> {
    use supply_movements as m;
    let rows: Vec<i64> = m::table
        .filter(m::supply_id.eq(supply.to_string()))
        .filter(m::occurred_at.gt(moment.naive_utc()))
        .select(m::change)
        .load(connection)?;
    let last_count: Option<NaiveDateTime> = m::table
        .filter(m::supply_id.eq(supply.to_string()))
        .filter(m::counted.is_not_null())
        .order(m::occurred_at.desc())
        .select(m::occurred_at)
        .first(connection)
        .optional()?;
    Ok(SinceCount { change: rows.into_iter().sum(), last_count: last_count.map(columns::time) })
}

/// The last count of a supply: that of the latest moment.
///
/// # Errors
/// A database error.
pub fn last_count(connection: &mut Connection, supply: SupplyId) -> Result<Option<LastCount>> {
    use supply_movements as m;
    let row: Option<(NaiveDateTime, i64)> = m::table
        .filter(m::supply_id.eq(supply.to_string()))
        .filter(m::counted.is_not_null())
        .order((m::occurred_at.desc(), m::number.desc()))
        .select((m::occurred_at, m::number))
        .first(connection)
        .optional()?;
    Ok(row.map(|(moment, number)| LastCount { moment: columns::time(moment), number }))
}

/// When a supply was last moved.
///
/// # Errors
/// A database error.
pub fn last_recorded_at(connection: &mut Connection, supply: SupplyId) -> Result<Option<DateTime<Utc>>> {
    let at: Option<NaiveDateTime> = supply_movements::table
        .filter(supply_movements::supply_id.eq(supply.to_string()))
        .order(supply_movements::number.desc())
        .select(supply_movements::recorded_at)
        .first(connection)
        .optional()?;
    Ok(at.map(columns::time))
}

/// What was withdrawn after an instant, or used and not withdrawn because a count had seen it gone: when, and how many.
///
/// # Errors
/// A database error.
pub fn withdrawn_since(
    connection: &mut Connection,
    supply: SupplyId,
    after: DateTime<Utc>,
) -> Result<Vec<(DateTime<Utc>, i64)>> {
    use supply_movements as m;
    let rows: Vec<(NaiveDateTime, i64)> = m::table
        .filter(m::supply_id.eq(supply.to_string()))
        .filter(m::occurred_at.gt(after.naive_utc()))
        .filter(m::kind.eq(SupplyMovementKind::Withdrawn.name()))
        .select((m::occurred_at, m::change))
        .load(connection)?;
    let mut used = counted_parts::since(connection, supply, after)?;
    used.extend(rows.into_iter().map(|(at, change)| (columns::time(at), -change)));
    Ok(used)
}
