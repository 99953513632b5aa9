//! Working through a document: raising it by hand, outcomes, bringing it up to date, closing it.

use super::{Doubt, came_since, gone, record, show::entry_views, take_up};
use crate::{
    app::{
        gauge_checks::taken,
        perform::Done,
        registry::{no_faults, resolve, write_change},
    },
    extract::{Json, Reference, WriteOptions},
    principal::{ControlGauges, Guarded, Principal},
    problem::Problem,
    transport::impact::{ImpactClosing, NewImpact, NewOutcomes},
};
use actix_web::HttpResponse;
use chrono::SubsecRound;
use dovetally_core::{
    field_error::FieldErrors,
    gauge::{
        impact::{Touched, Window},
        impact_document::{self, DocumentFacts},
    },
    ids::{ImpactId, ItemId},
};
use dovetally_db::{
    Connection, Tx, center_gauges,
    codes::CodeSubject,
    impacts::{self, Closing, Impact, ImpactEntry, Judgement},
    items,
};

/// The most entries that are judged at once.
const MOST_ENTRIES: usize = 200;

/// Words that a person writes, as the database keeps them.
fn check_words(words: &str, at: &str) -> Result<(), Problem> {
    let mut errors = FieldErrors::default();
    errors.require_text(words, 1000, at);
    no_faults(errors.into_vec())
}

/// Raises a document by hand.
///
/// # Errors
/// 409 when one is open for the same time, 422 for what is no centre gauge or lies ahead.
pub async fn raise_by_hand(
    guarded: &Guarded<ControlGauges>,
    options: &WriteOptions,
    body: Json<NewImpact>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| raise_in(tx, who, &body)).await
}

/// The same inside a transaction.
pub(crate) fn raise_in(tx: &mut Tx<'_>, who: &Principal, body: &NewImpact) -> Result<Done, Problem> {
    check_words(&body.reason, "/reason")?;
    let since = body.since.map(|since| since.trunc_subsecs(6));
    if since.is_some_and(|since| since > tx.now()) {
        return Err(Problem::field("/since", "lies ahead of the server's time"));
    }
    let id = resolve(tx.connection(), CodeSubject::Item, &body.gauge, "/gauge")?;
    if center_gauges::find(tx.connection(), ItemId::from_uuid(id))?.is_none() {
        return Err(Problem::field("/gauge", format!("{} is no centre gauge", body.gauge)));
    }
    let gauge = taken(tx, &Reference::Id(id))?;
    let last = center_gauges::last_accepted_check(tx.connection(), gauge.item.id)?;
    let now = tx.now();
    let since = since.or_else(|| last.map(|last| last.fields.performed_at.min(now)));
    if let Some(open) = impacts::open_of(tx.connection(), gauge.item.id, since)? {
        return Err(Problem::in_use(format!("a document for this time is open: /v1/impacts/{}", open.id)));
    }
    let doubt = Doubt { check: None, reason: body.reason.clone(), window: Window { since, until: None } };
    let id = super::raise(tx, who, &gauge, doubt)?;
    let impact = impacts::find(tx.connection(), id)?.ok_or_else(|| gone(id))?;
    Done::created(&super::view(tx.connection(), &impact)?, format!("/v1/impacts/{id}"))
}

/// A document, taken for this transaction.
fn held(tx: &mut Tx<'_>, id: ImpactId) -> Result<(Impact, DocumentFacts), Problem> {
    impacts::lock(tx.connection(), id)?;
    let impact = impacts::find(tx.connection(), id)?.ok_or_else(|| gone(id))?;
    let gauge = items::find(tx.connection(), impact.gauge)?.ok_or_else(|| gone(id))?;
    let facts = DocumentFacts { gauge: gauge.code, closed: impact.closed.is_some() };
    Ok((impact, facts))
}

/// Says what became of entries.
///
/// # Errors
/// 404, 409 for a closed document or a run that still goes on, 422 for entries that are not there.
pub async fn judge(
    guarded: &Guarded<ControlGauges>,
    options: &WriteOptions,
    id: ImpactId,
    body: Json<NewOutcomes>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| judge_in(tx, who, id, &body)).await
}

/// The same inside a transaction.
pub(crate) fn judge_in(tx: &mut Tx<'_>, who: &Principal, id: ImpactId, body: &NewOutcomes) -> Result<Done, Problem> {
    check_words(&body.note, "/note")?;
    let (mut impact, facts) = held(tx, id)?;
    let mut entries = named(tx.connection(), id, &body.entries)?;
    let going = still_going(tx.connection(), &entries)?;
    impact_document::judge(&facts, &going).map_err(Problem::refusals)?;
    let judgement = Judgement { outcome: body.outcome, note: body.note.clone(), by: who.person, at: tx.now() };
    for entry in &mut entries {
        entry.judgement = Some(judgement.clone());
        impacts::update_entry(tx.connection(), id, entry)?;
    }
    impact.version += 1;
    impacts::update(tx.connection(), &impact)?;
    let view = super::view(tx.connection(), &impact)?;
    let mut state = serde_json::to_value(&view).map_err(Problem::internal)?;
    state["judged"] = serde_json::to_value(entry_views(tx.connection(), &entries)?).map_err(Problem::internal)?;
    write_change(tx, who, "impact", "dovetally.impact.changed", id.uuid(), impact.version, state);
    Done::ok(&view)
}

/// The entries of these numbers.
fn named(connection: &mut Connection, id: ImpactId, numbers: &[i32]) -> Result<Vec<ImpactEntry>, Problem> {
    let mut errors = FieldErrors::default();
    errors.require(!numbers.is_empty(), "/entries", "must name an entry");
    errors.require(numbers.len() <= MOST_ENTRIES, "/entries", format!("must name at most {MOST_ENTRIES} entries"));
    no_faults(errors.into_vec())?;
    let found = impacts::find_entries(connection, id, numbers)?;
    let mut errors = FieldErrors::default();
    for (index, number) in numbers.iter().enumerate() {
        let pointer = format!("/entries/{index}");
        let twice = numbers.iter().take(index).any(|before| before == number);
        errors.require(!twice, pointer.clone(), "names an entry twice");
        errors.require(found.iter().any(|entry| entry.number == *number), pointer, "the document has no such entry");
    }
    no_faults(errors.into_vec())?;
    Ok(found)
}

/// The numbers of those that are runs whose pieces are not booked.
fn still_going(connection: &mut Connection, entries: &[ImpactEntry]) -> Result<Vec<i32>, Problem> {
    let runs: Vec<_> = entries
        .iter()
        .filter_map(|entry| match entry.entry.touched {
            Touched::Run(run) => Some((run, entry.number)),
            Touched::Setup(_) | Touched::Job(_) | Touched::Tool(_) => None,
        })
        .collect();
    let ids: Vec<_> = runs.iter().map(|(run, _)| *run).collect();
    let known = impacts::named_runs(connection, &ids)?;
    let goes_on = |run| known.iter().any(|known| known.id == run && known.pieces.is_none());
    Ok(runs.into_iter().filter(|(run, _)| goes_on(*run)).map(|(_, number)| number).collect())
}

/// Brings a document up to date.
///
/// # Errors
/// 404, 409 for a closed document.
pub async fn bring_up_to_date(
    guarded: &Guarded<ControlGauges>,
    options: &WriteOptions,
    id: ImpactId,
) -> Result<HttpResponse, Problem> {
    guarded.perform(options, &[], move |tx, who| refresh_in(tx, who, id)).await
}

/// The same inside a transaction.
pub(crate) fn refresh_in(tx: &mut Tx<'_>, who: &Principal, id: ImpactId) -> Result<Done, Problem> {
    let (mut impact, facts) = held(tx, id)?;
    impact_document::take_up(&facts).map_err(Problem::refusals)?;
    take_up(tx, &mut impact)?;
    Done::ok(&record(tx, who, &impact, "dovetally.impact.changed")?)
}

/// Closes a document.
///
/// # Errors
/// 404, 409 while anything in it has no outcome, or came since.
pub async fn close(
    guarded: &Guarded<ControlGauges>,
    options: &WriteOptions,
    id: ImpactId,
    body: Json<ImpactClosing>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| close_in(tx, who, id, &body)).await
}

/// The same inside a transaction.
pub(crate) fn close_in(tx: &mut Tx<'_>, who: &Principal, id: ImpactId, body: &ImpactClosing) -> Result<Done, Problem> {
    check_words(&body.note, "/note")?;
    let (mut impact, facts) = held(tx, id)?;
    let entries = impacts::entries(tx.connection(), id)?;
    let without: Vec<i32> =
        entries.iter().filter(|entry| entry.judgement.is_none()).map(|entry| entry.number).collect();
    // Pieces that are booked after this look are among what came since.
    let going = still_going(tx.connection(), &entries)?;
    let came = came_since(tx.connection(), &impact)?;
    impact_document::close(&facts, &going, &without, came).map_err(Problem::refusals)?;
    impact.closed = Some(Closing { by: who.person, at: tx.now(), note: body.note.clone() });
    impact.version += 1;
    impacts::update(tx.connection(), &impact)?;
    Done::ok(&record(tx, who, &impact, "dovetally.impact.closed")?)
}
