//! What plans are made of, each kind in one query: open jobs, designs, stations, and the items that could serve them.

mod candidates;

pub use candidates::{Around, Days, WhichHolders, WhichTools, around, gauges, holders, tools};

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    jobs,
    schema::{jobs as jobs_table, machine_states, machine_stations, machines, part_operations, parts, tool_designs},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{JobId, MachineId, PartId, ToolDesignId},
    machine::{StationKind, ToolFace},
    planning::needs::{DesignNeed, PlannedMachine, StationOnMachine},
    registry::job::{Job, JobState},
    setup::plan::DesignRef,
};
use std::collections::BTreeMap;

/// A job with what its days and its machine rest on.
#[derive(Clone, Debug)]
pub struct OpenJob {
    /// The job.
    pub job: Job,
    /// The part's cycle time, in seconds.
    pub cycle_seconds: Option<f64>,
    /// Pieces that drop in one cycle of its machine.
    pub pieces_per_cycle: u8,
    /// Its machine, without its breakdowns.
    pub machine: PlannedMachine,
    /// The last instant at which the machine's spindle centres may have moved.
    pub centers_may_have_moved_at: Option<DateTime<Utc>>,
}

type BesideJob = (Option<f64>, i32, bool, Option<NaiveDateTime>, bool);

type Columns = (jobs::Row, String, String, BesideJob);

fn open_job((row, part_code, machine_code, around): Columns) -> Result<OpenJob> {
    let (cycle_seconds, pieces_per_cycle, retired, moved_at, tagged_out) = around;
    let job = jobs::job((row, part_code, machine_code))?;
    Ok(OpenJob {
        cycle_seconds,
        pieces_per_cycle: u8::try_from(pieces_per_cycle).map_err(Error::unreadable)?,
        machine: PlannedMachine {
            machine: job.fields.machine,
            code: job.fields.machine_code.clone(),
            tagged_out,
            retired,
            breakdowns: Vec::new(),
        },
        centers_may_have_moved_at: moved_at.map(columns::time),
        job,
    })
}

/// The joins and columns of an open job.
macro_rules! with_machine {
    () => {
        jobs_table::table
            .inner_join(parts::table.on(parts::id.eq(jobs_table::part_id)))
            .inner_join(machines::table.on(machines::id.eq(jobs_table::machine_id)))
            .inner_join(machine_states::table.on(machine_states::machine_id.eq(jobs_table::machine_id)))
            .select((
                jobs::Row::as_select(),
                parts::code,
                machines::code,
                (
                    parts::cycle_seconds,
                    machines::pieces_per_cycle,
                    machines::retired,
                    machines::centers_may_have_moved_at,
                    machine_states::tagged_out,
                ),
            ))
    };
}

/// The jobs that are still to be made, in the order of their priority.
///
/// # Errors
/// A database error.
pub fn open_jobs(connection: &mut Connection, most: i64) -> Result<Vec<OpenJob>> {
    let rows: Vec<Columns> = with_machine!()
        .filter(jobs_table::state.eq(JobState::Planned.name()))
        .order((jobs_table::planned_start, jobs_table::code))
        .limit(most)
        .load(connection)?;
    rows.into_iter().map(open_job).collect()
}

/// One job, whatever its state.
///
/// # Errors
/// A database error.
pub fn job(connection: &mut Connection, id: JobId) -> Result<Option<OpenJob>> {
    let row: Option<Columns> =
        with_machine!().filter(jobs_table::id.eq(id.to_string())).first(connection).optional()?;
    row.map(open_job).transpose()
}

/// What a part asks of one station, without what it makes there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// The station's code.
    pub station: Code,
    /// The tool's design.
    pub design: Option<ToolDesignId>,
    /// The holder's style.
    pub holder_style: Option<String>,
}

/// What these parts ask of stations, by the stations' codes.
///
/// # Errors
/// A database error.
pub fn operations(connection: &mut Connection, of: &[PartId]) -> Result<BTreeMap<PartId, Vec<Asked>>> {
    use part_operations as o;
    let ids: Vec<String> = of.iter().map(PartId::to_string).collect();
    let rows: Vec<(String, String, Option<String>, Option<String>)> = o::table
        .filter(o::part_id.eq_any(ids))
        .select((o::part_id, o::station, o::tool_design_id, o::holder_style))
        .load(connection)?;
    let mut asked: BTreeMap<PartId, Vec<Asked>> = BTreeMap::new();
    for (part, station, design, holder_style) in rows {
        let station = columns::code(&station)?;
        let design = columns::read_optional(design.as_deref())?;
        asked.entry(columns::read(&part)?).or_default().push(Asked { station, design, holder_style });
    }
    for stations in asked.values_mut() {
        stations.sort_by(|one, other| one.station.cmp(&other.station));
    }
    Ok(asked)
}

/// What these designs ask of their tools.
///
/// # Errors
/// A database error.
pub fn designs(connection: &mut Connection, ids: &[ToolDesignId]) -> Result<BTreeMap<ToolDesignId, DesignNeed>> {
    use tool_designs as t;
    type Row = (String, String, Option<String>, String, (i64, String), (i64, String), i64);
    let ids: Vec<String> = ids.iter().map(ToolDesignId::to_string).collect();
    let rows: Vec<Row> = t::table
        .filter(t::id.eq_any(ids))
        .select((
            t::id,
            t::code,
            t::tool_face,
            t::holder_style,
            (t::minimum_height_pm, t::minimum_height_unit),
            (t::grind_stock_pm, t::grind_stock_unit),
            t::expected_pieces_per_grind,
        ))
        .load(connection)?;
    rows.into_iter()
        .map(|(id, code, face, holder_style, minimum, stock, pieces_per_edge)| {
            let id = columns::read(&id)?;
            let design = DesignNeed {
                design: DesignRef { id, code: columns::code(&code)? },
                tool_face: face.map(|face| columns::named(&face, ToolFace::from_name)).transpose()?,
                holder_style,
                minimum_height: columns::length(minimum.0, &minimum.1)?,
                grind_stock: columns::length(stock.0, &stock.1)?,
                pieces_per_edge,
            };
            Ok((id, design))
        })
        .collect()
}

/// The stations of these machines.
///
/// # Errors
/// A database error.
pub fn stations(
    connection: &mut Connection,
    of: &[MachineId],
) -> Result<BTreeMap<(MachineId, Code), StationOnMachine>> {
    use machine_stations as s;
    let ids: Vec<String> = of.iter().map(MachineId::to_string).collect();
    let rows: Vec<(String, String, String, String)> = s::table
        .filter(s::machine_id.eq_any(ids))
        .select((s::machine_id, s::code, s::kind, s::tool_face))
        .load(connection)?;
    rows.into_iter()
        .map(|(machine, code, kind, face)| {
            let station = StationOnMachine {
                kind: columns::named(&kind, StationKind::from_name)?,
                tool_face: columns::named(&face, ToolFace::from_name)?,
            };
            Ok(((columns::read(&machine)?, columns::code(&code)?), station))
        })
        .collect()
}
