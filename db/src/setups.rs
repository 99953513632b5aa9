//! Setups, their events, and the rows that guard them.

mod faults;
mod guards;
mod uses;

pub use faults::faults;
pub use guards::*;
pub use uses::{keep as keep_uses, of_setup as uses_of, past_runs};

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{setup_events, setups},
};
use chrono::{DateTime, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    ids::{JobId, MachineId, PartId, PersonId, SetupId},
    setup::{
        event::{Event, EventKind, Recorded},
        plan::Plan,
        state::SetupState,
        stored::StoredEvent,
    },
};

/// A setup's row.
#[derive(Clone, Debug, PartialEq)]
pub struct Setup {
    /// Its id.
    pub id: SetupId,
    /// The machine.
    pub machine: MachineId,
    /// The part.
    pub part: PartId,
    /// The job.
    pub job: Option<JobId>,
    /// Where it stands; the fold of its events says the same.
    pub state: SetupState,
    /// What it was opened with.
    pub plan: Plan,
    /// Who opened it.
    pub opened_by: PersonId,
    /// When.
    pub opened_at: DateTime<Utc>,
    /// When it was closed or abandoned.
    pub closed_at: Option<DateTime<Utc>>,
    /// Raised with every event.
    pub version: i64,
}

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = setups)]
struct Row {
    id: String,
    machine_id: String,
    part_id: String,
    job_id: Option<String>,
    state: String,
    opened_with: String,
    opened_by: String,
    opened_at: NaiveDateTime,
    closed_at: Option<NaiveDateTime>,
    version: i64,
}

fn row(setup: &Setup) -> Result<Row> {
    Ok(Row {
        id: setup.id.to_string(),
        machine_id: setup.machine.to_string(),
        part_id: setup.part.to_string(),
        job_id: setup.job.map(|job| job.to_string()),
        state: setup.state.name().to_owned(),
        opened_with: columns::document(&setup.plan)?,
        opened_by: setup.opened_by.to_string(),
        opened_at: setup.opened_at.naive_utc(),
        closed_at: setup.closed_at.map(|at| at.naive_utc()),
        version: setup.version,
    })
}

impl TryFrom<Row> for Setup {
    type Error = Error;

    fn try_from(row: Row) -> Result<Self> {
        Ok(Self {
            id: columns::read(&row.id)?,
            machine: columns::read(&row.machine_id)?,
            part: columns::read(&row.part_id)?,
            job: columns::read_optional(row.job_id.as_deref())?,
            state: columns::named(&row.state, SetupState::from_name)?,
            plan: columns::from_document(&row.opened_with)?,
            opened_by: columns::read(&row.opened_by)?,
            opened_at: columns::time(row.opened_at),
            closed_at: row.closed_at.map(columns::time),
            version: row.version,
        })
    }
}

/// Opens a setup.
///
/// # Errors
/// [`crate::Constraint::OneOpenSetup`] when one is open on the machine.
pub fn insert(connection: &mut Connection, setup: &Setup) -> Result<()> {
    diesel::insert_into(setups::table).values(row(setup)?).execute(connection)?;
    Ok(())
}

/// Writes where a setup stands, when it was closed, and its version.
///
/// # Errors
/// A database error.
pub fn update_state(connection: &mut Connection, setup: &Setup) -> Result<()> {
    diesel::update(setups::table.find(setup.id.to_string()))
        .set((
            setups::state.eq(setup.state.name()),
            setups::closed_at.eq(setup.closed_at.map(|at| at.naive_utc())),
            setups::version.eq(setup.version),
        ))
        .execute(connection)?;
    Ok(())
}

/// One setup.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: SetupId) -> Result<Option<Setup>> {
    let row = setups::table.find(id.to_string()).select(Row::as_select()).first(connection).optional()?;
    row.map(Setup::try_from).transpose()
}

/// The machine of a setup: what must be known to take the guard before anything else is read.
///
/// # Errors
/// A database error.
pub fn machine_of(connection: &mut Connection, id: SetupId) -> Result<Option<MachineId>> {
    let machine: Option<String> =
        setups::table.find(id.to_string()).select(setups::machine_id).first(connection).optional()?;
    columns::read_optional(machine.as_deref())
}

/// The open setup of a machine.
///
/// # Errors
/// A database error.
pub fn open_on(connection: &mut Connection, machine: MachineId) -> Result<Option<Setup>> {
    let row = setups::table
        .filter(setups::machine_id.eq(machine.to_string()))
        .filter(setups::closed_at.is_null())
        .select(Row::as_select())
        .first(connection)
        .optional()?;
    row.map(Setup::try_from).transpose()
}

/// The open setup that a person worked on last: recorded something of it, or opened it.
///
/// # Errors
/// A database error.
pub fn worked_on_last(connection: &mut Connection, person: PersonId) -> Result<Option<SetupId>> {
    let person = person.to_string();
    // There are no more open setups than machines, and a person's events grow with the years.
    let open: Vec<(String, String, NaiveDateTime)> = setups::table
        .filter(setups::closed_at.is_null())
        .select((setups::id, setups::opened_by, setups::opened_at))
        .load(connection)?;
    let ids: Vec<&String> = open.iter().map(|(id, ..)| id).collect();
    let recorded: Option<(String, NaiveDateTime)> = setup_events::table
        .filter(setup_events::recorded_by.eq(&person))
        .filter(setup_events::setup_id.eq_any(ids))
        .order(setup_events::recorded_at.desc())
        .select((setup_events::setup_id, setup_events::recorded_at))
        .first(connection)
        .optional()?;
    let opened = open.iter().filter(|(_, by, _)| *by == person).map(|(id, _, at)| (id.clone(), *at));
    let opened = opened.max_by_key(|(_, at)| *at);
    let last = recorded.into_iter().chain(opened).max_by_key(|(_, at)| *at);
    last.map(|(id, _)| columns::read(&id)).transpose()
}

/// What a list of setups is narrowed to.
#[derive(Clone, Copy, Debug, Default)]
pub struct SetupFilter {
    /// One machine's.
    pub machine: Option<MachineId>,
    /// One part's.
    pub part: Option<PartId>,
    /// Open or closed only.
    pub open: Option<bool>,
}

/// Setups, newest first, before one.
///
/// # Errors
/// A database error.
pub fn page(
    connection: &mut Connection,
    filter: SetupFilter,
    before: Option<(DateTime<Utc>, SetupId)>,
    limit: i64,
) -> Result<Vec<Setup>> {
    use setups as s;
    let (at, id) = columns::before_or_newest(before);
    let mut query = s::table
        .filter(s::opened_at.lt(at).or(s::opened_at.eq(at).and(s::id.lt(id))))
        .order((s::opened_at.desc(), s::id.desc()))
        .limit(limit)
        .select(Row::as_select())
        .into_boxed();
    if let Some(machine) = filter.machine {
        query = query.filter(s::machine_id.eq(machine.to_string()));
    }
    if let Some(part) = filter.part {
        query = query.filter(s::part_id.eq(part.to_string()));
    }
    query = match filter.open {
        None => query,
        Some(true) => query.filter(s::closed_at.is_null()),
        Some(false) => query.filter(s::closed_at.is_not_null()),
    };
    let rows: Vec<Row> = query.load(connection)?;
    rows.into_iter().map(Setup::try_from).collect()
}

/// The last finished setups of a part on a machine, newest first.
///
/// # Errors
/// A database error.
pub fn last_finished(connection: &mut Connection, machine: MachineId, part: PartId, limit: i64) -> Result<Vec<Setup>> {
    use setups as s;
    let rows: Vec<Row> = s::table
        .filter(s::machine_id.eq(machine.to_string()))
        .filter(s::part_id.eq(part.to_string()))
        .filter(s::closed_at.is_not_null())
        .order((s::opened_at.desc(), s::id.desc()))
        .limit(limit)
        .select(Row::as_select())
        .load(connection)?;
    rows.into_iter().map(Setup::try_from).collect()
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = setup_events)]
struct EventRow {
    setup_id: String,
    sequence: i64,
    kind: String,
    station: Option<String>,
    payload: String,
    payload_version: i32,
    recorded_by: String,
    occurred_at: NaiveDateTime,
    recorded_at: NaiveDateTime,
}

/// A setup's events in order.
///
/// # Errors
/// A database error, or an event that cannot be read back.
pub fn events(connection: &mut Connection, setup: SetupId) -> Result<Vec<Recorded>> {
    let rows: Vec<EventRow> = setup_events::table
        .filter(setup_events::setup_id.eq(setup.to_string()))
        .order(setup_events::sequence)
        .select(EventRow::as_select())
        .load(connection)?;
    rows.into_iter().map(recorded).collect()
}

fn recorded(row: EventRow) -> Result<Recorded> {
    let stored = StoredEvent {
        kind: row.kind,
        station: row.station,
        payload: columns::from_document(&row.payload)?,
        payload_version: row.payload_version,
    };
    Ok(Recorded {
        sequence: row.sequence,
        by: columns::read(&row.recorded_by)?,
        recorded_at: columns::time(row.recorded_at),
        occurred_at: columns::time(row.occurred_at),
        event: Event::from_stored(stored).map_err(Error::unreadable)?,
    })
}

/// The events of some kinds of several setups, each setup's in order.
///
/// # Errors
/// A database error, or an event that cannot be read back.
pub fn events_of_kinds(
    connection: &mut Connection,
    setups: &[SetupId],
    kinds: &[EventKind],
) -> Result<Vec<(SetupId, Recorded)>> {
    let setups: Vec<String> = setups.iter().map(ToString::to_string).collect();
    let rows: Vec<EventRow> = setup_events::table
        .filter(setup_events::setup_id.eq_any(setups))
        .filter(setup_events::kind.eq_any(kinds.iter().map(|kind| kind.name())))
        .order((setup_events::setup_id, setup_events::sequence))
        .select(EventRow::as_select())
        .load(connection)?;
    rows.into_iter().map(|row| Ok((columns::read(&row.setup_id)?, recorded(row)?))).collect()
}

/// Appends an event.
///
/// # Errors
/// [`crate::Constraint::EventNumber`] when somebody wrote in between.
pub fn append(connection: &mut Connection, setup: SetupId, recorded: &Recorded) -> Result<()> {
    let stored = recorded.event.to_stored()?;
    diesel::insert_into(setup_events::table)
        .values(EventRow {
            setup_id: setup.to_string(),
            sequence: recorded.sequence,
            kind: stored.kind,
            station: stored.station,
            payload: columns::document(&stored.payload)?,
            payload_version: stored.payload_version,
            recorded_by: recorded.by.to_string(),
            occurred_at: recorded.occurred_at.naive_utc(),
            recorded_at: recorded.recorded_at.naive_utc(),
        })
        .execute(connection)?;
    Ok(())
}
