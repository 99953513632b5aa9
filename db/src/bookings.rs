//! Bookings: items kept for jobs, day by day.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{booking_days, bookings, items, jobs},
};
use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{BookingId, ItemId, JobId, PersonId},
    planning::{candidate::BookedDays, window::Window},
    registry::job::JobState,
};
use std::collections::BTreeMap;

/// How a booking ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ending {
    /// Who cancelled it; none when the program ended it with its job.
    pub by: Option<PersonId>,
    /// The server's time.
    pub at: DateTime<Utc>,
    /// Why.
    pub because: String,
}

/// An item kept for a job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Booking {
    /// Its id.
    pub id: BookingId,
    /// The job.
    pub job: JobId,
    /// The item.
    pub item: ItemId,
    /// The item's code.
    pub item_code: Code,
    /// The station for which.
    pub station: Code,
    /// The days.
    pub days: Window,
    /// Who booked it.
    pub booked_by: PersonId,
    /// The server's time.
    pub booked_at: DateTime<Utc>,
    /// How it ended; none while in force.
    pub ended: Option<Ending>,
    /// Raised with every change.
    pub version: i64,
}

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = bookings)]
#[diesel(treat_none_as_null = true)]
struct Row {
    id: String,
    job_id: String,
    item_id: String,
    station: String,
    first_day: NaiveDate,
    last_day: NaiveDate,
    booked_by: String,
    booked_at: NaiveDateTime,
    ended_by: Option<String>,
    ended_at: Option<NaiveDateTime>,
    ended_because: Option<String>,
    version: i64,
}

impl From<&Booking> for Row {
    fn from(booking: &Booking) -> Self {
        let ended = booking.ended.as_ref();
        Self {
            id: booking.id.to_string(),
            job_id: booking.job.to_string(),
            item_id: booking.item.to_string(),
            station: booking.station.to_string(),
            first_day: booking.days.first(),
            last_day: booking.days.last(),
            booked_by: booking.booked_by.to_string(),
            booked_at: booking.booked_at.naive_utc(),
            ended_by: ended.and_then(|ended| ended.by).map(|by| by.to_string()),
            ended_at: ended.map(|ended| ended.at.naive_utc()),
            ended_because: ended.map(|ended| ended.because.clone()),
            version: booking.version,
        }
    }
}

fn days(first: NaiveDate, last: NaiveDate) -> Result<Window> {
    Window::new(first, last).ok_or_else(|| Error::unreadable("a booking that ends before it begins"))
}

fn booking((row, item_code): (Row, String)) -> Result<Booking> {
    let ended = match row.ended_at.zip(row.ended_because) {
        None => None,
        Some((at, because)) => {
            Some(Ending { by: columns::read_optional(row.ended_by.as_deref())?, at: columns::time(at), because })
        }
    };
    Ok(Booking {
        id: columns::read(&row.id)?,
        job: columns::read(&row.job_id)?,
        item: columns::read(&row.item_id)?,
        item_code: columns::code(&item_code)?,
        station: columns::code(&row.station)?,
        days: days(row.first_day, row.last_day)?,
        booked_by: columns::read(&row.booked_by)?,
        booked_at: columns::time(row.booked_at),
        ended,
        version: row.version,
    })
}

/// Keeps an item for a job on every day of the booking.
///
/// # Errors
/// [`crate::Constraint::ItemBooked`] when it is kept for another on one of them.
pub fn insert(connection: &mut Connection, booking: &Booking) -> Result<()> {
    diesel::insert_into(bookings::table).values(Row::from(booking)).execute(connection)?;
    keep_days(connection, booking)
}

/// Writes a booking over. In force it holds the days that it has now, ended it holds none.
///
/// # Errors
/// [`crate::Constraint::ItemBooked`] when its item is kept for another job on one of the days.
pub fn update(connection: &mut Connection, booking: &Booking) -> Result<()> {
    let id = booking.id.to_string();
    diesel::update(bookings::table.find(&id)).set(Row::from(booking)).execute(connection)?;
    diesel::delete(booking_days::table.filter(booking_days::booking_id.eq(&id))).execute(connection)?;
    if booking.ended.is_none() { keep_days(connection, booking) } else { Ok(()) }
}

fn keep_days(connection: &mut Connection, booking: &Booking) -> Result<()> {
    for day in booking.days.days() {
        diesel::insert_into(booking_days::table)
            .values((
                booking_days::item_id.eq(booking.item.to_string()),
                booking_days::day.eq(day),
                booking_days::booking_id.eq(booking.id.to_string()),
            ))
            .execute(connection)?;
    }
    Ok(())
}

/// One booking.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, id: BookingId) -> Result<Option<Booking>> {
    let row = bookings::table
        .inner_join(items::table.on(items::id.eq(bookings::item_id)))
        .filter(bookings::id.eq(id.to_string()))
        .select((Row::as_select(), items::code))
        .first(connection)
        .optional()?;
    row.map(booking).transpose()
}

/// The bookings of a job that are in force, by station and item.
///
/// # Errors
/// A database error.
pub fn of_job(connection: &mut Connection, job: JobId) -> Result<Vec<Booking>> {
    let rows: Vec<(Row, String)> = bookings::table
        .inner_join(items::table.on(items::id.eq(bookings::item_id)))
        .filter(bookings::job_id.eq(job.to_string()))
        .filter(bookings::ended_at.is_null())
        .order((bookings::station, items::code))
        .select((Row::as_select(), items::code))
        .load(connection)?;
    rows.into_iter().map(booking).collect()
}

/// The jobs of a part for which something is kept, in the order of their ids.
///
/// # Errors
/// A database error.
pub fn jobs_of_part(connection: &mut Connection, part: dovetally_core::ids::PartId) -> Result<Vec<JobId>> {
    let mut ids: Vec<String> = jobs::table
        .inner_join(bookings::table.on(bookings::job_id.eq(jobs::id)))
        .filter(jobs::part_id.eq(part.to_string()))
        .filter(bookings::ended_at.is_null())
        .select(jobs::id)
        .load(connection)?;
    ids.sort_unstable();
    ids.dedup();
    ids.iter().map(|id| columns::read(id)).collect()
}

/// The days on which items are kept, by item, as of a day; of these items, or of all. A booking in force is of a job that
/// is not finished: past its last day it goes on until it ends with its job.
///
/// # Errors
/// A database error.
pub fn kept(
    connection: &mut Connection,
    today: NaiveDate,
    of: Option<&[ItemId]>,
) -> Result<BTreeMap<ItemId, Vec<BookedDays>>> {
    type Columns = (String, String, String, String, String, NaiveDate, NaiveDate);
    let mut query = bookings::table
        .inner_join(jobs::table.on(jobs::id.eq(bookings::job_id)))
        .filter(bookings::ended_at.is_null())
        // All that are in force are of such jobs; said, so that the database begins with the few jobs.
        .filter(jobs::state.eq(JobState::Planned.name()))
        .select((
            bookings::item_id,
            bookings::id,
            bookings::job_id,
            jobs::code,
            bookings::station,
            bookings::first_day,
            bookings::last_day,
        ))
        .into_boxed();
    if let Some(of) = of {
        query = query.filter(bookings::item_id.eq_any(of.iter().map(ItemId::to_string).collect::<Vec<_>>()));
    }
    let rows: Vec<Columns> = query.load(connection)?;
    let mut kept: BTreeMap<ItemId, Vec<BookedDays>> = BTreeMap::new();
    for (item, id, job, number, station, first, last) in rows {
        let (job, booked) = ((columns::read(&job)?, columns::code(&number)?), days(first, last)?);
        let booked = BookedDays::new(columns::read(&id)?, job, columns::code(&station)?, booked, today);
        kept.entry(columns::read(&item)?).or_default().push(booked);
    }
    for bookings in kept.values_mut() {
        bookings.sort_by_key(|booked: &BookedDays| (booked.days.first(), booked.booking));
    }
    Ok(kept)
}
