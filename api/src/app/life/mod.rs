//! The life of form tools: grinds, checks, owners' consents, outlook, and the traveller to the grinder.

pub mod checks;
pub mod consents;
pub mod outlook;
pub mod regrinds;
pub(crate) mod taught;
pub mod traveller;

use super::{
    facts::{in_setup, whereabouts},
    registry::{FormTools, design_of, find},
};
use crate::{extract::Reference, problem::Problem, transport::tool_record::ToolRecordView};
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    ids::{ItemId, PersonId},
    item::Condition,
    life::{
        edge::{EdgeEnd, EndedEdge},
        facts::{Latest, ToolLife},
        measure::Measure,
    },
    refusal::{Refusal, Rule, Subject, SubjectKind},
    registry::{item::FormTool, tool_design::ToolDesign},
};
use dovetally_db::{
    Connection, Constraint, Tx, codes, custody, form_tools,
    life::{
        booking,
        checks::{self as tool_checks, ToolCheck},
        edges, ownership,
        regrinds::{self as grinds, Regrind},
    },
    people,
};

use uuid::Uuid;

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
    let place = whereabouts(connection, tool.item.id)?;
    Ok(ToolLife {
        code: tool.item.code.clone(),
        condition: tool.item.fields.condition,
        height: tool.height,
        measure: Measure::of(&design.fields),
        minimum_height: design.fields.minimum_height,
        grind_stock: design.fields.grind_stock,
        regrind_count: tool.regrind_count,
        pieces_since_grind: tool.pieces_since_grind,
        partly_ground: grinds::partly_ground(connection, tool.item.id)?,
        begun_before: tool.begun_before,
        in_setup: in_setup(connection, tool.item.id)?,
        outside: place.outside.then_some(place.name),
        run_to_book: booking::run_to_book(connection, tool.item.id)?,
        ownership: ownership::of_tool(connection, tool.item.id, tool.belonging.clone())?,
    })
}

/// The last grind and the last check of a tool, with what nothing may be dated before.
fn latest(connection: &mut Connection, tool: ItemId) -> Result<(Option<Regrind>, Option<ToolCheck>, Latest), Problem> {
    let grind = grinds::page(connection, tool, None, 1)?.pop();
    let check = tool_checks::page(connection, tool, None, 1)?.pop();
    let latest = Latest {
        ground: grind.as_ref().map(|grind| grind.occurred_at),
        checked: check.as_ref().map(|check| check.performed_at),
        ran: booking::last_run_ended(connection, tool)?,
    };
    Ok((grind, check, latest))
}

/// The record of a grind or a check, as it is told.
fn record_view(
    connection: &mut Connection,
    id: Uuid,
    tool: &Code,
    (remarks, note): (&[String], Option<&String>),
    (recorded_by, recorded_at): (PersonId, DateTime<Utc>),
) -> Result<ToolRecordView, Problem> {
    let recorded_by = people::find(connection, recorded_by)?;
    Ok(ToolRecordView {
        id,
        tool: tool.clone(),
        remarks: remarks.to_vec(),
        note: note.cloned(),
        recorded_by: recorded_by.map(|person| person.badge).unwrap_or_default(),
        recorded_at,
    })
}

/// What a judgement at the counter means for a tool's life: retired, it takes its edge with it.
///
/// # Errors
/// A database error.
pub(crate) fn judged(tx: &mut Tx<'_>, item: ItemId, condition: Condition) -> Result<(), Problem> {
    if condition == Condition::Retired { end_edge_with_its_tool(tx, item) } else { Ok(()) }
}

/// A tool's edge is ground or ends with its tool: none of its runs may wait for its pieces then. The rules have asked; what
/// came between is told as they tell it.
fn turn_over(tx: &mut Tx<'_>, tool: ItemId, code: &Code) -> Result<(), Problem> {
    booking::turn_over(tx.connection(), tool).map_err(|error| {
        if error.constraint() == Some(Constraint::ForeignKey) {
            let sentence = format!("Tool {code} is in a run whose pieces are not booked.");
            let about = Subject::coded(SubjectKind::FormTool, code);
            return Problem::refusals(vec![Refusal::new(Rule::RunNotBooked, sentence).about(about)]).because(error);
        }
        error.into()
    })
}

/// Ends the edge in use of a tool that is retired; nothing for items of other kinds.
fn end_edge_with_its_tool(tx: &mut Tx<'_>, item: ItemId) -> Result<(), Problem> {
    let Some(tool) = form_tools::find(tx.connection(), item)? else { return Ok(()) };
    let edge = EndedEdge {
        pieces: tool.pieces_since_grind,
        ended: EdgeEnd::Retired,
        partly_ground: grinds::partly_ground(tx.connection(), item)?,
        begun_before: tool.begun_before,
    };
    let now = tx.now();
    turn_over(tx, item, &tool.item.code)?;
    Ok(edges::insert(tx.connection(), item, tool.design, edge, now)?)
}
