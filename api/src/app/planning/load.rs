//! The records that a plan is made of, each kind in one query.

use crate::{
    app::life::taught::{self, Asked},
    problem::Problem,
};
use chrono::NaiveDate;
use dovetally_core::{
    code::Code,
    ids::{ItemId, JobId, MachineId, PartId, ToolDesignId},
    planning::{
        candidate::{BookedDays, Candidate, CandidateHolder, CandidateTool, Life},
        needs::{DesignNeed, PlannedJob, PlannedMachine, StationNeed},
        outlook::EdgeOutlook,
        plan::Records,
        window::{EndBasis, Window, run_window, running_seconds},
    },
    registry::job::JobState,
};
use dovetally_db::{
    Connection, bookings, jobs,
    planning::{self, Around, OpenJob, WhichHolders, WhichTools},
    work_orders,
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
    let planned = planned(connection, std::slice::from_ref(&open), None)?.pop();
    Ok(OneJob { planned: planned.ok_or_else(|| Problem::not_found("job", id))?, state })
}

/// All open jobs, and the items that could serve them; for one job only what bears on that one: the jobs that want the
/// same tools or holders, or its machine, and the items that could serve it.
pub(super) fn records(
    connection: &mut Connection,
    today: NaiveDate,
    only: Option<&PlannedJob>,
) -> Result<Loaded, Problem> {
    let limit = i64::try_from(MOST_JOBS + 1).unwrap_or(i64::MAX);
    let mut open = planning::open_jobs(connection, limit)?;
    let complete = open.len() <= MOST_JOBS;
    open.truncate(MOST_JOBS);
    let mut jobs = planned(connection, &open, only)?;
    if let Some(only) = only.filter(|only| jobs.iter().all(|job| job.job != only.job)) {
        jobs.push(only.clone());
    }
    // Databases sort texts each in its way.
    jobs.sort_by(|one, other| one.priority().cmp(&other.priority()));
    let asked: Vec<&PlannedJob> = jobs.iter().filter(|job| only.is_none_or(|only| only.job == job.job)).collect();
    let mut designs: BTreeMap<ToolDesignId, DesignNeed> = BTreeMap::new();
    let mut styles = BTreeSet::new();
    for need in asked.iter().flat_map(|job| &job.stations) {
        if let Some(design) = &need.design {
            designs.entry(design.design.id).or_insert_with(|| design.clone());
        }
        styles.extend(need.holder_style.clone());
    }
    let machines: BTreeSet<MachineId> = asked.iter().map(|job| job.machine.machine).collect();
    let moved = open.iter().map(|open| (open.machine.machine, open.centers_may_have_moved_at));
    let moved: BTreeMap<MachineId, _> = moved.filter(|(machine, _)| machines.contains(machine)).collect();

    let days = open.iter().map(|open| (open.job.id, (open.job.code.clone(), run_of(open).0.last()))).collect();
    let around = planning::around(connection, days)?;
    let (mut tools, outlooks) = tools(connection, &designs, &around)?;
    let styles: Vec<String> = styles.into_iter().collect();
    let mut holders = planning::holders(connection, WhichHolders::Styles(&styles), &around)?;
    let mut gauges = planning::gauges(connection, &moved, &around)?;
    let mut kept = bookings::kept(connection, today, None)?;
    let items = tools.iter_mut().map(|tool: &mut CandidateTool| &mut tool.item);
    keep(items.chain(holders.iter_mut().map(|holder: &mut CandidateHolder| &mut holder.item)), &mut kept);
    tools.sort_by(|one, other| one.item.code.cmp(&other.item.code));
    holders.sort_by(|one, other| one.item.code.cmp(&other.item.code));
    gauges.sort_by(|one, other| one.item.code.cmp(&other.item.code));
    Ok(Loaded { records: Records { jobs, tools, holders, gauges, outlooks }, complete })
}

/// The tools of these designs, with what is left in them by what their designs' edges taught.
fn tools(
    connection: &mut Connection,
    designs: &BTreeMap<ToolDesignId, DesignNeed>,
    around: &Around,
) -> Result<(Vec<CandidateTool>, BTreeMap<ToolDesignId, EdgeOutlook>), Problem> {
    let ids: Vec<ToolDesignId> = designs.keys().copied().collect();
    let on_record = planning::tools(connection, WhichTools::Designs(&ids), around)?;
    let mut in_use: BTreeMap<ToolDesignId, Vec<i64>> = BTreeMap::new();
    for tool in &on_record {
        in_use.entry(tool.design).or_default().push(tool.pieces_since_grind);
    }
    let asked = designs.iter().map(|(design, need)| Asked {
        design: *design,
        expected: need.pieces_per_edge,
        in_use: in_use.remove(design).unwrap_or_default(),
    });
    let taught = taught::taught(connection, asked.collect())?;
    let tools = on_record.into_iter().map(|tool| {
        let known = designs.get(&tool.design).zip(taught.get(&tool.design));
        let life = known.map_or(Life::NONE, |(design, taught)| {
            Life::foreseen(design, taught.on_edge(tool.pieces_since_grind), tool.height)
        });
        tool.with(life)
    });
    Ok((tools.collect(), taught.iter().map(|(design, taught)| (*design, taught.outlook.clone())).collect()))
}

/// These form tools and holders with their bookings, as they are now; others of them are left out. What is left in a tool
/// is no matter here.
pub(super) fn bookable(
    connection: &mut Connection,
    today: NaiveDate,
    items: &[ItemId],
) -> Result<(Vec<CandidateTool>, Vec<CandidateHolder>), Problem> {
    let around = planning::around(connection, BTreeMap::new())?;
    let tools = planning::tools(connection, WhichTools::Items(items), &around)?;
    let mut tools: Vec<CandidateTool> = tools.into_iter().map(|tool| tool.with(Life::NONE)).collect();
    let mut holders = planning::holders(connection, WhichHolders::Items(items), &around)?;
    let mut kept = bookings::kept(connection, today, Some(items))?;
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

/// The days of a job.
fn run_of(open: &OpenJob) -> (Window, EndBasis) {
    let fields = &open.job.fields;
    run_window(fields.planned_start, fields.planned_end, fields.quantity, open.cycle_seconds, open.pieces_per_cycle)
}

/// Jobs with their needs; where one is named, those that bear on it.
fn planned(
    connection: &mut Connection,
    open: &[OpenJob],
    only: Option<&PlannedJob>,
) -> Result<Vec<PlannedJob>, Problem> {
    let parts: BTreeSet<PartId> = open.iter().map(|open| open.job.fields.part).collect();
    let asked = planning::operations(connection, &parts.into_iter().collect::<Vec<_>>())?;
    let designs: BTreeSet<ToolDesignId> = asked.values().flatten().filter_map(|asked| asked.design).collect();
    let designs = planning::designs(connection, &designs.into_iter().collect::<Vec<_>>())?;
    let machines: BTreeSet<MachineId> = open.iter().map(|open| open.machine.machine).collect();
    let stations = planning::stations(connection, &machines.into_iter().collect::<Vec<_>>())?;
    let breakdowns = work_orders::open_breakdowns(connection)?;
    let mut jobs = Vec::with_capacity(open.len());
    for open in open {
        let (job, fields) = (&open.job, &open.job.fields);
        let needs = asked.get(&fields.part).into_iter().flatten().map(|asked| {
            let place: (MachineId, Code) = (open.machine.machine, asked.station.clone());
            let design = asked.design.and_then(|design| designs.get(&design)).cloned();
            StationNeed::of(place.1.clone(), stations.get(&place).copied(), asked.holder_style.clone(), design)
        });
        let (window, end) = run_of(open);
        let job = PlannedJob {
            job: job.id,
            number: job.code.clone(),
            part: fields.part,
            part_code: fields.part_code.clone(),
            machine: PlannedMachine {
                breakdowns: breakdowns.get(&open.machine.machine).cloned().unwrap_or_default(),
                ..open.machine.clone()
            },
            window,
            end,
            running_seconds: open
                .cycle_seconds
                .map(|cycle| running_seconds(fields.quantity, cycle, open.pieces_per_cycle)),
            quantity: fields.quantity,
            made: 0,
            stations: needs.collect(),
        };
        if only.is_none_or(|only| job.bears_on(only)) {
            jobs.push(job);
        }
    }
    let ids: Vec<JobId> = jobs.iter().map(|job| job.job).collect();
    let made = jobs::made(connection, &ids)?;
    for job in &mut jobs {
        job.made = made.get(&job.job).copied().unwrap_or_default();
    }
    Ok(jobs)
}
