//! Tool designs.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{jobs, part_operations, tool_designs},
};
use chrono::NaiveDateTime;
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::ToolDesignId,
    machine::ToolFace,
    registry::{
        Record,
        job::JobState,
        tool_design::{ToolDesign, ToolDesignFields, ToolDesignKind},
    },
};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = tool_designs)]
#[diesel(treat_none_as_null = true)]
struct Row {
    id: String,
    code: String,
    name: String,
    kind: String,
    tool_face: Option<String>,
    rake_deg: f64,
    clearance_deg: f64,
    steps: String,
    new_height_pm: i64,
    new_height_unit: String,
    minimum_height_pm: i64,
    minimum_height_unit: String,
    grind_stock_pm: i64,
    grind_stock_unit: String,
    holder_style: String,
    expected_pieces_per_grind: i64,
    retired: bool,
    version: i64,
    created_at: NaiveDateTime,
    updated_at: NaiveDateTime,
    tool_radius_pm: Option<i64>,
    tool_radius_unit: Option<String>,
    usable_angle_deg: Option<f64>,
    lead_time_days: Option<i32>,
    rake_tolerance_deg: f64,
}

fn row(design: &ToolDesign) -> Result<Row> {
    let fields = &design.fields;
    Ok(Row {
        id: design.id.to_string(),
        code: design.code.to_string(),
        name: fields.name.clone(),
        kind: fields.kind.name().to_owned(),
        tool_face: fields.tool_face.map(|face| face.name().to_owned()),
        rake_deg: fields.rake_deg,
        clearance_deg: fields.clearance_deg,
        steps: columns::document(&fields.steps)?,
        new_height_pm: fields.new_height.picometres(),
        new_height_unit: fields.new_height.unit().sign().to_owned(),
        minimum_height_pm: fields.minimum_height.picometres(),
        minimum_height_unit: fields.minimum_height.unit().sign().to_owned(),
        grind_stock_pm: fields.grind_stock.picometres(),
        grind_stock_unit: fields.grind_stock.unit().sign().to_owned(),
        holder_style: fields.holder_style.clone(),
        expected_pieces_per_grind: fields.expected_pieces_per_grind,
        retired: fields.retired,
        version: design.version,
        created_at: design.created_at.naive_utc(),
        updated_at: design.updated_at.naive_utc(),
        tool_radius_pm: fields.tool_radius.map(|radius| radius.picometres()),
        tool_radius_unit: fields.tool_radius.map(|radius| radius.unit().sign().to_owned()),
        usable_angle_deg: fields.usable_angle_deg,
        lead_time_days: fields.lead_time_days.map(i32::try_from).transpose().map_err(Error::unreadable)?,
        rake_tolerance_deg: fields.rake_tolerance_deg,
    })
}

impl TryFrom<Row> for ToolDesign {
    type Error = Error;

    fn try_from(row: Row) -> Result<Self> {
        Ok(Record {
            id: columns::read(&row.id)?,
            code: columns::code(&row.code)?,
            fields: ToolDesignFields {
                name: row.name,
                kind: columns::named(&row.kind, ToolDesignKind::from_name)?,
                tool_face: row.tool_face.map(|face| columns::named(&face, ToolFace::from_name)).transpose()?,
                steps: columns::from_document(&row.steps)?,
                rake_deg: row.rake_deg,
                clearance_deg: row.clearance_deg,
                rake_tolerance_deg: row.rake_tolerance_deg,
                new_height: columns::length(row.new_height_pm, &row.new_height_unit)?,
                minimum_height: columns::length(row.minimum_height_pm, &row.minimum_height_unit)?,
                grind_stock: columns::length(row.grind_stock_pm, &row.grind_stock_unit)?,
                holder_style: row.holder_style,
                expected_pieces_per_grind: row.expected_pieces_per_grind,
                tool_radius: columns::length_optional(row.tool_radius_pm, row.tool_radius_unit.as_deref())?,
                usable_angle_deg: row.usable_angle_deg,
                lead_time_days: row.lead_time_days.map(u32::try_from).transpose().map_err(Error::unreadable)?,
                retired: row.retired,
            },
            version: row.version,
            created_at: columns::time(row.created_at),
            updated_at: columns::time(row.updated_at),
        })
    }
}

/// Puts a tool design on record; its code must be taken already.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, design: &ToolDesign) -> Result<()> {
    diesel::insert_into(tool_designs::table).values(row(design)?).execute(connection)?;
    Ok(())
}

/// Writes a tool design's record over.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, design: &ToolDesign) -> Result<()> {
    diesel::update(tool_designs::table.find(design.id.to_string())).set(row(design)?).execute(connection)?;
    Ok(())
}

/// Deletes a tool design that nothing refers to.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] when something does.
pub fn delete(connection: &mut Connection, id: ToolDesignId) -> Result<()> {
    diesel::delete(tool_designs::table.find(id.to_string())).execute(connection)?;
    Ok(())
}

/// One tool design.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: ToolDesignId) -> Result<Option<ToolDesign>> {
    let row = tool_designs::table.find(id.to_string()).select(Row::as_select()).first(connection).optional()?;
    row.map(ToolDesign::try_from).transpose()
}

/// Tool designs by code, after a code.
///
/// # Errors
/// A database error.
pub fn page(connection: &mut Connection, after: Option<&Code>, limit: i64) -> Result<Vec<ToolDesign>> {
    let rows: Vec<Row> = tool_designs::table
        .filter(tool_designs::code.gt(after.map_or("", Code::as_str)))
        .order(tool_designs::code)
        .limit(limit)
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(ToolDesign::try_from).collect()
}

/// Tool designs that jobs which are still planned ask for, by code.
///
/// # Errors
/// A database error.
pub fn in_demand(connection: &mut Connection) -> Result<Vec<ToolDesign>> {
    let planned = jobs::table.filter(jobs::state.eq(JobState::Planned.name())).select(jobs::part_id);
    let wanted = part_operations::table
        .filter(part_operations::part_id.eq_any(planned))
        .select(part_operations::tool_design_id.assume_not_null());
    let rows: Vec<Row> = tool_designs::table
        .filter(tool_designs::id.eq_any(wanted.filter(part_operations::tool_design_id.is_not_null())))
        .order(tool_designs::code)
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(ToolDesign::try_from).collect()
}
