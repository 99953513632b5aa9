//! One station: the step that is waited for there, what is done, and what still blocks the release.
//!
//! A holder and a gauge are scanned first, which records nothing: what was scanned is judged, and taken with what must be
//! confirmed about it. Everything else that is scanned is recorded at once.

use super::{
    Tried, Walk, against, lead_on, read, read_with,
    reading::{ReadBack, Typed},
    recorded,
    station_page::{Ask, GaugeShown, StationPage},
    status_of, told,
};
use crate::{
    app::facts::{code_of, scanned_gauge},
    extract::Segments,
    pages::{
        frame::{page, page_with},
        visit::{Faults, Sent, Visit},
    },
    principal::{Principal, Read, RecordEvent},
    problem::Problem,
    transport::setup_event::EventBody,
};
use actix_web::{HttpResponse, http::StatusCode, web::Query};
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    gauge::{GaugeMachine, gauge_check},
    ids::SetupId,
    refusal::Refusal,
    setup::event::{EventKind, HeightPhase},
};
use dovetally_db::Connection;
use serde::Deserialize;

/// What is asked of a station's page: another step than the one that is waited for, what was scanned for it, a unit, whether
/// the height is off the gauge.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    step: String,
    code: String,
    unit: String,
    off: String,
}

/// What a station's page sends.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct StationForm {
    step: String,
    code: String,
    machine_stopped: String,
    seat_clean: String,
    seated_flush: String,
    side_screw_free: String,
    on_gauge: String,
    value: String,
    #[serde(rename = "value-sign")]
    sign: String,
    unit: String,
    /// "yes" once the value was read back, "change" to type it anew.
    sure: String,
}

/// The event of a step for which something is scanned, with everything about it confirmed.
pub(super) fn scanned(kind: EventKind, station: &Code, code: &str) -> Option<EventBody> {
    let (station, code) = (station.clone(), code.to_owned());
    Some(match kind {
        EventKind::HolderSeated => EventBody::HolderSeated {
            station,
            holder: code,
            seat_clean: true,
            seated_flush: true,
            side_screw_free: true,
            occurred_at: None,
        },
        EventKind::ToolInserted => EventBody::ToolInserted { station, form_tool: code, occurred_at: None },
        EventKind::GaugePlaced => {
            EventBody::GaugePlaced { station, gauge: code, machine_stopped: true, occurred_at: None }
        }
        EventKind::GaugeRemoved => EventBody::GaugeRemoved { station, gauge: code, occurred_at: None },
        EventKind::ToolRemoved => EventBody::ToolRemoved { station, form_tool: code, occurred_at: None },
        EventKind::HolderRemoved => EventBody::HolderRemoved { station, holder: code, occurred_at: None },
        _ => return None,
    })
}

/// The event of a step that one tap records.
pub(super) fn tapped(kind: EventKind, station: &Code) -> Option<EventBody> {
    let station = station.clone();
    Some(match kind {
        EventKind::ToolClamped => EventBody::ToolClamped { station, occurred_at: None },
        EventKind::ToolUnclamped => EventBody::ToolUnclamped { station, occurred_at: None },
        EventKind::CrashReported => EventBody::CrashReported { station, occurred_at: None },
        _ => return None,
    })
}

/// What the records say of what is asked.
struct Looked {
    kind: Option<EventKind>,
    not_now: bool,
    against: Vec<Refusal>,
    gauge: Option<GaugeShown>,
}

fn look(
    connection: &mut Connection,
    walk: &Walk,
    who: &Principal,
    now: DateTime<Utc>,
    (station, asked): (&Code, &Asked),
) -> Result<Looked, Problem> {
    let wanted = walk.next_at(station).map(|step| step.kind);
    let chosen = EventKind::from_name(&asked.step);
    let offered = chosen.filter(|kind| walk.offered(Some(station), *kind).is_some());
    let (kind, not_now) = (offered.or(wanted), !asked.step.is_empty() && offered.is_none());
    let code = code_of(&asked.code);
    let event = match kind {
        Some(kind) if !code.is_empty() && !not_now => scanned(kind, station, code),
        Some(kind) => tapped(kind, station),
        None => None,
    };
    let against = event.map(|event| against(connection, walk, who, now, &event)).transpose()?.unwrap_or_default();
    let asks_gauge = kind == Some(EventKind::GaugePlaced) && !code.is_empty() && !not_now;
    let gauge = asks_gauge.then(|| judged(connection, walk, who, now, code)).transpose()?;
    Ok(Looked { kind, not_now, against, gauge })
}

fn judged(
    connection: &mut Connection,
    walk: &Walk,
    who: &Principal,
    now: DateTime<Utc>,
    code: &str,
) -> Result<GaugeShown, Problem> {
    let machine = GaugeMachine { machine: walk.loaded.row.machine, code: walk.view.machine.clone() };
    let gauge = scanned_gauge(connection, code)?;
    let (verdict, _) = gauge_check(&machine, &gauge, who.person, now);
    let known = gauge.known();
    Ok(GaugeShown {
        code: known.map_or_else(|| code.to_owned(), |gauge| gauge.code.to_string()),
        verdict,
        machine: known.map(|gauge| gauge.machine_code.clone()),
    })
}

/// Shows a station: the step that is asked for, or waited for.
///
/// # Errors
/// 404 when there is no such setup or station.
pub async fn show(
    visit: Visit<Read>,
    path: Segments<(SetupId, Code)>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Problem> {
    let ((id, station), asked) = (path.into_inner(), asked.into_inner());
    let question = (station.clone(), asked.clone());
    let reading = move |connection: &mut Connection, walk: &Walk, who: &Principal, now| {
        look(connection, walk, who, now, (&question.0, &question.1))
    };
    let (walk, looked) = read_with(&visit, id, reading).await?;
    let mut shown =
        StationPage::new(&visit.frame, &walk, &station)?.asking(looked.kind, &asked.unit, !asked.off.is_empty());
    let code = code_of(&asked.code);
    shown.not_now = looked.not_now;
    shown.refusals = visit.frame.refusals(&looked.against);
    shown.tried = if code.is_empty() { Tried::Looked } else { Tried::Scanned };
    shown.gauge = looked.gauge;
    if !code.is_empty() && looked.against.is_empty() && shown.scans() && !looked.not_now {
        let code = code.to_owned();
        shown.ask = match looked.kind {
            Some(EventKind::HolderSeated) => Ask::Seat { code },
            Some(EventKind::GaugePlaced) => Ask::Place { code },
            _ => Ask::Use { code },
        };
    }
    page(&shown)
}

/// What a form came to.
enum Meant {
    Event(EventBody),
    /// A value that was typed wrongly, is told back, or typed anew.
    Typed(Typed, Faults, Option<ReadBack>),
}

fn meant(page: &StationPage<'_>, kind: EventKind, form: &StationForm) -> Result<Meant, Problem> {
    let (frame, station) = (page.frame, page.plan.code.clone());
    let yes = |answer: &String| answer == "yes";
    Ok(Meant::Event(match kind {
        EventKind::HolderSeated => EventBody::HolderSeated {
            station,
            holder: form.code.trim().to_owned(),
            seat_clean: yes(&form.seat_clean),
            seated_flush: yes(&form.seated_flush),
            side_screw_free: yes(&form.side_screw_free),
            occurred_at: None,
        },
        EventKind::GaugePlaced => EventBody::GaugePlaced {
            station,
            gauge: form.code.trim().to_owned(),
            machine_stopped: yes(&form.machine_stopped),
            occurred_at: None,
        },
        EventKind::HeightRead | EventKind::ApproachRead => {
            let phase = if page.view.clamped { HeightPhase::AfterClamping } else { HeightPhase::BeforeClamping };
            // A value goes before the word that there is none.
            if kind == EventKind::HeightRead && yes(&form.on_gauge) && form.value.trim().is_empty() {
                let (deviation, on_gauge) = (None, Some(true));
                let event = EventBody::HeightRead { station, phase, deviation, on_gauge, occurred_at: None };
                return Ok(Meant::Event(event));
            }
            let signed = kind == EventKind::HeightRead;
            let otherwise = if signed { page.height_unit() } else { page.gap_unit() };
            let typed = Typed::of(&form.value, &form.sign, &form.unit, otherwise, signed);
            let mut faults = Faults::default();
            let Some(read) = typed.read(frame, &mut faults).filter(|_| form.sure != "change") else {
                return Ok(Meant::Typed(typed, faults, None));
            };
            if !yes(&form.sure) {
                let back = ReadBack::of(frame, read, page.expected(kind));
                return Ok(Meant::Typed(typed, faults, Some(back)));
            }
            match kind {
                EventKind::ApproachRead => EventBody::ApproachRead { station, gap: read, occurred_at: None },
                _ => {
                    let (deviation, on_gauge) = (Some(read), None);
                    EventBody::HeightRead { station, phase, deviation, on_gauge, occurred_at: None }
                }
            }
        }
        _ => {
            let event = scanned(kind, &station, form.code.trim()).or_else(|| tapped(kind, &station));
            event.ok_or_else(|| Problem::field("/step", "is no step of a station"))?
        }
    }))
}

/// Records a step, or reads a typed value back first.
///
/// # Errors
/// 404 when there is no such setup or station; what is no refusal of a rule.
pub async fn record(
    visit: Visit<RecordEvent>,
    path: Segments<(SetupId, Code)>,
    sent: Sent<StationForm>,
) -> Result<HttpResponse, Problem> {
    let (id, station) = path.into_inner();
    let kind = EventKind::from_name(&sent.form.step).ok_or_else(|| Problem::field("/step", "is no step"))?;
    let walk = read(&visit, id).await?;
    let mut shown = StationPage::new(&visit.frame, &walk, &station)?.asking(Some(kind), &sent.form.unit, false);
    shown.tried = Tried::Sent;
    let event = match meant(&shown, kind, &sent.form)? {
        Meant::Event(event) => event,
        Meant::Typed(typed, faults, back) => {
            let changing = sent.form.sure == "change";
            let status = if back.is_some() || changing { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
            shown.faults = if changing { Faults::default() } else { faults };
            shown.ask = match (back, kind) {
                (Some(read), _) => Ask::ReadBack { typed, read },
                (None, EventKind::HeightRead) => Ask::Difference { typed },
                (None, _) => Ask::Gap { typed },
            };
            return page_with(status, &shown);
        }
    };
    let Some(problem) = recorded(&visit, &sent, id, event).await? else {
        return lead_on(&visit, id, Some(&station)).await;
    };
    (shown.refusals, shown.sentence) = told(&visit.frame, &problem);
    if kind == EventKind::GaugePlaced {
        let code = code_of(&sent.form.code).to_owned();
        let reading = move |connection: &mut Connection, walk: &Walk, who: &Principal, now| {
            judged(connection, walk, who, now, &code)
        };
        shown.gauge = Some(read_with(&visit, id, reading).await?.1);
    }
    let (form, height_unit) = (&sent.form, shown.height_unit());
    shown.ask = match shown.ask {
        Ask::Height if !form.value.trim().is_empty() => {
            Ask::Difference { typed: Typed::of(&form.value, &form.sign, &form.unit, height_unit, true) }
        }
        Ask::Gap { typed } => Ask::Gap { typed: Typed::of(&form.value, "", &form.unit, typed.unit, false) },
        same => same,
    };
    page_with(status_of(&problem), &shown)
}
