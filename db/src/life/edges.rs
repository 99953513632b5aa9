//! Edges that ended.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{form_tools, items, tool_edges},
};
use chrono::{DateTime, Utc};
use diesel::prelude::*;
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
            e::failed.eq(edge.failed()),
            e::ended_at.eq(at.naive_utc()),
        ))
        .execute(connection)?;
    Ok(())
}

/// The lives of designs' newest edges, those in use included.
///
/// # Errors
/// A database error.
pub fn lives(connection: &mut Connection, designs: &[ToolDesignId]) -> Result<BTreeMap<ToolDesignId, EdgeLives>> {
    use tool_edges as e;
    let mut lives = BTreeMap::new();
    for design in designs {
        let ended: Vec<(i64, bool)> = e::table
            .filter(e::design_id.eq(design.to_string()))
            .order(e::ended_at.desc())
            .limit(MOST_EDGES)
            .select((e::pieces, e::failed))
            .load(connection)?;
        let own: &mut EdgeLives = lives.entry(*design).or_default();
        ended.into_iter().for_each(|(pieces, failed)| own.add(pieces, failed));
    }
    let ids: Vec<String> = designs.iter().map(ToString::to_string).collect();
    let in_use: Vec<(String, i64)> = form_tools::table
        .inner_join(items::table.on(items::id.eq(form_tools::item_id)))
        .filter(form_tools::design_id.eq_any(ids))
        .filter(form_tools::pieces_since_grind.gt(0))
        .filter(items::condition.ne(Condition::Retired.name()))
        .select((form_tools::design_id, form_tools::pieces_since_grind))
        .load(connection)?;
    for (design, pieces) in in_use {
        let design: ToolDesignId = columns::read(&design)?;
        lives.get_mut(&design).ok_or_else(|| Error::unreadable("a design that was not asked for"))?.add_in_use(pieces);
    }
    Ok(lives)
}
