//! What is asked of plans: readiness of one job or of all, and the kit.

use super::load::{self, OneJob};
use crate::{
    app::registry::{Jobs, find},
    conditional::answer_fresh,
    extract::Reference,
    principal::{Guarded, Read},
    problem::Problem,
    transport::planning::{
        CAUTION, ConsideredItem, GivenItem, JobNeed, JobOutline, JobReadiness, Kit, KitStation, PlanQuery,
        ReadinessList, ReadinessQuery, ReadinessRow,
    },
};
use actix_web::HttpResponse;
use chrono::{DateTime, Days, NaiveDate, Utc};
use dovetally_core::{
    code::Code,
    planning::{
        examine::Options,
        needs::PlannedJob,
        plan::Plan,
        report::{Considered, Detail, Given, JobReport, NeedKind, NeedReport},
    },
    registry::job::JobState,
};
use dovetally_db::Connection;

/// How far ahead the list of readiness looks when no day is named.
const DAYS_AHEAD: Days = Days::new(14);

/// Whether a job has what it needs.
///
/// # Errors
/// 404 when there is no such job.
pub async fn readiness(
    guarded: &Guarded<Read>,
    reference: Reference,
    query: PlanQuery,
) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let answer = guarded.database().read(move |connection| readiness_in(connection, &reference, query, now)).await?;
    Ok(answer_fresh(&answer))
}

/// The same from a connection.
///
/// # Errors
/// 404 when there is no such job.
pub(crate) fn readiness_in(
    connection: &mut Connection,
    reference: &Reference,
    query: PlanQuery,
    now: DateTime<Utc>,
) -> Result<JobReadiness, Problem> {
    let options = options(now.date_naive(), query.allow_regrind_during_lot);
    let (job, report) = asked(connection, reference, options, Detail::Considered)?;
    Ok(JobReadiness {
        outline: outline(&job, options.today),
        state: report.state,
        machine_reasons: report.machine,
        needs: report.needs.into_iter().map(need).collect(),
        exact: report.exact,
        assumptions: report.assumptions,
        asked_at: now,
        caution: CAUTION,
    })
}

/// The serial numbers proposed for a job.
///
/// # Errors
/// 404 when there is no such job.
pub async fn kit(guarded: &Guarded<Read>, reference: Reference, query: PlanQuery) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let options = options(now.date_naive(), query.allow_regrind_during_lot);
    let answer = guarded.database().read(move |connection| kit_for(connection, &reference, options, now)).await?;
    Ok(answer_fresh(&answer))
}

/// The same for a page, as plans are usually made.
///
/// # Errors
/// 404 when there is no such job.
pub(crate) fn usual_kit(connection: &mut Connection, job: &Code, now: DateTime<Utc>) -> Result<Kit, Problem> {
    kit_for(connection, &Reference::Code(job.clone()), options(now.date_naive(), false), now)
}

fn kit_for(
    connection: &mut Connection,
    reference: &Reference,
    options: Options,
    now: DateTime<Utc>,
) -> Result<Kit, Problem> {
    let (job, report) = asked(connection, reference, options, Detail::Outcome)?;
    let of = |kind: NeedKind, station: Option<&Code>| {
        let station = station.cloned();
        report.needs.iter().filter(move |need| need.kind == kind && (station.is_none() || need.station == station))
    };
    let stations = job.stations.iter().map(|at| KitStation {
        station: at.station.clone(),
        form_tools: of(NeedKind::FormTool, Some(&at.station)).flat_map(|need| &need.given).map(given).collect(),
        waste: of(NeedKind::FormTool, Some(&at.station)).find_map(|need| need.waste),
        holder: of(NeedKind::Holder, Some(&at.station)).flat_map(|need| &need.given).map(given).next(),
    });
    Ok(Kit {
        outline: outline(&job, options.today),
        state: report.state,
        stations: stations.collect(),
        center_gauges: of(NeedKind::CenterGauge, None).flat_map(|need| &need.given).map(given).collect(),
        reasons: report.reasons().cloned().collect(),
        exact: report.exact,
        assumptions: report.assumptions.clone(),
        asked_at: now,
        caution: CAUTION,
    })
}

/// The jobs that begin until a day.
///
/// # Errors
/// A database error.
pub async fn list(guarded: &Guarded<Read>, query: ReadinessQuery) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let answer = guarded.database().read(move |connection| list_in(connection, query, now)).await?;
    Ok(answer_fresh(&answer))
}

/// The same from a connection.
///
/// # Errors
/// A database error.
pub(crate) fn list_in(
    connection: &mut Connection,
    query: ReadinessQuery,
    now: DateTime<Utc>,
) -> Result<ReadinessList, Problem> {
    let options = options(now.date_naive(), query.allow_regrind_during_lot);
    let until = query.until.or_else(|| options.today.checked_add_days(DAYS_AHEAD)).unwrap_or(options.today);
    list_until(connection, until, options, now)
}

/// All open jobs for a page, as plans are usually made.
///
/// # Errors
/// A database error.
pub(crate) fn usual_list(connection: &mut Connection, now: DateTime<Utc>) -> Result<ReadinessList, Problem> {
    list_until(connection, NaiveDate::MAX, options(now.date_naive(), false), now)
}

fn list_until(
    connection: &mut Connection,
    until: NaiveDate,
    options: Options,
    now: DateTime<Utc>,
) -> Result<ReadinessList, Problem> {
    let loaded = load::records(connection, options.today, None)?;
    let plan = Plan::new(&loaded.records, options);
    let begin = loaded.records.jobs.iter().enumerate().filter(|(_, job)| job.window.first() <= until);
    let rows = begin.filter_map(|(at, job)| {
        let report = plan.report(at, Detail::Outcome)?;
        let reasons = report.reasons().cloned().collect();
        let machine_down = report.machine_down;
        Some(ReadinessRow { outline: outline(job, options.today), state: report.state, reasons, machine_down })
    });
    Ok(ReadinessList {
        until,
        items: rows.collect(),
        exact: loaded.complete && plan.is_exact(),
        asked_at: now,
        caution: CAUTION,
    })
}

/// What is said of one job now, beside all others.
pub(super) fn report_on(
    connection: &mut Connection,
    one: &OneJob,
    options: Options,
    detail: Detail,
) -> Result<JobReport, Problem> {
    let job = &one.planned;
    if one.state != JobState::Planned {
        return Ok(JobReport::closed(&job.number, one.state));
    }
    let loaded = load::records(connection, options.today, Some(job))?;
    let at = loaded.records.jobs.iter().position(|other| other.job == job.job);
    let report = at.and_then(|at| Plan::new(&loaded.records, options).report(at, detail));
    let mut report = report.ok_or_else(|| Problem::not_found("job", &job.number))?;
    report.exact &= loaded.complete;
    Ok(report)
}

fn asked(
    connection: &mut Connection,
    reference: &Reference,
    options: Options,
    detail: Detail,
) -> Result<(PlannedJob, JobReport), Problem> {
    let found = find::<Jobs>(connection, reference)?;
    let one = load::one_job(connection, found.id)?;
    let report = report_on(connection, &one, options, detail)?;
    Ok((one.planned, report))
}

fn options(today: NaiveDate, regrind_within_lot: bool) -> Options {
    Options { regrind_within_lot, ..Options::on(today) }
}

fn outline(job: &PlannedJob, today: NaiveDate) -> JobOutline {
    let days = job.days(today);
    JobOutline {
        job: job.number.clone(),
        part: job.part_code.clone(),
        machine: job.machine.code.clone(),
        from: days.first(),
        to: days.last(),
        quantity: job.quantity,
        made: job.made,
    }
}

fn need(need: NeedReport) -> JobNeed {
    JobNeed {
        kind: need.kind,
        station: need.station,
        asks: need.asks,
        pieces: need.pieces,
        state: need.state,
        given: need.given.iter().map(given).collect(),
        waste: need.waste,
        considered_in_all: need.considered_in_all,
        considered: need.considered.into_iter().map(considered).collect(),
        reasons: need.reasons,
    }
}

fn given(given: &Given) -> GivenItem {
    GivenItem {
        item: given.code.clone(),
        at: given.whereabouts.name.clone(),
        kept: given.kept,
        pieces_left: given.pieces_left,
        pieces: given.pieces,
    }
}

fn considered(one: Considered) -> ConsideredItem {
    ConsideredItem {
        item: one.code,
        at: one.whereabouts.name,
        serves: one.reasons.is_empty(),
        pieces_left: one.pieces_left,
        reasons: one.reasons,
    }
}
