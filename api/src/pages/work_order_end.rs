//! The end of a work order: writing it up as done, calling it off.

use super::{
    frame::{Frame, go_to, page_with},
    maintenance::about,
    visit::{Faults, Sent, Visit},
    wording::{Filled, Phrase, ToldRefusal},
    work_order::{AGO, address, ago, ago_in_words, refused, touched_in_words},
};
use crate::{
    app::work_orders as app,
    extract::Segments,
    principal::Maintain,
    problem::{Problem, ProblemCode},
    transport::work_order::{CancelWorkOrder, FinishWorkOrder, PartUsed, WorkOrderSummary},
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use dovetally_core::{
    code::Code,
    ids::WorkOrderId,
    supply::Supply,
    work_order::{Touched, WorkOrderState},
};
use dovetally_db::supplies;
use serde::Deserialize;
use std::collections::BTreeMap;

/// The most supplies that are offered.
const SUPPLIES: i64 = 200;

/// How an order ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    Done,
    CalledOff,
}

/// What is said of the work, as it was typed: a quantity for each supply under `part-` and its code.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Said {
    note: String,
    touched: String,
    ago: String,
    failed: String,
    #[serde(flatten)]
    parts: BTreeMap<String, String>,
}

#[derive(Template)]
#[template(path = "pages/work_order_end.html")]
struct EndPage<'p> {
    frame: &'p Frame,
    order: &'p WorkOrderSummary,
    done: bool,
    supplies: &'p [Supply],
    typed: &'p Said,
    faults: Faults,
    refusals: Vec<ToldRefusal>,
}

impl EndPage<'_> {
    fn about(&self) -> &str {
        about(&self.order.subject)
    }

    fn title(&self) -> Filled<'_> {
        let words = &self.frame.words.work_order;
        let title = if self.done { &words.done_title } else { &words.cancel_title };
        title.with("about", self.about())
    }

    /// Whether it is asked what the work touched: only a machine has what is asked about, and only work that was begun
    /// touched anything.
    fn asks_touched(&self) -> bool {
        self.order.subject.machine.is_some() && (self.done || self.order.state == WorkOrderState::Started)
    }

    fn touched(&self, touched: &Touched) -> &Phrase {
        touched_in_words(self.frame, *touched)
    }

    fn ago(&self, minutes: &i64) -> String {
        ago_in_words(self.frame, *minutes)
    }

    fn ago_chosen(&self, minutes: &i64) -> bool {
        self.typed.ago.parse() == Ok(*minutes)
    }

    fn quantity(&self, supply: &Supply) -> &str {
        let name = format!("part-{}", supply.record.code);
        self.typed.parts.get(&name).map_or("", String::as_str)
    }
}

/// Asks what was done.
///
/// # Errors
/// 404 when there is no such order.
pub async fn ask_done(visit: Visit<Maintain>, id: Segments<WorkOrderId>) -> Result<HttpResponse, Problem> {
    asked(&visit, id.into_inner(), Way::Done, &Said::default(), Faults::default(), Vec::new()).await
}

/// Asks why it is called off.
///
/// # Errors
/// 404 when there is no such order.
pub async fn ask_cancel(visit: Visit<Maintain>, id: Segments<WorkOrderId>) -> Result<HttpResponse, Problem> {
    asked(&visit, id.into_inner(), Way::CalledOff, &Said::default(), Faults::default(), Vec::new()).await
}

async fn asked(
    visit: &Visit<Maintain>,
    id: WorkOrderId,
    way: Way,
    typed: &Said,
    faults: Faults,
    refusals: Vec<ToldRefusal>,
) -> Result<HttpResponse, Problem> {
    let (view, supplies) = visit
        .read(move |connection| Ok((app::read(connection, id)?, supplies::page(connection, false, None, SUPPLIES)?)))
        .await?;
    // Nothing more is said of an order that has ended.
    if view.order.ended_at.is_some() && refusals.is_empty() {
        return Ok(go_to(&address(id)));
    }
    let status = match (faults.is_empty(), refusals.is_empty()) {
        (false, _) => StatusCode::UNPROCESSABLE_ENTITY,
        (true, false) => StatusCode::CONFLICT,
        (true, true) => StatusCode::OK,
    };
    let (frame, order, done) = (&visit.frame, &view.order, way == Way::Done);
    page_with(status, &EndPage { frame, order, done, supplies: &supplies, typed, faults, refusals })
}

/// Where a fault of what was said is shown.
const FIELDS: &[(&str, &str)] = &[
    ("/note", "note"),
    ("/touched", "touched"),
    ("/parts_used", "parts"),
    ("/done_at", "ago"),
    ("/breakdown", "failed"),
    // The machine was down until after the work was done: it was not done so long ago.
    ("/down", "ago"),
];

/// Ends it as done.
///
/// # Errors
/// 404; what is neither a fault of the form nor a refusal.
pub async fn finish(
    visit: Visit<Maintain>,
    id: Segments<WorkOrderId>,
    sent: Sent<Said>,
) -> Result<HttpResponse, Problem> {
    let (id, typed, words) = (id.into_inner(), &sent.form, &visit.frame.words.work_order);
    let mut faults = Faults::default();
    let on_machine = visit.read(move |connection| app::read(connection, id)).await?.order.subject.machine.is_some();
    let touched = if on_machine { Touched::from_name(&typed.touched) } else { Some(Touched::Nothing) };
    if touched.is_none() {
        faults.add("touched", &words.touched_missing);
    }
    let mut parts_used = Vec::new();
    for (name, typed) in typed.parts.iter().filter(|(_, typed)| !typed.trim().is_empty()) {
        let code = name.strip_prefix("part-").and_then(|code| Code::parse(code).ok());
        match (code, typed.trim().parse()) {
            (Some(supply), Ok(quantity)) => parts_used.push(PartUsed { supply, quantity }),
            _ => faults.add("parts", words.part_wrong.with("typed", typed)),
        }
    }
    let Some(touched) = touched.filter(|_| faults.is_empty()) else {
        return asked(&visit, id, Way::Done, typed, faults, Vec::new()).await;
    };
    let breakdown = match typed.failed.as_str() {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    };
    let done_at = ago(&typed.ago, visit.guarded.database().now());
    let note = typed.note.trim().to_owned();
    let body = FinishWorkOrder { note, touched, parts_used, done_at, breakdown, down_from: None, down_until: None };
    let done: Result<(), Problem> =
        visit.perform(&sent, move |tx, who| app::finish_in(tx, who, id, &body).map(drop)).await;
    ended(&visit, id, Way::Done, typed, done).await
}

/// Calls it off.
///
/// # Errors
/// 404; what is neither a fault of the form nor a refusal.
pub async fn cancel(
    visit: Visit<Maintain>,
    id: Segments<WorkOrderId>,
    sent: Sent<Said>,
) -> Result<HttpResponse, Problem> {
    let (id, typed) = (id.into_inner(), &sent.form);
    let body = CancelWorkOrder { note: typed.note.trim().to_owned(), touched: Touched::from_name(&typed.touched) };
    let done: Result<(), Problem> =
        visit.perform(&sent, move |tx, who| app::cancel_in(tx, who, id, &body).map(drop)).await;
    ended(&visit, id, Way::CalledOff, typed, done).await
}

async fn ended(
    visit: &Visit<Maintain>,
    id: WorkOrderId,
    way: Way,
    typed: &Said,
    done: Result<(), Problem>,
) -> Result<HttpResponse, Problem> {
    let Err(problem) = done else { return Ok(go_to(&address(id))) };
    let (faults, refusals) = if problem.code() == ProblemCode::Refused {
        (Faults::default(), refused(&visit.frame, problem)?)
    } else {
        (Faults::of_problem(&visit.frame, problem, FIELDS)?, Vec::new())
    };
    asked(visit, id, way, typed, faults, refusals).await
}
