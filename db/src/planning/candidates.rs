//! The items that could serve jobs: where they are, what they are out for, what is left in them.
//!
//! Thousands of them are read for one answer: each row brings what is its own, and the names of whoever has it are read
//! once for all.

use crate::{
    columns,
    connection::Connection,
    custody::join,
    error::Result,
    life::ownership::{self, BelongingRow},
    schema::{
        center_gauge_stations, center_gauges, custody, form_tools, holders as holders_table, items, items_in_setups,
        machine_stations, machines, parts, people, places, setups, tool_belongings,
    },
};
use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{ItemId, JobId, MachineId, ToolDesignId},
    item::{Condition, ItemKind, Purpose, Whereabouts},
    life::ownership::Ownership,
    planning::candidate::{AtWork, Candidate, CandidateGauge, CandidateHolder, ToolOnRecord},
};
use std::collections::{BTreeMap, HashMap};

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

/// The planned jobs' numbers and last days, by which an item at work is known to be taken.
pub type Days = BTreeMap<JobId, (Code, NaiveDate)>;

/// What is in open setups: the setup's job, machine and station by item.
type InSetups = BTreeMap<ItemId, (Option<JobId>, Code, Code)>;

/// What items are read against: who and what has them.
#[derive(Debug)]
pub struct Around {
    in_setups: InSetups,
    days: Days,
    /// The names of places, people and machines by their ids, and whether they are outside the shop.
    names: HashMap<String, (String, bool)>,
}

/// What items are read against, with the days of the jobs that are planned.
///
/// # Errors
/// A database error.
pub fn around(connection: &mut Connection, days: Days) -> Result<Around> {
    let mut names = HashMap::new();
    let of_places: Vec<(String, String, String)> =
        places::table.select((places::id, places::code, places::kind)).load(connection)?;
    names.extend(of_places.into_iter().map(|(id, code, kind)| (id, (code, kind == "outside"))));
    let of_people: Vec<(String, String)> = people::table.select((people::id, people::name)).load(connection)?;
    let of_machines: Vec<(String, String)> = machines::table.select((machines::id, machines::code)).load(connection)?;
    names.extend(of_people.into_iter().chain(of_machines).map(|(id, name)| (id, (name, false))));
    Ok(Around { in_setups: in_setups(connection)?, days, names })
}

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

/// An item's own columns and its custody's.
type Columns = (
    (String, String, String),
    (String, Option<String>, Option<String>, Option<String>, Option<String>, Option<NaiveDate>, Option<String>),
);

/// The columns of [`Columns`].
macro_rules! item_columns {
    () => {
        (
            (items::id, items::code, items::condition),
            (
                custody::held_by,
                custody::place_id,
                custody::person_id,
                custody::machine_id,
                custody::purpose,
                custody::due,
                custody::job_id,
            ),
        )
    };
}

impl Around {
    fn candidate(&self, kind: ItemKind, columns: Columns) -> Result<Candidate> {
        let ((id, code, condition), (held_by, place, person, machine, purpose, due, job)) = columns;
        let keeper = join(&held_by, place.as_deref(), person.as_deref(), machine.as_deref())?;
        let named = place.or(person).or(machine).and_then(|id| self.names.get(&id));
        let (name, outside) = named.cloned().unwrap_or_default();
        let item: ItemId = columns::read(&id)?;
        let purpose = purpose.map(|name| columns::named(&name, Purpose::from_name)).transpose()?;
        let planned = |job: JobId| self.days.get(&job).map(|(number, last)| (job, number.clone(), *last));
        let at_work = match self.in_setups.get(&item) {
            Some((job, machine, station)) => {
                Some(AtWork { job: job.and_then(planned), setup: Some((machine.clone(), station.clone())) })
            }
            None => {
                let handed_out: Option<JobId> = columns::read_optional(job.as_deref())?;
                let job = handed_out.filter(|_| purpose == Some(Purpose::Use)).and_then(planned);
                job.map(|job| AtWork { job: Some(job), setup: None })
            }
        };
        Ok(Candidate {
            item,
            code: columns::code(&code)?,
            kind,
            condition: columns::named(&condition, Condition::from_name)?,
            whereabouts: Whereabouts { keeper, name, outside },
            purpose,
            due,
            at_work,
            booked: Vec::new(),
        })
    }
}

/// Form tools with whose they are and what their owners consented to, without their bookings.
///
/// # Errors
/// A database error.
pub fn tools(connection: &mut Connection, which: WhichTools<'_>, around: &Around) -> Result<Vec<ToolOnRecord>> {
    use form_tools as f;
    type Row = (Columns, (String, i64, String, i64, bool), BelongingRow);
    let query = items::table
        .inner_join(f::table.on(f::item_id.eq(items::id)))
        .inner_join(custody::table.on(custody::item_id.eq(items::id)))
        .left_join(tool_belongings::table.on(tool_belongings::tool_id.eq(f::item_id)))
        .left_join(parts::table.on(parts::id.nullable().eq(tool_belongings::reserved_for.nullable())))
        .select((
            item_columns!(),
            (f::design_id, f::height_pm, f::height_unit, f::pieces_since_grind, f::checked_after_grind),
            (tool_belongings::owner.nullable(), parts::id.nullable(), parts::code.nullable()),
        ))
        .into_boxed();
    let query = match which {
        WhichTools::Designs(ids) => query
            .filter(f::design_id.eq_any(ids.iter().map(ToolDesignId::to_string).collect::<Vec<_>>()))
            .filter(items::condition.ne(Condition::Retired.name())),
        WhichTools::Items(ids) => query.filter(items::id.eq_any(ids.iter().map(ItemId::to_string).collect::<Vec<_>>())),
    };
    let rows: Vec<Row> = query.load(connection)?;
    let tool = |(columns, (design, height, unit, since, checked_after_grind), belonging): Row| {
        Ok(ToolOnRecord {
            item: around.candidate(ItemKind::FormTool, columns)?,
            design: columns::read(&design)?,
            height: columns::length(height, &unit)?,
            pieces_since_grind: since,
            checked_after_grind,
            ownership: Ownership { belonging: ownership::belonging(belonging)?, consents: Vec::new() },
        })
    };
    let mut tools: Vec<ToolOnRecord> = rows.into_iter().map(tool).collect::<Result<_>>()?;
    let owned = tools.iter().filter(|tool| tool.ownership.belonging.owner.is_some()).map(|tool| tool.item.item);
    let mut consents = ownership::open_of(connection, &owned.collect::<Vec<_>>())?;
    for tool in &mut tools {
        tool.ownership.consents = consents.remove(&tool.item.item).unwrap_or_default();
    }
    Ok(tools)
}

/// Holders, without their bookings.
///
/// # Errors
/// A database error.
pub fn holders(connection: &mut Connection, which: WhichHolders<'_>, around: &Around) -> Result<Vec<CandidateHolder>> {
    use holders_table as h;
    let query = items::table
        .inner_join(h::table.on(h::item_id.eq(items::id)))
        .inner_join(custody::table.on(custody::item_id.eq(items::id)))
        .select((item_columns!(), (h::style, h::next_check)))
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
    let holder = |(columns, (style, next_check))| {
        Ok(CandidateHolder { item: around.candidate(ItemKind::Holder, columns)?, style, next_check })
    };
    rows.into_iter().map(holder).collect()
}

/// The centre gauges of these machines; for each machine the last instant at which its spindle centres may have moved.
///
/// # Errors
/// A database error.
pub fn gauges(
    connection: &mut Connection,
    of: &BTreeMap<MachineId, Option<DateTime<Utc>>>,
    around: &Around,
) -> Result<Vec<CandidateGauge>> {
    use center_gauge_stations as limited;
    use center_gauges as g;
    type Row = (Columns, (String, Option<NaiveDate>, Option<NaiveDateTime>));
    let asked: Vec<String> = of.keys().map(MachineId::to_string).collect();
    let limits: Vec<(String, String)> = limited::table
        .inner_join(machine_stations::table.on(machine_stations::id.eq(limited::station_id)))
        .inner_join(g::table.on(g::item_id.eq(limited::gauge_id)))
        .filter(g::machine_id.eq_any(&asked))
        .order(machine_stations::code)
        .select((limited::gauge_id, machine_stations::code))
        .load(connection)?;
    let mut stations: BTreeMap<ItemId, Vec<Code>> = BTreeMap::new();
    for (gauge, station) in limits {
        stations.entry(columns::read(&gauge)?).or_default().push(columns::code(&station)?);
    }
    let rows: Vec<Row> = items::table
        .inner_join(g::table.on(g::item_id.eq(items::id)))
        .inner_join(custody::table.on(custody::item_id.eq(items::id)))
        .filter(g::machine_id.eq_any(&asked))
        .filter(items::condition.ne(Condition::Retired.name()))
        .select((item_columns!(), (g::machine_id, g::next_check, g::last_accepted_check_at)))
        .load(connection)?;
    let gauge = |(columns, (machine, next_check, checked_at)): Row| {
        let (item, machine) = (around.candidate(ItemKind::CenterGauge, columns)?, columns::read(&machine)?);
        Ok(CandidateGauge {
            stations: stations.remove(&item.item).unwrap_or_default(),
            item,
            machine,
            next_check,
            last_accepted_check_at: checked_at.map(columns::time),
            centers_may_have_moved_at: of.get(&machine).copied().flatten(),
        })
    };
    rows.into_iter().map(gauge).collect()
}
