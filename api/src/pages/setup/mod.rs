//! Walking through a setup: starting it, each station's steps, those of the machine as a whole, to the released run and
//! its end.
//!
//! What may come next and what stands against it is asked of the rules. A page shows one step, and whoever took it is led
//! to the next one: at the same station first, for two setters may work at two.

pub mod judge;
mod judge_page;
mod lines;
pub mod machine;
pub mod offer;
pub mod overview;
mod reading;
pub mod start;
pub mod station;
mod station_page;
mod walk;
pub mod words;

pub(crate) use self::walk::Walk;
use super::{
    frame::{Frame, go_to},
    visit::{Sent, Visit},
    wording::{Phrase, ToldRefusal},
};
use crate::{
    app::setups::{self, may_record, take_in},
    principal::{Asks, Principal},
    problem::{Problem, ProblemCode},
    transport::setup_event::EventBody,
};
use actix_web::{HttpResponse, http::StatusCode};
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    ids::SetupId,
    refusal::{Refusal, Rule},
    setup::event::EventKind,
};
use dovetally_db::Connection;

/// How far somebody came with a step that something stands against.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Tried {
    /// Nobody tried: the page was only looked at.
    Looked,
    /// Something was scanned for it, and judged.
    Scanned,
    /// The form was sent.
    Sent,
}

impl Tried {
    /// What is said above what stands against it.
    fn said(self, frame: &Frame) -> &Phrase {
        let words = &frame.words.setup;
        match self {
            Self::Looked => &words.not_yet,
            Self::Scanned => &words.not_usable,
            Self::Sent => &words.refused,
        }
    }

    /// The shape that goes with it.
    const fn shape(self) -> &'static str {
        match self {
            Self::Looked => "wait",
            Self::Scanned | Self::Sent => "stop",
        }
    }

    /// Whether what was done came to nothing.
    fn failed(self) -> bool {
        self != Self::Looked
    }
}

/// Reads a setup for a page, and what else the page wants to know of it.
async fn read_with<A, T, F>(visit: &Visit<A>, id: SetupId, more: F) -> Result<(Walk, T), Problem>
where
    A: Asks,
    T: Send + 'static,
    F: FnOnce(&mut Connection, &Walk, &Principal, DateTime<Utc>) -> Result<T, Problem> + Send + 'static,
{
    let (who, now) = (visit.who().clone(), visit.guarded.database().now());
    visit
        .read(move |connection| {
            let walk = Walk::of(connection, id, now)?;
            let more = more(connection, &walk, &who, now)?;
            Ok((walk, more))
        })
        .await
}

async fn read<A: Asks>(visit: &Visit<A>, id: SetupId) -> Result<Walk, Problem> {
    Ok(read_with(visit, id, |_, _, _, _| Ok(())).await?.0)
}

/// What speaks against an event, without recording it.
fn against(
    connection: &mut Connection,
    walk: &Walk,
    who: &Principal,
    now: DateTime<Utc>,
    event: &EventBody,
) -> Result<Vec<Refusal>, Problem> {
    setups::speaks_against(connection, who, &walk.loaded, event, now)
}

/// Whether somebody may take a step at all.
fn may(frame: &Frame, kind: EventKind) -> bool {
    kind.permissions().iter().any(|permission| frame.may(*permission))
}

/// Whether only another person changes what was refused.
fn asks_another_person(refusals: &[Refusal]) -> bool {
    refusals.iter().any(|refusal| matches!(refusal.rule, Rule::FirstPieceSamePerson | Rule::NotYourSetup))
}

/// Records an event under the rules. `None` when it was taken; what refused it otherwise.
async fn recorded<A: Asks, T>(
    visit: &Visit<A>,
    sent: &Sent<T>,
    id: SetupId,
    event: EventBody,
) -> Result<Option<Problem>, Problem> {
    let done: Result<(), Problem> = visit
        .perform(sent, move |tx, who| {
            may_record(who, event.kind())?;
            take_in(tx, who, id, &event, None)?;
            Ok(())
        })
        .await;
    match done {
        Ok(()) => Ok(None),
        // What is no word about this step is passed on: the form may be sent again.
        Err(problem) if matches!(problem.code(), ProblemCode::Refused | ProblemCode::InvalidField) => Ok(Some(problem)),
        Err(problem) => Err(problem),
    }
}

/// Leads to what comes next.
async fn lead_on<A: Asks>(visit: &Visit<A>, id: SetupId, station: Option<&Code>) -> Result<HttpResponse, Problem> {
    let walk = read(visit, id).await?;
    Ok(go_to(&walk.next_address(station)))
}

/// What refused a step, for its page; a fault of a field, such as a badge that is nobody's, is one sentence.
fn told(frame: &Frame, problem: &Problem) -> (Vec<ToldRefusal>, String) {
    let sentence = problem.faults().first().map_or(&problem.parts().detail, |fault| &fault.detail);
    let refusals = frame.refusals(problem.refused_by());
    let sentence = if refusals.is_empty() { frame.told(sentence) } else { String::new() };
    (refusals, sentence)
}

fn status_of(problem: &Problem) -> StatusCode {
    StatusCode::from_u16(problem.code().status()).unwrap_or(StatusCode::CONFLICT)
}
