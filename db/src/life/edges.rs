//! Edges that ended.

use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{form_tools, items, tool_designs, tool_edges},
};
use chrono::{DateTime, Utc};
use diesel::{
    dsl::sql,
    prelude::*,
    sql_types::{Nullable, Text},
};
use dovetally_core::{
    ids::{ItemId, ToolDesignId},
    item::Condition,
    life::edge::{EdgeLives, EndedEdge},
};
use std::collections::BTreeMap;

/// The newest edges of a design that are learned from: enough for a close interval, few enough that a list of designs is
/// answered at once, and nearer to today's material and grinding than older ones.
pub const MOST_EDGES: i64 = 200;

/// Puts the edge that just ended on record, as the tool's next.
///
/// # Errors
/// A database error.
pub fn insert(
    connection: &mut Connection,
    tool: ItemId,
    design: ToolDesignId,
    edge: EndedEdge,
    at: DateTime<Utc>,
) -> Result<()> {
    use tool_edges as e;
    let last: Option<i32> = e::table
        .filter(e::tool_id.eq(tool.to_string()))
        .order(e::number.desc())
        .select(e::number)
        .first(connection)
        .optional()?;
    diesel::insert_into(e::table)
        .values((
            e::tool_id.eq(tool.to_string()),
            e::number.eq(last.unwrap_or(0) + 1),
            e::design_id.eq(design.to_string()),
            e::pieces.eq(edge.pieces),
            e::ended.eq(edge.ended.name()),
            e::partly_ground.eq(edge.partly_ground),
            e::begun_before.eq(edge.begun_before),
            e::failed.eq(edge.failed()),
            e::ended_at.eq(at.naive_utc()),
        ))
        .execute(connection)?;
    Ok(())
}

/// What tells whether a design's newest edges are those that were seen before: their number, sums of their pieces, and the
/// end of the last; none where no edge ended.
pub type Trace = Option<String>;

/// The traces of designs' edges, as far as anything is learned from them.
///
/// # Errors
/// A database error.
pub fn traces(connection: &mut Connection, designs: &[ToolDesignId]) -> Result<BTreeMap<ToolDesignId, Trace>> {
    let ids: Vec<String> = designs.iter().map(ToString::to_string).collect();
    let newest = format!(
        "(SELECT CAST(COUNT(*) AS TEXT) || ' ' || CAST(SUM(newest.pieces) AS TEXT) || ' ' \
         || CAST(SUM(CASE WHEN newest.failed THEN newest.pieces + 1 ELSE 0 END) AS TEXT) || ' ' \
         || CAST(MAX(newest.ended_at) AS TEXT) \
         FROM (SELECT edge.pieces, edge.failed, edge.ended_at FROM tool_edges AS edge \
         WHERE edge.design_id = tool_designs.id ORDER BY edge.ended_at DESC LIMIT {MOST_EDGES}) AS newest)"
    );
    let rows: Vec<(String, Trace)> = tool_designs::table
        .filter(tool_designs::id.eq_any(ids))
        .select((tool_designs::id, sql::<Nullable<Text>>(&newest)))
        .load(connection)?;
    rows.into_iter().map(|(design, trace)| Ok((columns::read(&design)?, trace))).collect()
}

/// The lives of a design's newest edges that ended.
///
/// # Errors
/// A database error.
pub fn ended(connection: &mut Connection, design: ToolDesignId) -> Result<EdgeLives> {
    use tool_edges as e;
    let ended: Vec<(i64, bool)> = e::table
        .filter(e::design_id.eq(design.to_string()))
        .order(e::ended_at.desc())
        .limit(MOST_EDGES)
        .select((e::pieces, e::failed))
        .load(connection)?;
    let mut lives = EdgeLives::default();
    ended.into_iter().for_each(|(pieces, failed)| lives.add(pieces, failed));
    Ok(lives)
}

/// Pieces on a design's edges in use, of tools that are not retired.
///
/// # Errors
/// A database error.
pub fn in_use(connection: &mut Connection, design: ToolDesignId) -> Result<Vec<i64>> {
    let pieces = form_tools::table
        .inner_join(items::table.on(items::id.eq(form_tools::item_id)))
        .filter(form_tools::design_id.eq(design.to_string()))
        .filter(items::condition.ne(Condition::Retired.name()))
        .select(form_tools::pieces_since_grind)
        .load(connection)?;
    Ok(pieces)
}
