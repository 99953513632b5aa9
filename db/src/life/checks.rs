//! Checks of form tools. Append-only.

use super::split;
use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::tool_checks,
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    ids::{ItemId, PersonId, ToolCheckId},
    item::Condition,
    life::check::ToolCheckFields,
};

/// A check on record.
#[derive(Clone, Debug, PartialEq)]
pub struct ToolCheck {
    /// Its id.
    pub id: ToolCheckId,
    /// The tool.
    pub tool: ItemId,
    /// The number of the tool's last grind before it; zero for none.
    pub after_grind: u32,
    /// What was written about it.
    pub fields: ToolCheckFields,
    /// The tool's condition after it.
    pub condition: Condition,
    /// What there was to say beside it.
    pub remarks: Vec<String>,
    /// When it was done.
    pub performed_at: DateTime<Utc>,
    /// Who recorded it.
    pub recorded_by: PersonId,
    /// The server's time.
    pub recorded_at: DateTime<Utc>,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = tool_checks)]
struct Row {
    id: String,
    tool_id: String,
    after_grind: i32,
    accepted: bool,
    condition: String,
    profile_checked: bool,
    edge_sound: bool,
    height_pm: Option<i64>,
    height_unit: Option<String>,
    rake_deg: Option<f64>,
    face_offset_pm: Option<i64>,
    face_offset_unit: Option<String>,
    found: String,
    remarks: String,
    note: Option<String>,
    performed_at: NaiveDateTime,
    recorded_by: String,
    recorded_at: NaiveDateTime,
    edge_doubted: bool,
    edge_cleared: Option<String>,
}

fn row(check: &ToolCheck) -> Result<Row> {
    let fields = &check.fields;
    let ((height_pm, height_unit), (face_offset_pm, face_offset_unit)) =
        (split(fields.height), split(fields.face_offset));
    Ok(Row {
        id: check.id.to_string(),
        tool_id: check.tool.to_string(),
        after_grind: i32::try_from(check.after_grind).map_err(Error::unreadable)?,
        accepted: fields.accepted,
        condition: check.condition.name().to_owned(),
        profile_checked: fields.profile_checked,
        edge_sound: fields.edge_sound,
        height_pm,
        height_unit,
        rake_deg: fields.rake_deg,
        face_offset_pm,
        face_offset_unit,
        found: columns::document(&fields.found)?,
        remarks: columns::document(&check.remarks)?,
        note: fields.note.clone(),
        performed_at: check.performed_at.naive_utc(),
        recorded_by: check.recorded_by.to_string(),
        recorded_at: check.recorded_at.naive_utc(),
        edge_doubted: fields.doubts_edge(),
        edge_cleared: fields.edge_cleared.clone(),
    })
}

impl TryFrom<Row> for ToolCheck {
    type Error = Error;

    fn try_from(row: Row) -> Result<Self> {
        let condition = columns::named(&row.condition, Condition::from_name)?;
        Ok(Self {
            id: columns::read(&row.id)?,
            tool: columns::read(&row.tool_id)?,
            after_grind: u32::try_from(row.after_grind).map_err(Error::unreadable)?,
            fields: ToolCheckFields {
                accepted: row.accepted,
                profile_checked: row.profile_checked,
                edge_sound: row.edge_sound,
                edge_cleared: row.edge_cleared,
                // Said with the request; the remarks keep it.
                confirmed: false,
                height: columns::length_optional(row.height_pm, row.height_unit.as_deref())?,
                rake_deg: row.rake_deg,
                face_offset: columns::length_optional(row.face_offset_pm, row.face_offset_unit.as_deref())?,
                found: columns::from_document(&row.found)?,
                condition: (!row.accepted).then_some(condition),
                note: row.note,
            },
            condition,
            remarks: columns::from_document(&row.remarks)?,
            performed_at: columns::time(row.performed_at),
            recorded_by: columns::read(&row.recorded_by)?,
            recorded_at: columns::time(row.recorded_at),
        })
    }
}

/// Puts a check on record.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, check: &ToolCheck) -> Result<()> {
    diesel::insert_into(tool_checks::table).values(row(check)?).execute(connection)?;
    Ok(())
}

/// A tool's checks, newest first, before one.
///
/// # Errors
/// A database error.
pub fn page(
    connection: &mut Connection,
    tool: ItemId,
    before: Option<(DateTime<Utc>, ToolCheckId)>,
    limit: i64,
) -> Result<Vec<ToolCheck>> {
    use tool_checks as c;
    let (at, id) = columns::before_or_newest(before);
    let rows: Vec<Row> = c::table
        .filter(c::tool_id.eq(tool.to_string()))
        .filter(c::recorded_at.lt(at).or(c::recorded_at.eq(at).and(c::id.lt(id))))
        .order((c::recorded_at.desc(), c::id.desc()))
        .limit(limit)
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(ToolCheck::try_from).collect()
}
