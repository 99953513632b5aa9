//! Parts and their operations.

use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{part_operations, parts, tool_designs},
};
use chrono::NaiveDateTime;
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::PartId,
    registry::{
        Record,
        part::{Part, PartFields},
    },
    setup::plan::{DesignRef, Operation},
};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = parts)]
#[diesel(treat_none_as_null = true)]
struct Row {
    id: String,
    code: String,
    name: String,
    retired: bool,
    cycle_seconds: Option<f64>,
    version: i64,
    created_at: NaiveDateTime,
    updated_at: NaiveDateTime,
}

impl From<&Part> for Row {
    fn from(part: &Part) -> Self {
        Self {
            id: part.id.to_string(),
            code: part.code.to_string(),
            name: part.fields.name.clone(),
            retired: part.fields.retired,
            cycle_seconds: part.fields.cycle_seconds,
            version: part.version,
            created_at: part.created_at.naive_utc(),
            updated_at: part.updated_at.naive_utc(),
        }
    }
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = part_operations)]
struct OperationRow {
    part_id: String,
    station: String,
    tool_design_id: Option<String>,
    holder_style: Option<String>,
    features: String,
}

fn insert_operations(connection: &mut Connection, part: &Part) -> Result<()> {
    for (station, operation) in &part.fields.operations {
        diesel::insert_into(part_operations::table)
            .values(OperationRow {
                part_id: part.id.to_string(),
                station: station.to_string(),
                tool_design_id: operation.tool_design.as_ref().map(|design| design.id.to_string()),
                holder_style: operation.holder_style.clone(),
                features: columns::document(&operation.features)?,
            })
            .execute(connection)?;
    }
    Ok(())
}

fn with_operations(connection: &mut Connection, rows: Vec<Row>) -> Result<Vec<Part>> {
    let ids: Vec<&str> = rows.iter().map(|row| row.id.as_str()).collect();
    let mut operations: Vec<(OperationRow, Option<String>)> = part_operations::table
        .left_join(tool_designs::table.on(tool_designs::id.nullable().eq(part_operations::tool_design_id)))
        .filter(part_operations::part_id.eq_any(ids))
        .order(part_operations::station)
        .select((OperationRow::as_select(), tool_designs::code.nullable()))
        .load(connection)?;
    rows.into_iter()
        .map(|row| {
            let (own, others) = operations.drain(..).partition(|(operation, _)| operation.part_id == row.id);
            operations = others;
            let own: Vec<(OperationRow, Option<String>)> = own;
            Ok(Record {
                id: columns::read(&row.id)?,
                code: columns::code(&row.code)?,
                fields: PartFields {
                    name: row.name,
                    retired: row.retired,
                    cycle_seconds: row.cycle_seconds,
                    operations: own.into_iter().map(operation).collect::<Result<_>>()?,
                },
                version: row.version,
                created_at: columns::time(row.created_at),
                updated_at: columns::time(row.updated_at),
            })
        })
        .collect()
}

fn operation((row, design_code): (OperationRow, Option<String>)) -> Result<(Code, Operation)> {
    let design = row
        .tool_design_id
        .zip(design_code)
        .map(|(id, code)| Ok::<_, crate::Error>(DesignRef { id: columns::read(&id)?, code: columns::code(&code)? }))
        .transpose()?;
    Ok((
        columns::code(&row.station)?,
        Operation {
            tool_design: design,
            holder_style: row.holder_style,
            features: columns::from_document(&row.features)?,
        },
    ))
}

/// Puts a part on record; its code must be taken already.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, part: &Part) -> Result<()> {
    diesel::insert_into(parts::table).values(Row::from(part)).execute(connection)?;
    insert_operations(connection, part)
}

/// Writes a part's record over, its operations too.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, part: &Part) -> Result<()> {
    let id = part.id.to_string();
    diesel::update(parts::table.find(&id)).set(Row::from(part)).execute(connection)?;
    diesel::delete(part_operations::table.filter(part_operations::part_id.eq(&id))).execute(connection)?;
    insert_operations(connection, part)
}

/// Deletes a part that nothing refers to.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] when something does.
pub fn delete(connection: &mut Connection, id: PartId) -> Result<()> {
    let id = id.to_string();
    diesel::delete(part_operations::table.filter(part_operations::part_id.eq(&id))).execute(connection)?;
    diesel::delete(parts::table.find(&id)).execute(connection)?;
    Ok(())
}

/// One part.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: PartId) -> Result<Option<Part>> {
    let row: Option<Row> = parts::table.find(id.to_string()).select(Row::as_select()).first(connection).optional()?;
    Ok(with_operations(connection, row.into_iter().collect())?.pop())
}

/// Parts by code, after a code.
///
/// # Errors
/// A database error.
pub fn page(connection: &mut Connection, after: Option<&Code>, limit: i64) -> Result<Vec<Part>> {
    let rows = parts::table
        .filter(parts::code.gt(after.map_or("", Code::as_str)))
        .order(parts::code)
        .limit(limit)
        .select(Row::as_select())
        .load(connection)?;
    with_operations(connection, rows)
}
