//! Custody: handing out, taking back, passing on, and the ledger.
//!
//! Every item's custody row is taken first, in the order of ids, then read: what the rules judge cannot change until
//! the commit. All or nothing: one refused item refuses the whole request.

mod meant_for;

use meant_for::{Meant, meant_for};

use super::{
    facts::{scanned_id, scanned_item},
    items::{keeper_in_query, place_shown},
    ledger::{self, MovementDetails},
    life, occurred,
    perform::Done,
    planning::bookings,
    registry::{no_faults, record_item, resolve, resolve_in_query},
    setups::{load, store},
};
use crate::{
    extract::{Json, WriteOptions},
    page::Paging,
    principal::{Guarded, Move, Principal, Read},
    problem::Problem,
    transport::movement::{CheckIn, CheckOut, Moved, MovementFilters, MovementView, Transfer},
};
use actix_web::HttpResponse;
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    code::Code,
    custody::{self as rules, Destination, ItemFacts, Judgement, MeantFor, Return},
    ids::{ItemId, JobId, MachineId, MovementId, PersonId, PlaceId},
    item::{Keeper, Purpose},
    people::Permission,
    refusal::{Refusal, Rule},
    scan::Scanned,
    setup::decide::take_out,
};
use dovetally_db::{
    Connection, Constraint, Error, Failure, Tx,
    codes::CodeSubject,
    custody::{self, Movement, MovementFilter, MovementKind},
    items, jobs, machines, people, places, setups,
};

/// The most items of one request: more than a kit ever has.
const MOST_ITEMS: usize = 200;

/// Hands items out.
///
/// # Errors
/// 403 for others without the permission, 409 with every item's refusals, 422 for what names nobody.
pub async fn check_out(
    guarded: &Guarded<Move>,
    options: &WriteOptions,
    body: Json<CheckOut>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| check_out_in(tx, who, &body)).await
}

/// The same inside a transaction.
pub(crate) fn check_out_in(tx: &mut Tx<'_>, who: &Principal, body: &CheckOut) -> Result<Done, Problem> {
    let person = whose(tx.connection(), who, body.person.as_deref(), Staff::Now)?;
    let Meant { machine, job, part } = meant_for(tx.connection(), body)?;
    let occurred_at = occurred(body.occurred_at, tx.now())?;
    if body.due.is_some_and(|due| due < occurred_at.date_naive()) {
        return Err(Problem::field("/due", "is before the day on which the items are handed out"));
    }
    let items = taken(tx, &body.items)?;
    let part = part.as_ref().map(|part| (part, tx.now().date_naive()));
    let meant = MeantFor { machine: machine.as_ref(), part };
    let moves = rules::check_out(&items, person, body.purpose, meant).map_err(Problem::refusals)?;
    tx.pause_point("custody-read");
    for moved in &moves {
        if moved.leaves_setup.is_some() {
            leave_setup(tx, who, moved.item, body.purpose, occurred_at)?;
        }
    }
    let for_machine = machine.map(|machine| machine.machine);
    let details = Details { kind: MovementKind::CheckedOut, due: body.due, job, for_machine, occurred_at };
    write(tx, who, &moves, details)
}

/// Takes items back.
///
/// # Errors
/// 403 for others without the permission, 409 with every item's refusals, 422 for what names nothing.
pub async fn check_in(
    guarded: &Guarded<Move>,
    options: &WriteOptions,
    body: Json<CheckIn>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| check_in_in(tx, who, &body)).await
}

/// The same inside a transaction.
pub(crate) fn check_in_in(tx: &mut Tx<'_>, who: &Principal, body: &CheckIn) -> Result<Done, Problem> {
    let person = whose(tx.connection(), who, body.person.as_deref(), Staff::Ever)?;
    let occurred_at = occurred(body.occurred_at, tx.now())?;
    let codes: Vec<String> = body.items.iter().map(|item| item.code.clone()).collect();
    let items = taken(tx, &codes)?;
    let mut returns = Vec::with_capacity(items.len());
    for (index, (item, back)) in items.into_iter().zip(&body.items).enumerate() {
        let at = format!("/items/{index}/place");
        let place = place_in_use(tx.connection(), &back.place, &at)?;
        returns.push(Return { item, place: Keeper::Place(place), condition: back.condition });
    }
    let judgement =
        Judgement { may_improve: who.may(Permission::ControlGauges), may_retire: who.may(Permission::MoveForAnyone) };
    let moves = rules::check_in(&returns, person, judgement).map_err(Problem::refusals)?;
    tx.pause_point("custody-read");
    let now = tx.now();
    for moved in &moves {
        let item = items::find(tx.connection(), moved.item)?;
        if let Some(item) = item.filter(|item| item.fields.condition != moved.condition) {
            if moved.condition.is_usable() {
                no_faults(item.fields.judged_before_blocked(occurred_at, "/occurred_at"))?;
            }
            items::set_condition(tx.connection(), moved.item, moved.condition, occurred_at.min(now), now)?;
            life::judged(tx, moved.item, moved.condition)?;
            record_item(tx, who, moved.item, "dovetally.item.judged")?;
        }
    }
    let details = Details { kind: MovementKind::CheckedIn, due: None, job: None, for_machine: None, occurred_at };
    write(tx, who, &moves, details)
}

/// Passes items on.
///
/// # Errors
/// 403 for others without the permission, 409 with every item's refusals, 422 for what names nothing.
pub async fn transfer(
    guarded: &Guarded<Move>,
    options: &WriteOptions,
    body: Json<Transfer>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| transfer_in(tx, who, &body)).await
}

/// The same inside a transaction.
pub(crate) fn transfer_in(tx: &mut Tx<'_>, who: &Principal, body: &Transfer) -> Result<Done, Problem> {
    let connection = tx.connection();
    let to = match (&body.to.person, &body.to.place, &body.to.machine) {
        (Some(badge), None, None) => Keeper::Person(by_badge(connection, badge, "/to/person", Staff::Now)?),
        (None, Some(code), None) => Keeper::Place(place_in_use(connection, code, "/to/place")?),
        (None, None, Some(code)) => {
            Keeper::Machine(MachineId::from_uuid(resolve(connection, CodeSubject::Machine, code, "/to/machine")?))
        }
        _ => return Err(Problem::field("/to", "give one of person, place and machine")),
    };
    let occurred_at = occurred(body.occurred_at, tx.now())?;
    let items = taken(tx, &body.items)?;
    let for_anyone = who.may(Permission::MoveForAnyone);
    // What somebody else gets comes out of one's own hands, or by the crib.
    let own = |item: &ItemFacts| item.whereabouts.keeper == Keeper::Person(who.person);
    let to_another = matches!(to, Keeper::Person(person) if person != who.person);
    if to_another && !items.iter().filter_map(Scanned::known).all(own) {
        who.require(Permission::MoveForAnyone)?;
    }
    let destination = Destination { keeper: to, outside: custody::known_as(tx.connection(), to)?.outside };
    let moves = rules::transfer(&items, destination, who.person, for_anyone).map_err(Problem::refusals)?;
    tx.pause_point("custody-read");
    let mut movements = Vec::with_capacity(moves.len());
    for moved in &moves {
        still_there(tx.connection(), moved)?;
        // What it was handed out for, and until when, goes on with it.
        let movement = ledger::move_item(tx, who, moved.item, moved.to, MovementKind::Transferred, None, occurred_at)
            .map_err(moved_meanwhile)?;
        movements.push(show(tx.connection(), &movement)?);
    }
    Done::created(&Moved { movements, notices: Vec::new() }, "/v1/movements")
}

#[derive(Clone, Copy)]
struct Details {
    kind: MovementKind,
    due: Option<NaiveDate>,
    job: Option<JobId>,
    for_machine: Option<MachineId>,
    occurred_at: DateTime<Utc>,
}

fn write(tx: &mut Tx<'_>, who: &Principal, moves: &[rules::Move], details: Details) -> Result<Done, Problem> {
    let mut movements = Vec::with_capacity(moves.len());
    for moved in moves {
        still_there(tx.connection(), moved)?;
        let details = MovementDetails {
            kind: details.kind,
            purpose: moved.purpose,
            due: details.due,
            job: details.job,
            for_machine: details.for_machine,
            setup: None,
            occurred_at: details.occurred_at,
        };
        let movement = ledger::append(tx, who, moved.item, moved.to, details).map_err(moved_meanwhile)?;
        movements.push(show(tx.connection(), &movement)?);
    }
    let notices = match details.kind {
        MovementKind::CheckedOut => {
            let items: Vec<ItemId> = moves.iter().map(|moved| moved.item).collect();
            bookings::kept_for_others(tx, &items, details.job, details.due)?
        }
        _ => Vec::new(),
    };
    Done::created(&Moved { movements, notices }, "/v1/movements")
}

/// The ledger's numbering is the last guard; it says the same as the rule.
fn moved_meanwhile(problem: Problem) -> Problem {
    if problem.database().and_then(Error::constraint) != Some(Constraint::MovementNumber) {
        return problem;
    }
    elsewhere().because(problem)
}

fn elsewhere() -> Problem {
    let sentence = "Somebody else moved an item of this request at the same moment.";
    Problem::refusals(vec![Refusal::new(Rule::ItemHeldElsewhere, sentence)])
}

/// What was judged still holds: with the lock it always does; without, this and the ledger's numbering are the guards.
fn still_there(connection: &mut Connection, moved: &rules::Move) -> Result<(), Problem> {
    // Taking it out of its setup moves nothing: it stays at the machine until this movement.
    if custody::has_moved(connection, moved.item, moved.movements)? { Err(elsewhere()) } else { Ok(()) }
}

/// Takes an item out of its setup, as handing it out to be ground or checked does.
fn leave_setup(
    tx: &mut Tx<'_>,
    who: &Principal,
    item: ItemId,
    purpose: Purpose,
    occurred_at: DateTime<Utc>,
) -> Result<(), Problem> {
    let Some(place) = setups::place_of(tx.connection(), item)? else { return Ok(()) };
    let machine = setups::machine_of(tx.connection(), place.setup)?;
    machines::take_guard(tx.connection(), machine.ok_or_else(|| Problem::not_found("setup", place.setup))?)?;
    let loaded = load(tx.connection(), place.setup)?;
    let decision = take_out(&loaded.setup, item, purpose).map_err(Problem::refusals)?;
    store(tx, who, loaded, decision, occurred_at).map(drop)
}

/// Takes the custody rows of what was scanned, then reads it.
fn taken(tx: &mut Tx<'_>, codes: &[String]) -> Result<Vec<Scanned<ItemFacts>>, Problem> {
    if codes.is_empty() || codes.len() > MOST_ITEMS {
        return Err(Problem::field("/items", format!("needs 1 to {MOST_ITEMS} items")));
    }
    let mut ids = Vec::with_capacity(codes.len());
    for (index, code) in codes.iter().enumerate() {
        let Some(id) = scanned_id(tx.connection(), code)? else { continue };
        if ids.contains(&id) {
            return Err(Problem::field(format!("/items/{index}"), format!("{code} is named twice; it moves once")));
        }
        ids.push(id);
    }
    ledger::take_items(tx, &ids)?;
    let today = tx.now().date_naive();
    codes.iter().map(|code| scanned_item(tx.connection(), code, today)).collect()
}

/// Who may be named: things are handed only to people who are still here, and taken back from anybody.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Staff {
    Now,
    Ever,
}

/// Whose items move: oneself when nobody is named; others only with the permission, which is asked for before the badge
/// is looked up.
fn whose(connection: &mut Connection, who: &Principal, badge: Option<&str>, staff: Staff) -> Result<PersonId, Problem> {
    let Some(badge) = badge.filter(|badge| *badge != who.badge) else { return Ok(who.person) };
    who.require(Permission::MoveForAnyone)?;
    by_badge(connection, badge, "/person", staff)
}

/// A place that things are put into: not one that is retired.
fn place_in_use(connection: &mut Connection, code: &Code, at: &str) -> Result<PlaceId, Problem> {
    let id = PlaceId::from_uuid(resolve(connection, CodeSubject::Place, code, at)?);
    match places::find(connection, id)? {
        Some(place) if place.fields.retired => Err(Problem::field(at, format!("place {code} is retired"))),
        _ => Ok(id),
    }
}

pub(super) fn by_badge(connection: &mut Connection, badge: &str, at: &str, staff: Staff) -> Result<PersonId, Problem> {
    let found = people::find_by_badge(connection, badge)?;
    let person = found.ok_or_else(|| Problem::field(at, format!("nobody has the badge {badge}")))?;
    if staff == Staff::Now && person.fields.disabled {
        return Err(Problem::field(at, format!("{badge} is disabled and is handed nothing")));
    }
    Ok(person.id)
}

/// A row of the ledger as answers show it.
pub(super) fn show(connection: &mut Connection, movement: &Movement) -> Result<MovementView, Problem> {
    let shown = show_all(connection, std::slice::from_ref(movement))?.pop();
    shown.ok_or_else(|| Error::unreadable("a movement that cannot be shown").into())
}

/// Rows of the ledger as answers show them, in their order; what they have in common is asked for once.
pub(super) fn show_all(connection: &mut Connection, rows: &[Movement]) -> Result<Vec<MovementView>, Problem> {
    let items = items::codes_of(connection, &rows.iter().map(|row| row.item).collect())?;
    let recorders = rows.iter().map(|row| Keeper::Person(row.recorded_by));
    let keepers: Vec<Keeper> =
        rows.iter().flat_map(|row| row.from.into_iter().chain([row.to])).chain(recorders).collect();
    let known = custody::all_known_as(connection, &keepers)?;
    let jobs = jobs::codes_of(connection, &rows.iter().filter_map(|row| row.job).collect())?;
    let machines = machines::codes_of(connection, &rows.iter().filter_map(|row| row.for_machine).collect())?;
    let named = |keeper: Keeper| match known.get(&keeper) {
        Some(found) => Ok(place_shown(keeper, found)),
        None => Err(Problem::from(Error::unreadable("a keeper that is not on record"))),
    };
    let shown = rows.iter().map(|row| {
        let item = items.get(&row.item).cloned();
        let item = item.ok_or_else(|| Error::unreadable("a movement of an item that is not on record"))?;
        Ok(MovementView {
            id: row.id.uuid(),
            item,
            item_sequence: row.item_sequence,
            kind: row.kind,
            from: row.from.map(named).transpose()?,
            to: named(row.to)?,
            condition: row.condition,
            purpose: row.purpose,
            due: row.due,
            job: row.job.and_then(|job| jobs.get(&job).cloned()),
            for_machine: row.for_machine.and_then(|machine| machines.get(&machine).cloned()),
            setup: row.setup.map(|setup| setup.uuid()),
            recorded_by: known.get(&Keeper::Person(row.recorded_by)).map(|found| found.key.clone()).unwrap_or_default(),
            occurred_at: row.occurred_at,
            recorded_at: row.recorded_at,
        })
    });
    shown.collect()
}

/// The ledger, newest first.
///
/// # Errors
/// 400 for a filter that names nothing, or another list's cursor.
pub async fn list(guarded: &Guarded<Read>, paging: Paging<MovementFilters>) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let before: Option<(DateTime<Utc>, MovementId)> = paging.after()?;
            let filters = &paging.filters;
            let item: Option<&Code> = filters.item.as_ref();
            let item = resolve_in_query(connection, CodeSubject::Item, item, "item")?;
            let (person, place) = (filters.person.as_ref(), filters.place.as_ref());
            let filter = MovementFilter {
                item: item.map(ItemId::from_uuid),
                keeper: keeper_in_query(connection, person, place, filters.machine.as_ref())?,
                since: filters.since,
                until: filters.until,
            };
            let rows = custody::movements_page(connection, &filter, before, paging.rows_to_fetch())?;
            let keys = rows.iter().map(|row| (row.recorded_at, row.id)).collect::<Vec<_>>();
            let shown = keys.into_iter().zip(show_all(connection, &rows)?).collect();
            let page = paging.page(shown, |(key, _)| *key, |(_, view)| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}
