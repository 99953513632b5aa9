//! Finding things by any part of a code or name.

use crate::problem::Problem;
use dovetally_core::{code::Code, item::ItemKind};
use dovetally_db::{Connection, find as query};

/// The most things that are shown of one kind: whoever gets more types more.
const MOST: i64 = 50;

/// What was found.
#[derive(Clone, Debug, Default)]
pub(crate) struct Found {
    /// Machines first, then designs, parts, supplies, jobs, items: few before many.
    pub(crate) things: Vec<Thing>,
    /// Whether there are more.
    pub(crate) more: bool,
}

/// One thing.
#[derive(Clone, Debug)]
pub(crate) struct Thing {
    pub(crate) kind: ThingKind,
    pub(crate) code: Code,
    pub(crate) name: String,
}

/// What kind of thing it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ThingKind {
    Machine,
    ToolDesign,
    Part,
    Supply,
    Job,
    Item(ItemKind),
}

impl Found {
    /// Takes what was asked for with one more than is shown.
    fn add(&mut self, some: impl ExactSizeIterator<Item = Thing>) {
        let most = usize::try_from(MOST).unwrap_or_default();
        self.more |= some.len() > most;
        self.things.extend(some.take(most));
    }

    fn add_named(&mut self, kind: ThingKind, some: Vec<(Code, String)>) {
        self.add(some.into_iter().map(|(code, name)| Thing { kind, code, name }));
    }

    fn add_items(&mut self, some: Vec<(Code, String, ItemKind)>) {
        self.add(some.into_iter().map(|(code, name, kind)| Thing { kind: ThingKind::Item(kind), code, name }));
    }
}

/// Looks for a part of a code or name, in upper or lower case.
///
/// # Errors
/// A database error.
pub(crate) fn find(connection: &mut Connection, text: &str) -> Result<Found, Problem> {
    let mut found = Found::default();
    found.add_named(ThingKind::Machine, query::machines(connection, text, MOST + 1)?);
    found.add_named(ThingKind::ToolDesign, query::tool_designs(connection, text, MOST + 1)?);
    found.add_named(ThingKind::Part, query::parts(connection, text, MOST + 1)?);
    found.add_named(ThingKind::Supply, query::supplies(connection, text, MOST + 1)?);
    let jobs = query::jobs(connection, text, MOST + 1)?.into_iter();
    found.add(jobs.map(|(code, part, name)| Thing { kind: ThingKind::Job, code, name: format!("{part}, {name}") }));
    found.add_items(query::items(connection, text, MOST + 1)?);
    Ok(found)
}

/// The same among what can have a label: machines, supplies and items.
///
/// # Errors
/// A database error.
pub(crate) fn with_labels(connection: &mut Connection, text: &str) -> Result<Found, Problem> {
    let mut found = Found::default();
    found.add_named(ThingKind::Machine, query::machines(connection, text, MOST + 1)?);
    found.add_named(ThingKind::Supply, query::supplies(connection, text, MOST + 1)?);
    found.add_items(query::items(connection, text, MOST + 1)?);
    Ok(found)
}
