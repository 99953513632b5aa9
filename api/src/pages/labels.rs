//! Labels: what they are for, how large, and the sheets as they will be printed.
//!
//! Nothing is recorded: what was chosen stands in the page's address.

use super::{
    drawn::Written,
    find::thing_kind,
    frame::{Frame, page},
    visit::Visit,
    wording::{Filled, Phrase, section},
};
use crate::{
    app::{
        facts::code_of,
        find::Thing,
        labels::{self as app, Labelled, What},
        life::traveller::of_tool,
    },
    extract::Reference,
    labels::{Label, LabelError, LabelKind, Paper, Said, Sheet, sheets, traveller},
    principal::Read,
    problem::Problem,
    transport::traveller::TravellerView,
};
use actix_web::{HttpRequest, HttpResponse, http::header};
use askama::Template;
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::code::Code;
use std::fmt::Write as _;

section! {
    /// The labels.
    LabelsWords {
        title, scan, add, lead, found, more, nothing, not_labelled, add_found, every, every_new, every_place, none_new, chosen, drop,
        too_many, size, kind, kind_size, tool_tag, bin_label, gauge_tag, shelf_strip, traveller, paper, paper_a4, paper_letter,
        paper_each, used, show, preview, print, print_how, left_out, no_symbol, no_text, no_grinder, only_for
    }
}

/// For so long an item is new.
const NEW: TimeDelta = TimeDelta::days(7);

/// What the address asks for.
#[derive(Clone, Debug, Default)]
struct Asked {
    /// Chosen before, in their order, each once.
    chosen: Vec<Code>,
    /// Scanned or typed: a code, or a part of one.
    text: String,
    /// All of something.
    every: String,
    kind: Option<LabelKind>,
    paper: Option<Paper>,
    used: usize,
}

impl Asked {
    fn of(query: &str) -> Self {
        let mut asked = Self::default();
        let mut dropped = None;
        for (name, value) in form_urlencoded::parse(query.as_bytes()) {
            match name.as_ref() {
                "chosen" | "pick" => value.split(',').for_each(|code| asked.choose(Code::parse(code).ok())),
                "drop" => dropped = Code::parse(&value).ok(),
                "code" => value.trim().clone_into(&mut asked.text),
                "every" => asked.every = value.into_owned(),
                "kind" => asked.kind = LabelKind::from_name(&value),
                "paper" => asked.paper = Paper::from_name(&value),
                "used" => asked.used = value.trim().parse().unwrap_or_default(),
                _ => {}
            }
        }
        asked.chosen.retain(|code| Some(code) != dropped.as_ref());
        asked
    }

    fn choose(&mut self, code: Option<Code>) {
        self.chosen.extend(code.filter(|code| !self.chosen.contains(code)));
    }
}

/// What came of what was typed or asked for.
#[derive(Debug, Default)]
enum Told {
    #[default]
    Nothing,
    /// Nothing has this text in its code or name.
    NotFound,
    /// This code is on record, and its thing has no label.
    NotLabelled,
    /// Nothing new was put on record.
    NothingNew,
    /// To choose from, and whether there is more.
    Found(Vec<Thing>, bool),
}

/// What the records know of what is to be labelled.
struct Known {
    things: Vec<Labelled>,
    travellers: Vec<TravellerView>,
    told: Told,
    too_many: bool,
}

#[derive(Template)]
#[template(path = "pages/labels.html")]
struct LabelsPage<'p> {
    frame: &'p Frame,
    asked: &'p Asked,
    things: &'p [Labelled],
    told: &'p Told,
    too_many: bool,
    kind: LabelKind,
    paper: Paper,
    sheets: Vec<String>,
    count: usize,
    left_out: Vec<String>,
}

impl LabelsPage<'_> {
    /// What is chosen, for the forms of the page.
    fn chosen(&self) -> String {
        self.things.iter().map(|thing| thing.code.as_str()).collect::<Vec<_>>().join(",")
    }

    fn is_kind(&self, kind: &LabelKind) -> bool {
        self.kind == *kind
    }

    fn is_paper(&self, paper: &Paper) -> bool {
        self.paper == *paper
    }

    fn kind_name(&self, kind: &LabelKind) -> Filled<'_> {
        let words = &self.frame.words.labels;
        let name = match kind {
            LabelKind::ToolTag => &words.tool_tag,
            LabelKind::BinLabel => &words.bin_label,
            LabelKind::GaugeTag => &words.gauge_tag,
            LabelKind::ShelfStrip => &words.shelf_strip,
            LabelKind::Traveller => &words.traveller,
        };
        let sizes = kind.sizes();
        let number = |value| self.frame.mark().number(value);
        words.kind_size.with("kind", name).with("width", number(sizes.width)).with("height", number(sizes.height))
    }

    fn paper_name(&self, paper: &Paper) -> &Phrase {
        let words = &self.frame.words.labels;
        match paper {
            Paper::A4 => &words.paper_a4,
            Paper::Letter => &words.paper_letter,
            Paper::EachItsOwn => &words.paper_each,
        }
    }

    fn thing_kind(&self, thing: &Thing) -> &Phrase {
        thing_kind(self.frame, thing.kind)
    }

    /// The address of the style sheet that makes the paper as large as it is.
    fn paper_address(&self) -> String {
        format!("/labels/paper.css?kind={}&paper={}", self.kind.name(), self.paper.name())
    }
}

/// Shows what is chosen, and its labels.
///
/// # Errors
/// A database error.
pub async fn show(visit: Visit<Read>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(request.query_string());
    let now = visit.guarded.database().now();
    let wanted = asked.clone();
    let known = visit.read(move |connection| known(connection, wanted, now)).await?;
    asked.chosen = known.things.iter().map(|thing| thing.code.clone()).collect();

    let frame = &visit.frame;
    let kind = asked.kind.unwrap_or_else(|| usual_kind(&known.things));
    let paper = asked.paper.unwrap_or(Paper::A4);
    let address = visit.guarded.service().browsers().public_url.clone();
    let (labels, left_out) = labels(frame, kind, &known, address.as_deref());
    let sheet = Sheet::of(kind, paper);
    page(&LabelsPage {
        frame,
        asked: &asked,
        things: &known.things,
        told: &known.told,
        too_many: known.too_many,
        kind,
        paper,
        count: labels.len(),
        sheets: sheets(&labels, &sheet, asked.used),
        left_out,
    })
}

fn known(connection: &mut dovetally_db::Connection, mut asked: Asked, now: DateTime<Utc>) -> Result<Known, Problem> {
    let mut told = Told::Nothing;
    if !asked.text.is_empty() {
        let text = code_of(&asked.text).to_owned();
        let code = Code::parse(&text).ok();
        let thing = code.as_ref().map(|code| app::of_code(connection, code)).transpose()?.flatten();
        match thing {
            Some(thing) => asked.choose(Some(thing.code)),
            None => {
                let on_record = code.map(|code| dovetally_db::codes::find(connection, &code)).transpose()?.flatten();
                told = if on_record.is_some() {
                    Told::NotLabelled
                } else {
                    let (things, more) = app::matching(connection, &text)?;
                    if things.is_empty() { Told::NotFound } else { Told::Found(things, more) }
                };
            }
        }
    }
    match asked.every.as_str() {
        "new" => {
            let codes = app::new_items(connection, now - NEW)?;
            if codes.is_empty() {
                told = Told::NothingNew;
            }
            codes.into_iter().for_each(|code| asked.choose(Some(code)));
        }
        "places" => app::places_in_use(connection)?.into_iter().for_each(|code| asked.choose(Some(code))),
        _ => {}
    }
    let too_many = asked.chosen.len() > app::MOST;
    let mut things = Vec::new();
    for code in asked.chosen.iter().take(app::MOST) {
        things.extend(app::of_code(connection, code)?);
    }
    let mut travellers = Vec::new();
    if asked.kind == Some(LabelKind::Traveller) {
        for tool in things.iter().filter(|thing| thing.what == What::Tool) {
            travellers.push(of_tool(connection, &Reference::Code(tool.code.clone()), now)?);
        }
    }
    Ok(Known { things, travellers, told, too_many })
}

/// The size for what is chosen, until somebody says another one.
fn usual_kind(things: &[Labelled]) -> LabelKind {
    match things.first().map(|thing| &thing.what) {
        Some(What::Gauge(_)) => LabelKind::GaugeTag,
        Some(What::Machine | What::Place | What::Supply) => LabelKind::BinLabel,
        Some(What::Tool | What::OtherItem) | None => LabelKind::ToolTag,
    }
}

/// A label for each thing, and a sentence for each that has none.
fn labels(frame: &Frame, kind: LabelKind, known: &Known, address: Option<&str>) -> (Vec<Label>, Vec<String>) {
    let words = &frame.words.labels;
    let (mut made, mut left_out) = (Vec::new(), Vec::new());
    for thing in &known.things {
        let label = if kind == LabelKind::Traveller {
            let Some(view) = known.travellers.iter().find(|view| view.tool == thing.code) else {
                left_out.push(words.no_grinder.with("code", &thing.code).to_string());
                continue;
            };
            traveller::label(&in_words(frame, view), &frame.words.traveller, &Written(&frame.preferences), address)
        } else {
            let only_for = match &thing.what {
                What::Gauge(machine) => vec![words.only_for.with("machine", machine).to_string()],
                _ => Vec::new(),
            };
            let (code, name) = (thing.code.clone(), thing.name.clone());
            Label::new(kind, &Said { code, name, essential: only_for, further: Vec::new() }, address)
        };
        match label {
            Ok(label) => made.push(label),
            Err(LabelError::Text) => left_out.push(words.no_text.with("code", &thing.code).to_string()),
            Err(LabelError::Symbol | LabelError::Encoding(_)) => {
                left_out.push(words.no_symbol.with("code", &thing.code).to_string());
            }
        }
    }
    (made, left_out)
}

/// A traveller with what the program says of it in the reader's language.
fn in_words(frame: &Frame, view: &TravellerView) -> TravellerView {
    let told = |sentences: &[String]| sentences.iter().map(|sentence| frame.told(sentence)).collect();
    TravellerView { checks: told(&view.checks), cautions: told(&view.cautions), ..view.clone() }
}

/// The style sheet that makes a printed page as large as the paper, without a margin for the browser's own lines.
///
/// # Errors
/// Never.
pub async fn paper(_: Visit<Read>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(request.query_string());
    let sheet = Sheet::of(asked.kind.unwrap_or(LabelKind::ToolTag), asked.paper.unwrap_or(Paper::A4));
    let mut style = String::new();
    let _ = writeln!(style, "@page {{ size: {}mm {}mm; margin: 0; }}", sheet.width, sheet.height);
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, "text/css; charset=utf-8"))
        .insert_header((header::CACHE_CONTROL, "private, max-age=3600"))
        .body(style))
}

#[cfg(test)]
mod tests {
    use super::Asked;
    use crate::labels::{LabelKind, Paper};

    #[test]
    fn what_is_chosen_stands_in_the_address_once() {
        let asked =
            Asked::of("chosen=FT-001%2Cft-002&pick=FT-003&pick=FT-001&drop=ft-002&kind=bin-label&paper=letter&used=3");
        let codes: Vec<&str> = asked.chosen.iter().map(dovetally_core::code::Code::as_str).collect();
        assert_eq!(codes, ["FT-001", "FT-003"]);
        assert_eq!((asked.kind, asked.paper, asked.used), (Some(LabelKind::BinLabel), Some(Paper::Letter), 3));
        let nonsense = Asked::of("chosen=%2C%2C..&kind=x&paper=y&used=-1&code=+FT-9+");
        assert!(nonsense.chosen.is_empty() && nonsense.kind.is_none() && nonsense.paper.is_none());
        assert_eq!((nonsense.used, nonsense.text.as_str()), (0, "FT-9"));
    }
}
