//! One document of what a gauge has touched: its entries with their evidence, what became of each, and its closing.

use super::{
    forms::{NotTaken, Reading, Typed},
    frame::{Frame, go_to, page, page_with},
    visit::{Sent, Visit},
    who::Names,
    wording::{Phrase, section},
};
use crate::{
    app::impacts::{close_in, document, entries_in, judge_in, refresh_in},
    extract::Segments,
    page::Paging,
    principal::{ControlGauges, Read},
    problem::Problem,
    transport::impact::{ImpactClosing, ImpactEntryFilters, ImpactEntryView, ImpactView, NewOutcomes},
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use dovetally_core::{
    gauge::{impact::TouchedKind, impact_document::Outcome},
    ids::ImpactId,
    people::Permission,
    setup::event::EventKind,
};

section! {
    /// One impact document.
    ImpactWords {
        title, since, since_ever, until, not_set_right, counts, raised_by, up_to_date, closed_by, check, came,
        take_up, judge, judge_lead, still_without, outcome, note, nothing_ticked, close, close_lead, closing_note,
        all_documents, entries, entry_setup, entry_run, entry_run_open, entry_job, entry_tool, evidence,
        evidence_line, evidence_line_at, cleared, reworked, scrapped, accepted_as_is, informed, no_outcome, judged,
        height_read, gauge_placed, tool_inserted, released, other_event, all_entries, only_without
    }
}

impl ImpactWords {
    const fn outcome(&self, outcome: Outcome) -> &Phrase {
        match outcome {
            Outcome::Cleared => &self.cleared,
            Outcome::Reworked => &self.reworked,
            Outcome::Scrapped => &self.scrapped,
            Outcome::AcceptedAsIs => &self.accepted_as_is,
            Outcome::Informed => &self.informed,
        }
    }
}

#[derive(Template)]
#[template(path = "pages/impact.html")]
struct ImpactPage<'p> {
    frame: &'p Frame,
    document: &'p ImpactView,
    entries: &'p [ImpactEntryView],
    next: Option<&'p String>,
    only_without: bool,
    typed: Typed,
    not_taken: NotTaken,
}

/// What the main action is.
enum Next {
    TakeUp(usize),
    Judge,
    Close,
    Leave,
}

impl ImpactPage<'_> {
    fn next_step(&self) -> Next {
        let document = self.document;
        match document.came_since {
            _ if !document.open || !self.frame.may(Permission::ControlGauges) => Next::Leave,
            Some(came) if came > 0 => Next::TakeUp(came),
            _ if document.without_outcome > 0 => Next::Judge,
            _ => Next::Close,
        }
    }

    fn may_judge(&self) -> bool {
        self.document.open && self.frame.may(Permission::ControlGauges) && !self.entries.is_empty()
    }

    /// What an entry is of, in a sentence.
    fn entry(&self, entry: &ImpactEntryView) -> String {
        let (words, touched) = (&self.frame.words.impact, &entry.touched);
        let text =
            |code: &Option<dovetally_core::code::Code>| code.as_ref().map(ToString::to_string).unwrap_or_default();
        let (machine, part) = (text(&touched.machine), text(&touched.part));
        let day = touched.from.map(|at| self.frame.day_of(&at)).unwrap_or_default();
        match (touched.kind, touched.pieces) {
            (TouchedKind::Setup, _) => {
                words.entry_setup.with("machine", machine).with("part", part).with("day", day).to_string()
            }
            (TouchedKind::Run, Some(pieces)) => {
                let filled = words.entry_run.with("number", touched.run_number.unwrap_or_default());
                filled.with("machine", machine).with("part", part).with("day", day).with("pieces", pieces).to_string()
            }
            (TouchedKind::Run, None) => {
                let filled = words.entry_run_open.with("number", touched.run_number.unwrap_or_default());
                filled.with("machine", machine).with("part", part).with("day", day).to_string()
            }
            (TouchedKind::Job, pieces) => {
                words.entry_job.with("job", text(&touched.job)).with("pieces", pieces.unwrap_or_default()).to_string()
            }
            (TouchedKind::Tool, _) => words.entry_tool.with("tool", text(&touched.tool)).to_string(),
        }
    }

    fn event(&self, kind: &EventKind) -> &Phrase {
        let words = &self.frame.words.impact;
        match kind {
            EventKind::HeightRead => &words.height_read,
            EventKind::GaugePlaced => &words.gauge_placed,
            EventKind::ToolInserted => &words.tool_inserted,
            EventKind::RunReleased => &words.released,
            _ => &words.other_event,
        }
    }

    fn outcome(&self, outcome: &Outcome) -> &Phrase {
        self.frame.words.impact.outcome(*outcome)
    }

    fn is_outcome(&self, outcome: &Outcome) -> bool {
        self.typed.of("outcome") == outcome.name()
    }

    fn ticked(&self, number: &i32) -> bool {
        self.typed.ticked(&format!("entry-{number}"))
    }
}

struct Known {
    document: ImpactView,
    entries: Vec<ImpactEntryView>,
    next: Option<String>,
}

async fn known<A>(visit: &Visit<A>, id: ImpactId, paging: Paging<ImpactEntryFilters>) -> Result<Known, Problem> {
    visit
        .read(move |connection| {
            let mut document = document(connection, id)?;
            let mut page = entries_in(connection, id, &paging)?;
            let mut names = Names::default();
            names.put(connection, &mut document.raised_by)?;
            let judged = page.items.iter_mut().filter_map(|entry| entry.judged_by.as_mut());
            document.closed_by.as_mut().into_iter().chain(judged).try_for_each(|badge| names.put(connection, badge))?;
            let next = paging.next(&page)?;
            Ok(Known { document, entries: page.items, next })
        })
        .await
}

fn shown<'p>(
    frame: &'p Frame,
    known: &'p Known,
    only_without: bool,
    typed: Typed,
    not_taken: NotTaken,
) -> ImpactPage<'p> {
    let Known { document, entries, next } = known;
    ImpactPage { frame, document, entries, next: next.as_ref(), only_without, typed, not_taken }
}

/// Shows it.
///
/// # Errors
/// 404 when there is none.
pub async fn show(
    visit: Visit<Read>,
    id: Segments<ImpactId>,
    paging: Paging<ImpactEntryFilters>,
) -> Result<HttpResponse, Problem> {
    let only_without = paging.filters.judged == Some(false);
    let known = known(&visit, id.into_inner(), paging).await?;
    page(&shown(&visit.frame, &known, only_without, Typed::default(), NotTaken::default()))
}

/// Leads from where the forms are sent to where they are.
pub async fn form(id: Segments<ImpactId>) -> HttpResponse {
    go_to(&format!("/impacts/{}", id.into_inner()))
}

/// Takes up what came since.
///
/// # Errors
/// 404 when there is none.
pub async fn take_up(
    visit: Visit<ControlGauges>,
    id: Segments<ImpactId>,
    paging: Paging<ImpactEntryFilters>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    sent.form.only(|_| false)?;
    let id = id.into_inner();
    let done: Result<(), Problem> = visit.perform(&sent, move |tx, who| refresh_in(tx, who, id).map(drop)).await;
    match done {
        Ok(()) => Ok(go_to(&format!("/impacts/{id}"))),
        Err(problem) => {
            let not_taken = NotTaken::of(&visit.frame, problem, &[])?;
            let known = known(&visit, id, paging).await?;
            let shown = shown(&visit.frame, &known, false, sent.form, not_taken);
            page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown)
        }
    }
}

/// Says what became of the ticked entries.
///
/// # Errors
/// 404 when there is none.
pub async fn judge(
    visit: Visit<ControlGauges>,
    id: Segments<ImpactId>,
    paging: Paging<ImpactEntryFilters>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    let number = |name: &str| name.strip_prefix("entry-").and_then(|number| number.parse::<i32>().ok());
    sent.form.only(|name| ["outcome", "note"].contains(&name) || number(name).is_some())?;
    let id = id.into_inner();
    let words = &visit.frame.words.impact;
    let entries: Vec<i32> = sent.form.fields().filter_map(|(name, _)| number(name)).collect();
    let mut reading = Reading::of(&visit.frame, &sent.form);
    if entries.is_empty() {
        reading.faults.add("entries", &words.nothing_ticked);
    }
    let outcome = reading.choice("outcome", Outcome::from_name);
    let note = reading.words("note");
    let faults = reading.faults;
    let not_taken = match outcome.zip(note).filter(|_| faults.is_empty()) {
        None => faults.into(),
        Some((outcome, note)) => {
            let body = NewOutcomes { entries, outcome, note };
            let done: Result<(), Problem> =
                visit.perform(&sent, move |tx, who| judge_in(tx, who, id, &body).map(drop)).await;
            let fields = [
                ("entries", "entries", &words.entries),
                ("outcome", "outcome", &words.outcome),
                ("note", "note", &words.note),
            ];
            match done {
                Ok(()) => return Ok(go_to(&format!("/impacts/{id}"))),
                Err(problem) => NotTaken::of(&visit.frame, problem, &fields)?,
            }
        }
    };
    let known = known(&visit, id, paging).await?;
    let shown = shown(&visit.frame, &known, false, sent.form, not_taken);
    page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown)
}

/// Closes it.
///
/// # Errors
/// 404 when there is none.
pub async fn close(
    visit: Visit<ControlGauges>,
    id: Segments<ImpactId>,
    paging: Paging<ImpactEntryFilters>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    sent.form.only(|name| name == "closing")?;
    let id = id.into_inner();
    let mut reading = Reading::of(&visit.frame, &sent.form);
    let note = reading.words("closing");
    let not_taken = match note {
        None => reading.faults.into(),
        Some(note) => {
            let body = ImpactClosing { note };
            let done: Result<(), Problem> =
                visit.perform(&sent, move |tx, who| close_in(tx, who, id, &body).map(drop)).await;
            let fields = [("note", "closing", &visit.frame.words.impact.closing_note)];
            match done {
                Ok(()) => return Ok(go_to(&format!("/impacts/{id}"))),
                Err(problem) => NotTaken::of(&visit.frame, problem, &fields)?,
            }
        }
    };
    let known = known(&visit, id, paging).await?;
    let shown = shown(&visit.frame, &known, false, sent.form, not_taken);
    page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown)
}
