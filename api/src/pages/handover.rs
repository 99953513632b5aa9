//! Handing over: what the next shift must know, and that somebody takes it over.

use super::{
    floor::ShownMachine,
    frame::{Frame, go_to, page, page_with},
    visit::{Faults, Sent, Visit},
    wording::{ToldRefusal, section},
};
use crate::{
    app::{floor::as_it_stands, handovers},
    extract::Segments,
    principal::{Read, TakeOver},
    problem::{Problem, ProblemCode},
    transport::{
        floor::FloorMachine,
        handover::{HandoverSummary, HandoverView, NewHandover},
    },
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use chrono::{DateTime, Utc};
use dovetally_core::{handover::check_note, ids::HandoverId, people::Permission};
use serde::Deserialize;

section! {
    /// Handing over.
    HandoverWords {
        title, as_of, take_over, note, note_wrong, changed, last, last_note, taken_title, taken_by, said, to_machines, again,
        earlier, caution, nobody_yet, none
    }
}

/// The handovers that are listed.
const SHOWN: i64 = 5;

/// What the form sends: the list that was read, and what there is to say.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Typed {
    read: String,
    note: String,
}

#[derive(Template)]
#[template(path = "pages/handover.html")]
struct HandoverPage<'p> {
    frame: &'p Frame,
    machines: Vec<ShownMachine<'p>>,
    /// The tag of the list that is shown.
    read: String,
    note: &'p str,
    faults: Faults,
    refusals: Vec<ToldRefusal>,
    last: &'p [HandoverSummary],
    may: bool,
    now: DateTime<Utc>,
}

#[derive(Template)]
#[template(path = "pages/handed_over.html")]
struct HandedOverPage<'p> {
    frame: &'p Frame,
    handover: &'p HandoverView,
    machines: Vec<ShownMachine<'p>>,
}

/// Shows what is to be taken over.
///
/// # Errors
/// A database error.
pub async fn show(visit: Visit<Read>) -> Result<HttpResponse, Problem> {
    listed(&visit, StatusCode::OK, "", Faults::default(), Vec::new()).await
}

/// Takes over.
///
/// # Errors
/// What is neither about the list nor about the note.
pub async fn accept(visit: Visit<TakeOver>, sent: Sent<Typed>) -> Result<HttpResponse, Problem> {
    let note = sent.form.note.trim().to_owned();
    let new = NewHandover { read: sent.form.read.clone(), note: Some(note.clone()).filter(|note| !note.is_empty()) };
    let mut faults = Faults::default();
    if !check_note(new.note.as_deref()).is_empty() {
        faults.add("note", &visit.frame.words.handover.note_wrong);
        return listed(&visit, StatusCode::UNPROCESSABLE_ENTITY, &note, faults, Vec::new()).await;
    }
    let taken: Result<HandoverView, Problem> =
        visit.perform(&sent, move |tx, who| handovers::accept_in(tx, who, &new)).await;
    match taken {
        Ok(taken) => Ok(go_to(&format!("/handover/{}", taken.summary.id))),
        Err(problem) if problem.code() == ProblemCode::Refused => {
            let refusals = visit.frame.refusals(problem.refused_by());
            listed(&visit, StatusCode::UNPROCESSABLE_ENTITY, &note, faults, refusals).await
        }
        Err(problem) => Err(problem),
    }
}

async fn listed<A>(
    visit: &Visit<A>,
    status: StatusCode,
    note: &str,
    faults: Faults,
    refusals: Vec<ToldRefusal>,
) -> Result<HttpResponse, Problem> {
    let now = visit.guarded.database().now();
    let (floor, last) =
        visit.read(move |connection| Ok((as_it_stands(connection, now)?, handovers::last(connection, SHOWN)?))).await?;
    let frame = &visit.frame;
    page_with(
        status,
        &HandoverPage {
            frame,
            machines: shown(frame, &floor.machines, now),
            read: handovers::tag(&floor)?,
            note,
            faults,
            refusals,
            last: &last,
            may: frame.may(Permission::TakeOver),
            now,
        },
    )
}

/// Shows what was taken over, as it stood then.
///
/// # Errors
/// 404 when there is no such handover.
pub async fn taken(visit: Visit<Read>, id: Segments<HandoverId>) -> Result<HttpResponse, Problem> {
    let id = id.into_inner();
    let handover = visit.read(move |connection| handovers::on_record(connection, id)).await?;
    let frame = &visit.frame;
    let machines = shown(frame, &handover.machines, handover.summary.taken_at);
    page(&HandedOverPage { frame, handover: &handover, machines })
}

fn shown<'f>(frame: &'f Frame, machines: &'f [FloorMachine], at: DateTime<Utc>) -> Vec<ShownMachine<'f>> {
    machines.iter().map(|stands| ShownMachine::of(frame, stands, at.date_naive())).collect()
}
