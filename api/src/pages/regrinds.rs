//! Recording a grind of a form tool: what was left before and after, read back before they are kept.

use super::{
    forms::{FormField, NotTaken, Reading, Step, Typed},
    frame::{Frame, go_to, page, page_with},
    read_back::{ReadBack, ReadLength},
    tool_on_record::{ToolOnRecord, TypedLeft},
    visit::{Faults, Sent, Visit},
    wording::{Phrase, section},
};
use crate::{
    app::life::regrinds::record_in,
    extract::{Reference, Segments},
    principal::Grind,
    problem::Problem,
    transport::regrind::NewRegrind,
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use dovetally_core::{
    life::{edge::EdgeEnd, regrind::GrindKind},
    people::Permission,
};

section! {
    /// Recording a grind.
    RegrindWords {
        title, hazard, hazard_defer, on_record, angle_on_record, usual, pieces, kind, before, after, after_lead,
        angle_before, angle_after, angle_after_lead, ended, wheel, dressed, burn_seen, profile, rake, face_offset, outside, outside_only, note, read, said_kind, said_ended,
        said_wheel, said_dressed, said_burn, said_profile, said_rake, said_outside, said_note
    }
}

/// The form's fields.
const FIELDS: &[&str] = &[
    "kind",
    "before",
    "after",
    "ended",
    "wheel",
    "dressed",
    "burn",
    "profile",
    "rake",
    "rake-sign",
    "offset",
    "offset-sign",
    "outside",
    "note",
    "confirmed",
];

fn fields(words: &RegrindWords) -> [FormField<'_>; 14] {
    [
        ("kind", "kind", &words.kind),
        ("height_before", "before", &words.before),
        ("usable_angle_before_deg", "before", &words.angle_before),
        ("height_after", "after", &words.after),
        ("usable_angle_after_deg", "after", &words.angle_after),
        ("regrind_count", "kind", &words.kind),
        ("wheel", "wheel", &words.wheel),
        ("rake_deg", "rake", &words.rake),
        ("face_offset", "offset", &words.face_offset),
        ("edge_ended", "ended", &words.ended),
        ("ground_outside", "outside", &words.outside),
        ("ground_by", "outside", &words.outside),
        ("note", "note", &words.note),
        ("occurred_at", "kind", &words.kind),
    ]
}

#[derive(Template)]
#[template(path = "pages/regrind.html")]
struct RegrindPage<'p> {
    frame: &'p Frame,
    on_record: &'p ToolOnRecord,
    typed: &'p Typed,
    not_taken: NotTaken,
}

impl RegrindPage<'_> {
    fn kind(&self, kind: &GrindKind) -> &Phrase {
        self.frame.words.tool.grind_kind(*kind)
    }

    fn edge_end(&self, end: &EdgeEnd) -> &Phrase {
        self.frame.words.tool.edge_end(*end)
    }

    fn is(&self, field: &str, name: &str) -> bool {
        self.typed.of(field) == name
    }

    fn on_record_label(&self) -> &Phrase {
        let words = &self.frame.words.regrind;
        if self.on_record.by_angle() { &words.angle_on_record } else { &words.on_record }
    }

    fn before(&self) -> &Phrase {
        before(&self.frame.words.regrind, self.on_record)
    }

    fn after(&self) -> &Phrase {
        after(&self.frame.words.regrind, self.on_record)
    }

    fn after_lead(&self) -> &Phrase {
        let words = &self.frame.words.regrind;
        if self.on_record.by_angle() { &words.angle_after_lead } else { &words.after_lead }
    }

    fn sign(&self, field: &str) -> &'static str {
        super::numbers::sign_of(self.typed.of(field))
    }
}

const fn before<'w>(words: &'w RegrindWords, on_record: &ToolOnRecord) -> &'w Phrase {
    if on_record.by_angle() { &words.angle_before } else { &words.before }
}

const fn after<'w>(words: &'w RegrindWords, on_record: &ToolOnRecord) -> &'w Phrase {
    if on_record.by_angle() { &words.angle_after } else { &words.after }
}

/// Shows the form.
///
/// # Errors
/// 404 for what is no form tool.
pub async fn form(visit: Visit<Grind>, tool: Segments<Reference>) -> Result<HttpResponse, Problem> {
    let reference = tool.into_inner();
    let on_record = visit.read(move |connection| ToolOnRecord::find(connection, &reference)).await?;
    let typed = Typed::default().with("kind", GrindKind::Full.name()).with("dressed", "on");
    let (frame, not_taken) = (&visit.frame, NotTaken::default());
    page(&RegrindPage { frame, on_record: &on_record, typed: &typed, not_taken })
}

/// Reads a grind back, and keeps it when it is right.
///
/// # Errors
/// 404 for what is no form tool.
pub async fn record(
    visit: Visit<Grind>,
    tool: Segments<Reference>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    sent.form.only(|name| FIELDS.contains(&name))?;
    let reference = tool.into_inner();
    let asked = reference.clone();
    let on_record = visit.read(move |connection| ToolOnRecord::find(connection, &asked)).await?;
    let (frame, typed) = (&visit.frame, &sent.form);
    let shown = |not_taken| RegrindPage { frame, on_record: &on_record, typed, not_taken };
    let body = match read(frame, typed, &on_record) {
        Ok(body) => body,
        Err(faults) => return page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown(faults.into())),
    };
    match typed.step() {
        Step::Change => return page(&shown(NotTaken::default())),
        Step::ReadBack => return page(&read_back(frame, typed.clone(), &on_record, &body)),
        Step::Keep => {}
    }
    let code = on_record.tool.item.code.clone();
    let done: Result<(), Problem> =
        visit.perform(&sent, move |tx, who| record_in(tx, who, &reference, &body).map(drop)).await;
    match done {
        Ok(()) => Ok(go_to(&format!("/tool-life/{code}"))),
        Err(problem) => {
            let not_taken = NotTaken::of(frame, problem, &fields(&frame.words.regrind))?;
            page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown(not_taken))
        }
    }
}

fn read(frame: &Frame, typed: &Typed, on_record: &ToolOnRecord) -> Result<NewRegrind, Faults> {
    let unit = on_record.tool.height.unit();
    let mut reading = Reading::of(frame, typed);
    let kind = reading.choice("kind", GrindKind::from_name);
    let takes_height = kind != Some(GrindKind::TouchUp);
    let before = on_record.typed_if_any(&mut reading, "before");
    let after = if takes_height { on_record.typed(&mut reading, "after") } else { TypedLeft::default() };
    let ends = EdgeEnd::from_name;
    let edge_ended = if kind == Some(GrindKind::Full) { reading.choice("ended", ends) } else { None };
    let rake_deg = reading.signed_if_any("rake", "rake-sign");
    let face_offset = reading.signed_length_if_any("offset", "offset-sign", unit);
    // Who keeps the tools records what was ground elsewhere; what was ground here, whoever ground it.
    let outside = if frame.may(Permission::Grind) { typed.text("outside") } else { reading.words("outside") };
    let faults = reading.faults;
    let Some(kind) = kind.filter(|_| faults.is_empty()) else { return Err(faults) };
    Ok(NewRegrind {
        kind,
        height_before: before.height,
        usable_angle_before_deg: before.angle_deg,
        height_after: after.height,
        usable_angle_after_deg: after.angle_deg,
        stock: None,
        wear_land: None,
        clean_up: None,
        regrind_count: None,
        wheel: typed.text("wheel"),
        dressed: typed.ticked("dressed"),
        burn_seen: typed.ticked("burn"),
        rake_deg,
        face_offset,
        profile_checked: typed.ticked("profile"),
        edge_ended,
        ground_by: None,
        ground_outside: outside,
        confirmed: typed.ticked("confirmed"),
        occurred_at: None,
        note: typed.text("note"),
    })
}

fn read_back<'p>(frame: &'p Frame, typed: Typed, on_record: &'p ToolOnRecord, body: &NewRegrind) -> ReadBack<'p> {
    let words = &frame.words.regrind;
    let record = on_record.tool.height;
    let read_before = TypedLeft { height: body.height_before, angle_deg: body.usable_angle_before_deg };
    let read_after = TypedLeft { height: body.height_after, angle_deg: body.usable_angle_after_deg };
    let from = on_record.height(read_before).unwrap_or(record);
    let usual = from.minus(on_record.design.fields.grind_stock);
    let mut lengths = Vec::new();
    lengths.extend(on_record.read(frame, before(words, on_record), read_before, (record, record)));
    lengths.extend(on_record.read(frame, after(words, on_record), read_after, (from, usual)));
    let tool = &frame.words.tool;
    let mut said = vec![words.said_kind.with("kind", tool.grind_kind(body.kind)).to_string()];
    said.extend(body.edge_ended.map(|end| words.said_ended.with("ended", tool.edge_end(end)).to_string()));
    said.extend(body.wheel.as_ref().map(|wheel| words.said_wheel.with("wheel", wheel).to_string()));
    let mut told = |is: bool, phrase: &Phrase| is.then(|| said.push(phrase.to_string()));
    told(body.dressed, &words.said_dressed);
    told(body.burn_seen, &words.said_burn);
    told(body.profile_checked, &words.said_profile);
    let number = |value: f64| frame.mark().number(value);
    said.extend(body.rake_deg.map(|rake| words.said_rake.with("degrees", number(rake)).to_string()));
    said.extend(body.ground_outside.as_ref().map(|who| words.said_outside.with("who", who).to_string()));
    said.extend(body.note.as_ref().map(|note| words.said_note.with("note", note).to_string()));
    lengths.extend(body.face_offset.map(|offset| ReadLength {
        label: words.face_offset.to_string(),
        shown: frame.length(&offset),
        doubt: None,
    }));
    let title = words.title.with("tool", &on_record.tool.item.code).to_string();
    ReadBack { frame, title, address: frame.address.as_str(), lengths, said, typed, floor: false }.confirming()
}
