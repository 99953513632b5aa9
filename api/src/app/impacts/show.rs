//! Documents and what is touched, as they are answered.

use super::{came_since, gone};
use crate::{
    app::registry::{CenterGauges, find, resolve_in_query},
    conditional::{answer_fresh, answer_read},
    extract::{IfNoneMatch, Reference},
    page::{Page, Paging},
    principal::{Guarded, Read},
    problem::Problem,
    transport::impact::{
        CAUTION, GaugeImpactView, ImpactEntryFilters, ImpactEntryView, ImpactFilters, ImpactQuery, ImpactView,
        TouchedCounts, TouchedView,
    },
};
use actix_web::HttpResponse;
use chrono::{DateTime, SubsecRound, Utc};
use dovetally_core::{
    code::Code,
    gauge::impact::{Entry, Touched, TouchedKind, Window, touched},
    ids::{ImpactId, ItemId, JobId, RunId, SetupId},
};
use dovetally_db::{
    Connection, center_gauges,
    codes::CodeSubject,
    impacts::{self, Counts, EntryFilter, Impact, ImpactEntry, ImpactFilter, NamedRun, NamedSetup},
    items, jobs, machines, people,
};
use std::collections::{BTreeMap, BTreeSet};

/// Answers what a gauge has touched since an instant.
///
/// # Errors
/// 404 for what is no centre gauge, 400 for an instant ahead.
pub async fn preview(guarded: &Guarded<Read>, gauge: Reference, query: ImpactQuery) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let since = query.since.map(|since| since.trunc_subsecs(6));
    if since.is_some_and(|since| since > now) {
        return Err(Problem::query("since", "\"since\" lies ahead of the server's time"));
    }
    let view = guarded
        .database()
        .read(move |connection| {
            let gauge = find::<CenterGauges>(connection, &gauge)?;
            let id = gauge.item.id;
            let since = match since {
                Some(since) => Some(since),
                None => {
                    let last = center_gauges::last_accepted_check(connection, id)?;
                    last.map(|last| last.fields.performed_at.min(now))
                }
            };
            let window = Window { since, until: None };
            let found = touched(id, window, &impacts::touched_setups(connection, id, window)?);
            let shown = first_of_each_kind(&found);
            Ok::<_, Problem>(GaugeImpactView {
                gauge: gauge.item.code,
                machine: gauge.machine_code,
                since,
                counts: counted(&found),
                more: found.len() - shown.len(),
                touched: touched_views(connection, &shown)?,
                caution: CAUTION,
            })
        })
        .await?;
    Ok(answer_fresh(&view))
}

/// The most that is told of each kind: what a gauge touched in years is read in a document's pages.
const MOST_OF_A_KIND: usize = 100;

fn first_of_each_kind(entries: &[Entry]) -> Vec<&Entry> {
    let mut told: BTreeMap<TouchedKind, usize> = BTreeMap::new();
    let within = |entry: &&Entry| {
        let of_kind = told.entry(entry.touched.kind()).or_default();
        *of_kind += 1;
        *of_kind <= MOST_OF_A_KIND
    };
    entries.iter().filter(within).collect()
}

fn counted(entries: &[Entry]) -> TouchedCounts {
    let mut counts = TouchedCounts::default();
    for entry in entries {
        match entry.touched.kind() {
            TouchedKind::Setup => counts.setups += 1,
            TouchedKind::Job => counts.jobs += 1,
            TouchedKind::Tool => counts.tools += 1,
            TouchedKind::Run => {
                counts.runs += 1;
                counts.pieces += entry.pieces.unwrap_or(0);
            }
        }
    }
    counts
}

/// Reads a document.
///
/// # Errors
/// 404 when there is none.
pub async fn get(guarded: &Guarded<Read>, id: ImpactId, condition: &IfNoneMatch) -> Result<HttpResponse, Problem> {
    let view = guarded.database().read(move |connection| document(connection, id)).await?;
    answer_read(&view, condition)
}

/// A document, with how much came since it was brought up to date.
///
/// # Errors
/// 404 when there is none.
pub(crate) fn document(connection: &mut Connection, id: ImpactId) -> Result<ImpactView, Problem> {
    let impact = impacts::find(connection, id)?.ok_or_else(|| gone(id))?;
    let mut view = view(connection, &impact)?;
    if impact.closed.is_none() {
        view.came_since = Some(came_since(connection, &impact)?);
    }
    Ok(view)
}

/// Documents, newest first.
///
/// # Errors
/// 400 for a filter that names nothing, or another list's cursor.
pub async fn list(guarded: &Guarded<Read>, paging: Paging<ImpactFilters>) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let page = list_in(connection, &paging)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

/// The same from a connection.
///
/// # Errors
/// 400 for a filter that names nothing, or another list's cursor.
pub(crate) fn list_in(
    connection: &mut Connection,
    paging: &Paging<ImpactFilters>,
) -> Result<Page<ImpactView>, Problem> {
    let before: Option<(DateTime<Utc>, ImpactId)> = paging.after()?;
    let gauge = resolve_in_query(connection, CodeSubject::Item, paging.filters.gauge.as_ref(), "gauge")?;
    let filter = ImpactFilter { gauge: gauge.map(ItemId::from_uuid), open: paging.filters.open };
    let rows = impacts::page(connection, filter, before, paging.rows_to_fetch())?;
    let ids: Vec<ImpactId> = rows.iter().map(|row| row.id).collect();
    let counts = impacts::counts(connection, &ids)?;
    let mut shown = Vec::with_capacity(rows.len());
    for row in rows {
        let counts = counts.get(&row.id).copied().unwrap_or_default();
        shown.push(((row.raised_at, row.id), view_with(connection, &row, counts)?));
    }
    paging.page(shown, |(key, _)| *key, |(_, view)| view)
}

/// A document's entries, by number.
///
/// # Errors
/// 404 for an unknown document, 400 for another list's cursor.
pub async fn entries(
    guarded: &Guarded<Read>,
    id: ImpactId,
    paging: Paging<ImpactEntryFilters>,
) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let page = entries_in(connection, id, &paging)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

/// The same from a connection.
///
/// # Errors
/// 404 for an unknown document, 400 for another list's cursor.
pub(crate) fn entries_in(
    connection: &mut Connection,
    id: ImpactId,
    paging: &Paging<ImpactEntryFilters>,
) -> Result<Page<ImpactEntryView>, Problem> {
    impacts::find(connection, id)?.ok_or_else(|| gone(id))?;
    let after: Option<i32> = paging.after()?;
    let filter = EntryFilter { kind: paging.filters.kind, judged: paging.filters.judged };
    let rows = impacts::entries_page(connection, id, filter, after, paging.rows_to_fetch())?;
    let shown = entry_views(connection, &rows)?;
    paging.page(shown, |view| view.number, |view| view)
}

/// A document as it is answered; what came since is the caller's to add.
pub(super) fn view(connection: &mut Connection, impact: &Impact) -> Result<ImpactView, Problem> {
    let counts = impacts::counts(connection, &[impact.id])?.remove(&impact.id).unwrap_or_default();
    view_with(connection, impact, counts)
}

fn view_with(connection: &mut Connection, impact: &Impact, counts: Counts) -> Result<ImpactView, Problem> {
    let gauge = items::find(connection, impact.gauge)?;
    let machine = machines::code_of(connection, impact.machine)?;
    let mut badge = |id| Ok::<_, Problem>(people::find(connection, id)?.map(|person| person.badge));
    let closed = impact.closed.as_ref();
    let closed_by = match closed {
        Some(closed) => badge(closed.by)?,
        None => None,
    };
    let [setups, runs, jobs, tools] = counts.of_kind;
    Ok(ImpactView {
        id: impact.id.uuid(),
        gauge: gauge.ok_or_else(|| Problem::not_found("centre gauge", impact.gauge))?.code,
        machine: machine.ok_or_else(|| Problem::not_found("machine", impact.machine))?,
        check: impact.check.map(|check| check.uuid()),
        reason: impact.reason.clone(),
        doubtful_since: impact.window.since,
        doubtful_until: impact.window.until,
        counts: TouchedCounts { setups, runs, jobs, tools, pieces: counts.pieces },
        without_outcome: counts.without_outcome,
        came_since: None,
        up_to_date_at: impact.up_to_date_at,
        raised_by: badge(impact.raised_by)?.unwrap_or_default(),
        raised_at: impact.raised_at,
        open: closed.is_none(),
        closed_by,
        closed_at: closed.map(|closed| closed.at),
        closing_note: closed.map(|closed| closed.note.clone()),
        caution: CAUTION,
    })
}

/// Entries as they are answered.
pub(super) fn entry_views(
    connection: &mut Connection,
    entries: &[ImpactEntry],
) -> Result<Vec<ImpactEntryView>, Problem> {
    let touched: Vec<&Entry> = entries.iter().map(|entry| &entry.entry).collect();
    let touched = touched_views(connection, &touched)?;
    let mut views = Vec::with_capacity(entries.len());
    for (entry, touched) in entries.iter().zip(touched) {
        let judgement = entry.judgement.as_ref();
        let judged_by = match judgement {
            Some(judgement) => people::find(connection, judgement.by)?.map(|person| person.badge),
            None => None,
        };
        views.push(ImpactEntryView {
            number: entry.number,
            touched,
            outcome: judgement.map(|judgement| judgement.outcome),
            note: judgement.map(|judgement| judgement.note.clone()),
            judged_by,
            judged_at: judgement.map(|judgement| judgement.at),
        });
    }
    Ok(views)
}

fn touched_views(connection: &mut Connection, entries: &[&Entry]) -> Result<Vec<TouchedView>, Problem> {
    let (mut setups, mut runs): (Vec<SetupId>, Vec<RunId>) = (Vec::new(), Vec::new());
    let (mut jobs, mut tools) = (BTreeSet::new(), BTreeSet::new());
    for entry in entries {
        match entry.touched {
            Touched::Setup(id) => setups.push(id),
            Touched::Run(id) => runs.push(id),
            Touched::Job(id) => {
                jobs.insert(id);
            }
            Touched::Tool(id) => {
                tools.insert(id);
            }
        }
    }
    let setups = impacts::named_setups(connection, &setups)?;
    let runs = impacts::named_runs(connection, &runs)?;
    let named = Named {
        setups: setups.into_iter().map(|setup| (setup.id, setup)).collect(),
        runs: runs.into_iter().map(|run| (run.id, run)).collect(),
        jobs: jobs::codes_of(connection, &jobs)?,
        tools: items::codes_of(connection, &tools)?,
    };
    Ok(entries.iter().map(|entry| touched_view(entry, &named)).collect())
}

/// What several entries are about, by name.
struct Named {
    setups: BTreeMap<SetupId, NamedSetup>,
    runs: BTreeMap<RunId, NamedRun>,
    jobs: BTreeMap<JobId, Code>,
    tools: BTreeMap<ItemId, Code>,
}

fn touched_view(entry: &Entry, named: &Named) -> TouchedView {
    let mut view = TouchedView {
        kind: entry.touched.kind(),
        setup: None,
        run: None,
        run_number: None,
        machine: None,
        part: None,
        job: None,
        tool: None,
        from: None,
        until: None,
        pieces: entry.pieces,
        evidence: entry.evidence.iter().map(Into::into).collect(),
    };
    match entry.touched {
        Touched::Setup(id) => {
            view.setup = Some(id.uuid());
            if let Some(setup) = named.setups.get(&id) {
                view.machine = Some(setup.machine.clone());
                view.part = Some(setup.part.clone());
                view.from = Some(setup.opened_at);
            }
        }
        Touched::Run(id) => {
            view.run = Some(id.uuid());
            if let Some(run) = named.runs.get(&id) {
                view.setup = Some(run.setup.uuid());
                view.run_number = Some(run.number);
                view.machine = Some(run.machine.clone());
                view.part = Some(run.part.clone());
                view.from = Some(run.released_at);
                view.until = run.ended_at;
            }
        }
        Touched::Job(id) => view.job = named.jobs.get(&id).cloned(),
        Touched::Tool(id) => view.tool = named.tools.get(&id).cloned(),
    }
    view
}

#[cfg(test)]
mod tests {
    use super::{MOST_OF_A_KIND, first_of_each_kind};
    use dovetally_core::{
        gauge::impact::{Entry, Touched, TouchedKind},
        ids::{ItemId, SetupId},
    };
    use uuid::Uuid;

    #[test]
    fn no_kind_is_left_out_because_there_is_much_of_another() {
        let entry = |touched| Entry { touched, pieces: None, evidence: Vec::new() };
        let setups = (0..250).map(|number| entry(Touched::Setup(SetupId::from_uuid(Uuid::from_u128(number)))));
        let tools = (0..3).map(|number| entry(Touched::Tool(ItemId::from_uuid(Uuid::from_u128(number)))));
        let all: Vec<Entry> = setups.chain(tools).collect();
        let shown = first_of_each_kind(&all);
        let of = |kind| shown.iter().filter(|entry| entry.touched.kind() == kind).count();
        assert_eq!((of(TouchedKind::Setup), of(TouchedKind::Tool)), (MOST_OF_A_KIND, 3));
    }
}
