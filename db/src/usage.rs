//! What was made in some time, by a machine or with an item, summed over the runs and setups on record.
//!
//! The databases reckon hours between instants each in its own way: here are both.

use crate::{
    connection::Connection,
    error::Result,
    schema::{run_items, runs, setups},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::{prelude::*, sql_query, sql_types};
use dovetally_core::{
    ids::{ItemId, MachineId},
    maintenance::Usage,
};

#[derive(QueryableByName)]
struct Sums {
    #[diesel(sql_type = sql_types::BigInt)]
    pieces: i64,
    #[diesel(sql_type = sql_types::Double)]
    running_hours: f64,
}

/// A machine's runs do not overlap: the last one to begin before the time may reach into it, none before that does.
const OF_MACHINE: &str = "FROM runs r WHERE r.machine_id = {subject} AND r.released_at < {until}
    AND r.released_at >= coalesce(
        (SELECT max(b.released_at) FROM runs b WHERE b.machine_id = {subject} AND b.released_at <= {from}), {from})";

const OF_ITEM: &str = "FROM run_items i JOIN runs r ON r.id = i.run_id WHERE i.item_id = {subject}
    AND r.released_at < {until}";

const SUMS: &str =
    "SELECT CAST(coalesce(sum(CASE WHEN r.ended_at > {from} AND r.ended_at <= {until} THEN r.pieces END), 0)
        AS BIGINT) AS pieces,
    CAST(coalesce(sum({hours}), 0) AS DOUBLE PRECISION) AS running_hours ";

const SQLITE_HOURS: &str = "max(0, julianday(min(coalesce(r.ended_at, {until}), {until}))
    - julianday(max(r.released_at, {from}))) * 24.0";
const POSTGRES_HOURS: &str = "greatest(0, extract(epoch FROM least(coalesce(r.ended_at, {until}), {until})
    - greatest(r.released_at, {from})) / 3600.0)";

fn sums(
    connection: &mut Connection,
    of: &str,
    subject: String,
    from: NaiveDateTime,
    until: NaiveDateTime,
) -> Result<Sums> {
    let text = |hours: &str, names: [&str; 3]| {
        let text = format!("{SUMS}{of}").replace("{hours}", hours);
        text.replace("{subject}", names[0]).replace("{from}", names[1]).replace("{until}", names[2])
    };
    let found = match connection {
        Connection::Sqlite(c) => sql_query(text(SQLITE_HOURS, ["?1", "?2", "?3"]))
            .bind::<sql_types::Text, _>(subject)
            .bind::<sql_types::Timestamp, _>(from)
            .bind::<sql_types::Timestamp, _>(until)
            .get_result(c)?,
        Connection::Postgres(c) => sql_query(text(POSTGRES_HOURS, ["$1", "$2", "$3"]))
            .bind::<sql_types::Text, _>(subject)
            .bind::<sql_types::Timestamp, _>(from)
            .bind::<sql_types::Timestamp, _>(until)
            .get_result(c)?,
    };
    Ok(found)
}

/// What a machine made after `from`, up to `until`.
///
/// # Errors
/// A database error.
pub fn of_machine(
    connection: &mut Connection,
    machine: MachineId,
    from: DateTime<Utc>,
    until: DateTime<Utc>,
) -> Result<Usage> {
    let (from, until) = (from.naive_utc(), until.naive_utc());
    let found = sums(connection, OF_MACHINE, machine.to_string(), from, until)?;
    let setups = setups::table
        .filter(setups::machine_id.eq(machine.to_string()))
        .filter(setups::opened_at.gt(from))
        .filter(setups::opened_at.le(until))
        .count()
        .get_result(connection)?;
    Ok(Usage { pieces: found.pieces, setups, running_hours: found.running_hours })
}

/// What was made with an item after `from`, up to `until`: in the runs that it was in.
///
/// # Errors
/// A database error.
pub fn of_item(connection: &mut Connection, item: ItemId, from: DateTime<Utc>, until: DateTime<Utc>) -> Result<Usage> {
    let (from, until) = (from.naive_utc(), until.naive_utc());
    let found = sums(connection, OF_ITEM, item.to_string(), from, until)?;
    let setups = run_items::table
        .inner_join(runs::table.on(runs::id.eq(run_items::run_id)))
        .filter(run_items::item_id.eq(item.to_string()))
        .filter(runs::released_at.gt(from))
        .filter(runs::released_at.le(until))
        .select(diesel::dsl::count(runs::setup_id).aggregate_distinct())
        .first(connection)?;
    Ok(Usage { pieces: found.pieces, setups, running_hours: found.running_hours })
}
