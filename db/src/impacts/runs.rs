//! Setups and runs as a document names them.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{machines, parts, runs, setups},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{RunId, SetupId},
};

/// A setup, named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamedSetup {
    /// Its id.
    pub id: SetupId,
    /// Its machine's code.
    pub machine: Code,
    /// Its part's code.
    pub part: Code,
    /// When it was opened.
    pub opened_at: DateTime<Utc>,
}

/// A run, named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamedRun {
    /// Its id.
    pub id: RunId,
    /// Its setup.
    pub setup: SetupId,
    /// Its number in the setup.
    pub number: i32,
    /// Its machine's code.
    pub machine: Code,
    /// Its part's code.
    pub part: Code,
    /// When it was released.
    pub released_at: DateTime<Utc>,
    /// When it ended; none while its release is in force.
    pub ended_at: Option<DateTime<Utc>>,
    /// The pieces it made; none until they are booked.
    pub pieces: Option<i64>,
}

/// The setups of these ids.
///
/// # Errors
/// A database error.
pub fn named_setups(connection: &mut Connection, ids: &[SetupId]) -> Result<Vec<NamedSetup>> {
    let ids: Vec<String> = ids.iter().map(ToString::to_string).collect();
    let mut rows: Vec<(String, String, String, NaiveDateTime)> = Vec::with_capacity(ids.len());
    for some in ids.chunks(columns::MOST_IDS) {
        rows.extend(
            setups::table
                .inner_join(machines::table.on(machines::id.eq(setups::machine_id)))
                .inner_join(parts::table.on(parts::id.eq(setups::part_id)))
                .filter(setups::id.eq_any(some))
                .select((setups::id, machines::code, parts::code, setups::opened_at))
                .load::<(String, String, String, NaiveDateTime)>(connection)?,
        );
    }
    rows.into_iter()
        .map(|(id, machine, part, opened_at)| {
            Ok::<_, Error>(NamedSetup {
                id: columns::read(&id)?,
                machine: columns::code(&machine)?,
                part: columns::code(&part)?,
                opened_at: columns::time(opened_at),
            })
        })
        .collect()
}

type RunRow = (String, String, i32, String, String, NaiveDateTime, Option<NaiveDateTime>, Option<i64>);

/// The runs of these ids.
///
/// # Errors
/// A database error.
pub fn named_runs(connection: &mut Connection, ids: &[RunId]) -> Result<Vec<NamedRun>> {
    let ids: Vec<String> = ids.iter().map(ToString::to_string).collect();
    let mut rows: Vec<RunRow> = Vec::with_capacity(ids.len());
    for some in ids.chunks(columns::MOST_IDS) {
        rows.extend(
            runs::table
                .inner_join(machines::table.on(machines::id.eq(runs::machine_id)))
                .inner_join(parts::table.on(parts::id.eq(runs::part_id)))
                .filter(runs::id.eq_any(some))
                .select((
                    runs::id,
                    runs::setup_id,
                    runs::number,
                    machines::code,
                    parts::code,
                    runs::released_at,
                    runs::ended_at,
                    runs::pieces,
                ))
                .load::<RunRow>(connection)?,
        );
    }
    rows.into_iter()
        .map(|(id, setup, number, machine, part, released_at, ended_at, pieces)| {
            Ok::<_, Error>(NamedRun {
                id: columns::read(&id)?,
                setup: columns::read(&setup)?,
                number,
                machine: columns::code(&machine)?,
                part: columns::code(&part)?,
                released_at: columns::time(released_at),
                ended_at: ended_at.map(columns::time),
                pieces,
            })
        })
        .collect()
}
