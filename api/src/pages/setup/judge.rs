//! Judging a first piece, or what a provisional release made: every feature is measured, read back, and then judged.
//!
//! Whoever judges measures for themselves: what the setters read is not shown here.

use super::{
    Tried, Walk, against, asks_another_person,
    judge_page::{Ask, JudgePage, first_piece},
    lead_on, read, read_with, recorded, status_of, told,
};
use crate::{
    extract::Segments,
    pages::{
        frame::{page, page_with},
        visit::{Sent, Visit},
    },
    principal::{Principal, Read, RecordEvent},
    problem::Problem,
    transport::setup_event::{EventBody, FirstPieceReadingBody},
};
use actix_web::{HttpResponse, http::StatusCode};
use chrono::{DateTime, Utc};
use dovetally_core::{ids::SetupId, setup::event::EventKind};
use dovetally_db::Connection;
use serde::Deserialize;
use std::collections::BTreeMap;

/// What is judged, as the page sends it.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct JudgeForm {
    pub(super) piece: String,
    pub(super) spindle: String,
    /// Empty to have the values read back, "change" to type them anew, "unit" to read them in the other unit, "accept" or
    /// "reject".
    pub(super) verdict: String,
    /// The unit in which all of it was read, where it is not each target's own.
    pub(super) unit: String,
    /// What was read in each box, by its name.
    #[serde(flatten)]
    pub(super) readings: BTreeMap<String, String>,
}

fn event(kind: EventKind, accepted: bool, piece: Option<u64>, readings: Vec<FirstPieceReadingBody>) -> EventBody {
    let occurred_at = None;
    match kind {
        EventKind::HeldPiecesJudged => EventBody::HeldPiecesJudged { accepted, readings, occurred_at },
        _ => EventBody::FirstPieceJudged { accepted, piece, readings, occurred_at },
    }
}

async fn show(visit: Visit<Read>, id: SetupId, kind: EventKind) -> Result<HttpResponse, Problem> {
    let reading = move |connection: &mut Connection, walk: &Walk, who: &Principal, now: DateTime<Utc>| {
        let sample = event(kind, false, Some(first_piece(walk)), Vec::new());
        against(connection, walk, who, now, &sample)
    };
    let (walk, found) = read_with(&visit, id, reading).await?;
    let suggested = walk.view.highest_piece.max(first_piece(&walk));
    let preferences = &visit.frame.preferences;
    let unit = if preferences.unit_chosen { preferences.unit.sign().to_owned() } else { String::new() };
    let form = JudgeForm { piece: suggested.to_string(), unit, ..JudgeForm::default() };
    let mut shown = JudgePage::new(&visit.frame, &walk, kind, form)?;
    if !found.is_empty() && !matches!(shown.ask, Ask::SomebodyElse) {
        shown.ask = if asks_another_person(&found) { Ask::SomebodyElse } else { Ask::Refused };
        shown.refusals = visit.frame.refusals(&found);
    }
    page(&shown)
}

async fn judge(
    visit: Visit<RecordEvent>,
    id: SetupId,
    kind: EventKind,
    sent: Sent<JudgeForm>,
) -> Result<HttpResponse, Problem> {
    let walk = read(&visit, id).await?;
    let mut shown = JudgePage::new(&visit.frame, &walk, kind, sent.form.clone())?;
    shown.tried = Tried::Sent;
    let verdict = sent.form.verdict.as_str();
    if verdict == "unit" {
        shown.form.unit = shown.other_unit().sign().to_owned();
    }
    if matches!(verdict, "change" | "unit") {
        return page(&shown);
    }
    let (piece, lengths) = (shown.piece(), shown.read());
    if !shown.faults.is_empty() {
        return page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown);
    }
    if !matches!(verdict, "accept" | "reject") {
        shown.ask = shown.told_back(&lengths);
        return page(&shown);
    }
    let readings = lengths.iter().map(|(index, value)| {
        let of = &shown.boxes[*index];
        let (station, feature) = (of.station.clone(), of.feature.code.clone());
        FirstPieceReadingBody { station, feature, spindle: of.spindle, value: *value }
    });
    let event = event(kind, verdict == "accept", piece, readings.collect());
    let Some(problem) = recorded(&visit, &sent, id, event).await? else {
        return lead_on(&visit, id, None).await;
    };
    (shown.refusals, shown.sentence) = told(&visit.frame, &problem);
    if asks_another_person(problem.refused_by()) {
        shown.ask = Ask::SomebodyElse;
    }
    page_with(status_of(&problem), &shown)
}

/// Shows the page on which a first piece is judged.
///
/// # Errors
/// 404 when there is no such setup.
pub async fn show_first_piece(visit: Visit<Read>, path: Segments<SetupId>) -> Result<HttpResponse, Problem> {
    show(visit, path.into_inner(), EventKind::FirstPieceJudged).await
}

/// Shows the page on which the pieces of a provisional release are judged.
///
/// # Errors
/// 404 when there is no such setup.
pub async fn show_held_pieces(visit: Visit<Read>, path: Segments<SetupId>) -> Result<HttpResponse, Problem> {
    show(visit, path.into_inner(), EventKind::HeldPiecesJudged).await
}

/// Judges a first piece.
///
/// # Errors
/// 404 when there is no such setup; what is no refusal of a rule.
pub async fn judge_first_piece(
    visit: Visit<RecordEvent>,
    path: Segments<SetupId>,
    sent: Sent<JudgeForm>,
) -> Result<HttpResponse, Problem> {
    judge(visit, path.into_inner(), EventKind::FirstPieceJudged, sent).await
}

/// Judges what a provisional release made.
///
/// # Errors
/// 404 when there is no such setup; what is no refusal of a rule.
pub async fn judge_held_pieces(
    visit: Visit<RecordEvent>,
    path: Segments<SetupId>,
    sent: Sent<JudgeForm>,
) -> Result<HttpResponse, Problem> {
    judge(visit, path.into_inner(), EventKind::HeldPiecesJudged, sent).await
}
