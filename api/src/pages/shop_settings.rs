//! The shop's settings: what bears on every setup that is opened from now on. What one screen is like is chosen where people
//! sign in.

use super::{
    frame::{Frame, go_to, page_with},
    numbers::{self, ShownLength},
    visit::{Faults, Sent, Visit},
    wording::section,
};
use crate::{
    app::settings as app,
    conditional::ETag,
    extract::IfMatch,
    principal::{Administer, Read},
    problem::{Problem, ProblemCode},
    transport::settings::{ProvisionalReleaseBody, SettingsBody},
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use dovetally_core::{
    length::{Length, LengthUnit},
    people::Permission,
    setup::plan::HolderMoveRecheck,
};
use serde::Deserialize;

section! {
    /// The shop's settings.
    SettingsWords {
        title, lead, screen, screen_lead, screen_go, another_person, another_person_why, every_spindle, every_spindle_why, recheck,
        recheck_why, advised, required, limit, limit_why, limit_unit, provisional, provisional_why, known, not_known, pieces, minutes,
        whole_number, keep, changed_meanwhile, administrators
    }
}

/// The settings as they were typed.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Typed {
    another: String,
    every: String,
    recheck: String,
    limit: String,
    #[serde(rename = "limit-unit")]
    unit: String,
    provisional: String,
    pieces: String,
    minutes: String,
    /// The limit that was read back and found right.
    kept: String,
    /// The version with which the form was shown.
    version: String,
}

impl Typed {
    fn of(frame: &Frame, settings: &SettingsBody) -> Result<Self, Problem> {
        let yes = |is: bool| if is { "yes" } else { "no" }.to_owned();
        let released = settings.provisional_release;
        Ok(Self {
            another: yes(settings.first_piece_by_another_person),
            every: yes(settings.first_piece_from_every_spindle),
            recheck: settings.recheck_after_holder_move.name().to_owned(),
            limit: frame.mark().number(settings.height_limit.value()),
            unit: settings.height_limit.unit().sign().to_owned(),
            provisional: yes(released.is_some()),
            pieces: released.map(|it| it.most_pieces.to_string()).unwrap_or_default(),
            minutes: released.map(|it| it.most_minutes.to_string()).unwrap_or_default(),
            kept: String::new(),
            version: ETag::of_resource(settings)?.opaque().to_owned(),
        })
    }

    fn read(&self, frame: &Frame, faults: &mut Faults) -> Option<SettingsBody> {
        let words = &frame.words.settings;
        let unit = LengthUnit::from_sign(&self.unit).unwrap_or(frame.preferences.unit);
        let limit = numbers::read_length(&self.limit, unit);
        let limit = faults.read("limit", limit, |fault| frame.number_fault(fault));
        let provisional = if self.provisional == "yes" {
            let pieces = self.pieces.trim().parse();
            let pieces = faults.read("pieces", pieces, |_: std::num::ParseIntError| words.whole_number.to_string());
            let minutes = self.minutes.trim().parse();
            let minutes = faults.read("minutes", minutes, |_: std::num::ParseIntError| words.whole_number.to_string());
            Some(ProvisionalReleaseBody { most_pieces: pieces?, most_minutes: minutes? })
        } else {
            None
        };
        Some(SettingsBody {
            first_piece_by_another_person: self.another != "no",
            first_piece_from_every_spindle: self.every == "yes",
            recheck_after_holder_move: HolderMoveRecheck::from_name(&self.recheck)
                .unwrap_or(HolderMoveRecheck::Advised),
            height_limit: limit?,
            provisional_release: provisional,
        })
    }
}

/// A limit that is read back before it is kept.
struct ReadBack {
    shown: ShownLength,
    doubt: Option<String>,
    /// What the form says once it was found right.
    kept: String,
}

#[derive(Template)]
#[template(path = "pages/shop_settings.html")]
struct SettingsPage<'p> {
    frame: &'p Frame,
    typed: &'p Typed,
    may: bool,
    faults: Faults,
    read_back: Option<ReadBack>,
}

const FIELDS: &[(&str, &str)] = &[
    ("/height_limit", "limit"),
    ("/provisional_release/most_pieces", "pieces"),
    ("/provisional_release/most_minutes", "minutes"),
];

/// Shows them.
///
/// # Errors
/// A database error.
pub async fn show(visit: Visit<Read>) -> Result<HttpResponse, Problem> {
    let settings = visit.read(app::read).await?;
    let typed = Typed::of(&visit.frame, &settings)?;
    shown(&visit.frame, &typed, Faults::default(), None)
}

fn shown(frame: &Frame, typed: &Typed, faults: Faults, read_back: Option<ReadBack>) -> Result<HttpResponse, Problem> {
    let status = if faults.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let may = frame.may(Permission::Administer);
    page_with(status, &SettingsPage { frame, typed, may, faults, read_back })
}

/// Keeps them; another limit than before is read back first.
///
/// # Errors
/// What is no fault of the form.
pub async fn change(visit: Visit<Administer>, sent: Sent<Typed>) -> Result<HttpResponse, Problem> {
    let (frame, typed) = (&visit.frame, &sent.form);
    let mut faults = Faults::default();
    let wanted = typed.read(frame, &mut faults);
    let Some(wanted) = wanted.filter(|_| faults.is_empty()) else { return shown(frame, typed, faults, None) };
    let before = visit.read(app::read).await?.height_limit;
    if let Some(read_back) = read_back(frame, typed, &wanted.height_limit, &before) {
        return shown(frame, typed, Faults::default(), Some(read_back));
    }
    let condition = IfMatch::shown(&typed.version);
    let done: Result<(), Problem> =
        visit.perform(&sent, move |tx, who| app::replace_in(tx, who, &condition, &wanted).map(drop)).await;
    let Err(problem) = done else { return Ok(go_to("/settings")) };
    if problem.code() == ProblemCode::PreconditionFailed {
        faults.add("limit", &frame.words.settings.changed_meanwhile);
    } else {
        faults = Faults::of_problem(frame, problem, FIELDS)?;
    }
    shown(frame, typed, faults, None)
}

/// What is read back of a limit that is another one than before, until it was found right.
fn read_back(frame: &Frame, typed: &Typed, limit: &Length, before: &Length) -> Option<ReadBack> {
    let kept = format!("{} {}", limit.value(), limit.unit().sign());
    let same = limit == before && limit.unit() == before.unit();
    if same || typed.kept == kept {
        return None;
    }
    // Twice or half of a limit is a choice; ten times of it, or what it would be in the other unit, is a slip.
    let doubt = numbers::near(*before, *before).doubt(*limit).map(|doubt| frame.doubt(doubt, limit, before));
    Some(ReadBack { shown: frame.length(limit), doubt, kept })
}
