//! The setup that somebody goes on with.

use super::load::{Loaded, load};
use crate::problem::Problem;
use dovetally_core::{code::Code, ids::PersonId, setup::event::EventKind};
use dovetally_db::{Connection, machines, setups};

/// Machines that are read at once.
const AT_ONCE: i64 = 200;

/// The open setup that a person recorded in last, unless they handed it over then; or else the first, by machine, that
/// they have in charge.
///
/// # Errors
/// A database error.
pub(crate) fn to_go_on_with(connection: &mut Connection, person: PersonId) -> Result<Option<Loaded>, Problem> {
    if let Some(last) = setups::worked_on_last(connection, person)? {
        let last = load(connection, last)?;
        let own = last.events.iter().rev().find(|recorded| recorded.by == person);
        let left = own.is_some_and(|recorded| recorded.event.kind() == EventKind::HandedOver);
        if last.setup.in_charge == person || !left {
            return Ok(Some(last));
        }
    }
    let mut after: Option<Code> = None;
    loop {
        let some = machines::page(connection, after.as_ref(), AT_ONCE)?;
        for machine in &some {
            let Some(open) = setups::open_on(connection, machine.record.id)? else { continue };
            let open = load(connection, open.id)?;
            if open.setup.in_charge == person {
                return Ok(Some(open));
            }
        }
        match some.last() {
            Some(last) => after = Some(last.record.code.clone()),
            None => return Ok(None),
        }
    }
}
