//! Recording a check of a holder: what was found, and whether it may be used.

use super::{
    forms::{FormField, NotTaken, Reading, Typed},
    frame::{Frame, go_to, page, page_with},
    visit::{Faults, Sent, Visit},
    wording::{Phrase, section},
};
use crate::{
    app::{
        holder_checks::{last_check, record_in},
        registry::{Holders, find},
    },
    extract::{Reference, Segments},
    principal::CheckHolders,
    problem::Problem,
    transport::holder_check::{HolderCheckView, NewHolderCheck},
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use dovetally_core::{
    adjuster::{Adjuster, AdjusterKind},
    holder::HolderFinding,
    item::Condition,
    registry::item::Holder,
};
use dovetally_db::Connection;

section! {
    /// Recording a check of a holder.
    HolderCheckWords {
        title, of_style, last, never, found, worn_ways, burr_on_seat, cracked, bent_screw, stripped_thread, worn_clamp,
        dirt_or_rust, other, sound, seat, taper_screw, height_screw, side_screw, verdict, pass, check_again, damaged,
        retired, note, record
    }
}

impl HolderCheckWords {
    /// What a check found.
    pub(super) const fn finding(&self, finding: HolderFinding) -> &Phrase {
        match finding {
            HolderFinding::WornWays => &self.worn_ways,
            HolderFinding::BurrOnSeat => &self.burr_on_seat,
            HolderFinding::Cracked => &self.cracked,
            HolderFinding::BentScrew => &self.bent_screw,
            HolderFinding::StrippedThread => &self.stripped_thread,
            HolderFinding::WornClamp => &self.worn_clamp,
            HolderFinding::DirtOrRust => &self.dirt_or_rust,
            HolderFinding::Other => &self.other,
        }
    }
}

/// The form's fields; each finding besides, under `found-` and its name.
const FIELDS: &[&str] = &["verdict", "seat", "taper", "height", "side", "note"];

fn fields(words: &HolderCheckWords) -> [FormField<'_>; 8] {
    [
        ("accepted", "verdict", &words.verdict),
        ("condition", "verdict", &words.verdict),
        ("found", "found", &words.found),
        ("seat_clean", "sound", &words.sound),
        ("taper_adjuster_free", "sound", &words.sound),
        ("height_adjuster_free", "sound", &words.sound),
        ("side_screw_free", "sound", &words.sound),
        ("note", "note", &words.note),
    ]
}

fn found(finding: HolderFinding) -> String {
    format!("found-{finding}")
}

/// A holder with what is on record of its checks.
struct OnRecord {
    holder: Holder,
    last: Option<HolderCheckView>,
}

impl OnRecord {
    fn find(connection: &mut Connection, reference: &Reference) -> Result<Self, Problem> {
        let holder = find::<Holders>(connection, reference)?;
        Ok(Self { last: last_check(connection, holder.item.id)?, holder })
    }

    fn has(&self, kind: AdjusterKind) -> bool {
        self.holder.adjusters.iter().map(Adjuster::kind).any(|known| known == kind)
    }
}

#[derive(Template)]
#[template(path = "pages/holder_check.html")]
struct HolderCheckPage<'p> {
    frame: &'p Frame,
    on_record: &'p OnRecord,
    typed: &'p Typed,
    not_taken: NotTaken,
}

impl HolderCheckPage<'_> {
    fn finding(&self, finding: &HolderFinding) -> &Phrase {
        self.frame.words.holder_check.finding(*finding)
    }

    fn found(&self, finding: &HolderFinding) -> String {
        found(*finding)
    }

    fn has_found(&self, finding: &HolderFinding) -> bool {
        self.typed.ticked(&found(*finding))
    }

    fn condition(&self, condition: &Condition) -> &Phrase {
        self.frame.words.names.condition(*condition)
    }

    fn is(&self, verdict: &str) -> bool {
        self.typed.of("verdict") == verdict
    }
}

/// Shows the form.
///
/// # Errors
/// 404 for what is no holder.
pub async fn form(visit: Visit<CheckHolders>, holder: Segments<Reference>) -> Result<HttpResponse, Problem> {
    let reference = holder.into_inner();
    let on_record = visit.read(move |connection| OnRecord::find(connection, &reference)).await?;
    let (frame, typed, not_taken) = (&visit.frame, Typed::default(), NotTaken::default());
    page(&HolderCheckPage { frame, on_record: &on_record, typed: &typed, not_taken })
}

/// Records a check.
///
/// # Errors
/// 404 for what is no holder.
pub async fn record(
    visit: Visit<CheckHolders>,
    holder: Segments<Reference>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    let known = |name: &str| FIELDS.contains(&name) || HolderFinding::ALL.iter().any(|one| found(*one) == name);
    sent.form.only(known)?;
    let reference = holder.into_inner();
    let asked = reference.clone();
    let on_record = visit.read(move |connection| OnRecord::find(connection, &asked)).await?;
    let (frame, typed) = (&visit.frame, &sent.form);
    let not_taken = match read(frame, typed, &on_record) {
        Err(faults) => faults.into(),
        Ok(body) => {
            let done: Result<(), Problem> =
                visit.perform(&sent, move |tx, who| record_in(tx, who, &reference, &body).map(drop)).await;
            match done {
                Ok(()) => return Ok(go_to(&format!("/items/{}", on_record.holder.item.code))),
                Err(problem) => NotTaken::of(frame, problem, &fields(&frame.words.holder_check))?,
            }
        }
    };
    let shown = HolderCheckPage { frame, on_record: &on_record, typed, not_taken };
    page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown)
}

/// What a check makes of the holder: nothing where it is accepted.
fn verdict(name: &str) -> Option<Option<Condition>> {
    match name {
        "pass" => Some(None),
        "check_again" => Some(Some(Condition::NeedsCheck)),
        "damaged" => Some(Some(Condition::Damaged)),
        "retired" => Some(Some(Condition::Retired)),
        _ => None,
    }
}

fn read(frame: &Frame, typed: &Typed, on_record: &OnRecord) -> Result<NewHolderCheck, Faults> {
    let mut reading = Reading::of(frame, typed);
    let verdict = reading.choice("verdict", verdict);
    let Some(condition) = verdict else { return Err(reading.faults) };
    let free = |kind, field| on_record.has(kind).then(|| typed.ticked(field));
    Ok(NewHolderCheck {
        accepted: condition.is_none(),
        found: HolderFinding::ALL.iter().copied().filter(|finding| typed.ticked(&found(*finding))).collect(),
        taper_adjuster_free: free(AdjusterKind::Taper, "taper"),
        height_adjuster_free: free(AdjusterKind::Height, "height"),
        side_screw_free: free(AdjusterKind::Lateral, "side"),
        seat_clean: typed.ticked("seat"),
        note: typed.text("note"),
        condition,
        next_check: None,
        performed_at: None,
    })
}
