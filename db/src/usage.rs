//! What was made in some time, by machines or with items, summed over the runs and setups on record. Many subjects, each from
//! its own instant on, are asked in one statement.
//!
//! The databases reckon hours between instants, and take lists apart, each in its own way: here are both.

use crate::{
    connection::Connection,
    error::{Error, Result},
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
    #[diesel(sql_type = sql_types::BigInt)]
    setups: i64,
}

/// A machine's runs do not overlap: the last one to begin before the time may reach into it, none before that does.
const RUNS_OF_MACHINE: &str = "FROM runs r WHERE r.machine_id = a.subject AND r.released_at < {until}
    AND r.released_at >= coalesce(
        (SELECT max(b.released_at) FROM runs b WHERE b.machine_id = a.subject AND b.released_at <= a.since), a.since)";
const SETUPS_OF_MACHINE: &str = "SELECT count(*) FROM setups s WHERE s.machine_id = a.subject
    AND s.opened_at > a.since AND s.opened_at <= {until}";

const RUNS_OF_ITEM: &str = "FROM run_items i JOIN runs r ON r.id = i.run_id WHERE i.item_id = a.subject
    AND r.released_at < {until}";
const SETUPS_OF_ITEM: &str = "SELECT count(DISTINCT r.setup_id) FROM run_items i JOIN runs r ON r.id = i.run_id
    WHERE i.item_id = a.subject AND r.released_at > a.since AND r.released_at <= {until}";

/// Each sum is a query of its own for each subject, so that it goes by the subject's index.
const SUMS: &str = "SELECT
    CAST(coalesce((SELECT sum(CASE WHEN r.ended_at > a.since AND r.ended_at <= {until} THEN r.pieces END) {runs}), 0)
        AS BIGINT) AS pieces,
    CAST(coalesce((SELECT sum({hours}) {runs}), 0) AS DOUBLE PRECISION) AS running_hours,
    CAST(({setups}) AS BIGINT) AS setups
    FROM asked a ORDER BY a.number";

const SQLITE_ASKED: &str = "WITH asked(number, subject, since) AS MATERIALIZED (SELECT key,
    json_extract(value, '$[0]'), json_extract(value, '$[1]') FROM json_each(?1)) ";
const POSTGRES_ASKED: &str = "WITH asked(number, subject, since) AS MATERIALIZED (SELECT j.number, j.value->>0,
    CAST(j.value->>1 AS TIMESTAMP) FROM jsonb_array_elements(CAST($1 AS jsonb)) WITH ORDINALITY AS j(value, number)) ";

const SQLITE_HOURS: &str = "max(0, julianday(min(coalesce(r.ended_at, {until}), {until}))
    - julianday(max(r.released_at, a.since))) * 24.0";
const POSTGRES_HOURS: &str = "greatest(0, extract(epoch FROM least(coalesce(r.ended_at, {until}), {until})
    - greatest(r.released_at, a.since)) / 3600.0)";

/// As both databases read an instant, and as SQLite stores it.
const INSTANT: &str = "%F %T%.f";

fn sums(
    connection: &mut Connection,
    [runs, setups]: [&str; 2],
    asked: Vec<(String, DateTime<Utc>)>,
    until: DateTime<Utc>,
) -> Result<Vec<Usage>> {
    if asked.is_empty() {
        return Ok(Vec::new());
    }
    let asked: Vec<(String, String)> =
        asked.into_iter().map(|(subject, since)| (subject, since.format(INSTANT).to_string())).collect();
    let asked = serde_json::to_string(&asked).map_err(Error::unreadable)?;
    let until: NaiveDateTime = until.naive_utc();
    let text = |with: &str, hours: &str, until: &str| {
        let sums = SUMS.replace("{hours}", hours).replace("{runs}", runs).replace("{setups}", setups);
        format!("{with}{}", sums.replace("{until}", until))
    };
    let rows: Vec<Sums> = match connection {
        Connection::Sqlite(c) => sql_query(text(SQLITE_ASKED, SQLITE_HOURS, "?2"))
            .bind::<sql_types::Text, _>(asked)
            .bind::<sql_types::Timestamp, _>(until)
            .load(c)?,
        Connection::Postgres(c) => sql_query(text(POSTGRES_ASKED, POSTGRES_HOURS, "$2"))
            .bind::<sql_types::Text, _>(asked)
            .bind::<sql_types::Timestamp, _>(until)
            .load(c)?,
    };
    let usage = |row: Sums| Usage { pieces: row.pieces, setups: row.setups, running_hours: row.running_hours };
    Ok(rows.into_iter().map(usage).collect())
}

/// What machines made, each after its own instant, up to `until`; in the order of what was asked.
///
/// # Errors
/// A database error.
pub fn of_machines(
    connection: &mut Connection,
    asked: &[(MachineId, DateTime<Utc>)],
    until: DateTime<Utc>,
) -> Result<Vec<Usage>> {
    let asked = asked.iter().map(|(machine, since)| (machine.to_string(), *since)).collect();
    sums(connection, [RUNS_OF_MACHINE, SETUPS_OF_MACHINE], asked, until)
}

/// What was made with items, with each after its own instant, up to `until`, in the runs that they were in; in the order of
/// what was asked.
///
/// # Errors
/// A database error.
pub fn of_items(
    connection: &mut Connection,
    asked: &[(ItemId, DateTime<Utc>)],
    until: DateTime<Utc>,
) -> Result<Vec<Usage>> {
    let asked = asked.iter().map(|(item, since)| (item.to_string(), *since)).collect();
    sums(connection, [RUNS_OF_ITEM, SETUPS_OF_ITEM], asked, until)
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
    Ok(of_machines(connection, &[(machine, from)], until)?.pop().unwrap_or_default())
}
