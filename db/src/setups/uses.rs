//! The rows of runs and gauge uses, kept beside the events that tell them.

use super::Setup;
use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    life::booking,
    schema::{gauge_uses, run_items, runs},
    tx::Tx,
};
use chrono::NaiveDateTime;
use diesel::prelude::*;
use dovetally_core::{
    ids::{ItemId, RunId, SetupId},
    setup::{
        runs::{GaugeUse, RunPieces, RunRecord, Uses},
        wear::PastRuns,
    },
};

#[derive(Queryable, Selectable)]
#[diesel(table_name = runs)]
struct RunRow {
    id: String,
    number: i32,
    released_sequence: i64,
    released_at: NaiveDateTime,
    ended_at: Option<NaiveDateTime>,
    pieces: Option<i64>,
    pieces_are: String,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = gauge_uses)]
struct GaugeUseRow {
    placed_sequence: i64,
    station: String,
    gauge_id: String,
    placed_at: NaiveDateTime,
    removed_at: Option<NaiveDateTime>,
    tool_id: Option<String>,
}

/// Writes what the events of a setup tell of runs and gauge uses.
///
/// # Errors
/// A database error.
pub fn keep(tx: &mut Tx<'_>, setup: &Setup, uses: &Uses) -> Result<()> {
    let kept = of_setup(tx.connection(), setup.id)?;
    for run in &uses.runs {
        match kept.runs.iter().find(|before| before.number == run.number) {
            None => insert_run(tx, setup, run)?,
            Some(before) if before == run => {}
            Some(_) => update_run(tx.connection(), setup.id, run)?,
        }
    }
    for using in &uses.gauges {
        match kept.gauges.iter().find(|before| before.placed_sequence == using.placed_sequence) {
            None => insert_gauge_use(tx.connection(), setup, using)?,
            Some(before) if before == using => {}
            Some(_) => update_gauge_use(tx.connection(), setup.id, using)?,
        }
    }
    Ok(())
}

fn insert_run(tx: &mut Tx<'_>, setup: &Setup, run: &RunRecord) -> Result<()> {
    let id: RunId = tx.new_id();
    diesel::insert_into(runs::table)
        .values((
            runs::id.eq(id.to_string()),
            runs::setup_id.eq(setup.id.to_string()),
            runs::number.eq(i32::try_from(run.number).map_err(Error::unreadable)?),
            runs::machine_id.eq(setup.machine.to_string()),
            runs::part_id.eq(setup.part.to_string()),
            runs::job_id.eq(setup.job.map(|job| job.to_string())),
            runs::released_sequence.eq(run.released_sequence),
            runs::released_at.eq(run.released_at.naive_utc()),
            runs::ended_at.eq(run.ended_at.map(|at| at.naive_utc())),
            runs::pieces.eq(pieces(run)?),
            runs::pieces_are.eq(run.pieces_are.name()),
        ))
        .execute(tx.connection())?;
    for (station, item) in &run.items {
        diesel::insert_into(run_items::table)
            .values((
                run_items::run_id.eq(id.to_string()),
                run_items::item_id.eq(item.to_string()),
                run_items::station.eq(station.as_str()),
            ))
            .execute(tx.connection())?;
    }
    if run.pieces.is_none() {
        booking::to_book(tx.connection(), id, run.items.iter().map(|(_, item)| *item))?;
    }
    Ok(())
}

fn update_run(connection: &mut Connection, setup: SetupId, run: &RunRecord) -> Result<()> {
    let number = i32::try_from(run.number).map_err(Error::unreadable)?;
    let id: String = runs::table
        .filter(runs::setup_id.eq(setup.to_string()))
        .filter(runs::number.eq(number))
        .select(runs::id)
        .first(connection)?;
    diesel::update(runs::table.find(&id))
        .set((
            runs::ended_at.eq(run.ended_at.map(|at| at.naive_utc())),
            runs::pieces.eq(pieces(run)?),
            runs::pieces_are.eq(run.pieces_are.name()),
        ))
        .execute(connection)?;
    if run.pieces.is_some() {
        booking::booked(connection, &id)?;
    }
    Ok(())
}

fn pieces(run: &RunRecord) -> Result<Option<i64>> {
    run.pieces.map(i64::try_from).transpose().map_err(Error::unreadable)
}

fn insert_gauge_use(connection: &mut Connection, setup: &Setup, using: &GaugeUse) -> Result<()> {
    use gauge_uses as g;
    diesel::insert_into(g::table)
        .values((
            g::setup_id.eq(setup.id.to_string()),
            g::placed_sequence.eq(using.placed_sequence),
            g::gauge_id.eq(using.gauge.to_string()),
            g::machine_id.eq(setup.machine.to_string()),
            g::station.eq(using.station.as_str()),
            g::placed_at.eq(using.placed_at.naive_utc()),
            g::removed_at.eq(using.removed_at.map(|at| at.naive_utc())),
            g::tool_id.eq(using.tool.map(|tool| tool.to_string())),
        ))
        .execute(connection)?;
    Ok(())
}

fn update_gauge_use(connection: &mut Connection, setup: SetupId, using: &GaugeUse) -> Result<()> {
    use gauge_uses as g;
    diesel::update(g::table.find((setup.to_string(), using.placed_sequence)))
        .set((
            g::removed_at.eq(using.removed_at.map(|at| at.naive_utc())),
            g::tool_id.eq(using.tool.map(|tool| tool.to_string())),
        ))
        .execute(connection)?;
    Ok(())
}

/// The runs and gauge uses on record for one setup, oldest first.
///
/// # Errors
/// A database error.
pub fn of_setup(connection: &mut Connection, setup: SetupId) -> Result<Uses> {
    let rows: Vec<RunRow> = runs::table
        .filter(runs::setup_id.eq(setup.to_string()))
        .order(runs::number)
        .select(RunRow::as_select())
        .load(connection)?;
    let mut found = Vec::with_capacity(rows.len());
    for row in rows {
        found.push(run(connection, row)?);
    }
    let rows: Vec<GaugeUseRow> = gauge_uses::table
        .filter(gauge_uses::setup_id.eq(setup.to_string()))
        .order(gauge_uses::placed_sequence)
        .select(GaugeUseRow::as_select())
        .load(connection)?;
    let gauges = rows.into_iter().map(gauge_use).collect::<Result<_>>()?;
    Ok(Uses { runs: found, gauges })
}

/// So many runs back a pace is looked for: older ones tell of other feeds and speeds.
const RUNS_BACK: i64 = 20;

/// The last booked runs of a setup's part on its machine, in other setups.
///
/// # Errors
/// A database error.
pub fn past_runs(connection: &mut Connection, setup: &Setup) -> Result<PastRuns> {
    let rows: Vec<(NaiveDateTime, Option<NaiveDateTime>, Option<i64>)> = runs::table
        .filter(runs::machine_id.eq(setup.machine.to_string()))
        .filter(runs::part_id.eq(setup.part.to_string()))
        .filter(runs::setup_id.ne(setup.id.to_string()))
        .filter(runs::pieces.is_not_null())
        .order(runs::released_at.desc())
        .limit(RUNS_BACK)
        .select((runs::released_at, runs::ended_at, runs::pieces))
        .load(connection)?;
    let mut past = PastRuns::default();
    for (released_at, ended_at, pieces) in rows {
        if let Some((ended_at, pieces)) = ended_at.zip(pieces) {
            past.add(u64::try_from(pieces).map_err(Error::unreadable)?, ended_at - released_at);
        }
    }
    Ok(past)
}

fn run(connection: &mut Connection, row: RunRow) -> Result<RunRecord> {
    let items: Vec<(String, String)> = run_items::table
        .filter(run_items::run_id.eq(&row.id))
        .select((run_items::station, run_items::item_id))
        .load(connection)?;
    let mut items = items
        .into_iter()
        .map(|(station, item)| Ok((columns::code(&station)?, columns::read::<ItemId>(&item)?)))
        .collect::<Result<Vec<_>>>()?;
    items.sort();
    Ok(RunRecord {
        number: u32::try_from(row.number).map_err(Error::unreadable)?,
        released_sequence: row.released_sequence,
        released_at: columns::time(row.released_at),
        ended_at: row.ended_at.map(columns::time),
        pieces: row.pieces.map(u64::try_from).transpose().map_err(Error::unreadable)?,
        pieces_are: columns::named(&row.pieces_are, RunPieces::from_name)?,
        items,
    })
}

fn gauge_use(row: GaugeUseRow) -> Result<GaugeUse> {
    Ok(GaugeUse {
        placed_sequence: row.placed_sequence,
        station: columns::code(&row.station)?,
        gauge: columns::read(&row.gauge_id)?,
        placed_at: columns::time(row.placed_at),
        removed_at: row.removed_at.map(columns::time),
        tool: columns::read_optional(row.tool_id.as_deref())?,
    })
}
