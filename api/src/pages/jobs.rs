//! Jobs: which can begin, and what the others miss, by date.

use super::{
    frame::{Frame, page},
    visit::Visit,
    wording::{Phrase, section},
};
use crate::{
    app::planning::read::list_in,
    extract::Query,
    principal::Read,
    problem::Problem,
    transport::planning::{ReadinessList, ReadinessQuery, ReadinessRow},
};
use actix_web::HttpResponse;
use askama::Template;
use chrono::{Days, NaiveDate};
use dovetally_core::planning::report::Readiness;

section! {
    /// Jobs by readiness.
    JobsWords {
        title, lead, open_first, all_ready, open_next, none, to_start, filters, two_weeks, six_weeks, half_a_year,
        ready, conflict, short, closed, for_machine, days, pieces, more_reasons, not_exact
    }
}

impl JobsWords {
    /// How a job or a need stands.
    pub(super) const fn readiness(&self, readiness: Readiness) -> &Phrase {
        match readiness {
            Readiness::Closed => &self.closed,
            Readiness::Ready => &self.ready,
            Readiness::Conflict => &self.conflict,
            Readiness::Short => &self.short,
        }
    }
}

/// The shape of how a job or a need stands.
pub(super) const fn mark(readiness: Readiness) -> &'static str {
    match readiness {
        Readiness::Closed => "none",
        Readiness::Ready => "good",
        Readiness::Conflict => "wait",
        Readiness::Short => "stop",
    }
}

/// How far ahead the links look, in days.
const AHEAD: [u64; 3] = [14, 42, 182];

#[derive(Template)]
#[template(path = "pages/jobs.html")]
struct JobsPage<'p> {
    frame: &'p Frame,
    list: &'p ReadinessList,
    /// The spans to choose from: name, last day, whether it is this one.
    spans: Vec<(&'p Phrase, NaiveDate, bool)>,
}

impl JobsPage<'_> {
    /// By date: a plan has them by priority.
    fn rows(&self) -> Vec<&ReadinessRow> {
        let mut rows: Vec<_> = self.list.items.iter().collect();
        rows.sort_by(|one, other| (one.outline.from, &one.outline.job).cmp(&(other.outline.from, &other.outline.job)));
        rows
    }

    fn first_not_ready(&self) -> Option<&ReadinessRow> {
        self.rows().into_iter().find(|row| row.state != Readiness::Ready)
    }

    fn mark(&self, row: &ReadinessRow) -> &'static str {
        mark(row.state)
    }

    fn state(&self, row: &ReadinessRow) -> &Phrase {
        self.frame.words.jobs.readiness(row.state)
    }

    /// The first thing in the way, and how many more.
    fn why(&self, row: &ReadinessRow) -> Option<(String, usize)> {
        let first = row.reasons.first()?;
        let told = self.frame.refusals(std::slice::from_ref(first)).pop()?;
        Some((told.sentence, row.reasons.len() - 1))
    }
}

/// Shows them.
///
/// # Errors
/// A database error.
pub async fn show(visit: Visit<Read>, query: Query<ReadinessQuery>) -> Result<HttpResponse, Problem> {
    let (query, now) = (query.into_inner(), visit.guarded.database().now());
    let list = visit.read(move |connection| list_in(connection, query, now)).await?;
    let words = &visit.frame.words.jobs;
    let today = now.date_naive();
    let names = [&words.two_weeks, &words.six_weeks, &words.half_a_year];
    let spans = names.into_iter().zip(AHEAD).filter_map(|(name, days)| {
        let until = today.checked_add_days(Days::new(days))?;
        Some((name, until, until == list.until))
    });
    page(&JobsPage { frame: &visit.frame, list: &list, spans: spans.collect() })
}
