//! How a machine stood at a past instant.

use super::CenterHeight;
use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{centers_moved, gauge_uses, items, runs, setups},
    tag_outs::{self, TagOut},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    ids::{MachineId, SetupId},
    setup::facts::GaugeInMachine,
};

/// How a machine stood.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// The setup that was open on it.
    pub open_setup: Option<SetupId>,
    /// Whether a release was in force.
    pub running: bool,
    /// The tag-outs in force.
    pub tag_outs: Vec<TagOut>,
    /// The gauges in it.
    pub gauges: Vec<GaugeInMachine>,
    /// The newest measurement of its spindle centre height.
    pub center_height: Option<CenterHeight>,
    /// The last instant until then at which its spindle centres may have moved: by work, by a crash.
    pub centers_may_have_moved_at: Option<DateTime<Utc>>,
}

/// How a machine stood at an instant, inclusive.
///
/// # Errors
/// A database error.
pub fn standing_as_of(connection: &mut Connection, machine: MachineId, at: DateTime<Utc>) -> Result<Standing> {
    let (id, then) = (machine.to_string(), at.naive_utc());
    let open: Option<String> = setups::table
        .filter(setups::machine_id.eq(&id))
        .filter(setups::opened_at.le(then))
        .order((setups::opened_at.desc(), setups::id.desc()))
        .filter(setups::closed_at.is_null().or(setups::closed_at.gt(then)))
        .select(setups::id)
        .first(connection)
        .optional()?;
    let last_run: Option<Option<NaiveDateTime>> = runs::table
        .filter(runs::machine_id.eq(&id))
        .filter(runs::released_at.le(then))
        .order(runs::released_at.desc())
        .select(runs::ended_at)
        .first(connection)
        .optional()?;
    Ok(Standing {
        open_setup: columns::read_optional(open.as_deref())?,
        running: last_run.is_some_and(|ended| ended.is_none_or(|ended| ended > then)),
        tag_outs: tag_outs::in_force_at(connection, machine, at)?,
        gauges: gauges_at(connection, &id, then)?,
        center_height: super::center_height_at(connection, machine, at)?,
        centers_may_have_moved_at: moved_until(connection, &id, then)?,
    })
}

fn gauges_at(connection: &mut Connection, machine: &str, then: NaiveDateTime) -> Result<Vec<GaugeInMachine>> {
    use gauge_uses as g;
    let rows: Vec<(String, String, String, String)> = g::table
        .inner_join(items::table.on(items::id.eq(g::gauge_id)))
        .filter(g::machine_id.eq(machine))
        .filter(g::placed_at.le(then))
        .filter(g::removed_at.is_null().or(g::removed_at.gt(then)))
        .order(g::station)
        .select((g::gauge_id, items::code, g::setup_id, g::station))
        .load(connection)?;
    rows.into_iter()
        .map(|(gauge, code, setup, station)| {
            Ok(GaugeInMachine {
                gauge: columns::read(&gauge)?,
                code: columns::code(&code)?,
                setup: columns::read(&setup)?,
                station: columns::code(&station)?,
            })
        })
        .collect()
}

fn moved_until(connection: &mut Connection, machine: &str, then: NaiveDateTime) -> Result<Option<DateTime<Utc>>> {
    let moved: Option<NaiveDateTime> = centers_moved::table
        .filter(centers_moved::machine_id.eq(machine))
        .filter(centers_moved::moved_at.le(then))
        .select(diesel::dsl::max(centers_moved::moved_at))
        .first(connection)?;
    Ok(moved.map(columns::time))
}
