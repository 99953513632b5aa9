//! Out of service: placing the record that a machine may not be used, and clearing it. A record, not a lock.

use super::{
    frame::{Frame, go_to, page_with},
    visit::{Faults, Sent, Visit},
    who::Names,
    wording::section,
};
use crate::{
    app::tag_outs as app,
    extract::Segments,
    principal::{ClearTagOut, PlaceTagOut, Read},
    problem::{Problem, ProblemCode},
    transport::tag_out::{NewTagOut, TagOutView},
};
use actix_web::{HttpResponse, http::StatusCode, web::Query};
use askama::Template;
use dovetally_core::{code::Code, ids::TagOutId, people::Permission};
use dovetally_db::machines;
use serde::Deserialize;

section! {
    /// Out of service.
    TagOutWords {
        title, not_a_lock, in_force, cleared, placed, cleared_by, note, what_was_done, clear, not_yours, to_maintenance, new_title,
        new_lead, machine, choose, machine_missing, reason, go
    }
}

/// The most machines that are offered.
const MACHINES: i64 = 200;

#[derive(Template)]
#[template(path = "pages/tag_out.html")]
struct TagOutPage<'p> {
    frame: &'p Frame,
    view: &'p TagOutView,
    may_clear: bool,
    note: &'p str,
    faults: Faults,
}

/// Shows it.
///
/// # Errors
/// 404 when there is none.
pub async fn show(visit: Visit<Read>, id: Segments<TagOutId>) -> Result<HttpResponse, Problem> {
    shown(&visit, id.into_inner(), "", Faults::default()).await
}

async fn shown<A>(visit: &Visit<A>, id: TagOutId, note: &str, faults: Faults) -> Result<HttpResponse, Problem> {
    let view = visit
        .read(move |connection| {
            let mut view = app::read(connection, id)?;
            let mut names = Names::default();
            names.put(connection, &mut view.placed_by)?;
            view.cleared_by.as_mut().map_or(Ok(()), |badge| names.put(connection, badge))?;
            Ok(view)
        })
        .await?;
    let status = if faults.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let may_clear = view.in_force && visit.frame.may(Permission::ClearTagOut);
    page_with(status, &TagOutPage { frame: &visit.frame, view: &view, may_clear, note, faults })
}

/// Leads from where it is cleared to where it is.
pub async fn form(id: Segments<TagOutId>) -> HttpResponse {
    go_to(&format!("/tag-outs/{}", id.into_inner()))
}

/// What was done.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cleared {
    note: String,
}

/// Clears it.
///
/// # Errors
/// 404; what is no fault of the form.
pub async fn clear(
    visit: Visit<ClearTagOut>,
    id: Segments<TagOutId>,
    sent: Sent<Cleared>,
) -> Result<HttpResponse, Problem> {
    let id = id.into_inner();
    let note = Some(sent.form.note.trim().to_owned()).filter(|note| !note.is_empty());
    let done: Result<(), Problem> =
        visit.perform(&sent, move |tx, who| app::clear_in(tx, who, id, note.as_deref()).map(drop)).await;
    match done {
        // Somebody cleared it meanwhile: that is what the page says.
        Err(problem) if problem.code() != ProblemCode::InUse => {
            let faults = Faults::of_problem(&visit.frame, problem, &[("/note", "note")])?;
            shown(&visit, id, &sent.form.note, faults).await
        }
        _ => Ok(go_to(&format!("/tag-outs/{id}"))),
    }
}

/// What is said of a new one, as it was typed.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Typed {
    machine: String,
    reason: String,
}

#[derive(Template)]
#[template(path = "pages/tag_out_new.html")]
struct NewPage<'p> {
    frame: &'p Frame,
    machines: &'p [(Code, String)],
    typed: &'p Typed,
    faults: Faults,
}

impl NewPage<'_> {
    fn chosen(&self, code: &Code) -> bool {
        self.typed.machine == code.as_str()
    }
}

/// Shows the form; `machine` says which machine it begins with.
///
/// # Errors
/// A database error.
pub async fn ask(visit: Visit<PlaceTagOut>, asked: Query<Typed>) -> Result<HttpResponse, Problem> {
    asking(&visit, &asked, Faults::default()).await
}

async fn asking(visit: &Visit<PlaceTagOut>, typed: &Typed, faults: Faults) -> Result<HttpResponse, Problem> {
    let machines = visit
        .read(|connection| {
            // Retired ones too: they still stand there.
            let machines = machines::page(connection, None, MACHINES)?.into_iter();
            Ok(machines.map(|machine| (machine.record.code, machine.record.fields.name)).collect::<Vec<_>>())
        })
        .await?;
    let status = if faults.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    page_with(status, &NewPage { frame: &visit.frame, machines: &machines, typed, faults })
}

/// Places it.
///
/// # Errors
/// What is no fault of the form.
pub async fn place(visit: Visit<PlaceTagOut>, sent: Sent<Typed>) -> Result<HttpResponse, Problem> {
    let mut faults = Faults::default();
    let words = &visit.frame.words.tag_out;
    let machine = faults.read("machine", Code::parse(&sent.form.machine), |_| words.machine_missing.to_string());
    let Some(machine) = machine else { return asking(&visit, &sent.form, faults).await };
    let new = NewTagOut { machine, reason: sent.form.reason.trim().to_owned() };
    let done: Result<(), Problem> = visit.perform(&sent, move |tx, who| app::place_in(tx, who, &new).map(drop)).await;
    match done {
        Ok(()) => Ok(go_to("/maintenance")),
        Err(problem) => {
            let fields = [("/machine", "machine"), ("/reason", "reason")];
            asking(&visit, &sent.form, Faults::of_problem(&visit.frame, problem, &fields)?).await
        }
    }
}
