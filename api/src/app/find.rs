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

/// Looks for a part of a code or name, in upper or lower case.
///
/// # Errors
/// A database error.
pub(crate) fn find(connection: &mut Connection, text: &str) -> Result<Found, Problem> {
    let mut found = Found::default();
    let mut add = |kind: ThingKind, code: Code, name: String| found.things.push(Thing { kind, code, name });
    let machines = query::machines(connection, text, MOST + 1)?;
    let designs = query::tool_designs(connection, text, MOST + 1)?;
    let parts = query::parts(connection, text, MOST + 1)?;
    let supplies = query::supplies(connection, text, MOST + 1)?;
    let jobs = query::jobs(connection, text, MOST + 1)?;
    let items = query::items(connection, text, MOST + 1)?;
    let most = usize::try_from(MOST).unwrap_or_default();
    let counts = [machines.len(), designs.len(), parts.len(), supplies.len(), jobs.len(), items.len()];
    let more = counts.into_iter().any(|count| count > most);
    machines.into_iter().take(most).for_each(|(code, name)| add(ThingKind::Machine, code, name));
    designs.into_iter().take(most).for_each(|(code, name)| add(ThingKind::ToolDesign, code, name));
    parts.into_iter().take(most).for_each(|(code, name)| add(ThingKind::Part, code, name));
    supplies.into_iter().take(most).for_each(|(code, name)| add(ThingKind::Supply, code, name));
    jobs.into_iter().take(most).for_each(|(code, part, name)| add(ThingKind::Job, code, format!("{part}, {name}")));
    items.into_iter().take(most).for_each(|(code, name, kind)| add(ThingKind::Item(kind), code, name));
    found.more = more;
    Ok(found)
}
