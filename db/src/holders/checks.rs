//! Checks of holders.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::holder_checks,
};
use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    holder::HolderCheckFields,
    ids::{HolderCheckId, ItemId, PersonId},
    item::Condition,
};

/// A check on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HolderCheck {
    /// Its id.
    pub id: HolderCheckId,
    /// The holder.
    pub holder: ItemId,
    /// What was found; its `condition` and `next_check` are those that the check made.
    pub fields: HolderCheckFields,
    /// The holder's condition from this check on.
    pub condition: Condition,
    /// Who recorded it.
    pub recorded_by: PersonId,
    /// The server's time.
    pub recorded_at: DateTime<Utc>,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = holder_checks)]
struct Row {
    id: String,
    holder_id: String,
    accepted: bool,
    found: String,
    taper_adjuster_free: Option<bool>,
    height_adjuster_free: Option<bool>,
    side_screw_free: Option<bool>,
    seat_clean: bool,
    note: Option<String>,
    condition: String,
    next_check: Option<NaiveDate>,
    performed_at: NaiveDateTime,
    recorded_by: String,
    recorded_at: NaiveDateTime,
}

impl TryFrom<Row> for HolderCheck {
    type Error = Error;

    fn try_from(row: Row) -> Result<Self> {
        let condition = columns::named(&row.condition, Condition::from_name)?;
        Ok(Self {
            id: columns::read(&row.id)?,
            holder: columns::read(&row.holder_id)?,
            fields: HolderCheckFields {
                accepted: row.accepted,
                found: columns::from_document(&row.found)?,
                taper_adjuster_free: row.taper_adjuster_free,
                height_adjuster_free: row.height_adjuster_free,
                side_screw_free: row.side_screw_free,
                seat_clean: row.seat_clean,
                note: row.note,
                condition: (!row.accepted).then_some(condition),
                next_check: row.next_check,
                performed_at: columns::time(row.performed_at),
            },
            condition,
            recorded_by: columns::read(&row.recorded_by)?,
            recorded_at: columns::time(row.recorded_at),
        })
    }
}

/// Puts a check on record.
///
/// # Errors
/// A database error.
pub fn insert_check(connection: &mut Connection, check: &HolderCheck) -> Result<()> {
    let fields = &check.fields;
    let row = Row {
        id: check.id.to_string(),
        holder_id: check.holder.to_string(),
        accepted: fields.accepted,
        found: columns::document(&fields.found)?,
        taper_adjuster_free: fields.taper_adjuster_free,
        height_adjuster_free: fields.height_adjuster_free,
        side_screw_free: fields.side_screw_free,
        seat_clean: fields.seat_clean,
        note: fields.note.clone(),
        condition: check.condition.name().to_owned(),
        next_check: fields.next_check,
        performed_at: fields.performed_at.naive_utc(),
        recorded_by: check.recorded_by.to_string(),
        recorded_at: check.recorded_at.naive_utc(),
    };
    diesel::insert_into(holder_checks::table).values(row).execute(connection)?;
    Ok(())
}

/// A holder's checks, newest first, before one.
///
/// # Errors
/// A database error.
pub fn checks_page(
    connection: &mut Connection,
    holder: ItemId,
    before: Option<(DateTime<Utc>, HolderCheckId)>,
    limit: i64,
) -> Result<Vec<HolderCheck>> {
    use holder_checks as c;
    let (at, id) = columns::before_or_newest(before);
    let rows: Vec<Row> = c::table
        .filter(c::holder_id.eq(holder.to_string()))
        .filter(c::recorded_at.lt(at).or(c::recorded_at.eq(at).and(c::id.lt(id))))
        .order((c::recorded_at.desc(), c::id.desc()))
        .limit(limit)
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(HolderCheck::try_from).collect()
}
