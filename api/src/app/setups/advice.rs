//! What is advised on a reading, from the stored machine, holder, tool design and part: attached before the rules decide, so
//! that it is recorded with the reading.

use super::load::Loaded;
use crate::problem::Problem;
use dovetally_core::{
    registry::tool_design::ToolDesignFields,
    setup::{advice, command::Command, facts::MachineFacts, height_limit::HeightLimit},
};
use dovetally_db::{Connection, tool_designs};

/// Attaches advice to a reading; other commands stay as they are.
///
/// # Errors
/// A database error.
pub(super) fn attach(
    connection: &mut Connection,
    loaded: &Loaded,
    facts: &MachineFacts,
    command: &mut Command,
) -> Result<(), Problem> {
    let (Command::ReadHeight { station, .. } | Command::ReadSizes { station, .. } | Command::ReadDepth { station, .. }) =
        &*command
    else {
        return Ok(());
    };
    // Of a station that the setup does not use, the rules speak.
    let Some(index) = loaded.setup.plan.index_of(station) else { return Ok(()) };
    let design = design_of(connection, loaded, index)?;
    let design = design.as_ref();
    match command {
        Command::ReadHeight { station, reading, correction, .. } => {
            let limit = HeightLimit::at(&loaded.setup, facts, station);
            let advised = advice::on_height(&loaded.setup, index, *reading, limit, design);
            *correction = advised.as_ref().and_then(advice::Advice::to_stored);
        }
        Command::ReadSizes { readings, spindle, correction, .. } => {
            let advised = advice::on_sizes(&loaded.setup, &loaded.events, index, *spindle, readings, design);
            *correction = advised.to_stored();
        }
        Command::ReadDepth { reading, correction, .. } => {
            *correction = advice::on_depth(&loaded.setup, index, *reading).to_stored();
        }
        _ => {}
    }
    Ok(())
}

/// The design of the tool that is at a station.
fn design_of(
    connection: &mut Connection,
    loaded: &Loaded,
    station: usize,
) -> Result<Option<ToolDesignFields>, Problem> {
    let tool = loaded.setup.stations[station].tool.as_ref();
    let Some(design) = tool.and_then(|tool| tool.design.as_ref()) else { return Ok(None) };
    Ok(tool_designs::find(connection, design.id)?.map(|design| design.fields))
}
