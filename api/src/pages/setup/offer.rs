//! What is scanned anywhere, offered to the setup that somebody works on; and that setup itself, to go on with.

use super::{Walk, against, station::scanned};
use crate::{
    app::{facts::scanned_id, setups::to_go_on_with},
    pages::frame::Frame,
    principal::Principal,
    problem::{Problem, ProblemCode},
    transport::setup::NextView,
};
use chrono::{DateTime, Utc};
use dovetally_core::{code::Code, ids::SetupId, item::ItemKind, people::Permission, setup::event::EventKind};
use dovetally_db::{Connection, items};

/// The setup that somebody goes on with.
pub(crate) struct GoOn(Walk);

impl GoOn {
    /// The one that they worked on last, or have in charge; nobody but a setter has any.
    ///
    /// # Errors
    /// A database error.
    pub(crate) fn of(
        connection: &mut Connection,
        who: &Principal,
        now: DateTime<Utc>,
    ) -> Result<Option<Self>, Problem> {
        if !who.may(Permission::RecordSetup) {
            return Ok(None);
        }
        let found = to_go_on_with(connection, who.person)?;
        Ok(found.map(|found| Walk::of(connection, found.row.id, now)).transpose()?.map(Self))
    }

    /// Where its next step is taken.
    pub(crate) fn address(&self) -> String {
        self.0.go_on()
    }

    /// The machine, and the station where something is waited for.
    pub(crate) fn place(&self) -> String {
        let station = self.0.next().and_then(|step| step.station.as_ref());
        station.map_or_else(|| self.0.view.machine.to_string(), |at| format!("{} {at}", self.0.view.machine))
    }

    /// The next step, or how the setup stands where none is waited for.
    pub(crate) fn about(&self, frame: &Frame) -> String {
        self.0.next().map_or_else(|| self.0.state(frame).1, |step| self.0.step_name(frame, step))
    }
}

/// The step of a setup that waits for a scanned item, as the page that offers it; nothing where none does.
///
/// # Errors
/// A database error.
pub(crate) fn offer_for(
    connection: &mut Connection,
    setup: SetupId,
    who: &Principal,
    code: &Code,
    now: DateTime<Utc>,
) -> Result<Option<String>, Problem> {
    let Some(item) = scanned_id(connection, code.as_str())? else { return Ok(None) };
    let Some(item) = items::find(connection, item)? else { return Ok(None) };
    let walk = match Walk::of(connection, setup, now) {
        Ok(walk) if !walk.is_over() && who.may(Permission::RecordSetup) => walk,
        Ok(_) => return Ok(None),
        Err(problem) if problem.code() == ProblemCode::NotFound => return Ok(None),
        Err(problem) => return Err(problem),
    };
    let kinds: &[EventKind] = match item.fields.kind {
        ItemKind::Holder => &[EventKind::HolderSeated],
        ItemKind::CenterGauge => &[EventKind::GaugeRemoved, EventKind::GaugePlaced],
        ItemKind::FormTool | ItemKind::Other => &[EventKind::ToolInserted],
    };
    let mut first = None;
    for kind in kinds {
        let mut steps: Vec<&NextView> = walk.view.next.iter().filter(|step| step.kind == *kind).collect();
        // Where it was picked for comes first.
        steps.sort_by_key(|step| !step.station.as_ref().is_some_and(|station| walk.is_picked(station, code)));
        for step in steps {
            let Some(station) = &step.station else { continue };
            let Some(event) = scanned(*kind, station, code.as_str()) else { continue };
            let fits = against(connection, &walk, who, now, &event)?.is_empty();
            // A gauge that is in the machine comes out whether or not that is waited for.
            let counts = step.wanted || *kind == EventKind::GaugeRemoved;
            let address = format!("{}&code={code}", walk.step_address(step));
            match (fits, counts) {
                (true, true) => return Ok(Some(address)),
                // What does not fit is offered where it is waited for: there it is said why not.
                (false, true) if *kind != EventKind::GaugeRemoved => first = first.or(Some(address)),
                _ => {}
            }
        }
    }
    Ok(first)
}
