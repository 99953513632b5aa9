//! Serialised items as answers show them, and putting one on record.

use super::{
    ledger::{self, MovementDetails},
    registry::{find, resolve, resolve_in_query},
};
use crate::{
    app::registry::{AnyItem, Registered},
    extract::Reference,
    page::Paging,
    principal::{Guarded, Principal, Read},
    problem::Problem,
    transport::item::{InSetup, ItemFilters, ItemView, Where},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    ids::{ItemId, JobId, MachineId, MovementId, PlaceId},
    item::{Condition, ItemKind, Keeper},
    registry::{
        Record,
        item::{Item, ItemFields},
    },
};
use dovetally_db::{
    Connection, Error, Tx,
    codes::CodeSubject,
    custody::{self, KnownAs, MovementFilter, MovementKind},
    items::{self, ItemFilter},
    jobs, machines, people, setups,
};
use uuid::Uuid;

/// Who or what has an item, named.
///
/// # Errors
/// A database error.
pub fn named(connection: &mut Connection, keeper: Keeper) -> Result<Where, Problem> {
    let found = custody::known_as(connection, keeper)?;
    Ok(place_shown(keeper, &found))
}

/// An item as answers show it.
///
/// # Errors
/// A database error.
pub fn show(connection: &mut Connection, item: &Item) -> Result<ItemView, Problem> {
    show_all(connection, &[item])?.pop().ok_or_else(|| Error::unreadable("an item that cannot be shown").into())
}

/// Items as answers show them, in their order; what they have in common is asked for once.
///
/// # Errors
/// A database error.
pub fn show_all(connection: &mut Connection, items: &[&Item]) -> Result<Vec<ItemView>, Problem> {
    let ids: Vec<ItemId> = items.iter().map(|item| item.id).collect();
    let custody = custody::find_all(connection, &ids)?;
    let keepers: Vec<Keeper> = custody.values().map(|now| now.keeper).collect();
    let known = custody::all_known_as(connection, &keepers)?;
    let jobs = jobs::codes_of(connection, &custody.values().filter_map(|now| now.job).collect())?;
    let machines = machines::codes_of(connection, &custody.values().filter_map(|now| now.for_machine).collect())?;
    let in_setups = setups::places_of(connection, &ids)?;
    let shown = items.iter().map(|item| {
        let now = custody.get(&item.id).ok_or_else(|| Error::unreadable("an item that is nowhere"))?;
        let found = known.get(&now.keeper).ok_or_else(|| Error::unreadable("a keeper that is not on record"))?;
        let in_setup = in_setups.get(&item.id);
        Ok(ItemView {
            id: item.id.uuid(),
            code: item.code.clone(),
            kind: item.fields.kind,
            name: item.fields.name.clone(),
            condition: item.fields.condition,
            whereabouts: place_shown(now.keeper, found),
            since: now.since,
            purpose: now.purpose,
            due: now.due,
            job: now.job.and_then(|job| jobs.get(&job).cloned()),
            for_machine: now.for_machine.and_then(|machine| machines.get(&machine).cloned()),
            in_setup: in_setup.map(|at| InSetup {
                setup: at.setup.uuid(),
                machine: at.machine.clone(),
                station: at.station.clone(),
            }),
            created_at: item.created_at,
            updated_at: item.updated_at,
        })
    });
    shown.collect()
}

/// Who or what has an item, named.
pub fn place_shown(keeper: Keeper, known: &KnownAs) -> Where {
    Where { kind: keeper.kind(), key: known.key.clone(), name: known.name.clone(), outside: known.outside }
}

/// A new item's record.
pub(super) fn new_item(tx: &Tx<'_>, id: Uuid, code: &Code, kind: ItemKind, name: String, condition: Condition) -> Item {
    let now = tx.now();
    Record {
        id: ItemId::from_uuid(id),
        code: code.clone(),
        fields: ItemFields { kind, name, condition, blocked_at: None },
        version: 1,
        created_at: now,
        updated_at: now,
    }
}

/// An item's record after a change of its code or name.
pub(super) fn changed_item(tx: &Tx<'_>, item: Item, code: &Code, name: &str) -> Item {
    Record {
        code: code.clone(),
        fields: ItemFields { name: name.to_owned(), ..item.fields },
        version: item.version + 1,
        updated_at: tx.now(),
        ..item
    }
}

/// Faults of an item's name.
///
/// # Errors
/// 422.
pub(super) fn check_name(name: &str) -> Result<(), Problem> {
    let mut errors = dovetally_core::field_error::FieldErrors::default();
    errors.require_text(name, 200, "/name");
    super::registry::no_faults(errors.into_vec())
}

/// Writes where a new item is put: the first row of its ledger.
pub(super) fn put(tx: &mut Tx<'_>, who: &Principal, item: ItemId, place: &Code) -> Result<(), Problem> {
    let place = PlaceId::from_uuid(resolve(tx.connection(), CodeSubject::Place, place, "/place")?);
    let details = MovementDetails {
        kind: MovementKind::Registered,
        purpose: None,
        due: None,
        job: None,
        for_machine: None,
        setup: None,
        occurred_at: tx.now(),
    };
    ledger::append(tx, who, item, Keeper::Place(place), details).map(drop)
}

/// Takes the ledger's first row of an item that never moved, so that the item can be deleted.
pub(super) fn forget(tx: &mut Tx<'_>, item: ItemId) -> Result<(), Problem> {
    if custody::forget_unmoved(tx.connection(), item)? {
        Ok(())
    } else {
        Err(Problem::in_use("the item has moved: its history stays, retire it instead"))
    }
}

/// The keeper that a list's filters name, if any.
///
/// # Errors
/// 400 when one names nothing, or more than one is given.
pub fn keeper_in_query(
    connection: &mut Connection,
    person: Option<&String>,
    place: Option<&Code>,
    machine: Option<&Code>,
) -> Result<Option<Keeper>, Problem> {
    if [person.is_some(), place.is_some(), machine.is_some()].iter().filter(|given| **given).count() > 1 {
        return Err(Problem::query("person", "give at most one of person, place and machine"));
    }
    if let Some(badge) = person {
        let found = people::find_by_badge(connection, badge)?;
        let found = found.ok_or_else(|| Problem::query("person", format!("nobody has the badge {badge}")))?;
        return Ok(Some(Keeper::Person(found.id)));
    }
    if let Some(id) = resolve_in_query(connection, CodeSubject::Place, place, "place")? {
        return Ok(Some(Keeper::Place(PlaceId::from_uuid(id))));
    }
    let machine = resolve_in_query(connection, CodeSubject::Machine, machine, "machine")?;
    Ok(machine.map(|id| Keeper::Machine(MachineId::from_uuid(id))))
}

/// Items by code, of every kind.
///
/// # Errors
/// 400 for a filter that names nothing, or another list's cursor.
pub async fn list(guarded: &Guarded<Read>, paging: Paging<ItemFilters>) -> Result<HttpResponse, Problem> {
    if let Some(at) = paging.filters.as_of {
        return super::as_of::items_page(guarded, paging, at).await;
    }
    let today = guarded.database().now().date_naive();
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let after: Option<Code> = paging.after()?;
            let filters = &paging.filters;
            let (person, place) = (filters.person.as_ref(), filters.place.as_ref());
            let keeper = keeper_in_query(connection, person, place, filters.machine.as_ref())?;
            let filter = ItemFilter {
                kind: filters.kind,
                keeper,
                condition: filters.condition,
                job: resolve_in_query(connection, CodeSubject::Job, filters.job.as_ref(), "job")?.map(JobId::from_uuid),
                overdue_on: filters.overdue.map(|overdue| (overdue, today)),
            };
            let rows = items::page(connection, &filter, after.as_ref(), paging.rows_to_fetch())?;
            let shown = show_all(connection, &rows.iter().collect::<Vec<_>>())?;
            let page = paging.page(shown, |view| view.code.clone(), |view| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

/// An item's movements, newest first.
///
/// # Errors
/// 404 when there is no such item.
pub async fn history(guarded: &Guarded<Read>, item: Reference, paging: Paging) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let item = find::<AnyItem>(connection, &item)?;
            let before: Option<(DateTime<Utc>, MovementId)> = paging.after()?;
            let id = ItemId::from_uuid(AnyItem::record_of(&item).0);
            let filter = MovementFilter { item: Some(id), ..MovementFilter::default() };
            let rows = custody::movements_page(connection, &filter, before, paging.rows_to_fetch())?;
            let keys = rows.iter().map(|row| (row.recorded_at, row.id)).collect::<Vec<_>>();
            let shown = keys.into_iter().zip(super::custody::show_all(connection, &rows)?).collect();
            let page = paging.page(shown, |(key, _)| *key, |(_, view)| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}
