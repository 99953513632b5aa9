//! The records that a plan is made of, each kind in one query.

use crate::problem::Problem;
use chrono::NaiveDate;
use dovetally_core::{
    code::Code,
    ids::{ItemId, JobId, MachineId, PartId, ToolDesignId},
    planning::{
        candidate::{BookedDays, Candidate, CandidateHolder, CandidateTool},
        needs::{DesignNeed, PlannedJob, StationNeed},
        plan::Records,
        window::run_window,
    },
    registry::job::JobState,
};
use dovetally_db::{
    Connection, bookings, jobs,
    planning::{self, OpenJob, WhichHolders, WhichTools},
};
use std::collections::{BTreeMap, BTreeSet};

/// The most open jobs that are planned together: the first ones. More are told by `exact`.
const MOST_JOBS: usize = 2_000;

/// What a plan is made of, and how much of it.
pub(super) struct Loaded {
    pub(super) records: Records,
    /// Whether every open job is there.
    pub(super) complete: bool,
}

/// A job with what its part and machine say of its needs, and where it stands.
pub(super) struct OneJob {
    pub(super) planned: PlannedJob,
    pub(super) state: JobState,
}

/// One job, whatever its state.
pub(super) fn one_job(connection: &mut Connection, id: JobId) -> Result<OneJob, Problem> {
    let open = planning::job(connection, id)?.ok_or_else(|| Problem::not_found("job", id))?;
    let state = open.job.fields.state;
    let planned = planned(connection, std::slice::from_ref(&open))?.pop();
    Ok(OneJob { planned: planned.ok_or_else(|| Problem::not_found("job", id))?, state })
}

/// All open jobs, and the items that could serve them; for one job only the items that could serve that one, which is
/// all that bears on it.
pub(super) fn records(
    connection: &mut Connection,
    today: NaiveDate,
    only: Option<&PlannedJob>,
) -> Result<Loaded, Problem> {
    let limit = i64::try_from(MOST_JOBS + 1).unwrap_or(i64::MAX);
    let mut open = planning::open_jobs(connection, limit)?;
    let complete = open.len() <= MOST_JOBS;
    open.truncate(MOST_JOBS);
    let mut jobs = planned(connection, &open)?;
    if let Some(only) = only.filter(|only| jobs.iter().all(|job| job.job != only.job)) {
        jobs.push(only.clone());
    }
    // Databases sort texts each in its way.
    jobs.sort_by(|one, other| one.priority().cmp(&other.priority()));
    let days = jobs.iter().map(|job| (job.job, (job.number.clone(), job.window.last()))).collect();
    let asked: Vec<&PlannedJob> = jobs.iter().filter(|job| only.is_none_or(|only| only.job == job.job)).collect();

    let mut designs: BTreeMap<ToolDesignId, DesignNeed> = BTreeMap::new();
    let mut styles = BTreeSet::new();
    for need in asked.iter().flat_map(|job| &job.stations) {
        if let Some(design) = &need.design {
            designs.entry(design.design.id).or_insert_with(|| design.clone());
        }
        styles.extend(need.holder_style.clone());
    }
    let moved = open.iter().map(|open| (open.machine.machine, open.centers_may_have_moved_at));
    let moved: BTreeMap<MachineId, _> =
        moved.filter(|(machine, _)| asked.iter().any(|job| job.machine.machine == *machine)).collect();

    let ids: Vec<ToolDesignId> = designs.keys().copied().collect();
    let mut tools = planning::tools(connection, WhichTools::Designs(&ids), &designs, &days)?;
    let styles: Vec<String> = styles.into_iter().collect();
    let mut holders = planning::holders(connection, WhichHolders::Styles(&styles), &days)?;
    let mut gauges = planning::gauges(connection, &moved, &days)?;
    let mut kept = bookings::kept_from(connection, today, None)?;
    let items = tools.iter_mut().map(|tool: &mut CandidateTool| &mut tool.item);
    keep(items.chain(holders.iter_mut().map(|holder: &mut CandidateHolder| &mut holder.item)), &mut kept);
    tools.sort_by(|one, other| one.item.code.cmp(&other.item.code));
    holders.sort_by(|one, other| one.item.code.cmp(&other.item.code));
    gauges.sort_by(|one, other| one.item.code.cmp(&other.item.code));
    Ok(Loaded { records: Records { jobs, tools, holders, gauges }, complete })
}

/// These form tools and holders with their bookings, as they are now; others of them are left out.
pub(super) fn bookable(
    connection: &mut Connection,
    today: NaiveDate,
    items: &[ItemId],
) -> Result<(Vec<CandidateTool>, Vec<CandidateHolder>), Problem> {
    let days = BTreeMap::new();
    let mut tools = planning::tools(connection, WhichTools::Items(items), &BTreeMap::new(), &days)?;
    let mut holders = planning::holders(connection, WhichHolders::Items(items), &days)?;
    let mut kept = bookings::kept_from(connection, today, Some(items))?;
    keep(
        tools.iter_mut().map(|tool| &mut tool.item).chain(holders.iter_mut().map(|holder| &mut holder.item)),
        &mut kept,
    );
    Ok((tools, holders))
}

fn keep<'a>(items: impl Iterator<Item = &'a mut Candidate>, kept: &mut BTreeMap<ItemId, Vec<BookedDays>>) {
    for item in items {
        item.booked = kept.remove(&item.item).unwrap_or_default();
    }
}

fn planned(connection: &mut Connection, open: &[OpenJob]) -> Result<Vec<PlannedJob>, Problem> {
    let parts: BTreeSet<PartId> = open.iter().map(|open| open.job.fields.part).collect();
    let asked = planning::operations(connection, &parts.into_iter().collect::<Vec<_>>())?;
    let designs: BTreeSet<ToolDesignId> = asked.values().flatten().filter_map(|asked| asked.design).collect();
    let designs = planning::designs(connection, &designs.into_iter().collect::<Vec<_>>())?;
    let machines: BTreeSet<MachineId> = open.iter().map(|open| open.machine.machine).collect();
    let stations = planning::stations(connection, &machines.into_iter().collect::<Vec<_>>())?;
    let ids: Vec<JobId> = open.iter().map(|open| open.job.id).collect();
    let made = jobs::made(connection, &ids)?;
    let one = |open: &OpenJob| {
        let (job, fields) = (&open.job, &open.job.fields);
        let (window, end) = run_window(
            fields.planned_start,
            fields.planned_end,
            fields.quantity,
            open.cycle_seconds,
            open.pieces_per_cycle,
        );
        let needs = asked.get(&fields.part).into_iter().flatten().map(|asked| {
            let place: (MachineId, Code) = (open.machine.machine, asked.station.clone());
            let design = asked.design.and_then(|design| designs.get(&design)).cloned();
            StationNeed::of(place.1.clone(), stations.get(&place).copied(), asked.holder_style.clone(), design)
        });
        PlannedJob {
            job: job.id,
            number: job.code.clone(),
            part: fields.part,
            part_code: fields.part_code.clone(),
            machine: open.machine.clone(),
            window,
            end,
            quantity: fields.quantity,
            made: made.get(&job.id).copied().unwrap_or_default(),
            stations: needs.collect(),
        }
    };
    Ok(open.iter().map(one).collect())
}
