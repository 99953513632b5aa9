//! Runs as a document names them.

use crate::{columns, connection::Connection, error::Result, schema::runs};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::ids::{MachineId, PartId, RunId, SetupId};

/// A run, named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    /// Its id.
    pub id: RunId,
    /// Its setup.
    pub setup: SetupId,
    /// Its number in the setup.
    pub number: i32,
    /// The machine.
    pub machine: MachineId,
    /// The part.
    pub part: PartId,
    /// When it was released.
    pub released_at: DateTime<Utc>,
    /// When it ended; none while its release is in force.
    pub ended_at: Option<DateTime<Utc>>,
}

type Row = (String, String, i32, String, String, NaiveDateTime, Option<NaiveDateTime>);

/// The runs of these ids that there are.
///
/// # Errors
/// A database error.
pub fn named(connection: &mut Connection, ids: &[RunId]) -> Result<Vec<Run>> {
    let ids: Vec<String> = ids.iter().map(ToString::to_string).collect();
    let rows: Vec<Row> = runs::table
        .filter(runs::id.eq_any(ids))
        .order(runs::id)
        .select((
            runs::id,
            runs::setup_id,
            runs::number,
            runs::machine_id,
            runs::part_id,
            runs::released_at,
            runs::ended_at,
        ))
        .load(connection)?;
    rows.into_iter()
        .map(|(id, setup, number, machine, part, released_at, ended_at)| {
            Ok(Run {
                id: columns::read(&id)?,
                setup: columns::read(&setup)?,
                number,
                machine: columns::read(&machine)?,
                part: columns::read(&part)?,
                released_at: columns::time(released_at),
                ended_at: ended_at.map(columns::time),
            })
        })
        .collect()
}
