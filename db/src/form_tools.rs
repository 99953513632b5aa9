//! Form tools.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    items::{self, ItemRow},
    life::{
        booking,
        ownership::{self, BelongingRow},
    },
    schema::{form_tools, items as items_table, parts, tool_belongings, tool_designs},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{ItemId, ToolDesignId},
    item::{Condition, ItemKind},
    registry::item::{FormTool, Item},
};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = form_tools)]
#[diesel(treat_none_as_null = true)]
struct Row {
    item_id: String,
    kind: String,
    design_id: String,
    height_pm: i64,
    height_unit: String,
    regrind_count: i32,
    pieces_since_grind: i64,
    pieces_total: i64,
    last_ground_at: Option<NaiveDateTime>,
    checked_after_grind: bool,
    begun_before: bool,
}

fn row(tool: &FormTool) -> Result<Row> {
    Ok(Row {
        item_id: tool.item.id.to_string(),
        kind: ItemKind::FormTool.name().to_owned(),
        design_id: tool.design.to_string(),
        height_pm: tool.height.picometres(),
        height_unit: tool.height.unit().sign().to_owned(),
        regrind_count: i32::try_from(tool.regrind_count).map_err(Error::unreadable)?,
        pieces_since_grind: tool.pieces_since_grind,
        pieces_total: tool.pieces_total,
        last_ground_at: tool.last_ground_at.map(|at| at.naive_utc()),
        checked_after_grind: tool.checked_after_grind,
        begun_before: tool.begun_before,
    })
}

/// A form tool's rows: item, tool, its design's code, and whose it is.
type Rows = (ItemRow, Row, String, BelongingRow);

fn form_tool((item, row, design_code, belonging): Rows) -> Result<FormTool> {
    Ok(FormTool {
        item: Item::try_from(item)?,
        design: columns::read(&row.design_id)?,
        design_code: columns::code(&design_code)?,
        height: columns::length(row.height_pm, &row.height_unit)?,
        regrind_count: u32::try_from(row.regrind_count).map_err(Error::unreadable)?,
        pieces_since_grind: row.pieces_since_grind,
        pieces_total: row.pieces_total,
        last_ground_at: row.last_ground_at.map(columns::time),
        checked_after_grind: row.checked_after_grind,
        begun_before: row.begun_before,
        belonging: ownership::belonging(belonging)?,
    })
}

/// Puts a form tool on record; its code must be taken already.
///
/// # Errors
/// A database error.
pub fn insert(connection: &mut Connection, tool: &FormTool) -> Result<()> {
    items::insert(connection, &tool.item)?;
    diesel::insert_into(form_tools::table).values(row(tool)?).execute(connection)?;
    booking::begin(connection, tool.item.id)?;
    ownership::keep(connection, tool.item.id, &tool.belonging)
}

/// Writes a form tool's record over.
///
/// # Errors
/// A database error.
pub fn update(connection: &mut Connection, tool: &FormTool) -> Result<()> {
    items::update(connection, &tool.item)?;
    diesel::update(form_tools::table.find(tool.item.id.to_string())).set(row(tool)?).execute(connection)?;
    ownership::keep(connection, tool.item.id, &tool.belonging)
}

/// Deletes a form tool that nothing refers to.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] when something does.
pub fn delete(connection: &mut Connection, id: ItemId) -> Result<()> {
    ownership::forget(connection, id)?;
    booking::forget(connection, id)?;
    diesel::delete(form_tools::table.find(id.to_string())).execute(connection)?;
    items::delete(connection, id)
}

/// One form tool.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: ItemId) -> Result<Option<FormTool>> {
    let found = items_table::table
        .inner_join(form_tools::table.on(form_tools::item_id.eq(items_table::id)))
        .inner_join(tool_designs::table.on(tool_designs::id.eq(form_tools::design_id)))
        .left_join(tool_belongings::table.on(tool_belongings::tool_id.eq(form_tools::item_id)))
        .left_join(parts::table.on(parts::id.nullable().eq(tool_belongings::reserved_for.nullable())))
        .filter(items_table::id.eq(id.to_string()))
        .select((
            ItemRow::as_select(),
            Row::as_select(),
            tool_designs::code,
            (tool_belongings::owner.nullable(), parts::id.nullable(), parts::code.nullable()),
        ))
        .first(connection)
        .optional()?;
    found.map(form_tool).transpose()
}

/// Form tools by code, after a code, of one design or all.
///
/// # Errors
/// A database error.
pub fn page(
    connection: &mut Connection,
    design: Option<ToolDesignId>,
    after: Option<&Code>,
    limit: i64,
) -> Result<Vec<FormTool>> {
    let query = items_table::table
        .inner_join(form_tools::table.on(form_tools::item_id.eq(items_table::id)))
        .inner_join(tool_designs::table.on(tool_designs::id.eq(form_tools::design_id)))
        .left_join(tool_belongings::table.on(tool_belongings::tool_id.eq(form_tools::item_id)))
        .left_join(parts::table.on(parts::id.nullable().eq(tool_belongings::reserved_for.nullable())))
        .filter(items_table::code.gt(after.map_or("", Code::as_str)))
        .order(items_table::code)
        .limit(limit)
        .select((
            ItemRow::as_select(),
            Row::as_select(),
            tool_designs::code,
            (tool_belongings::owner.nullable(), parts::id.nullable(), parts::code.nullable()),
        ));
    let rows: Vec<Rows> = match design {
        Some(design) => query.filter(form_tools::design_id.eq(design.to_string())).load(connection)?,
        None => query.load(connection)?,
    };
    rows.into_iter().map(form_tool).collect()
}

/// The form tools in use that have the fewest whole grinds left, with their designs: of one design, or of all.
///
/// # Errors
/// A database error.
pub fn fewest_grinds(
    connection: &mut Connection,
    design: Option<ToolDesignId>,
    limit: i64,
) -> Result<Vec<(Code, ToolDesignId)>> {
    let grinds = (form_tools::height_pm - tool_designs::minimum_height_pm) / tool_designs::grind_stock_pm;
    let query = items_table::table
        .inner_join(form_tools::table.on(form_tools::item_id.eq(items_table::id)))
        .inner_join(tool_designs::table.on(tool_designs::id.eq(form_tools::design_id)))
        .filter(items_table::kind.eq(ItemKind::FormTool.name()))
        .filter(items_table::condition.ne(Condition::Retired.name()))
        .order((grinds, items_table::code))
        .limit(limit)
        .select((items_table::code, form_tools::design_id));
    let rows: Vec<(String, String)> = match design {
        Some(design) => query.filter(form_tools::design_id.eq(design.to_string())).load(connection)?,
        None => query.load(connection)?,
    };
    rows.into_iter().map(|(code, design)| Ok((columns::code(&code)?, columns::read(&design)?))).collect()
}

/// Adds pieces to a tool's life; tells whether it is a form tool.
///
/// # Errors
/// A database error.
pub fn add_pieces(connection: &mut Connection, id: ItemId, pieces: i64, at: DateTime<Utc>) -> Result<bool> {
    let known = diesel::update(form_tools::table.find(id.to_string()))
        .set((
            form_tools::pieces_since_grind.eq(form_tools::pieces_since_grind + pieces),
            form_tools::pieces_total.eq(form_tools::pieces_total + pieces),
        ))
        .execute(connection)?;
    if known > 0 {
        items::touch(connection, id, at)?;
    }
    Ok(known > 0)
}
