//! The gauge question at a machine: scan a gauge, and one large verdict says whether it is the right one.
//!
//! It only asks, by GET. Scripts ask for the same page and take its verdict; whatever goes wrong on the way, and any verdict
//! that has stood for a while, is "Not checked".

use super::{
    frame::{Frame, page},
    visit::Visit,
    wording::{Phrase, ToldRefusal, section},
};
use crate::{
    app::gauge_question::answer,
    extract::{Reference, Segments},
    principal::Read,
    problem::Problem,
    transport::gauge_question::GaugeAnswer,
};
use actix_web::{HttpResponse, web::Query};
use askama::Template;
use chrono::{DateTime, Utc};
use dovetally_core::{code::Code, gauge::GaugeVerdict, item::HolderOfRecord};
use serde::Deserialize;

section! {
    /// The gauge question.
    GaugeWords {
        title, scan, go, right, wrong, not_usable, not_checked, machine, gauge, unknown, cut_for, only_at, whereabouts,
        next_check, never_checked, reason_right, reason_none, reason_asking, reason_no_answer, reason_signed_out, reason_old,
        asked_at, to_machine, why_not, caution
    }
}

/// Seconds for which a verdict stands. Then the gauge may be in other hands.
pub(super) const STANDS_FOR: u32 = 60;

/// What was scanned.
#[derive(Debug, Deserialize)]
pub struct Asked {
    #[serde(default)]
    gauge: String,
}

#[derive(Template)]
#[template(path = "pages/gauge.html")]
struct GaugePage<'p> {
    frame: &'p Frame,
    machine: &'p Code,
    scanned: &'p str,
    /// Nothing before a gauge was scanned.
    answer: Option<&'p GaugeAnswer>,
    kind: &'static str,
    word: &'p Phrase,
    whereabouts: String,
    refusals: Vec<ToldRefusal>,
    stands_for: u32,
    now: DateTime<Utc>,
}

/// Answers it.
///
/// # Errors
/// 404 when there is no such machine.
pub async fn show(
    visit: Visit<Read>,
    machine: Segments<Reference>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Problem> {
    let (reference, scanned) = (machine.into_inner(), asked.into_inner().gauge.trim().to_owned());
    let (who, now) = (visit.who().person, visit.guarded.database().now());
    let text = scanned.clone();
    let answered = visit.read(move |connection| answer(connection, &reference, &text, who, now)).await?;
    let (frame, words) = (&visit.frame, &visit.frame.words.gauge);
    let answer = Some(&answered).filter(|_| !scanned.is_empty());
    let (kind, word) = match answer.map(|answer| answer.verdict) {
        None => ("off", &words.not_checked),
        Some(GaugeVerdict::Right) => ("good", &words.right),
        Some(GaugeVerdict::Wrong) => ("stop", &words.wrong),
        Some(GaugeVerdict::NotUsable) => ("stop", &words.not_usable),
    };
    page(&GaugePage {
        frame,
        machine: &answered.machine,
        scanned: &scanned,
        answer,
        kind,
        word,
        whereabouts: whereabouts(frame, &answered),
        refusals: frame.refusals(&answered.refusals),
        stands_for: STANDS_FOR,
        now,
    })
}

/// Where the gauge is; empty where none is known.
fn whereabouts(frame: &Frame, answer: &GaugeAnswer) -> String {
    let (words, Some(gauge)) = (&frame.words.floor, &answer.gauge) else { return String::new() };
    if let Some(placed) = &gauge.placed {
        let words = &frame.words.gauge.whereabouts;
        return words.with("machine", &placed.machine).with("station", &placed.station).to_string();
    }
    let at = &gauge.whereabouts;
    let name = at.name.as_ref().or(at.code.as_ref()).cloned().unwrap_or_default();
    let phrase = match (at.kind, at.outside) {
        (_, true) => &words.gauge_outside,
        (HolderOfRecord::Place, false) => &words.gauge_place,
        (HolderOfRecord::Person, false) => &words.gauge_person,
        (HolderOfRecord::Machine, false) => &words.gauge_machine,
    };
    phrase.with("gauge", &gauge.code).with("name", name).to_string()
}
