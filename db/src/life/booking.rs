//! Which edge pieces are booked for: runs that are not booked hold the turn of their tools, so that it cannot rise under them.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{edge_turns, form_tools, machines, pieces_to_book, run_items, runs, setups},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    ids::{ItemId, RunId},
    life::facts::RunToBook,
    setup::facts::SetupPlace,
};

/// The turn of a tool: how often an edge of it was ground or retired. Tools that nothing was told of yet are at none.
fn turn(connection: &mut Connection, tool: &str) -> Result<i32> {
    let known: Option<i32> = edge_turns::table.find(tool).select(edge_turns::turn).first(connection).optional()?;
    if let Some(turn) = known {
        return Ok(turn);
    }
    diesel::insert_into(edge_turns::table)
        .values((edge_turns::tool_id.eq(tool), edge_turns::turn.eq(0)))
        .execute(connection)?;
    Ok(0)
}

/// Begins to count the turns of a tool that is put on record.
pub(crate) fn begin(connection: &mut Connection, tool: ItemId) -> Result<()> {
    turn(connection, &tool.to_string()).map(|_| ())
}

/// Forgets the turns of a tool that is deleted.
pub(crate) fn forget(connection: &mut Connection, tool: ItemId) -> Result<()> {
    diesel::delete(edge_turns::table.find(tool.to_string())).execute(connection)?;
    Ok(())
}

/// A tool's edge is ground, or ends with its tool.
///
/// # Errors
/// [`crate::Constraint::ForeignKey`] while a run with the tool is not booked, whatever the rules said before.
pub fn turn_over(connection: &mut Connection, tool: ItemId) -> Result<()> {
    let tool = tool.to_string();
    let turn = turn(connection, &tool)?;
    diesel::update(edge_turns::table.find(tool)).set(edge_turns::turn.eq(turn + 1)).execute(connection)?;
    Ok(())
}

/// Notes for the form tools among a run's items that its pieces are to be booked.
pub(crate) fn to_book(connection: &mut Connection, run: RunId, items: impl Iterator<Item = ItemId>) -> Result<()> {
    let items: Vec<String> = items.map(|item| item.to_string()).collect();
    let tools: Vec<String> =
        form_tools::table.filter(form_tools::item_id.eq_any(items)).select(form_tools::item_id).load(connection)?;
    for tool in tools {
        let turn = turn(connection, &tool)?;
        diesel::insert_into(pieces_to_book::table)
            .values((
                pieces_to_book::run_id.eq(run.to_string()),
                pieces_to_book::tool_id.eq(tool),
                pieces_to_book::turn.eq(turn),
            ))
            .execute(connection)?;
    }
    Ok(())
}

/// A run's pieces are booked.
pub(crate) fn booked(connection: &mut Connection, run: &str) -> Result<()> {
    diesel::delete(pieces_to_book::table.filter(pieces_to_book::run_id.eq(run))).execute(connection)?;
    Ok(())
}

/// A run of a tool whose pieces are not booked, the oldest where there are several.
///
/// # Errors
/// A database error.
pub fn run_to_book(connection: &mut Connection, tool: ItemId) -> Result<Option<RunToBook>> {
    type Row = (i32, String, String, String);
    let found: Option<Row> = pieces_to_book::table
        .inner_join(runs::table.on(runs::id.eq(pieces_to_book::run_id)))
        .inner_join(
            run_items::table
                .on(run_items::run_id.eq(pieces_to_book::run_id).and(run_items::item_id.eq(pieces_to_book::tool_id))),
        )
        .inner_join(setups::table.on(setups::id.eq(runs::setup_id)))
        .inner_join(machines::table.on(machines::id.eq(setups::machine_id)))
        .filter(pieces_to_book::tool_id.eq(tool.to_string()))
        .order(pieces_to_book::run_id)
        .select((runs::number, setups::id, machines::code, run_items::station))
        .first(connection)
        .optional()?;
    let Some((number, setup, machine, station)) = found else { return Ok(None) };
    let place = SetupPlace {
        setup: columns::read(&setup)?,
        machine: columns::code(&machine)?,
        station: columns::code(&station)?,
    };
    Ok(Some(RunToBook { place, number: u32::try_from(number).map_err(Error::unreadable)? }))
}

/// When the last run of a tool ended; none while it never ran.
///
/// # Errors
/// A database error.
pub fn last_run_ended(connection: &mut Connection, tool: ItemId) -> Result<Option<DateTime<Utc>>> {
    let ended: Option<NaiveDateTime> = run_items::table
        .inner_join(runs::table.on(runs::id.eq(run_items::run_id)))
        .filter(run_items::item_id.eq(tool.to_string()))
        .select(diesel::dsl::max(runs::ended_at))
        .first(connection)?;
    Ok(ended.map(columns::time))
}
