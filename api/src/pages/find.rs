//! Finding items, machines, designs, parts, supplies and jobs by any part of a code or name.

use super::{
    frame::{Frame, page},
    visit::Visit,
    wording::{Phrase, section},
};
use crate::{
    app::find::{Found, Thing, ThingKind, find},
    principal::Read,
    problem::Problem,
};
use actix_web::{HttpResponse, web::Query};
use askama::Template;
use serde::Deserialize;

section! {
    /// Finding things.
    FindWords { title, label, go, nothing, found, more, code, name, kind, part, supply, short }
}

/// What is looked for.
#[derive(Debug, Deserialize)]
pub struct Asked {
    #[serde(default)]
    text: String,
}

#[derive(Template)]
#[template(path = "pages/find.html")]
struct FindPage<'p> {
    frame: &'p Frame,
    text: &'p str,
    /// Nothing before anybody looked for something.
    found: Option<Found>,
}

/// What kind of thing was found.
pub(super) fn thing_kind(frame: &Frame, kind: ThingKind) -> &Phrase {
    let names = &frame.words.names;
    match kind {
        ThingKind::Machine => &names.machine,
        ThingKind::ToolDesign => &names.tool_design,
        ThingKind::Part => &frame.words.find.part,
        ThingKind::Supply => &frame.words.find.supply,
        ThingKind::Job => &names.job,
        ThingKind::Item(kind) => names.item_kind(kind),
    }
}

impl FindPage<'_> {
    fn kind(&self, thing: &Thing) -> &Phrase {
        thing_kind(self.frame, thing.kind)
    }

    /// The thing's own page; a part has none, and is found with its jobs.
    fn address(&self, thing: &Thing) -> Option<String> {
        match thing.kind {
            ThingKind::Item(_) => Some(format!("/items/{}", thing.code)),
            ThingKind::Machine => Some(format!("/machines/{}", thing.code)),
            ThingKind::ToolDesign => Some(format!("/tool-life/{}", thing.code)),
            ThingKind::Supply => Some(format!("/supplies/{}", thing.code)),
            ThingKind::Job => Some(format!("/jobs/{}", thing.code)),
            ThingKind::Part => None,
        }
    }
}

/// Shows what is found.
///
/// # Errors
/// A database error.
pub async fn show(visit: Visit<Read>, asked: Query<Asked>) -> Result<HttpResponse, Problem> {
    let text = asked.into_inner().text;
    let wanted = text.trim().to_owned();
    let found = match wanted.chars().count() {
        0 | 1 => None,
        _ => Some(visit.read(move |connection| find(connection, &wanted)).await?),
    };
    page(&FindPage { frame: &visit.frame, text: text.trim(), found })
}
