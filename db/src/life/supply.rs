//! What a design's tools have left, and what is booked on them.

use crate::{
    columns,
    connection::Connection,
    error::Result,
    jobs,
    schema::{form_tools, items, jobs as jobs_table, part_operations, tool_belongings},
};
use chrono::NaiveDate;
use diesel::{dsl::count_star, prelude::*};
use dovetally_core::{
    ids::{JobId, PartId, ToolDesignId},
    item::Condition,
    length::Length,
    life::supply::Demand,
    registry::job::JobState,
};
use std::collections::BTreeMap;

/// A form tool as far as its design's supply goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToolInStock {
    /// Its design.
    pub design: ToolDesignId,
    /// Its condition.
    pub condition: Condition,
    /// The height left.
    pub height: Length,
    /// Pieces cut on the edge in use.
    pub pieces_since_grind: i64,
    /// The part that it is kept for.
    pub kept_for: Option<PartId>,
}

/// Tools of designs that are not retired; damaged ones among them.
///
/// # Errors
/// A database error.
pub fn tools(connection: &mut Connection, designs: &[ToolDesignId]) -> Result<Vec<ToolInStock>> {
    use form_tools as f;
    let ids: Vec<String> = designs.iter().map(ToString::to_string).collect();
    type Row = (String, String, i64, String, i64, Option<String>);
    let rows: Vec<Row> = f::table
        .inner_join(items::table.on(items::id.eq(f::item_id)))
        .left_join(tool_belongings::table.on(tool_belongings::tool_id.eq(f::item_id)))
        .filter(f::design_id.eq_any(ids))
        .filter(items::condition.ne(Condition::Retired.name()))
        .select((
            f::design_id,
            items::condition,
            f::height_pm,
            f::height_unit,
            f::pieces_since_grind,
            tool_belongings::reserved_for.nullable(),
        ))
        .load(connection)?;
    let tool = |(design, condition, height, unit, pieces_since_grind, kept_for): Row| {
        Ok(ToolInStock {
            design: columns::read(&design)?,
            condition: columns::named(&condition, Condition::from_name)?,
            height: columns::length(height, &unit)?,
            pieces_since_grind,
            kept_for: columns::read_optional(kept_for.as_deref())?,
        })
    };
    rows.into_iter().map(tool).collect()
}

/// The most planned jobs that are looked at, the soonest first: far beyond what a shop has booked.
const MOST_JOBS: i64 = 2_000;

/// What the jobs that are still planned ask of designs' tools, in the order of their planned starts: the pieces that their
/// runs have not made yet, for each station that a design works at.
///
/// # Errors
/// A database error.
pub fn demand(connection: &mut Connection, designs: &[ToolDesignId]) -> Result<BTreeMap<ToolDesignId, Vec<Demand>>> {
    use jobs_table as j;
    let ids: Vec<String> = designs.iter().map(ToString::to_string).collect();
    type Booked = (String, String, String, i64, NaiveDate);
    let booked: Vec<Booked> = j::table
        .filter(j::state.eq(JobState::Planned.name()))
        .order((j::planned_start, j::code))
        .limit(MOST_JOBS)
        .select((j::id, j::code, j::part_id, j::quantity, j::planned_start))
        .load(connection)?;
    let stations: Vec<(String, Option<String>, i64)> = part_operations::table
        .filter(part_operations::tool_design_id.eq_any(ids))
        .group_by((part_operations::part_id, part_operations::tool_design_id))
        .select((part_operations::part_id, part_operations::tool_design_id, count_star()))
        .load(connection)?;
    let mut uses: BTreeMap<String, Vec<(ToolDesignId, i64)>> = BTreeMap::new();
    for (part, design, count) in stations {
        let design: ToolDesignId = columns::read(&design.unwrap_or_default())?;
        uses.entry(part).or_default().push((design, count));
    }
    let asked: Vec<Booked> = booked.into_iter().filter(|(_, _, part, ..)| uses.contains_key(part)).collect();
    let asked_jobs = asked.iter().map(|(job, ..)| columns::read(job)).collect::<Result<Vec<JobId>>>()?;
    let made = jobs::made(connection, &asked_jobs)?;
    let mut demand: BTreeMap<ToolDesignId, Vec<Demand>> = BTreeMap::new();
    for (job, code, part, quantity, planned_start) in asked {
        let id: JobId = columns::read(&job)?;
        let open = (quantity - made.get(&id).copied().unwrap_or(0)).max(0);
        for (design, stations) in uses.get(&part).into_iter().flatten().filter(|_| open > 0) {
            demand.entry(*design).or_default().push(Demand {
                job: columns::code(&code)?,
                part: columns::read(&part)?,
                planned_start,
                pieces: open.saturating_mul(*stations),
            });
        }
    }
    Ok(demand)
}
