//! The items that could serve jobs: where they are, what they are out for, what is left in them.

use crate::{
    center_gauges, columns,
    connection::Connection,
    custody::join,
    error::Result,
    schema::{
        custody, form_tools, holders as holders_table, items, items_in_setups, machines, people, places, setups,
        tool_belongings,
    },
};
use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{ItemId, JobId, MachineId, ToolDesignId},
    item::{Condition, ItemKind, Purpose, Whereabouts},
    planning::{
        candidate::{AtWork, Candidate, CandidateGauge, CandidateHolder, CandidateTool, Life},
        needs::DesignNeed,
    },
};
use std::collections::BTreeMap;

/// Which form tools.
#[derive(Clone, Copy, Debug)]
pub enum WhichTools<'a> {
    /// All in use of these designs.
    Designs(&'a [ToolDesignId]),
    /// These.
    Items(&'a [ItemId]),
}

/// Which holders.
#[derive(Clone, Copy, Debug)]
pub enum WhichHolders<'a> {
    /// All in use of these styles.
    Styles(&'a [String]),
    /// These.
    Items(&'a [ItemId]),
}

type ItemColumns = (String, String, String, String);
type CustodyColumns =
    (String, Option<String>, Option<String>, Option<String>, Option<String>, Option<NaiveDate>, Option<String>);
type Names = (Option<String>, Option<String>, Option<String>, Option<String>);
type Columns = (ItemColumns, CustodyColumns, Names);

/// The joins of an item with its custody and the names of whoever has it.
macro_rules! with_keeper {
    ($of:expr) => {
        $of.inner_join(custody::table.on(custody::item_id.eq(items::id)))
            .left_join(places::table.on(places::id.nullable().eq(custody::place_id)))
            .left_join(people::table.on(people::id.nullable().eq(custody::person_id)))
            .left_join(machines::table.on(machines::id.nullable().eq(custody::machine_id)))
    };
}

/// The columns of [`Columns`].
macro_rules! keeper_columns {
    () => {
        (
            (items::id, items::code, items::kind, items::condition),
            (
                custody::held_by,
                custody::place_id,
                custody::person_id,
                custody::machine_id,
                custody::purpose,
                custody::due,
                custody::job_id,
            ),
            (places::code.nullable(), places::kind.nullable(), people::name.nullable(), machines::code.nullable()),
        )
    };
}

/// The planned jobs' numbers and last days, by which an item at work is known to be taken.
pub(super) type Days<'a> = &'a BTreeMap<JobId, (Code, NaiveDate)>;

/// What is in open setups: the setup's job, machine and station by item.
type InSetups = BTreeMap<ItemId, (Option<JobId>, Code, Code)>;

fn in_setups(connection: &mut Connection) -> Result<InSetups> {
    let rows: Vec<(String, Option<String>, String, String)> = items_in_setups::table
        .inner_join(setups::table.on(setups::id.eq(items_in_setups::setup_id)))
        .inner_join(machines::table.on(machines::id.eq(setups::machine_id)))
        .select((items_in_setups::item_id, setups::job_id, machines::code, items_in_setups::station))
        .load(connection)?;
    rows.into_iter()
        .map(|(item, job, machine, station)| {
            let job = columns::read_optional(job.as_deref())?;
            Ok((columns::read(&item)?, (job, columns::code(&machine)?, columns::code(&station)?)))
        })
        .collect()
}

fn candidate(columns: Columns, in_setups: &InSetups, days: Days<'_>) -> Result<Candidate> {
    let ((id, code, kind, condition), at, (place, place_kind, person, machine)) = columns;
    let (held_by, place_id, person_id, machine_id, purpose, due, job) = at;
    let keeper = join(&held_by, place_id.as_deref(), person_id.as_deref(), machine_id.as_deref())?;
    let item: ItemId = columns::read(&id)?;
    let purpose = purpose.map(|name| columns::named(&name, Purpose::from_name)).transpose()?;
    let named = |job: JobId| days.get(&job).map(|(number, last)| (job, number.clone(), *last));
    let at_work = match in_setups.get(&item) {
        Some((job, machine, station)) => {
            Some(AtWork { job: job.and_then(named), setup: Some((machine.clone(), station.clone())) })
        }
        None => {
            let handed_out: Option<JobId> = columns::read_optional(job.as_deref())?;
            let job = handed_out.filter(|_| purpose == Some(Purpose::Use)).and_then(named);
            job.map(|job| AtWork { job: Some(job), setup: None })
        }
    };
    Ok(Candidate {
        item,
        code: columns::code(&code)?,
        kind: columns::named(&kind, ItemKind::from_name)?,
        condition: columns::named(&condition, Condition::from_name)?,
        whereabouts: Whereabouts {
            keeper,
            name: place.or(person).or(machine).unwrap_or_default(),
            outside: place_kind.as_deref() == Some("outside"),
        },
        purpose,
        due,
        at_work,
        booked: Vec::new(),
    })
}

/// An item's columns, its tool's: design, height with unit, pieces, whether it was checked; and the part it is kept for.
type ToolColumns = (Columns, (String, i64, String, i64, bool), Option<String>);

/// Form tools by code, without their bookings. `designs` are those that are asked for: tools of others are left out.
///
/// # Errors
/// A database error.
pub fn tools(
    connection: &mut Connection,
    which: WhichTools<'_>,
    designs: &BTreeMap<ToolDesignId, DesignNeed>,
    days: Days<'_>,
) -> Result<Vec<CandidateTool>> {
    use form_tools as f;
    let in_setups = in_setups(connection)?;
    let query = with_keeper!(items::table.inner_join(f::table.on(f::item_id.eq(items::id))))
        .left_join(tool_belongings::table.on(tool_belongings::tool_id.eq(f::item_id)))
        .order(items::code)
        .select((
            keeper_columns!(),
            (f::design_id, f::height_pm, f::height_unit, f::pieces_since_grind, f::checked_after_grind),
            tool_belongings::reserved_for.nullable(),
        ))
        .into_boxed();
    let query = match which {
        WhichTools::Designs(ids) => query
            .filter(f::design_id.eq_any(ids.iter().map(ToolDesignId::to_string).collect::<Vec<_>>()))
            .filter(items::condition.ne(Condition::Retired.name())),
        WhichTools::Items(ids) => query.filter(items::id.eq_any(ids.iter().map(ItemId::to_string).collect::<Vec<_>>())),
    };
    let rows: Vec<ToolColumns> = query.load(connection)?;
    let mut tools = Vec::with_capacity(rows.len());
    for (columns, (design, height, unit, since, checked_after_grind), reserved_for) in rows {
        let id: ToolDesignId = columns::read(&design)?;
        let height = columns::length(height, &unit)?;
        let life = designs.get(&id).map(|design| Life::expected(design, height, since));
        tools.push(CandidateTool {
            item: candidate(columns, &in_setups, days)?,
            design: id,
            height,
            life: life.unwrap_or(Life { on_edge: 0, grinds: 0 }),
            checked_after_grind,
            reserved_for: columns::read_optional(reserved_for.as_deref())?,
        });
    }
    Ok(tools)
}

/// Holders by code, without their bookings.
///
/// # Errors
/// A database error.
pub fn holders(connection: &mut Connection, which: WhichHolders<'_>, days: Days<'_>) -> Result<Vec<CandidateHolder>> {
    use holders_table as h;
    let in_setups = in_setups(connection)?;
    let query = with_keeper!(items::table.inner_join(h::table.on(h::item_id.eq(items::id))))
        .order(items::code)
        .select((keeper_columns!(), (h::style, h::next_check)))
        .into_boxed();
    let query = match which {
        WhichHolders::Styles(styles) => {
            query.filter(h::style.eq_any(styles)).filter(items::condition.ne(Condition::Retired.name()))
        }
        WhichHolders::Items(ids) => {
            query.filter(items::id.eq_any(ids.iter().map(ItemId::to_string).collect::<Vec<_>>()))
        }
    };
    let rows: Vec<(Columns, (String, Option<NaiveDate>))> = query.load(connection)?;
    rows.into_iter()
        .map(|(columns, (style, next_check))| {
            Ok(CandidateHolder { item: candidate(columns, &in_setups, days)?, style, next_check })
        })
        .collect()
}

/// The centre gauges of these machines by code; for each machine the last instant at which its spindle centres may have
/// moved.
///
/// # Errors
/// A database error.
pub fn gauges(
    connection: &mut Connection,
    of: &BTreeMap<MachineId, Option<DateTime<Utc>>>,
    days: Days<'_>,
) -> Result<Vec<CandidateGauge>> {
    let in_setups = in_setups(connection)?;
    let machines_asked: Vec<MachineId> = of.keys().copied().collect();
    let gauges = center_gauges::of_machines(connection, &machines_asked)?;
    let ids: Vec<String> = gauges.iter().map(|gauge| gauge.item.id.to_string()).collect();
    let rows: Vec<Columns> = with_keeper!(items::table)
        .filter(items::id.eq_any(ids))
        .filter(items::condition.ne(Condition::Retired.name()))
        .order(items::code)
        .select(keeper_columns!())
        .load(connection)?;
    let mut by_item: BTreeMap<ItemId, _> = gauges.into_iter().map(|gauge| (gauge.item.id, gauge)).collect();
    let mut found = Vec::with_capacity(rows.len());
    for columns in rows {
        let item = candidate(columns, &in_setups, days)?;
        let Some(gauge) = by_item.remove(&item.item) else { continue };
        found.push(CandidateGauge {
            item,
            machine: gauge.machine,
            stations: gauge.stations,
            next_check: gauge.next_check,
            last_accepted_check_at: gauge.last_accepted_check_at,
            centers_may_have_moved_at: of.get(&gauge.machine).copied().flatten(),
        });
    }
    Ok(found)
}
