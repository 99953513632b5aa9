//! What stands on labels: a thing's code, its name, and of a gauge the machine that it belongs to.

use super::find::{self, Thing};
use crate::problem::Problem;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    ids::{ItemId, MachineId, PlaceId, SupplyId},
    item::ItemKind,
};
use dovetally_db::{
    Connection, center_gauges,
    codes::{self, CodeSubject},
    items, machines, places, supplies,
};

/// The most labels that are made at once: some sheets.
pub(crate) const MOST: usize = 200;

/// A thing that can have a label.
#[derive(Clone, Debug)]
pub(crate) struct Labelled {
    pub(crate) code: Code,
    pub(crate) name: String,
    pub(crate) what: What,
}

/// What kind of thing it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum What {
    Tool,
    /// With the machine that it was cut for.
    Gauge(Code),
    OtherItem,
    Machine,
    Place,
    Supply,
}

/// The thing behind a code, by the code that it has now; none where nothing of that code can have a label.
///
/// # Errors
/// A database error.
pub(crate) fn of_code(connection: &mut Connection, code: &Code) -> Result<Option<Labelled>, Problem> {
    let Some((subject, id)) = codes::find(connection, code)? else { return Ok(None) };
    let labelled = |code: Code, name: String, what: What| Labelled { code, name, what };
    Ok(match subject {
        CodeSubject::Item => items::find(connection, ItemId::from_uuid(id))?
            .map(|item| {
                let what = of_item(connection, item.id, item.fields.kind)?;
                Ok::<_, Problem>(labelled(item.code, item.fields.name, what))
            })
            .transpose()?,
        CodeSubject::Machine => machines::find(connection, MachineId::from_uuid(id))?
            .map(|machine| labelled(machine.record.code, machine.record.fields.name, What::Machine)),
        CodeSubject::Place => places::find(connection, PlaceId::from_uuid(id))?
            .map(|place| labelled(place.code, place.fields.name, What::Place)),
        CodeSubject::Supply => supplies::find(connection, SupplyId::from_uuid(id))?
            .map(|supply| labelled(supply.record.code, supply.record.fields.name, What::Supply)),
        CodeSubject::ToolDesign | CodeSubject::Part | CodeSubject::Job | CodeSubject::MaintenancePlan => None,
    })
}

fn of_item(connection: &mut Connection, id: ItemId, kind: ItemKind) -> Result<What, Problem> {
    Ok(match kind {
        ItemKind::FormTool => What::Tool,
        ItemKind::CenterGauge => match center_gauges::find(connection, id)? {
            Some(gauge) => What::Gauge(gauge.machine_code),
            None => What::OtherItem,
        },
        ItemKind::Holder | ItemKind::Other => What::OtherItem,
    })
}

/// What can have a label and has a text in its code or name, and whether there is more.
///
/// # Errors
/// A database error.
pub(crate) fn matching(connection: &mut Connection, text: &str) -> Result<(Vec<Thing>, bool), Problem> {
    let found = find::with_labels(connection, text)?;
    Ok((found.things, found.more))
}

/// The codes of the items that were put on record since an instant, the newest first.
///
/// # Errors
/// A database error.
pub(crate) fn new_items(connection: &mut Connection, since: DateTime<Utc>) -> Result<Vec<Code>, Problem> {
    Ok(items::created_since(connection, since, limit())?)
}

/// The codes of the places in use.
///
/// # Errors
/// A database error.
pub(crate) fn places_in_use(connection: &mut Connection) -> Result<Vec<Code>, Problem> {
    let places = places::page(connection, None, limit())?;
    Ok(places.into_iter().filter(|place| !place.fields.retired).map(|place| place.code).collect())
}

fn limit() -> i64 {
    i64::try_from(MOST).unwrap_or(i64::MAX)
}
