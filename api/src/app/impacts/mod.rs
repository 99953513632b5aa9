//! What a gauge has touched: computed from the records at any time, and as a document that is worked through.
//!
//! A document is raised in the transaction of the check that finds the gauge wrong. Later the records may say more: a run
//! that still went on has its pieces, or another run was released from a setup that rests on the gauge. Nothing is added
//! behind anybody's back: reading a document tells how much came since, bringing it up to date takes that up, and a document
//! with anything not taken up is not closed. An entry that changed loses its outcome, for it was given for something else.

mod show;
mod work;
#[cfg(test)]
mod year;

pub(crate) use show::{document, entries_in, list_in};
pub use show::{entries, get, list, preview};
pub use work::{bring_up_to_date, close, judge, raise_by_hand};
pub(crate) use work::{close_in, judge_in, refresh_in};

use self::show::view;
use super::registry::write_change;
use crate::{principal::Principal, problem::Problem, transport::impact::ImpactView};
use dovetally_core::{
    gauge::impact::{Entry, Touched, Window, touched},
    ids::{GaugeCheckId, ImpactId, ItemId},
    registry::item::CenterGauge,
};
use dovetally_db::{
    Connection, Tx, center_gauges,
    impacts::{self, Impact, ImpactEntry},
};
use std::collections::BTreeMap;

/// Why a gauge is in doubt, and for which time.
#[derive(Clone, Debug)]
pub(super) struct Doubt {
    /// The check that found it wrong; none when somebody says so.
    pub(super) check: Option<GaugeCheckId>,
    /// In words.
    pub(super) reason: String,
    /// The time in doubt.
    pub(super) window: Window,
}

/// Raises a document, or brings the one up to date that is open for the same time. The gauge is taken already.
pub(super) fn raise(tx: &mut Tx<'_>, who: &Principal, gauge: &CenterGauge, doubt: Doubt) -> Result<ImpactId, Problem> {
    let id = gauge.item.id;
    if let Some(mut open) = open_document(tx, id, doubt.window)? {
        open.window.until = doubt.window.until;
        take_up(tx, &mut open)?;
        record(tx, who, &open, "dovetally.impact.changed")?;
        return Ok(open.id);
    }
    let now = tx.now();
    let mut impact = Impact {
        id: tx.new_id(),
        gauge: id,
        machine: gauge.machine,
        check: doubt.check,
        reason: doubt.reason,
        window: doubt.window,
        raised_by: who.person,
        raised_at: now,
        up_to_date_at: now,
        closed: None,
        version: 0,
    };
    impacts::insert(tx.connection(), &Impact { version: 1, ..impact.clone() })?;
    take_up(tx, &mut impact)?;
    record(tx, who, &impact, "dovetally.impact.raised")?;
    Ok(impact.id)
}

/// The document that is open for the same time, taken for this transaction. One that was closed while it was waited for is
/// none: nothing is added to it.
fn open_document(tx: &mut Tx<'_>, gauge: ItemId, window: Window) -> Result<Option<Impact>, Problem> {
    while let Some(found) = impacts::open_of(tx.connection(), gauge, window.since)? {
        tx.pause_point("impact-found");
        impacts::lock(tx.connection(), found.id)?;
        let now = impacts::find(tx.connection(), found.id)?.ok_or_else(|| gone(found.id))?;
        if now.closed.is_none() {
            return Ok(Some(now));
        }
    }
    Ok(None)
}

/// What the records say now of a document's time, beside what it holds.
struct Compared {
    /// Entries to add, with their numbers.
    new: Vec<ImpactEntry>,
    /// Entries that changed: to be judged again.
    changed: Vec<ImpactEntry>,
}

impl Compared {
    fn len(&self) -> usize {
        self.new.len() + self.changed.len()
    }
}

/// The end of a document's doubt: what it says, or the first accepted check since it was raised. One that was done before
/// the doubt begins and written up late says nothing about it.
fn end_of_doubt(connection: &mut Connection, impact: &Impact) -> Result<Window, Problem> {
    let until = match impact.window.until {
        Some(until) => Some(until),
        None => center_gauges::accepted_after(connection, impact.gauge, impact.raised_at, impact.window.since)?,
    };
    Ok(Window { until, ..impact.window })
}

fn compare(connection: &mut Connection, impact: &Impact, window: Window) -> Result<Compared, Problem> {
    let facts = impacts::touched_setups(connection, impact.gauge, window)?;
    let found: Vec<Entry> = touched(impact.gauge, window, &facts);
    let held = impacts::entries(connection, impact.id)?;
    let mut number = held.last().map_or(0, |entry| entry.number);
    let mut held: BTreeMap<Touched, ImpactEntry> = held.into_iter().map(|entry| (entry.entry.touched, entry)).collect();
    let mut compared = Compared { new: Vec::new(), changed: Vec::new() };
    for entry in found {
        match held.remove(&entry.touched) {
            None => {
                number += 1;
                compared.new.push(ImpactEntry { number, entry, judgement: None });
            }
            Some(before) if before.entry == entry => {}
            Some(before) => compared.changed.push(ImpactEntry { entry, judgement: None, ..before }),
        }
    }
    Ok(compared)
}

/// Brings a document up to date and raises its version. It is taken already, or new.
fn take_up(tx: &mut Tx<'_>, impact: &mut Impact) -> Result<(), Problem> {
    impact.window = end_of_doubt(tx.connection(), impact)?;
    let compared = compare(tx.connection(), impact, impact.window)?;
    for entry in &compared.new {
        impacts::insert_entry(tx.connection(), impact.id, entry)?;
    }
    for entry in &compared.changed {
        impacts::update_entry(tx.connection(), impact.id, entry)?;
    }
    impact.up_to_date_at = tx.now();
    impact.version += 1;
    Ok(impacts::update(tx.connection(), impact)?)
}

/// How much came or changed since a document was brought up to date.
fn came_since(connection: &mut Connection, impact: &Impact) -> Result<usize, Problem> {
    let window = end_of_doubt(connection, impact)?;
    Ok(compare(connection, impact, window)?.len())
}

fn gone(id: ImpactId) -> Problem {
    Problem::not_found("impact document", id)
}

/// A document's row in the chain of changes; as it is answered.
fn record(tx: &mut Tx<'_>, who: &Principal, impact: &Impact, kind: &'static str) -> Result<ImpactView, Problem> {
    let view = view(tx.connection(), impact)?;
    let state = serde_json::to_value(&view).map_err(Problem::internal)?;
    write_change(tx, who, "impact", kind, impact.id.uuid(), impact.version, state);
    Ok(view)
}
