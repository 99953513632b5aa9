//! Bookings: keeping items for a job, letting them go, and what becomes of them when the job changes.
//!
//! The job's codes are locked first, then the items' custody rows in the order of ids; the key over item and day is the
//! guard behind both.

use super::{load, read::report_on};
use crate::{
    app::{
        facts::scanned_item,
        perform::Done,
        registry::{Jobs, find, write_change},
    },
    conditional::answer_read,
    extract::{IfNoneMatch, Json, Reference, WriteOptions},
    principal::{BookItems, Guarded, Principal, Read},
    problem::Problem,
    transport::booking::{BookingView, BookingWish, Bookings, CancelBookings, NewBookings},
};
use actix_web::HttpResponse;
use chrono::NaiveDate;
use dovetally_core::{
    code::Code,
    findings::RuleSet,
    ids::{ItemId, JobId, PartId},
    planning::{
        booking::{AfterChange, Bookable, Wish, after_change, book as may_book},
        examine::Options,
        report::{Detail, NeedKind},
        window::Window,
    },
    refusal::{Refusal, Rule, Subject, SubjectKind},
    scan::Scanned,
};
use dovetally_db::{
    Connection, Constraint, Error, Tx,
    bookings::{self, Booking, Ending},
    codes, custody, jobs, people,
};
use std::collections::BTreeMap;

/// The most items of one request: more than a kit ever has.
const MOST_ITEMS: usize = 200;

/// Keeps items for a job.
///
/// # Errors
/// 404, 409 with every item's refusals, 422 for a body that asks for nothing or for both.
pub async fn book(
    guarded: &Guarded<BookItems>,
    options: &WriteOptions,
    job: Reference,
    body: Json<NewBookings>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| book_in(tx, who, &job, &body)).await
}

/// The same inside a transaction.
pub(crate) fn book_in(tx: &mut Tx<'_>, who: &Principal, job: &Reference, body: &NewBookings) -> Result<Done, Problem> {
    if body.proposal != body.items.is_empty() {
        return Err(Problem::field("/items", "name items, or take the proposal: one of the two"));
    }
    if body.items.len() > MOST_ITEMS {
        return Err(Problem::field("/items", format!("needs at most {MOST_ITEMS} items")));
    }
    let id = find::<Jobs>(tx.connection(), job)?.id;
    codes::lock(tx.connection(), id.uuid())?;
    let (one, today) = (load::one_job(tx.connection(), id)?, tx.now().date_naive());
    let wanted = if body.proposal {
        let report = report_on(tx.connection(), &one, Options::on(today), Detail::Outcome)?;
        let tools_and_holders = report.needs.iter().filter(|need| need.kind != NeedKind::CenterGauge);
        let given = tools_and_holders.filter_map(|need| need.station.as_ref().map(|station| (station, &need.given)));
        let new =
            given.flat_map(|(station, given)| given.iter().filter(|one| !one.kept).map(move |one| (station, one)));
        let wanted: Vec<BookingWish> =
            new.map(|(station, one)| BookingWish { station: station.clone(), item: one.code.to_string() }).collect();
        let reasons: Vec<Refusal> = report.reasons().cloned().collect();
        if wanted.is_empty() && !reasons.is_empty() {
            return Err(Problem::refusals(reasons));
        }
        wanted
    } else {
        body.items.clone()
    };
    let days = one.planned.days(today);
    let wishes = taken(tx, &wanted, today)?;
    may_book(&one.planned, one.state, days, &wishes, RuleSet::ALL).map_err(Problem::refusals)?;
    tx.pause_point("booking-read");
    for (wish, item) in wishes.iter().filter_map(|wish| wish.item.known().map(|item| (wish, item.item()))) {
        let booking = Booking {
            id: tx.new_id(),
            job: id,
            item: item.item,
            item_code: item.code.clone(),
            station: wish.station.clone(),
            days,
            booked_by: who.person,
            booked_at: tx.now(),
            ended: None,
            version: 1,
        };
        bookings::insert(tx.connection(), &booking).map_err(|error| booked_meanwhile(error, &item.code))?;
        record(tx, who, &booking, "dovetally.booking.made")?;
    }
    let number = &one.planned.number;
    let kept = bookings::of_job(tx.connection(), id)?;
    let shown = show_all(tx.connection(), number, &kept)?;
    Done::created(&shown, format!("/v1/jobs/{number}/bookings"))
}

/// Lets items go.
///
/// # Errors
/// 404, 422 for an item that is not kept for the job.
pub async fn cancel(
    guarded: &Guarded<BookItems>,
    options: &WriteOptions,
    job: Reference,
    body: Json<CancelBookings>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| cancel_in(tx, who, &job, &body)).await
}

/// The same inside a transaction.
pub(crate) fn cancel_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    job: &Reference,
    body: &CancelBookings,
) -> Result<Done, Problem> {
    if body.items.is_empty() || body.items.len() > MOST_ITEMS {
        return Err(Problem::field("/items", format!("needs 1 to {MOST_ITEMS} items")));
    }
    if body.reason.trim().is_empty() || body.reason.chars().count() > 1000 {
        return Err(Problem::field("/reason", "needs words, at most 1000 characters"));
    }
    let id = find::<Jobs>(tx.connection(), job)?.id;
    codes::lock(tx.connection(), id.uuid())?;
    let kept = bookings::of_job(tx.connection(), id)?;
    let mut ended = Vec::with_capacity(body.items.len());
    for (index, code) in body.items.iter().enumerate() {
        let item = codes::find_id(tx.connection(), codes::CodeSubject::Item, code)?.map(ItemId::from_uuid);
        let found = kept.iter().find(|booking| Some(booking.item) == item);
        let not_kept = || Problem::field(format!("/items/{index}"), format!("{code} is not kept for this job"));
        let booking = found.ok_or_else(not_kept)?;
        if ended.iter().any(|ended: &Booking| ended.id == booking.id) {
            return Err(Problem::field(format!("/items/{index}"), format!("{code} is named twice")));
        }
        let ending = Ending { by: Some(who.person), at: tx.now(), because: body.reason.clone() };
        ended.push(end(tx, who, booking, ending, "dovetally.booking.cancelled")?);
    }
    let number = find::<Jobs>(tx.connection(), job)?.code;
    Done::ok(&show_all(tx.connection(), &number, &ended)?)
}

/// What is kept for a job.
///
/// # Errors
/// 404 when there is no such job.
pub async fn list(guarded: &Guarded<Read>, job: Reference, condition: &IfNoneMatch) -> Result<HttpResponse, Problem> {
    let shown = guarded.database().read(move |connection| kept_for(connection, &job)).await?;
    answer_read(&shown, condition)
}

/// The same from a connection.
///
/// # Errors
/// 404 when there is no such job.
pub(crate) fn kept_for(connection: &mut Connection, job: &Reference) -> Result<Bookings, Problem> {
    let job = find::<Jobs>(connection, job)?;
    let kept = bookings::of_job(connection, job.id)?;
    show_all(connection, &job.code, &kept)
}

/// Moves a job's bookings along after the job changed. What no longer fits ends, and says why: what the planning system
/// writes is never refused for a booking, and the job's readiness tells the gap.
///
/// # Errors
/// A database error, and a refusal where somebody else booked one of the days at the same moment.
pub(crate) fn after_change_of(tx: &mut Tx<'_>, who: &Principal, job: JobId) -> Result<(), Problem> {
    let kept = bookings::of_job(tx.connection(), job)?;
    let items: Vec<ItemId> = kept.iter().map(|booking| booking.item).collect();
    custody::lock(tx.connection(), &items)?;
    bring_along(tx, who, job, &kept)
}

/// The same for every job of a part for which something is kept. All codes are locked first, then all items, each in the
/// order of their ids: two parts whose jobs keep one another's items would else wait for each other in a circle.
///
/// # Errors
/// As for one job.
pub(crate) fn after_change_of_part(tx: &mut Tx<'_>, who: &Principal, part: PartId) -> Result<(), Problem> {
    let of = bookings::jobs_of_part(tx.connection(), part)?;
    for job in &of {
        codes::lock(tx.connection(), job.uuid())?;
    }
    // Read behind the locks of their jobs: nobody makes or ends bookings of these meanwhile.
    let mut kept: Vec<(JobId, Vec<Booking>)> = Vec::with_capacity(of.len());
    for job in of {
        kept.push((job, bookings::of_job(tx.connection(), job)?));
    }
    let items: Vec<ItemId> = kept.iter().flat_map(|(_, kept)| kept).map(|booking| booking.item).collect();
    custody::lock(tx.connection(), &items)?;
    kept.into_iter().try_for_each(|(job, kept)| bring_along(tx, who, job, &kept))
}

/// Moves or ends a job's bookings, whose items' custody rows are locked.
fn bring_along(tx: &mut Tx<'_>, who: &Principal, job: JobId, kept: &[Booking]) -> Result<(), Problem> {
    if kept.is_empty() {
        return Ok(());
    }
    let items: Vec<ItemId> = kept.iter().map(|booking| booking.item).collect();
    let (one, today) = (load::one_job(tx.connection(), job)?, tx.now().date_naive());
    let days = one.planned.days(today);
    let known = known(tx.connection(), today, &items)?;
    for booking in kept {
        let Some(item) = known.get(&booking.item) else { continue };
        match after_change(&one.planned, one.state, days, &booking.station, item, RuleSet::ALL) {
            AfterChange::Ends(refusals) => {
                let because = refusals.iter().map(|refusal| refusal.sentence.as_str()).collect::<Vec<_>>().join(" ");
                let because = because.chars().take(1000).collect();
                end(tx, who, booking, Ending { by: None, at: tx.now(), because }, "dovetally.booking.ended")?;
            }
            AfterChange::Moves if booking.days != days => {
                let moved = Booking { days, version: booking.version + 1, ..booking.clone() };
                bookings::update(tx.connection(), &moved)
                    .map_err(|error| booked_meanwhile(error, &booking.item_code))?;
                record(tx, who, &moved, "dovetally.booking.moved")?;
            }
            AfterChange::Moves | AfterChange::Stays => {}
        }
    }
    Ok(())
}

/// Which of these items are kept for other jobs, from today until they are due back: told to whoever hands them out.
///
/// # Errors
/// A database error.
pub(crate) fn kept_for_others(
    tx: &mut Tx<'_>,
    items: &[ItemId],
    job: Option<JobId>,
    due: Option<NaiveDate>,
) -> Result<Vec<Refusal>, Problem> {
    let today = tx.now().date_naive();
    let Some(out) = Window::new(today, due.unwrap_or(today)) else { return Ok(Vec::new()) };
    let kept = bookings::kept(tx.connection(), today, Some(items))?;
    let mut told = Vec::new();
    for (item, days) in kept {
        for booked in days.iter().filter(|booked| Some(booked.job) != job && booked.days.overlaps(out)) {
            let Some(item) = dovetally_db::items::find(tx.connection(), item)? else { continue };
            let (code, number) = (&item.code, &booked.number);
            let sentence =
                format!("{code} is kept for job {number} from {} to {}.", booked.days.first(), booked.days.last());
            told.push(
                Refusal::new(Rule::ItemBooked, sentence)
                    .saw(number.as_str())
                    .about(Subject::coded(SubjectKind::Item, code)),
            );
        }
    }
    Ok(told)
}

/// Takes the custody rows of what is wished for, then reads it.
fn taken(tx: &mut Tx<'_>, wanted: &[BookingWish], today: NaiveDate) -> Result<Vec<Wish>, Problem> {
    let mut scanned = Vec::with_capacity(wanted.len());
    let mut ids: Vec<ItemId> = Vec::with_capacity(wanted.len());
    for (index, wish) in wanted.iter().enumerate() {
        let item = scanned_item(tx.connection(), &wish.item, today)?;
        if let Some(item) = item.known() {
            if ids.contains(&item.item) {
                let sentence = format!("{} is named twice; it is at one station", item.code);
                return Err(Problem::field(format!("/items/{index}/item"), sentence));
            }
            ids.push(item.item);
        }
        scanned.push(item);
    }
    custody::lock(tx.connection(), &ids)?;
    let mut known = known(tx.connection(), today, &ids)?;
    let wishes = scanned.into_iter().zip(wanted).map(|(scanned, wish)| {
        let item = match scanned {
            Scanned::Known(item) => match known.remove(&item.item) {
                Some(item) => Scanned::Known(item),
                None => Scanned::OtherKind { code: item.code, what: format!("a {}", item.kind.words()) },
            },
            Scanned::OtherKind { code, what } => Scanned::OtherKind { code, what },
            Scanned::Unknown { text } => Scanned::Unknown { text },
        };
        Wish { station: wish.station.clone(), item }
    });
    Ok(wishes.collect())
}

fn known(
    connection: &mut Connection,
    today: NaiveDate,
    items: &[ItemId],
) -> Result<BTreeMap<ItemId, Bookable>, Problem> {
    let (tools, holders) = load::bookable(connection, today, items)?;
    let tools = tools.into_iter().map(|tool| (tool.item.item, Bookable::Tool(tool)));
    let holders = holders.into_iter().map(|holder| (holder.item.item, Bookable::Holder(holder)));
    Ok(tools.chain(holders).collect())
}

fn end(
    tx: &mut Tx<'_>,
    who: &Principal,
    booking: &Booking,
    ending: Ending,
    kind: &'static str,
) -> Result<Booking, Problem> {
    let ended = Booking { ended: Some(ending), version: booking.version + 1, ..booking.clone() };
    bookings::update(tx.connection(), &ended)?;
    record(tx, who, &ended, kind)?;
    Ok(ended)
}

/// The key over item and day is the last guard; it says the same as the rule.
fn booked_meanwhile(error: Error, code: &Code) -> Problem {
    if error.constraint() != Some(Constraint::ItemBooked) {
        return error.into();
    }
    let sentence = format!("Somebody else booked {code} for one of these days at the same moment.");
    let refusal = Refusal::new(Rule::ItemBooked, sentence).about(Subject::coded(SubjectKind::Item, code));
    Problem::refusals(vec![refusal]).because(error)
}

fn show_all(connection: &mut Connection, job: &Code, bookings: &[Booking]) -> Result<Bookings, Problem> {
    let items = bookings.iter().map(|booking| show(connection, job, booking));
    Ok(Bookings { items: items.collect::<Result<_, _>>()? })
}

fn show(connection: &mut Connection, job: &Code, booking: &Booking) -> Result<BookingView, Problem> {
    let mut badge = |id| Ok::<_, Problem>(people::find(connection, id)?.map(|person| person.badge));
    let ended = booking.ended.as_ref();
    Ok(BookingView {
        id: booking.id.uuid(),
        job: job.clone(),
        item: booking.item_code.clone(),
        station: booking.station.clone(),
        from: booking.days.first(),
        to: booking.days.last(),
        booked_by: badge(booking.booked_by)?.unwrap_or_default(),
        booked_at: booking.booked_at,
        ended_at: ended.map(|ended| ended.at),
        ended_by: ended.and_then(|ended| ended.by).map(badge).transpose()?.flatten(),
        ended_because: ended.map(|ended| ended.because.clone()),
    })
}

fn record(tx: &mut Tx<'_>, who: &Principal, booking: &Booking, kind: &'static str) -> Result<(), Problem> {
    let job = jobs::find(tx.connection(), booking.job)?.ok_or_else(|| Problem::not_found("job", booking.job))?;
    let view = show(tx.connection(), &job.code, booking)?;
    let state = serde_json::to_value(&view).map_err(Problem::internal)?;
    write_change(tx, who, "booking", kind, booking.id.uuid(), booking.version, state);
    Ok(())
}
