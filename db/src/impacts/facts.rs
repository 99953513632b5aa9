//! What the records know of the setups in which a gauge was.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{gauge_uses, runs, setups as setups_table},
    setups,
};
use chrono::NaiveDateTime;
use diesel::prelude::*;
use dovetally_core::{
    gauge::impact::{RunFacts, SetupFacts, Window},
    ids::{ItemId, SetupId},
    setup::{event::EventKind, runs::GaugeUse},
};
use std::collections::BTreeMap;

/// How many setups are asked for at once.
const CHUNK: usize = 500;

type UseRow = (String, i64, String, NaiveDateTime, Option<NaiveDateTime>, Option<String>);

/// The setups in which a gauge was at any instant of a time, with what impact asks of them.
///
/// # Errors
/// A database error.
pub fn touched_setups(connection: &mut Connection, gauge: ItemId, window: Window) -> Result<Vec<SetupFacts>> {
    let mut found = BTreeMap::new();
    for (setup, stay) in stays(connection, gauge, window)? {
        let facts = found.entry(setup).or_insert_with(|| SetupFacts {
            setup,
            job: None,
            stays: Vec::new(),
            events: Vec::new(),
            runs: Vec::new(),
        });
        facts.stays.push(stay);
    }
    let ids: Vec<SetupId> = found.keys().copied().collect();
    for ids in ids.chunks(CHUNK) {
        let texts: Vec<String> = ids.iter().map(ToString::to_string).collect();
        let jobs: Vec<(String, Option<String>)> = setups_table::table
            .filter(setups_table::id.eq_any(&texts))
            .select((setups_table::id, setups_table::job_id))
            .load(connection)?;
        for (setup, job) in jobs {
            if let Some(facts) = found.get_mut(&columns::read(&setup)?) {
                facts.job = columns::read_optional(job.as_deref())?;
            }
        }
        for (setup, run) in runs_of(connection, &texts)? {
            if let Some(facts) = found.get_mut(&setup) {
                facts.runs.push(run);
            }
        }
        let kinds = [EventKind::ToolInserted, EventKind::HeightRead];
        for (setup, recorded) in setups::events_of_kinds(connection, ids, &kinds)? {
            if let Some(facts) = found.get_mut(&setup) {
                facts.events.push(recorded);
            }
        }
    }
    Ok(found.into_values().collect())
}

fn stays(connection: &mut Connection, gauge: ItemId, window: Window) -> Result<Vec<(SetupId, GaugeUse)>> {
    use gauge_uses as g;
    let mut query = g::table
        .filter(g::gauge_id.eq(gauge.to_string()))
        .order((g::placed_at, g::setup_id, g::placed_sequence))
        .select((g::setup_id, g::placed_sequence, g::station, g::placed_at, g::removed_at, g::tool_id))
        .into_boxed();
    if let Some(since) = window.since {
        query = query.filter(g::removed_at.is_null().or(g::removed_at.ge(since.naive_utc())));
    }
    if let Some(until) = window.until {
        query = query.filter(g::placed_at.le(until.naive_utc()));
    }
    let rows: Vec<UseRow> = query.load(connection)?;
    rows.into_iter()
        .map(|(setup, placed_sequence, station, placed_at, removed_at, tool)| {
            let stay = GaugeUse {
                placed_sequence,
                station: columns::code(&station)?,
                gauge,
                placed_at: columns::time(placed_at),
                removed_at: removed_at.map(columns::time),
                tool: columns::read_optional(tool.as_deref())?,
            };
            Ok::<_, Error>((columns::read(&setup)?, stay))
        })
        .collect()
}

type RunRow = (String, String, i64, NaiveDateTime, Option<String>, Option<i64>);

fn runs_of(connection: &mut Connection, setups: &[String]) -> Result<Vec<(SetupId, RunFacts)>> {
    let rows: Vec<RunRow> = runs::table
        .filter(runs::setup_id.eq_any(setups))
        .order((runs::setup_id, runs::number))
        .select((runs::setup_id, runs::id, runs::released_sequence, runs::released_at, runs::job_id, runs::pieces))
        .load(connection)?;
    rows.into_iter()
        .map(|(setup, run, released_sequence, released_at, job, pieces)| {
            let facts = RunFacts {
                run: columns::read(&run)?,
                released_sequence,
                released_at: columns::time(released_at),
                job: columns::read_optional(job.as_deref())?,
                pieces,
            };
            Ok::<_, Error>((columns::read(&setup)?, facts))
        })
        .collect()
}
