//! One job: whether it has what it needs and why not, the kit that is proposed, and what is kept for it.

use super::{
    forms::{NotTaken, Reading, Typed},
    frame::{Frame, go_to, page, page_with},
    jobs::mark,
    visit::{Sent, Visit},
    wording::{Phrase, ToldRefusal, section},
};
use crate::{
    app::planning::{
        bookings::{book_in, cancel_in, kept_for},
        read::readiness_in,
    },
    extract::{Query, Reference, Segments},
    principal::{BookItems, Read},
    problem::Problem,
    transport::{
        booking::{BookingView, CancelBookings, NewBookings},
        planning::{ConsideredItem, JobNeed, JobReadiness, PlanQuery},
    },
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    people::Permission,
    planning::report::{NeedKind, Readiness},
    refusal::Refusal,
};
use dovetally_db::Connection;

section! {
    /// One job.
    JobPageWords {
        for_machine, days, one_day, pieces, machine_blocked, needs, at_station, form_tool, holder, center_gauge, asks,
        pieces_to_make, nothing_given, is_kept, at_place, makes, waste, considered, considered_serves,
        considered_not, keep, keep_lead, all_jobs, kept, none_kept, item, station, from, to, by, tick, let_go,
        let_go_reason, nothing_ticked, with_grinds, without_grinds, grinds_counted, assumptions, not_exact
    }
}

impl JobPageWords {
    const fn need(&self, kind: NeedKind) -> &Phrase {
        match kind {
            NeedKind::FormTool => &self.form_tool,
            NeedKind::Holder => &self.holder,
            NeedKind::CenterGauge => &self.center_gauge,
        }
    }
}

struct Known {
    readiness: JobReadiness,
    kept: Vec<BookingView>,
    grinds: bool,
}

fn known(connection: &mut Connection, job: &Reference, query: PlanQuery, now: DateTime<Utc>) -> Result<Known, Problem> {
    Ok(Known {
        readiness: readiness_in(connection, job, query, now)?,
        kept: kept_for(connection, job)?.items,
        grinds: query.allow_regrind_during_lot,
    })
}

#[derive(Template)]
#[template(path = "pages/job.html")]
struct JobPage<'p> {
    frame: &'p Frame,
    job: &'p JobReadiness,
    kept: &'p [BookingView],
    /// Whether grinds within the lot are counted on.
    grinds: bool,
    typed: Typed,
    not_taken: NotTaken,
}

impl JobPage<'_> {
    fn state(&self, state: &Readiness) -> &Phrase {
        self.frame.words.jobs.readiness(*state)
    }

    fn mark(&self, state: &Readiness) -> &'static str {
        mark(*state)
    }

    fn need(&self, kind: &NeedKind) -> &Phrase {
        self.frame.words.job_page.need(*kind)
    }

    /// What a need is of, and where.
    fn heading(&self, need: &JobNeed) -> String {
        let words = &self.frame.words.job_page;
        match &need.station {
            Some(station) => words.at_station.with("need", self.need(&need.kind)).with("station", station).to_string(),
            None => self.need(&need.kind).to_string(),
        }
    }

    fn told(&self, refusals: &[Refusal]) -> Vec<ToldRefusal> {
        self.frame.refusals(refusals)
    }

    fn may_book(&self) -> bool {
        self.frame.may(Permission::BookItems) && self.job.state != Readiness::Closed
    }

    /// Whether the plan gives something that is not kept yet: what is booked is planned without grinds within the lot.
    fn proposes(&self) -> bool {
        let new = |need: &JobNeed| need.kind != NeedKind::CenterGauge && need.given.iter().any(|given| !given.kept);
        !self.grinds && self.job.needs.iter().any(new)
    }

    fn why(&self, item: &ConsideredItem) -> String {
        item.reasons.iter().map(|refusal| self.frame.told(&refusal.sentence)).collect::<Vec<_>>().join(" ")
    }

    fn ticked(&self, item: &Code) -> bool {
        self.typed.ticked(&box_of(item))
    }
}

impl<'p> JobPage<'p> {
    fn of(frame: &'p Frame, known: &'p Known, typed: Typed, not_taken: NotTaken) -> Self {
        Self { frame, job: &known.readiness, kept: &known.kept, grinds: known.grinds, typed, not_taken }
    }
}

/// The box that names an item.
fn box_of(item: &Code) -> String {
    format!("item-{item}")
}

/// Shows it.
///
/// # Errors
/// 404 when there is no such job.
pub async fn show(
    visit: Visit<Read>,
    job: Segments<Reference>,
    query: Query<PlanQuery>,
) -> Result<HttpResponse, Problem> {
    let (job, query, now) = (job.into_inner(), query.into_inner(), visit.guarded.database().now());
    let known = visit.read(move |connection| known(connection, &job, query, now)).await?;
    page(&JobPage::of(&visit.frame, &known, Typed::default(), NotTaken::default()))
}

/// Leads from where the forms are sent to where they are.
pub async fn form(job: Segments<Reference>) -> HttpResponse {
    go_to(&format!("/jobs/{}", job.into_inner()))
}

/// Keeps what is proposed.
///
/// # Errors
/// 404 when there is no such job.
pub async fn book(
    visit: Visit<BookItems>,
    job: Segments<Reference>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    sent.form.only(|_| false)?;
    let job = job.into_inner();
    let of = job.clone();
    let body = NewBookings { items: Vec::new(), proposal: true };
    let done: Result<(), Problem> = visit.perform(&sent, move |tx, who| book_in(tx, who, &of, &body).map(drop)).await;
    match done {
        Ok(()) => Ok(go_to(&format!("/jobs/{job}"))),
        Err(problem) => {
            let not_taken = NotTaken::of(&visit.frame, problem, &[])?;
            refused(&visit, job, sent.form, not_taken).await
        }
    }
}

/// Lets what is ticked go.
///
/// # Errors
/// 404 when there is no such job.
pub async fn let_go(
    visit: Visit<BookItems>,
    job: Segments<Reference>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    let named = |name: &str| name.strip_prefix("item-").and_then(|code| Code::parse(code).ok());
    sent.form.only(|name| name == "reason" || named(name).is_some())?;
    let job = job.into_inner();
    let mut reading = Reading::of(&visit.frame, &sent.form);
    let reason = reading.words("reason");
    let items: Vec<Code> = sent.form.fields().filter_map(|(name, _)| named(name)).collect();
    let words = &visit.frame.words.job_page;
    if items.is_empty() {
        reading.faults.add("items", &words.nothing_ticked);
    }
    let faults = reading.faults;
    let not_taken = match reason.filter(|_| faults.is_empty()) {
        None => faults.into(),
        Some(reason) => {
            let (of, body) = (job.clone(), CancelBookings { items, reason });
            let done: Result<(), Problem> =
                visit.perform(&sent, move |tx, who| cancel_in(tx, who, &of, &body).map(drop)).await;
            let fields = [("items", "items", &words.item), ("reason", "reason", &words.let_go_reason)];
            match done {
                Ok(()) => return Ok(go_to(&format!("/jobs/{job}"))),
                Err(problem) => NotTaken::of(&visit.frame, problem, &fields)?,
            }
        }
    };
    refused(&visit, job, sent.form, not_taken).await
}

async fn refused(
    visit: &Visit<BookItems>,
    job: Reference,
    typed: Typed,
    not_taken: NotTaken,
) -> Result<HttpResponse, Problem> {
    let now = visit.guarded.database().now();
    let known = visit.read(move |connection| known(connection, &job, PlanQuery::default(), now)).await?;
    page_with(StatusCode::UNPROCESSABLE_ENTITY, &JobPage::of(&visit.frame, &known, typed, not_taken))
}
