//! Edges that ended.

use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{form_tools, items, tool_edges},
};
use chrono::{DateTime, Utc};
use diesel::{dsl::sql, prelude::*, sql_types::BigInt};
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
    use form_tools as f;
    use tool_edges as e;
    let own = f::table.find(tool.to_string());
    diesel::update(own.clone()).set(f::edges_ended.eq(f::edges_ended + 1)).execute(connection)?;
    let number: i32 = own.select(f::edges_ended).first(connection)?;
    diesel::insert_into(e::table)
        .values((
            e::tool_id.eq(tool.to_string()),
            e::number.eq(number),
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

/// How many edges of each of these designs ended, by the counts of its tools. Edges are only ever added: where the number is
/// what it was, so are they.
///
/// # Errors
/// A database error.
pub fn count_ended(connection: &mut Connection, designs: &[ToolDesignId]) -> Result<BTreeMap<ToolDesignId, i64>> {
    let ids: Vec<String> = designs.iter().map(ToString::to_string).collect();
    let rows: Vec<(String, i64)> = form_tools::table
        .filter(form_tools::design_id.eq_any(ids))
        .group_by(form_tools::design_id)
        .select((form_tools::design_id, sql::<BigInt>("CAST(SUM(edges_ended) AS BIGINT)")))
        .load(connection)?;
    rows.into_iter().map(|(design, ended)| Ok((columns::read(&design)?, ended))).collect()
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
