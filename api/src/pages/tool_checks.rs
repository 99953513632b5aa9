//! Recording a check of a form tool: what was measured is read back before it is kept.

use super::{
    forms::{FormField, NotTaken, Reading, Step, Typed},
    frame::{Frame, go_to, page, page_with},
    read_back::{ReadBack, ReadLength},
    tool_on_record::{ToolOnRecord, TypedLeft},
    visit::{Faults, Sent, Visit},
    wording::{Phrase, section},
};
use crate::{
    app::life::checks::record_in,
    extract::{Reference, Segments},
    principal::CheckTools,
    problem::Problem,
    transport::tool_check::NewToolCheck,
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use dovetally_core::{item::Condition, life::check::ToolFinding, people::Permission};

section! {
    /// Recording a check of a form tool.
    ToolCheckWords {
        title, hazard, hazard_defer, on_record, angle_on_record, asks_rake, since_grind, angle_since_grind, profile,
        sound, height, angle, rake, face_offset,
        cleared, found, verdict, pass, grind, damaged, note, read, said_pass, said_grind, said_damaged,
        said_profile, said_no_profile, said_sound, said_found, said_rake, said_note
    }
}

/// The form's fields; each finding besides, under `found-` and its name.
const FIELDS: &[&str] = &[
    "verdict",
    "profile",
    "sound",
    "cleared",
    "height",
    "rake",
    "rake-sign",
    "offset",
    "offset-sign",
    "note",
    "confirmed",
];

fn fields(words: &ToolCheckWords) -> [FormField<'_>; 10] {
    [
        ("accepted", "verdict", &words.verdict),
        ("condition", "verdict", &words.verdict),
        ("edge_sound", "sound", &words.sound),
        ("edge_cleared", "cleared", &words.cleared),
        ("height", "height", &words.height),
        ("usable_angle_deg", "height", &words.angle),
        ("rake_deg", "rake", &words.rake),
        ("face_offset", "offset", &words.face_offset),
        ("found", "found", &words.found),
        ("note", "note", &words.note),
    ]
}

fn found(finding: ToolFinding) -> String {
    format!("found-{finding}")
}

#[derive(Template)]
#[template(path = "pages/tool_check.html")]
struct ToolCheckPage<'p> {
    frame: &'p Frame,
    on_record: &'p ToolOnRecord,
    typed: &'p Typed,
    not_taken: NotTaken,
}

impl ToolCheckPage<'_> {
    fn finding(&self, finding: &ToolFinding) -> &Phrase {
        self.frame.words.tool.finding(*finding)
    }

    fn found(&self, finding: &ToolFinding) -> String {
        found(*finding)
    }

    fn has_found(&self, finding: &ToolFinding) -> bool {
        self.typed.ticked(&found(*finding))
    }

    fn is(&self, field: &str, name: &str) -> bool {
        self.typed.of(field) == name
    }

    fn sign(&self, field: &str) -> &'static str {
        super::numbers::sign_of(self.typed.of(field))
    }

    fn on_record_label(&self) -> &Phrase {
        let words = &self.frame.words.tool_check;
        if self.on_record.by_angle() { &words.angle_on_record } else { &words.on_record }
    }

    fn left(&self) -> &Phrase {
        left(&self.frame.words.tool_check, self.on_record)
    }

    fn since_grind(&self) -> &Phrase {
        let words = &self.frame.words.tool_check;
        if self.on_record.by_angle() { &words.angle_since_grind } else { &words.since_grind }
    }

    fn degrees(&self) -> String {
        self.frame.mark().number(self.on_record.design.fields.rake_deg)
    }

    fn rake_tolerance(&self) -> String {
        self.frame.mark().number(self.on_record.design.fields.rake_tolerance_deg)
    }
}

const fn left<'w>(words: &'w ToolCheckWords, on_record: &ToolOnRecord) -> &'w Phrase {
    if on_record.by_angle() { &words.angle } else { &words.height }
}

/// Shows the form.
///
/// # Errors
/// 404 for what is no form tool.
pub async fn form(visit: Visit<CheckTools>, tool: Segments<Reference>) -> Result<HttpResponse, Problem> {
    let reference = tool.into_inner();
    let on_record = visit.read(move |connection| ToolOnRecord::find(connection, &reference)).await?;
    let typed = Typed::default();
    page(&ToolCheckPage { frame: &visit.frame, on_record: &on_record, typed: &typed, not_taken: NotTaken::default() })
}

/// Reads a check back, and keeps it when it is right.
///
/// # Errors
/// 404 for what is no form tool.
pub async fn record(
    visit: Visit<CheckTools>,
    tool: Segments<Reference>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    let known = |name: &str| FIELDS.contains(&name) || ToolFinding::ALL.iter().any(|one| found(*one) == name);
    sent.form.only(known)?;
    let reference = tool.into_inner();
    let asked = reference.clone();
    let on_record = visit.read(move |connection| ToolOnRecord::find(connection, &asked)).await?;
    let (frame, typed) = (&visit.frame, &sent.form);
    let shown = |not_taken| ToolCheckPage { frame, on_record: &on_record, typed, not_taken };
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
            let not_taken = NotTaken::of(frame, problem, &fields(&frame.words.tool_check))?;
            page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown(not_taken))
        }
    }
}

/// What a check says of the tool.
#[derive(Clone, Copy)]
enum Verdict {
    Pass,
    Needs(Condition),
}

fn verdict(name: &str) -> Option<Verdict> {
    match name {
        "pass" => Some(Verdict::Pass),
        "grind" => Some(Verdict::Needs(Condition::NeedsGrinding)),
        "damaged" => Some(Verdict::Needs(Condition::Damaged)),
        _ => None,
    }
}

fn read(frame: &Frame, typed: &Typed, on_record: &ToolOnRecord) -> Result<NewToolCheck, Faults> {
    let unit = on_record.tool.height.unit();
    let mut reading = Reading::of(frame, typed);
    let left = on_record.typed_if_any(&mut reading, "height");
    let rake_deg = reading.signed_if_any("rake", "rake-sign");
    let face_offset = reading.signed_length_if_any("offset", "offset-sign", unit);
    let verdict = reading.choice("verdict", verdict);
    let faults = reading.faults;
    let Some(verdict) = verdict.filter(|_| faults.is_empty()) else { return Err(faults) };
    Ok(NewToolCheck {
        accepted: matches!(verdict, Verdict::Pass),
        profile_checked: typed.ticked("profile"),
        edge_sound: typed.ticked("sound"),
        edge_cleared: typed.text("cleared"),
        height: left.height,
        usable_angle_deg: left.angle_deg,
        rake_deg,
        face_offset,
        found: ToolFinding::ALL.iter().copied().filter(|finding| typed.ticked(&found(*finding))).collect(),
        condition: match verdict {
            Verdict::Pass => None,
            Verdict::Needs(condition) => Some(condition),
        },
        confirmed: typed.ticked("confirmed"),
        performed_at: None,
        note: typed.text("note"),
    })
}

fn read_back<'p>(frame: &'p Frame, typed: Typed, on_record: &'p ToolOnRecord, body: &NewToolCheck) -> ReadBack<'p> {
    let words = &frame.words.tool_check;
    let record = on_record.tool.height;
    let mut lengths = Vec::new();
    let read = TypedLeft { height: body.height, angle_deg: body.usable_angle_deg };
    lengths.extend(on_record.read(frame, left(words, on_record), read, (record, record)));
    lengths.extend(body.face_offset.map(|offset| ReadLength {
        label: words.face_offset.to_string(),
        shown: frame.length(&offset),
        doubt: None,
    }));
    let verdict = match body.condition {
        None => &words.said_pass,
        Some(Condition::Damaged) => &words.said_damaged,
        Some(_) => &words.said_grind,
    };
    let profile = if body.profile_checked { &words.said_profile } else { &words.said_no_profile };
    let mut said = vec![verdict.to_string(), profile.to_string()];
    said.extend(body.edge_sound.then(|| words.said_sound.to_string()));
    let number = |value: f64| frame.mark().number(value);
    said.extend(body.rake_deg.map(|rake| words.said_rake.with("degrees", number(rake)).to_string()));
    let found = body.found.iter().map(|one| words.said_found.with("finding", frame.words.tool.finding(*one)));
    said.extend(found.map(|found| found.to_string()));
    said.extend(body.note.as_ref().map(|note| words.said_note.with("note", note).to_string()));
    let title = words.title.with("tool", &on_record.tool.item.code).to_string();
    ReadBack { frame, title, address: frame.address.as_str(), lengths, said, typed, floor: false }.confirming()
}
