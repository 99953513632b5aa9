//! Custody: where each item is now, and the ledger of its movements.

mod as_of;
mod faults;
mod known_as;

pub use as_of::{PastFilter, last_movement, page_as_of};
pub use faults::faults;
pub use known_as::{KnownAs, all_known_as, known_as, whereabouts};

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{custody, movements},
};
use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    ids::{ItemId, JobId, MachineId, MovementId, PersonId, PlaceId, SetupId},
    item::{Condition, HolderOfRecord, Keeper, Purpose},
    named,
};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

named! {
    /// Why an item moved.
    MovementKind {
        /// It was put on record, here.
        Registered = "registered",
        /// Handed out.
        CheckedOut = "checked_out",
        /// Taken back.
        CheckedIn = "checked_in",
        /// Passed on.
        Transferred = "transferred",
        /// By a step of a setup.
        Setup = "setup",
    }
}

/// Where an item is now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Custody {
    /// The item.
    pub item: ItemId,
    /// Who or what has it.
    pub keeper: Keeper,
    /// What it was handed out for.
    pub purpose: Option<Purpose>,
    /// The day by which it is due back.
    pub due: Option<NaiveDate>,
    /// For which job.
    pub job: Option<JobId>,
    /// For which machine it was handed out, wherever it is.
    pub for_machine: Option<MachineId>,
    /// Since when.
    pub since: DateTime<Utc>,
    /// The number of its last movement.
    pub movement_sequence: i64,
}

/// One row of the ledger. Its document is what the chain of changes seals.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Movement {
    /// Its id.
    pub id: MovementId,
    /// The item.
    pub item: ItemId,
    /// Its number among the item's movements, from 1.
    pub item_sequence: i64,
    /// Why.
    pub kind: MovementKind,
    /// From whom or where; none for the first.
    pub from: Option<Keeper>,
    /// To whom or where.
    pub to: Keeper,
    /// The item's condition after it.
    pub condition: Condition,
    /// What it was handed out for.
    pub purpose: Option<Purpose>,
    /// The day by which it is due back.
    pub due: Option<NaiveDate>,
    /// For which job.
    pub job: Option<JobId>,
    /// For which machine it was handed out, wherever it is.
    pub for_machine: Option<MachineId>,
    /// In which setup.
    pub setup: Option<SetupId>,
    /// Who recorded it.
    pub recorded_by: PersonId,
    /// When it happened, as the person says.
    pub occurred_at: DateTime<Utc>,
    /// The server's time.
    pub recorded_at: DateTime<Utc>,
}

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = custody)]
#[diesel(treat_none_as_null = true)]
struct Row {
    item_id: String,
    held_by: String,
    place_id: Option<String>,
    person_id: Option<String>,
    machine_id: Option<String>,
    purpose: Option<String>,
    due: Option<NaiveDate>,
    job_id: Option<String>,
    for_machine_id: Option<String>,
    since: NaiveDateTime,
    movement_sequence: i64,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = movements)]
struct MovementRow {
    id: String,
    item_id: String,
    item_sequence: i64,
    kind: String,
    from_kind: Option<String>,
    from_place_id: Option<String>,
    from_person_id: Option<String>,
    from_machine_id: Option<String>,
    to_kind: String,
    to_place_id: Option<String>,
    to_person_id: Option<String>,
    to_machine_id: Option<String>,
    condition: String,
    purpose: Option<String>,
    due: Option<NaiveDate>,
    job_id: Option<String>,
    for_machine_id: Option<String>,
    setup_id: Option<String>,
    recorded_by: String,
    occurred_at: NaiveDateTime,
    recorded_at: NaiveDateTime,
}

/// A keeper's three columns: place, person, machine.
fn split(keeper: Keeper) -> (Option<String>, Option<String>, Option<String>) {
    match keeper {
        Keeper::Place(id) => (Some(id.to_string()), None, None),
        Keeper::Person(id) => (None, Some(id.to_string()), None),
        Keeper::Machine(id) => (None, None, Some(id.to_string())),
    }
}

pub(crate) fn join(kind: &str, place: Option<&str>, person: Option<&str>, machine: Option<&str>) -> Result<Keeper> {
    match (columns::named(kind, HolderOfRecord::from_name)?, place, person, machine) {
        (HolderOfRecord::Place, Some(id), _, _) => Ok(Keeper::Place(columns::read::<PlaceId>(id)?)),
        (HolderOfRecord::Person, _, Some(id), _) => Ok(Keeper::Person(columns::read::<PersonId>(id)?)),
        (HolderOfRecord::Machine, _, _, Some(id)) => Ok(Keeper::Machine(columns::read::<MachineId>(id)?)),
        _ => Err(Error::unreadable("a keeper without its id")),
    }
}

impl TryFrom<Row> for Custody {
    type Error = Error;

    fn try_from(row: Row) -> Result<Self> {
        Ok(Self {
            item: columns::read(&row.item_id)?,
            keeper: join(&row.held_by, row.place_id.as_deref(), row.person_id.as_deref(), row.machine_id.as_deref())?,
            purpose: row.purpose.map(|name| columns::named(&name, Purpose::from_name)).transpose()?,
            due: row.due,
            job: columns::read_optional(row.job_id.as_deref())?,
            for_machine: columns::read_optional(row.for_machine_id.as_deref())?,
            since: columns::time(row.since),
            movement_sequence: row.movement_sequence,
        })
    }
}

impl TryFrom<MovementRow> for Movement {
    type Error = Error;

    fn try_from(row: MovementRow) -> Result<Self> {
        let from = row.from_kind.as_deref().map(|kind| {
            let (place, person) = (row.from_place_id.as_deref(), row.from_person_id.as_deref());
            join(kind, place, person, row.from_machine_id.as_deref())
        });
        let (place, person) = (row.to_place_id.as_deref(), row.to_person_id.as_deref());
        Ok(Self {
            id: columns::read(&row.id)?,
            item: columns::read(&row.item_id)?,
            item_sequence: row.item_sequence,
            kind: columns::named(&row.kind, MovementKind::from_name)?,
            from: from.transpose()?,
            to: join(&row.to_kind, place, person, row.to_machine_id.as_deref())?,
            condition: columns::named(&row.condition, Condition::from_name)?,
            purpose: row.purpose.map(|name| columns::named(&name, Purpose::from_name)).transpose()?,
            due: row.due,
            job: columns::read_optional(row.job_id.as_deref())?,
            for_machine: columns::read_optional(row.for_machine_id.as_deref())?,
            setup: columns::read_optional(row.setup_id.as_deref())?,
            recorded_by: columns::read(&row.recorded_by)?,
            occurred_at: columns::time(row.occurred_at),
            recorded_at: columns::time(row.recorded_at),
        })
    }
}

/// Locks items' custody rows for this transaction, in the order of their ids, so that two kits never wait for each
/// other in a circle.
///
/// # Errors
/// A database error.
pub fn lock(connection: &mut Connection, items: &[ItemId]) -> Result<()> {
    #[cfg(debug_assertions)]
    if crate::race_control::is_removed("custody-lock") {
        return Ok(());
    }
    let mut items = items.to_vec();
    items.sort_unstable();
    items.dedup();
    for item in items {
        // Writing a column over with itself takes the row on both databases.
        diesel::update(custody::table.find(item.to_string()))
            .set(custody::movement_sequence.eq(custody::movement_sequence))
            .execute(connection)?;
    }
    Ok(())
}

/// Whether an item has moved since it had so many movements: what was judged of it then holds no more.
///
/// # Errors
/// A database error.
pub fn has_moved(connection: &mut Connection, item: ItemId, movements: i64) -> Result<bool> {
    #[cfg(debug_assertions)]
    if crate::race_control::is_removed("custody-check") {
        return Ok(false);
    }
    Ok(find(connection, item)?.is_none_or(|now| now.movement_sequence != movements))
}

/// Where an item is.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, item: ItemId) -> Result<Option<Custody>> {
    let row = custody::table.find(item.to_string()).select(Row::as_select()).first(connection).optional()?;
    row.map(Custody::try_from).transpose()
}

/// Where several items are.
///
/// # Errors
/// A database error.
pub fn find_all(connection: &mut Connection, items: &[ItemId]) -> Result<BTreeMap<ItemId, Custody>> {
    let ids: Vec<String> = items.iter().map(ItemId::to_string).collect();
    let rows: Vec<Row> =
        custody::table.filter(custody::item_id.eq_any(ids)).select(Row::as_select()).load(connection)?;
    rows.into_iter().map(|row| Custody::try_from(row).map(|found| (found.item, found))).collect()
}

/// Writes a movement and where the item is after it, in one.
///
/// # Errors
/// [`crate::Constraint::MovementNumber`] when somebody moved the item in between.
pub fn append(connection: &mut Connection, movement: &Movement) -> Result<()> {
    let (to_place, to_person, to_machine) = split(movement.to);
    let (from_place, from_person, from_machine) = movement.from.map_or((None, None, None), split);
    let item = movement.item.to_string();
    let purpose = movement.purpose.map(|purpose| purpose.name().to_owned());
    let job = movement.job.map(|job| job.to_string());
    let for_machine = movement.for_machine.map(|machine| machine.to_string());
    diesel::insert_into(movements::table)
        .values(MovementRow {
            id: movement.id.to_string(),
            item_id: item.clone(),
            item_sequence: movement.item_sequence,
            kind: movement.kind.name().to_owned(),
            from_kind: movement.from.map(|from| from.kind().name().to_owned()),
            from_place_id: from_place,
            from_person_id: from_person,
            from_machine_id: from_machine,
            to_kind: movement.to.kind().name().to_owned(),
            to_place_id: to_place.clone(),
            to_person_id: to_person.clone(),
            to_machine_id: to_machine.clone(),
            condition: movement.condition.name().to_owned(),
            purpose: purpose.clone(),
            due: movement.due,
            job_id: job.clone(),
            for_machine_id: for_machine.clone(),
            setup_id: movement.setup.map(|setup| setup.to_string()),
            recorded_by: movement.recorded_by.to_string(),
            occurred_at: movement.occurred_at.naive_utc(),
            recorded_at: movement.recorded_at.naive_utc(),
        })
        .execute(connection)?;
    let row = Row {
        item_id: item.clone(),
        held_by: movement.to.kind().name().to_owned(),
        place_id: to_place,
        person_id: to_person,
        machine_id: to_machine,
        purpose,
        due: movement.due,
        job_id: job,
        for_machine_id: for_machine,
        since: movement.recorded_at.naive_utc(),
        movement_sequence: movement.item_sequence,
    };
    if diesel::update(custody::table.find(&item)).set(&row).execute(connection)? == 0 {
        diesel::insert_into(custody::table).values(&row).execute(connection)?;
    }
    Ok(())
}

/// Takes an item's custody and its first ledger row off the records: for an item that was put on record by mistake and
/// never moved.
///
/// # Errors
/// A database error.
pub fn forget_unmoved(connection: &mut Connection, item: ItemId) -> Result<bool> {
    let item = item.to_string();
    let moved: bool = diesel::select(diesel::dsl::exists(
        movements::table.filter(movements::item_id.eq(&item)).filter(movements::item_sequence.gt(1)),
    ))
    .get_result(connection)?;
    if moved {
        return Ok(false);
    }
    diesel::delete(custody::table.find(&item)).execute(connection)?;
    diesel::delete(movements::table.filter(movements::item_id.eq(&item))).execute(connection)?;
    Ok(true)
}

/// What a list of movements is narrowed to.
#[derive(Clone, Copy, Debug, Default)]
pub struct MovementFilter {
    /// One item's.
    pub item: Option<ItemId>,
    /// From or to this keeper; for a machine, what was handed out for it too.
    pub keeper: Option<Keeper>,
    /// Recorded at or after.
    pub since: Option<DateTime<Utc>>,
    /// Recorded before.
    pub until: Option<DateTime<Utc>>,
}

/// The ledger, newest first, before one row.
///
/// # Errors
/// A database error.
pub fn movements_page(
    connection: &mut Connection,
    filter: &MovementFilter,
    before: Option<(DateTime<Utc>, MovementId)>,
    limit: i64,
) -> Result<Vec<Movement>> {
    use movements as m;
    let (at, id) = columns::before_or_newest(before);
    let mut query = m::table
        .filter(m::recorded_at.lt(at).or(m::recorded_at.eq(at).and(m::id.lt(id))))
        .order((m::recorded_at.desc(), m::id.desc()))
        .limit(limit)
        .select(MovementRow::as_select())
        .into_boxed();
    if let Some(item) = filter.item {
        query = query.filter(m::item_id.eq(item.to_string()));
    }
    if let Some(since) = filter.since {
        query = query.filter(m::recorded_at.ge(since.naive_utc()));
    }
    if let Some(until) = filter.until {
        query = query.filter(m::recorded_at.lt(until.naive_utc()));
    }
    query = match filter.keeper {
        None => query,
        Some(Keeper::Place(id)) => {
            query.filter(m::from_place_id.eq(id.to_string()).or(m::to_place_id.eq(id.to_string())))
        }
        Some(Keeper::Person(id)) => {
            query.filter(m::from_person_id.eq(id.to_string()).or(m::to_person_id.eq(id.to_string())))
        }
        Some(Keeper::Machine(id)) => query.filter(
            (m::from_machine_id.eq(id.to_string()))
                .or(m::to_machine_id.eq(id.to_string()))
                .or(m::for_machine_id.eq(id.to_string())),
        ),
    };
    let rows: Vec<MovementRow> = query.load(connection)?;
    rows.into_iter().map(Movement::try_from).collect()
}
