//! A machine's reliability: breakdowns on record against hours of running.

use super::registry::{Machines, find};
use crate::{
    conditional::answer_fresh,
    extract::Reference,
    principal::{Guarded, Read},
    problem::Problem,
    transport::reliability::{ReliabilityQuery, ReliabilityView},
};
use actix_web::HttpResponse;
use chrono::{DateTime, SubsecRound, TimeDelta, Utc};
use dovetally_core::{
    registry::machine::Machine,
    reliability::{Observed, reliability},
};
use dovetally_db::{Connection, machines, usage, work_orders};

/// Asks how reliable a machine is over some time.
///
/// # Errors
/// 404 for an unknown machine, 400 for a time that is none or a confidence that is none.
pub async fn read(
    guarded: &Guarded<Read>,
    machine: Reference,
    query: ReliabilityQuery,
) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let until = query.until.map_or(now, |at| at.trunc_subsecs(6));
    let from = query.from.map_or(until - TimeDelta::days(365), |at| at.trunc_subsecs(6));
    if until > now {
        return Err(Problem::query("until", "lies ahead of the server's time"));
    }
    if from >= until {
        return Err(Problem::query("from", "must lie before the end"));
    }
    if !(0.5..=0.999).contains(&query.confidence) {
        return Err(Problem::query("confidence", "must be 0.5 to 0.999"));
    }
    let view = guarded
        .database()
        .read(move |connection| {
            let machine = find::<Machines>(connection, &machine)?;
            of_machine(connection, &machine, (from, until), query.confidence)
        })
        .await?;
    Ok(answer_fresh(&view))
}

/// What the records tell of a machine between two instants, the second fixed beforehand.
///
/// # Errors
/// 400 for a confidence that is none.
pub(crate) fn of_machine(
    connection: &mut Connection,
    machine: &Machine,
    (from, until): (DateTime<Utc>, DateTime<Utc>),
    confidence: f64,
) -> Result<ReliabilityView, Problem> {
    let id = machine.record.id;
    let used = usage::of_machine(connection, id, from, until)?;
    let failures = work_orders::failures(connection, id, from, until)?;
    #[expect(clippy::cast_precision_loss, reason = "milliseconds of a few years")]
    let hours = |span: TimeDelta| span.num_milliseconds() as f64 / 3_600_000.0;
    let observed = Observed {
        running_hours: used.running_hours,
        failures: u32::try_from(failures.len()).map_err(Problem::internal)?,
        repairs: failures.iter().filter_map(|(from, until)| until.map(|until| hours(until - *from))).collect(),
    };
    let found = reliability(&observed, confidence).map_err(|error| Problem::query("confidence", error.to_string()))?;
    Ok(ReliabilityView {
        machine: machine.record.code.clone(),
        from,
        until,
        running_hours: observed.running_hours,
        failures: observed.failures,
        confidence,
        mean_hours_between_failures: found.mean_time.as_ref().and_then(|mean| mean.mtbf),
        lower: found.mean_time.as_ref().map(|mean| mean.lower),
        upper: found.mean_time.as_ref().and_then(|mean| mean.upper),
        mean_hours_to_repair: found.mean_time_to_repair,
        repairs: observed.repairs.len(),
        sentence: found.sentence,
        cautions: found.cautions,
    })
}

/// The most machines that a page shows.
const MOST: i64 = 200;

/// The confidence of the limits that a page shows.
const CONFIDENCE: f64 = 0.9;

/// How reliable each machine in use was in the year before an instant.
///
/// # Errors
/// A database error.
pub(crate) fn of_the_shop(connection: &mut Connection, until: DateTime<Utc>) -> Result<Vec<ReliabilityView>, Problem> {
    let until = until.trunc_subsecs(6);
    let from = until - TimeDelta::days(365);
    let machines = machines::page(connection, None, MOST)?;
    let in_use = machines.iter().filter(|machine| !machine.record.fields.retired);
    in_use.map(|machine| of_machine(connection, machine, (from, until), CONFIDENCE)).collect()
}
