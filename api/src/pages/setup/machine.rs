//! The steps of the machine as a whole: stock, the turn by hand, the trial, the release, the stop, the end.

use super::{
    Tried, Walk, against, asks_another_person, lead_on, lines, may, read, read_with,
    reading::{Expected, ReadBack, Typed},
    recorded, status_of, told,
    words::{SetupWords, StepWords},
};
use crate::{
    extract::Segments,
    pages::{
        frame::{Frame, go_to, page, page_with},
        visit::{Faults, Sent, Visit},
        wording::{Phrase, ToldRefusal},
    },
    principal::{Principal, Read, RecordEvent},
    problem::Problem,
    transport::setup_event::EventBody,
};
use actix_web::{HttpResponse, http::StatusCode, web::Query};
use askama::Template;
use chrono::{DateTime, Utc};
use dovetally_core::{
    ids::SetupId,
    length::{Length, LengthUnit},
    refusal::{Refusal, Rule},
    setup::{event::EventKind, plan::FeatureKind},
};
use dovetally_db::Connection;
use serde::Deserialize;

/// The shapes of bar that are chosen by a tap.
const SHAPES: [&str; 3] = ["round", "hexagon", "square"];
/// More pieces than any run makes.
const MOST_PIECES: u64 = 1_000_000_000;

/// What is asked of a step's page: a unit.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    unit: String,
}

/// What a step's page sends.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct StepForm {
    code: String,
    value: String,
    unit: String,
    shape: String,
    other_shape: String,
    heat: String,
    pieces: String,
    reason: String,
    /// "yes" once the value was read back, or asked back and is so; "change" to type it anew.
    sure: String,
}

impl StepForm {
    /// The bar's shape: what was typed goes before what is chosen.
    fn bar_shape(&self) -> &str {
        let typed = self.other_shape.trim();
        if typed.is_empty() { &self.shape } else { typed }
    }
}

/// What the page asks for.
enum Ask {
    /// Only another person takes this step.
    SomebodyElse,
    /// Something stands against it.
    Refused,
    /// One tap.
    Tap,
    /// The bar.
    Stock { typed: Typed },
    /// The bar, told back.
    ReadBack { typed: Typed, read: ReadBack },
    /// How many pieces, and why; once asked back, whether to keep them as typed.
    Stop { asked_back: bool },
    /// A badge.
    Badge,
    /// Why.
    Reason,
}

#[derive(Template)]
#[template(path = "pages/setup_step.html")]
struct StepPage<'p> {
    frame: &'p Frame,
    walk: &'p Walk,
    kind: EventKind,
    step: &'p StepWords,
    ask: Ask,
    form: StepForm,
    tried: Tried,
    refusals: Vec<ToldRefusal>,
    sentence: String,
    faults: Faults,
}

impl<'p> StepPage<'p> {
    fn new(frame: &'p Frame, walk: &'p Walk, kind: EventKind, unit: &str) -> Result<Self, Problem> {
        let step = frame.words.steps.of(kind, None).ok_or_else(|| Problem::not_found("step", kind))?;
        let unit = LengthUnit::from_sign(unit).unwrap_or_else(|| bar_unit(frame, walk));
        let ask = match kind {
            _ if !may(frame, kind) => Ask::SomebodyElse,
            EventKind::StockFed => Ask::Stock { typed: Typed::empty(unit, false) },
            EventKind::RunStopped => Ask::Stop { asked_back: false },
            EventKind::HandedOver => Ask::Badge,
            EventKind::Closed | EventKind::Abandoned => Ask::Reason,
            EventKind::IndexClearanceConfirmed | EventKind::TrialCutBegun | EventKind::RunReleased => Ask::Tap,
            _ => return Err(Problem::not_found("step", kind)),
        };
        let (refusals, sentence, faults) = (Vec::new(), String::new(), Faults::default());
        let form = StepForm { shape: SHAPES[0].to_owned(), ..StepForm::default() };
        Ok(Self { frame, walk, kind, step, ask, form, tried: Tried::Looked, refusals, sentence, faults })
    }

    fn words(&self) -> &'p SetupWords {
        &self.frame.words.setup
    }

    fn heading(&self) -> String {
        let heading = self.words().heading.with("machine", &self.walk.view.machine);
        heading.with("part", &self.walk.view.part).to_string()
    }

    fn here(&self) -> String {
        format!("{}/steps/{}", self.walk.address(), self.kind)
    }

    fn reads_back(&self) -> bool {
        matches!(self.ask, Ask::ReadBack { .. })
    }

    fn takes_badge(&self) -> bool {
        matches!(self.ask, Ask::Badge)
    }

    /// Whether something is scanned, typed or told back: that comes first on the page.
    fn comes_first(&self) -> bool {
        !matches!(self.ask, Ask::Tap | Ask::SomebodyElse | Ask::Refused)
    }

    /// How far a release would go now, where it rests on a second setter's word: pieces, and a time.
    fn limits(&self) -> Option<(u64, String)> {
        let first_piece = self.walk.view.first_piece.as_ref().filter(|judged| judged.provisional);
        first_piece.filter(|_| self.kind == EventKind::RunReleased)?;
        let allowed = self.walk.loaded.setup.plan.settings.provisional_release?;
        Some((allowed.most_pieces, self.words().lasting(allowed.most_minutes)))
    }

    fn lead(&self) -> &'p Phrase {
        if self.limits().is_some() { &self.words().release_provisional_lead } else { &self.step.lead }
    }

    /// The words of the main action.
    fn tap(&self) -> String {
        match (self.limits(), self.words().tap(self.kind)) {
            (Some((pieces, time)), _) => {
                self.words().release_provisional.with("pieces", pieces).with("time", time).to_string()
            }
            (None, Some(said)) => said.to_string(),
            (None, None) => self.step.name.to_string(),
        }
    }

    /// The bar beside its diameter, told back.
    fn bar(&self) -> String {
        let (words, heat) = (self.words(), self.form.heat.trim());
        let phrase = if heat.is_empty() { &words.stock_told } else { &words.stock_told_heat };
        phrase.with("shape", lines::shape(self.frame, self.form.bar_shape())).with("heat", heat).to_string()
    }

    /// Whether what is seldom said of a bar was said.
    fn says_more(&self) -> bool {
        !self.form.other_shape.is_empty() || !self.form.heat.is_empty() || !self.faults.of("other_shape").is_empty()
    }

    /// Whether hands are at the spindles for the step: bar is fed, or the carrier is turned by hand.
    fn reaches_in(&self) -> bool {
        matches!(self.kind, EventKind::StockFed | EventKind::IndexClearanceConfirmed)
    }

    /// Whether the machine turns once the step is taken, under power or by hand.
    fn turns(&self) -> bool {
        matches!(self.kind, EventKind::IndexClearanceConfirmed | EventKind::TrialCutBegun | EventKind::RunReleased)
    }

    fn shapes(&self) -> Vec<(&'static str, String, bool)> {
        let name = |shape: &'static str| (shape, lines::shape(self.frame, shape), self.form.shape == shape);
        SHAPES.map(name).to_vec()
    }

    fn unit_change(&self, typed: &Typed) -> String {
        self.frame.unit_change(typed.other_unit())
    }

    fn unit_address(&self, typed: &Typed) -> String {
        format!("{}?unit={}", self.here(), typed.other_unit().sign())
    }
}

/// The unit in which the bar is measured: as the bar before, as the part, or as the screen begins.
fn bar_unit(frame: &Frame, walk: &Walk) -> LengthUnit {
    let bar = walk.view.stock.as_ref().map(|stock| stock.bar_diameter.unit());
    let stations = &walk.loaded.setup.plan.stations;
    let part = stations.iter().flat_map(|plan| &plan.operation.features).map(|feature| feature.target.unit()).next();
    frame.preferences.box_unit(bar.or(part).unwrap_or(frame.preferences.unit))
}

/// What a bar is compared with: the bar before, or the part's largest diameter. From about a sixth of it to nearly twice it
/// is a choice.
fn bar_expected(walk: &Walk) -> Option<Expected> {
    let features = walk.loaded.setup.plan.stations.iter().flat_map(|plan| &plan.operation.features);
    let diameters = features.filter(|feature| feature.kind == FeatureKind::Diameter).map(|feature| feature.target);
    let bar = walk.view.stock.as_ref().map(|stock| stock.bar_diameter);
    let target = bar.or(diameters.max_by_key(|target| target.picometres()))?;
    Some(Expected { target, width: Length::from_picometres(target.picometres() / 12, target.unit()) })
}

/// The event of a step, with a reason or number that stands for any: to learn what speaks against it beforehand.
fn sample(kind: EventKind) -> Option<EventBody> {
    let occurred_at = None;
    let reason = "-".to_owned();
    Some(match kind {
        EventKind::IndexClearanceConfirmed => EventBody::IndexClearanceConfirmed { confirmed: true, occurred_at },
        EventKind::TrialCutBegun => EventBody::TrialCutBegun { occurred_at },
        EventKind::RunReleased => EventBody::RunReleased { occurred_at },
        EventKind::RunStopped => EventBody::RunStopped { pieces: 0, reason, confirmed: true, occurred_at },
        EventKind::Closed => EventBody::Closed { reason, occurred_at },
        EventKind::Abandoned => EventBody::Abandoned { reason, occurred_at },
        _ => return None,
    })
}

/// Shows a step of the machine as a whole.
///
/// # Errors
/// 404 when there is no such setup or step.
pub async fn show(
    visit: Visit<Read>,
    path: Segments<(SetupId, EventKind)>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Problem> {
    let (id, kind) = path.into_inner();
    let reading = move |connection: &mut Connection, walk: &Walk, who: &Principal, now: DateTime<Utc>| {
        sample(kind).map(|event| against(connection, walk, who, now, &event)).transpose()
    };
    let (walk, found) = read_with(&visit, id, reading).await?;
    let mut shown = StepPage::new(&visit.frame, &walk, kind, &asked.unit)?;
    let found = found.unwrap_or_default();
    if !found.is_empty() && !matches!(shown.ask, Ask::SomebodyElse) {
        shown.ask = if asks_another_person(&found) { Ask::SomebodyElse } else { Ask::Refused };
        shown.refusals = visit.frame.refusals(&found);
    }
    page(&shown)
}

/// Whether what was typed is taken as soon as it is confirmed.
fn asks_back(refusals: &[Refusal]) -> bool {
    !refusals.is_empty() && refusals.iter().all(|refusal| refusal.rule == Rule::ReadingNotConfirmed)
}

/// What a form came to.
enum Meant {
    Event(EventBody),
    /// To be typed again.
    Again(Faults),
    /// The bar, told back or typed anew.
    Bar(Typed, Faults, Option<ReadBack>),
}

fn meant(page: &StepPage<'_>, form: &StepForm) -> Result<Meant, Problem> {
    let (frame, words) = (page.frame, page.words());
    let mut faults = Faults::default();
    let occurred_at = None;
    let reason = form.reason.trim().to_owned();
    if matches!(page.kind, EventKind::RunStopped | EventKind::Closed | EventKind::Abandoned) && reason.is_empty() {
        faults.add("reason", &words.reason_missing);
    }
    let event = match page.kind {
        EventKind::StockFed => {
            let typed = Typed::of(&form.value, "", &form.unit, bar_unit(frame, page.walk), false);
            let read = typed.read(frame, &mut faults);
            if form.bar_shape().is_empty() {
                faults.add("other_shape", &words.shape_missing);
            }
            let Some(bar_diameter) = read.filter(|_| faults.is_empty() && form.sure != "change") else {
                return Ok(Meant::Bar(typed, faults, None));
            };
            if form.sure != "yes" {
                return Ok(Meant::Bar(typed, faults, Some(ReadBack::of(frame, bar_diameter, bar_expected(page.walk)))));
            }
            let heat = Some(form.heat.trim().to_owned()).filter(|heat| !heat.is_empty());
            EventBody::StockFed { bar_diameter, bar_shape: form.bar_shape().to_owned(), heat, occurred_at }
        }
        EventKind::RunStopped => {
            let pieces = form.pieces.trim().parse::<u64>().ok().filter(|pieces| *pieces <= MOST_PIECES);
            if pieces.is_none() {
                faults.add("pieces", &words.pieces_bad);
            }
            let (pieces, confirmed) = (pieces.unwrap_or_default(), form.sure == "yes");
            EventBody::RunStopped { pieces, reason, confirmed, occurred_at }
        }
        EventKind::HandedOver => EventBody::HandedOver { to: form.code.trim().to_owned(), occurred_at },
        EventKind::Closed => EventBody::Closed { reason, occurred_at },
        EventKind::Abandoned => EventBody::Abandoned { reason, occurred_at },
        kind => sample(kind).ok_or_else(|| Problem::not_found("step", kind))?,
    };
    Ok(if faults.is_empty() { Meant::Event(event) } else { Meant::Again(faults) })
}

/// Records a step of the machine as a whole, or reads a typed value back first.
///
/// # Errors
/// 404 when there is no such setup or step; what is no refusal of a rule.
pub async fn record(
    visit: Visit<RecordEvent>,
    path: Segments<(SetupId, EventKind)>,
    sent: Sent<StepForm>,
) -> Result<HttpResponse, Problem> {
    let (id, kind) = path.into_inner();
    let walk = read(&visit, id).await?;
    let mut shown = StepPage::new(&visit.frame, &walk, kind, &sent.form.unit)?;
    (shown.form, shown.tried) = (sent.form.clone(), Tried::Sent);
    let event = match meant(&shown, &sent.form)? {
        Meant::Event(event) => event,
        Meant::Again(faults) => {
            shown.faults = faults;
            return page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown);
        }
        Meant::Bar(typed, faults, back) => {
            let changing = sent.form.sure == "change";
            let status = if back.is_some() || changing { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
            shown.faults = if changing { Faults::default() } else { faults };
            shown.ask = match back {
                Some(read) => Ask::ReadBack { typed, read },
                None => Ask::Stock { typed },
            };
            return page_with(status, &shown);
        }
    };
    let Some(problem) = recorded(&visit, &sent, id, event).await? else {
        // What runs is looked at as a whole.
        let released = kind == EventKind::RunReleased;
        return if released { Ok(go_to(&walk.address())) } else { lead_on(&visit, id, None).await };
    };
    (shown.refusals, shown.sentence) = told(&visit.frame, &problem);
    shown.ask = match shown.ask {
        _ if asks_another_person(problem.refused_by()) => Ask::SomebodyElse,
        Ask::Tap => Ask::Refused,
        Ask::Stock { typed } => {
            Ask::Stock { typed: Typed::of(&sent.form.value, "", &sent.form.unit, typed.unit, false) }
        }
        Ask::Stop { .. } => Ask::Stop { asked_back: asks_back(problem.refused_by()) },
        same => same,
    };
    page_with(status_of(&problem), &shown)
}
