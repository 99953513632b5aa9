//! The life of form tools: grinds, checks, owners' consents, outlook, and the traveller to the grinder.

pub mod checks;
pub mod consents;
pub mod outlook;
pub mod regrinds;
pub mod traveller;

use super::{
    facts::in_setup,
    registry::{FormTools, design_of, find},
};
use crate::{extract::Reference, problem::Problem};
use dovetally_core::{
    ids::ItemId,
    item::Condition,
    life::{
        edge::{EdgeEnd, EndedEdge},
        regrind::ToolLife,
    },
    registry::{item::FormTool, tool_design::ToolDesign},
};
use dovetally_db::{
    Connection, Tx, codes, custody, form_tools,
    life::{edges, ownership, regrinds as grinds},
};

/// A tool that something is to be recorded about: its record, its design, and what the rules ask.
struct Taken {
    tool: FormTool,
    design: ToolDesign,
    life: ToolLife,
}

/// Takes a tool for this transaction and reads it: what is judged cannot change until the commit. Steps of setups, movements and
/// booked pieces take the same rows.
fn take(tx: &mut Tx<'_>, reference: &Reference) -> Result<Taken, Problem> {
    let id = find::<FormTools>(tx.connection(), reference)?.item.id;
    codes::lock(tx.connection(), id.uuid())?;
    custody::lock(tx.connection(), &[id])?;
    let tool = find::<FormTools>(tx.connection(), reference)?;
    let design = design_of(tx.connection(), &tool)?;
    let life = life_of(tx.connection(), &tool, &design)?;
    Ok(Taken { tool, design, life })
}

fn life_of(connection: &mut Connection, tool: &FormTool, design: &ToolDesign) -> Result<ToolLife, Problem> {
    Ok(ToolLife {
        code: tool.item.code.clone(),
        condition: tool.item.fields.condition,
        height: tool.height,
        minimum_height: design.fields.minimum_height,
        regrind_count: tool.regrind_count,
        pieces_since_grind: tool.pieces_since_grind,
        partly_ground: grinds::partly_ground(connection, tool.item.id)?,
        in_setup: in_setup(connection, tool.item.id)?,
        ownership: ownership::of_tool(connection, tool.item.id, tool.belonging.clone())?,
    })
}

/// What a judgement at the counter means for a tool's life: retired, it takes its edge with it.
///
/// # Errors
/// A database error.
pub(crate) fn judged(tx: &mut Tx<'_>, item: ItemId, condition: Condition) -> Result<(), Problem> {
    if condition == Condition::Retired { end_edge_with_its_tool(tx, item) } else { Ok(()) }
}

/// Ends the edge in use of a tool that is retired; nothing for items of other kinds.
fn end_edge_with_its_tool(tx: &mut Tx<'_>, item: ItemId) -> Result<(), Problem> {
    let Some(tool) = form_tools::find(tx.connection(), item)? else { return Ok(()) };
    let edge = EndedEdge {
        pieces: tool.pieces_since_grind,
        ended: EdgeEnd::Retired,
        partly_ground: grinds::partly_ground(tx.connection(), item)?,
    };
    let now = tx.now();
    Ok(edges::insert(tx.connection(), item, tool.design, edge, now)?)
}
