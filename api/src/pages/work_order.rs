//! One work order: what is to be done, and beginning it.

use super::{
    frame::{Frame, go_to, page_with},
    maintenance::{about, order_mark, order_state},
    sign_in::Nothing,
    visit::{Sent, Visit},
    wording::{Phrase, ToldRefusal, section},
};
use crate::{
    app::work_orders as app,
    extract::Segments,
    principal::{Maintain, Read},
    problem::{Problem, ProblemCode},
    transport::work_order::{WorkOrderSummary, WorkOrderView},
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::{
    ids::WorkOrderId,
    people::Permission,
    work_order::{Touched, WorkOrderState},
};

section! {
    /// One work order.
    WorkOrderWords {
        title, begin, write_up, call_off, to_maintenance, to_subject, lock_out, tagged_out, tag_out, opened, began, ended, plan, breakdown,
        down_from, down_until, steps, cautions, parts_used, part_used, part_counted, note, touched_was, refused, done_title,
        done_go, cancel_title, cancel_go, what_done, why_off, touched, nothing, slide, spindle_carrier, touched_why, touched_missing,
        parts, parts_why, part, part_wrong, ago, failed, as_reported, failed_yes, failed_no, now, minutes_ago, hour_ago,
        hours_ago, day_ago, days_ago, clears_no_tag_out
    }
}

/// How long ago something was, in minutes, as people choose it: no clock of theirs has to be asked.
pub(super) const AGO: &[i64] = &[0, 30, 60, 120, 240, 480, 1440, 2880, 4320];

/// So many minutes ago, in words.
pub(super) fn ago_in_words(frame: &Frame, minutes: i64) -> String {
    let words = &frame.words.work_order;
    match minutes {
        0 => words.now.to_string(),
        1..60 => words.minutes_ago.with("count", minutes).to_string(),
        60 => words.hour_ago.to_string(),
        61..1440 => words.hours_ago.with("count", minutes / 60).to_string(),
        1440 => words.day_ago.to_string(),
        _ => words.days_ago.with("count", minutes / 1440).to_string(),
    }
}

/// The instant that a choice of [`AGO`] means; none for now.
pub(super) fn ago(chosen: &str, now: DateTime<Utc>) -> Option<DateTime<Utc>> {
    let minutes = chosen.parse().ok().filter(|minutes| *minutes > 0 && AGO.contains(minutes))?;
    Some(now - TimeDelta::minutes(minutes))
}

#[derive(Template)]
#[template(path = "pages/work_order.html")]
struct OrderPage<'p> {
    frame: &'p Frame,
    view: &'p WorkOrderView,
    order: &'p WorkOrderSummary,
    refusals: Vec<ToldRefusal>,
    may: bool,
}

impl OrderPage<'_> {
    fn about(&self) -> &str {
        about(&self.order.subject)
    }

    /// The page of the machine or the item that it is about.
    fn subject_page(&self) -> Option<String> {
        let subject = &self.order.subject;
        let machine = subject.machine.as_ref().map(|code| format!("/machines/{code}"));
        machine.or(subject.item.as_ref().map(|code| format!("/items/{code}")))
    }

    fn state(&self) -> &Phrase {
        order_state(self.frame, self.order.state)
    }

    fn mark(&self) -> &'static str {
        order_mark(self.order.state)
    }

    fn begins(&self) -> bool {
        self.may && self.order.state == WorkOrderState::Open
    }

    fn ends(&self) -> bool {
        self.may && self.order.state == WorkOrderState::Started
    }

    fn touched(&self, touched: &Touched) -> &Phrase {
        touched_in_words(self.frame, *touched)
    }
}

pub(super) fn touched_in_words(frame: &Frame, touched: Touched) -> &Phrase {
    let words = &frame.words.work_order;
    match touched {
        Touched::Nothing => &words.nothing,
        Touched::Slide => &words.slide,
        Touched::SpindleCarrier => &words.spindle_carrier,
    }
}

/// Where an order's page is.
pub(super) fn address(id: WorkOrderId) -> String {
    format!("/work-orders/{id}")
}

/// Shows it.
///
/// # Errors
/// 404 when there is none.
pub async fn show(visit: Visit<Read>, id: Segments<WorkOrderId>) -> Result<HttpResponse, Problem> {
    let id = id.into_inner();
    let view = visit.read(move |connection| app::read(connection, id)).await?;
    shown(&visit.frame, StatusCode::OK, &view, Vec::new())
}

fn shown(
    frame: &Frame,
    status: StatusCode,
    view: &WorkOrderView,
    refusals: Vec<ToldRefusal>,
) -> Result<HttpResponse, Problem> {
    let may = frame.may(Permission::Maintain);
    page_with(status, &OrderPage { frame, view, order: &view.order, refusals, may })
}

/// Leads from where a step is sent to the order.
pub async fn step(id: Segments<WorkOrderId>) -> HttpResponse {
    go_to(&address(id.into_inner()))
}

/// Begins the work.
///
/// # Errors
/// 404; what is no refusal.
pub async fn start(
    visit: Visit<Maintain>,
    id: Segments<WorkOrderId>,
    sent: Sent<Nothing>,
) -> Result<HttpResponse, Problem> {
    let id = id.into_inner();
    let done: Result<(), Problem> = visit.perform(&sent, move |tx, who| app::start_in(tx, who, id).map(drop)).await;
    match done {
        Ok(()) => Ok(go_to(&address(id))),
        Err(problem) => {
            let refusals = refused(&visit.frame, problem)?;
            let view = visit.read(move |connection| app::read(connection, id)).await?;
            shown(&visit.frame, StatusCode::CONFLICT, &view, refusals)
        }
    }
}

/// A problem's refusals; what is none is passed on.
pub(super) fn refused(frame: &Frame, problem: Problem) -> Result<Vec<ToldRefusal>, Problem> {
    if problem.code() == ProblemCode::Refused { Ok(frame.refusals(problem.refused_by())) } else { Err(problem) }
}
