//! Recording a check of a centre gauge: as found, as left, how uncertain; read back before it is kept.

use super::{
    forms::{FormField, NotTaken, Reading, Step, Typed},
    frame::{Frame, go_to, page, page_with},
    read_back::{ReadBack, ReadLength},
    visit::{Faults, Sent, Visit},
    wording::section,
};
use crate::{
    app::{
        gauge_checks::record_in,
        registry::{CenterGauges, find},
    },
    extract::{Reference, Segments},
    principal::ControlGauges,
    problem::Problem,
    transport::gauge_check::NewGaugeCheck,
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use chrono::NaiveDate;
use dovetally_core::registry::item::{CenterGauge, CenterGaugeFields, valid_until};

section! {
    /// Recording a check of a centre gauge.
    GaugeCheckWords {
        title, machine, nominal, limits_from, limits_to, plan, as_found, as_left, as_left_lead, uncertainty,
        uncertainty_lead, next_check, certificate, raise_impact, read, said_next_check, said_certificate,
        said_raise_impact, said_untouched
    }
}

/// The form's fields.
const FIELDS: &[&str] =
    &["as_found", "as_left", "uncertainty", "next_check", "certificate", "raise_impact", "confirmed"];

fn fields(words: &GaugeCheckWords) -> [FormField<'_>; 6] {
    [
        ("as_found", "as_found", &words.as_found),
        ("as_left", "as_left", &words.as_left),
        ("standard_uncertainty", "uncertainty", &words.uncertainty),
        ("next_check", "next_check", &words.next_check),
        ("certificate", "certificate", &words.certificate),
        ("performed_at", "as_found", &words.as_found),
    ]
}

#[derive(Template)]
#[template(path = "pages/gauge_check.html")]
struct GaugeCheckPage<'p> {
    frame: &'p Frame,
    gauge: &'p CenterGauge,
    typed: &'p Typed,
    not_taken: NotTaken,
}

/// The last day that the plan allows.
fn planned(gauge: &CenterGauge, today: NaiveDate) -> Option<NaiveDate> {
    valid_until(None, today, gauge.check_interval_days)
}

/// Shows the form.
///
/// # Errors
/// 404 for what is no centre gauge.
pub async fn form(visit: Visit<ControlGauges>, gauge: Segments<Reference>) -> Result<HttpResponse, Problem> {
    let reference = gauge.into_inner();
    let today = visit.guarded.database().now().date_naive();
    let gauge = visit.read(move |connection| find::<CenterGauges>(connection, &reference)).await?;
    let plan = planned(&gauge, today).map(|day| day.to_string()).unwrap_or_default();
    let typed = Typed::default().with("next_check", plan);
    page(&GaugeCheckPage { frame: &visit.frame, gauge: &gauge, typed: &typed, not_taken: NotTaken::default() })
}

/// Reads a check back, and keeps it when it is right.
///
/// # Errors
/// 404 for what is no centre gauge.
pub async fn record(
    visit: Visit<ControlGauges>,
    gauge: Segments<Reference>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    sent.form.only(|name| FIELDS.contains(&name))?;
    let reference = gauge.into_inner();
    let asked = reference.clone();
    let gauge = visit.read(move |connection| find::<CenterGauges>(connection, &asked)).await?;
    let (frame, typed) = (&visit.frame, &sent.form);
    let shown = |not_taken| GaugeCheckPage { frame, gauge: &gauge, typed, not_taken };
    let body = match read(frame, typed, &gauge) {
        Ok(body) => body,
        Err(faults) => return page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown(faults.into())),
    };
    match typed.step() {
        Step::Change => return page(&shown(NotTaken::default())),
        Step::ReadBack => return page(&read_back(frame, typed.clone(), &gauge, &body)),
        Step::Keep => {}
    }
    let done: Result<(), Problem> =
        visit.perform(&sent, move |tx, who| record_in(tx, who, &reference, &body).map(drop)).await;
    match done {
        Ok(()) => Ok(go_to(&format!("/center-gauges/{}", gauge.item.code))),
        Err(problem) => {
            let not_taken = NotTaken::of(frame, problem, &fields(&frame.words.gauge_check))?;
            page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown(not_taken))
        }
    }
}

fn read(frame: &Frame, typed: &Typed, gauge: &CenterGauge) -> Result<NewGaugeCheck, Faults> {
    let unit = gauge.nominal.unit();
    let mut reading = Reading::of(frame, typed);
    let as_found = reading.length("as_found", unit);
    let as_left = reading.length_if_any("as_left", unit);
    let standard_uncertainty = reading.length("uncertainty", unit);
    let next_check = reading.day("next_check");
    let faults = reading.faults;
    let all = as_found.zip(standard_uncertainty).zip(next_check).filter(|_| faults.is_empty());
    let Some(((as_found, standard_uncertainty), next_check)) = all else { return Err(faults) };
    Ok(NewGaugeCheck {
        as_found,
        as_left,
        standard_uncertainty,
        performed_at: None,
        certificate: typed.text("certificate"),
        next_check,
        raise_impact: typed.ticked("raise_impact"),
        confirmed: typed.ticked("confirmed"),
    })
}

fn read_back<'p>(frame: &'p Frame, typed: Typed, gauge: &CenterGauge, body: &NewGaugeCheck) -> ReadBack<'p> {
    let words = &frame.words.gauge_check;
    let against = CenterGaugeFields { nominal: gauge.nominal, limits: gauge.limits };
    let (nominal, expected) = (against.nominal, against.expected_height());
    let height = |label, height| ReadLength::beside(frame, label, height, (nominal, expected));
    let mut lengths = vec![height(&words.as_found, body.as_found)];
    lengths.extend(body.as_left.map(|left| height(&words.as_left, left)));
    let uncertain = (against.width(), against.expected_uncertainty());
    lengths.push(ReadLength::beside(frame, &words.uncertainty, body.standard_uncertainty, uncertain));
    let mut said = vec![words.said_next_check.with("day", frame.day(&body.next_check)).to_string()];
    said.extend(body.as_left.is_none().then(|| words.said_untouched.to_string()));
    said.extend(body.certificate.as_ref().map(|number| words.said_certificate.with("number", number).to_string()));
    said.extend(body.raise_impact.then(|| words.said_raise_impact.to_string()));
    let title = words.title.with("gauge", &gauge.item.code).to_string();
    ReadBack { frame, title, address: frame.address.as_str(), lengths, said, typed, floor: false }.confirming()
}
