//! Recording a measurement of a machine's spindle centres: their height, how uncertain it is, and each spindle's where they
//! were told apart; read back before it is kept.

use super::{
    forms::{FormField, NotTaken, Reading, Step, Typed},
    frame::{Frame, go_to, page, page_with},
    numbers::read_length,
    read_back::{ReadBack, ReadLength},
    visit::{Faults, Sent, Visit},
    wording::section,
    work_order::{AGO, ago, ago_in_words},
};
use crate::{
    app::{
        center_heights::{on_record, record_in},
        registry::{Machines, find},
    },
    extract::{Reference, Segments},
    principal::Maintain,
    problem::Problem,
    transport::center_height::{CenterHeightBody, SpindleHeightBody},
};
use actix_web::{HttpResponse, http::StatusCode};
use askama::Template;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    length::{Length, LengthUnit},
    registry::machine::{CenterHeightFields, HeightOnRecord, Machine},
};
use dovetally_db::{Connection, machines::newest_center_height};
use std::ops::RangeInclusive;

section! {
    /// Recording a measurement of a machine's spindle centres.
    CenterHeightsWords {
        title, stale_lead, measured, measured_lead, spindles, spindles_lead, spindle, spindle_last, spindle_missing, zero,
        station, whole, at_station, after_work, worked, not_worked, reason, ago, read, said_whole, said_station,
        said_worked, said_not_worked, said_reason, said_ago, said_stale, said_same
    }
}

/// The form's fields; each spindle's besides, as [`box_of`] names it.
const FIELDS: &[&str] = &["unit", "measured", "uncertainty", "station", "after_work", "reason", "ago", "confirmed"];

fn fields(frame: &Frame) -> [FormField<'_>; 7] {
    let words = &frame.words.center_heights;
    [
        ("measured", "measured", &words.measured),
        ("standard_uncertainty", "uncertainty", &frame.words.gauge_check.uncertainty),
        ("spindles", "spindles", &words.spindles),
        ("station", "station", &words.station),
        ("after_work", "after_work", &words.after_work),
        ("reason", "reason", &words.reason),
        ("performed_at", "ago", &words.ago),
    ]
}

/// The box of a spindle.
fn box_of(spindle: u8) -> String {
    format!("spindle-{spindle}")
}

/// A machine with what is on record of its spindle centres.
struct OnRecord {
    machine: Machine,
    /// What was measured last for the machine as a whole.
    last: Option<CenterHeightFields>,
    at_stations: Vec<(Code, CenterHeightFields)>,
    /// What a measurement at the chosen station is held against.
    before: HeightOnRecord,
}

impl OnRecord {
    fn find(connection: &mut Connection, reference: &Reference, station: Option<&Code>) -> Result<Self, Problem> {
        let machine = find::<Machines>(connection, reference)?;
        let last = newest_center_height(connection, machine.record.id, None)?.map(|height| height.fields);
        let before = on_record(connection, &machine, station)?;
        Ok(Self { last, at_stations: at_stations(connection, &machine)?, before, machine })
    }

    fn code(&self) -> &Code {
        &self.machine.record.code
    }

    fn nominal(&self) -> Length {
        self.machine.record.fields.center_height_nominal
    }

    fn spindles(&self) -> RangeInclusive<u8> {
        1..=self.machine.record.fields.spindles
    }

    /// Where it was measured: nothing stands for the machine as a whole.
    fn place(&self, chosen: &str) -> Option<Option<Code>> {
        if chosen.is_empty() {
            return Some(None);
        }
        let stations = &self.machine.record.fields.stations;
        let station = stations.iter().find(|station| station.code.as_str() == chosen)?;
        Some(Some(station.code.clone()))
    }

    /// The unit of the boxes: the one that was chosen for them, else the screen's or the builder's.
    fn box_unit(&self, frame: &Frame, typed: &Typed) -> LengthUnit {
        let usual = || frame.preferences.box_unit(self.nominal().unit());
        LengthUnit::from_sign(typed.of("unit")).unwrap_or_else(usual)
    }
}

/// What was measured last at each station that was measured by itself.
pub(super) fn at_stations(
    connection: &mut Connection,
    machine: &Machine,
) -> Result<Vec<(Code, CenterHeightFields)>, Problem> {
    let mut found = Vec::new();
    for station in &machine.record.fields.stations {
        let newest = newest_center_height(connection, machine.record.id, Some(&station.code))?;
        found.extend(newest.map(|height| (station.code.clone(), height.fields)));
    }
    Ok(found)
}

/// The box of one spindle, with what was measured there last.
struct SpindleBox<'p> {
    name: String,
    label: String,
    typed: &'p str,
    last: Option<String>,
}

#[derive(Template)]
#[template(path = "pages/center_heights.html")]
struct CenterHeightsPage<'p> {
    frame: &'p Frame,
    known: &'p OnRecord,
    typed: &'p Typed,
    unit: LengthUnit,
    spindles: Vec<SpindleBox<'p>>,
    not_taken: NotTaken,
}

impl<'p> CenterHeightsPage<'p> {
    fn of(frame: &'p Frame, known: &'p OnRecord, typed: &'p Typed, not_taken: NotTaken) -> Self {
        let words = &frame.words.center_heights;
        let unit = known.box_unit(frame, typed);
        let spindles = known.spindles().map(|spindle| {
            let mut measured = known.last.iter().flat_map(|last| &last.spindles);
            let last = measured.find(|at| at.spindle == spindle).map(|at| {
                let shown = frame.length(&at.measured);
                let height = if at.measured.unit() == unit { shown.entered } else { shown.other };
                words.spindle_last.with("height", height).to_string()
            });
            let name = box_of(spindle);
            let label = words.spindle.with("spindle", spindle).to_string();
            SpindleBox { typed: typed.of(&name), name, label, last }
        });
        let spindles = spindles.collect();
        Self { frame, known, typed, unit, spindles, not_taken }
    }

    fn at(&self, station: &Code) -> bool {
        self.typed.of("station") == station.as_str()
    }

    fn worked(&self, answer: &str) -> bool {
        self.typed.of("after_work") == answer
    }

    fn ago(&self, minutes: &i64) -> String {
        ago_in_words(self.frame, *minutes)
    }

    fn ago_chosen(&self, minutes: &i64) -> bool {
        minutes_ago(self.typed) == *minutes
    }

    fn unit_change(&self) -> String {
        self.frame.unit_change(self.unit.other())
    }
}

/// How many minutes ago it was measured, as it was chosen.
fn minutes_ago(typed: &Typed) -> i64 {
    typed.of("ago").parse::<i64>().ok().filter(|minutes| AGO.contains(minutes)).unwrap_or_default()
}

/// Shows the form.
///
/// # Errors
/// 404 for an unknown machine.
pub async fn form(visit: Visit<Maintain>, machine: Segments<Reference>) -> Result<HttpResponse, Problem> {
    let reference = machine.into_inner();
    let known = visit.read(move |connection| OnRecord::find(connection, &reference, None)).await?;
    page(&CenterHeightsPage::of(&visit.frame, &known, &Typed::default(), NotTaken::default()))
}

/// Reads a measurement back, and keeps it when it is right.
///
/// # Errors
/// 404 for an unknown machine.
pub async fn record(
    visit: Visit<Maintain>,
    machine: Segments<Reference>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    let reference = machine.into_inner();
    let (asked, station) = (reference.clone(), Code::parse(sent.form.of("station")).ok());
    let known = visit.read(move |connection| OnRecord::find(connection, &asked, station.as_ref())).await?;
    let (frame, typed, now) = (&visit.frame, &sent.form, visit.guarded.database().now());
    typed.only(|name| FIELDS.contains(&name) || known.spindles().any(|spindle| box_of(spindle) == name))?;
    let shown = |not_taken| CenterHeightsPage::of(frame, &known, typed, not_taken);
    // The boxes in the other unit, with all that was typed: nothing is read of it yet.
    if typed.of("step") == "unit" {
        let typed = typed.clone().with("unit", known.box_unit(frame, typed).other().sign());
        return page(&CenterHeightsPage::of(frame, &known, &typed, NotTaken::default()));
    }
    let body = match read(frame, typed, &known, now) {
        Ok(body) => body,
        Err(faults) => return page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown(faults.into())),
    };
    match typed.step() {
        Step::Change => return page(&shown(NotTaken::default())),
        Step::ReadBack => return page(&read_back(frame, typed.clone(), &known, &body, now)),
        Step::Keep => {}
    }
    let done: Result<(), Problem> =
        visit.perform(&sent, move |tx, who| record_in(tx, who, &reference, &body).map(drop)).await;
    match done {
        Ok(()) => Ok(go_to(&format!("/machines/{}", known.code()))),
        Err(problem) => {
            let not_taken = NotTaken::of(frame, problem, &fields(frame))?;
            page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown(not_taken))
        }
    }
}

/// Whether work was done: nobody takes it for granted.
fn yes_or_no(chosen: &str) -> Option<bool> {
    match chosen {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    }
}

fn is_nothing(height: Length) -> bool {
    height.picometres() == 0
}

fn read(frame: &Frame, typed: &Typed, known: &OnRecord, now: DateTime<Utc>) -> Result<CenterHeightBody, Faults> {
    let words = &frame.words.center_heights;
    let unit = known.box_unit(frame, typed);
    let mut reading = Reading::of(frame, typed);
    let measured = reading.length("measured", unit);
    if measured.is_some_and(is_nothing) {
        reading.faults.add("measured", &words.zero);
    }
    let standard_uncertainty = reading.length("uncertainty", unit);
    // All of them or none: a spread that leaves a spindle out may be too small.
    let told_apart = known.spindles().any(|spindle| !reading.is_empty(&box_of(spindle)));
    let mut spindles = Vec::new();
    for spindle in known.spindles().filter(|_| told_apart) {
        let name = box_of(spindle);
        if reading.is_empty(&name) {
            reading.faults.add(name, words.spindle_missing.with("spindle", spindle));
            continue;
        }
        let height = read_length(typed.of(&name), unit);
        let height = reading.faults.read(name.as_str(), height, |fault| frame.number_fault(fault));
        if height.is_some_and(is_nothing) {
            reading.faults.add(name, &words.zero);
        }
        spindles.extend(height.map(|measured| SpindleHeightBody { spindle, measured }));
    }
    let station = reading.choice("station", |chosen| known.place(chosen));
    let after_work = reading.choice("after_work", yes_or_no);
    let reason = reading.words("reason");
    let all = (measured, standard_uncertainty, station, after_work, reason);
    let (Some(measured), Some(standard_uncertainty), Some(station), Some(after_work), Some(reason)) = all else {
        return Err(reading.faults);
    };
    if !reading.faults.is_empty() {
        return Err(reading.faults);
    }
    Ok(CenterHeightBody {
        measured,
        standard_uncertainty,
        reason,
        after_work,
        performed_at: ago(typed.of("ago"), now),
        station,
        spindles,
        confirmed: typed.ticked("confirmed"),
    })
}

fn read_back<'p>(
    frame: &'p Frame,
    typed: Typed,
    known: &OnRecord,
    body: &CenterHeightBody,
    now: DateTime<Utc>,
) -> ReadBack<'p> {
    let words = &frame.words.center_heights;
    let expected = (known.nominal(), CenterHeightFields::expected_height(known.nominal()));
    let uncertain = CenterHeightFields::expected_uncertainty();
    let mut whole = ReadLength::beside(frame, &words.measured, body.measured, expected);
    if let Some(((lowest, highest), among)) = body.fields(now).expected_among_spindles()
        && whole.doubt.is_none()
        && let Some(doubt) = among.doubt(body.measured)
    {
        let nearest = if body.measured < lowest { lowest } else { highest };
        whole.doubt = Some(frame.doubt(doubt, &body.measured, &nearest));
    }
    let uncertainty = &frame.words.gauge_check.uncertainty;
    let mut lengths = vec![whole, ReadLength::beside(frame, uncertainty, body.standard_uncertainty, uncertain)];
    lengths.extend(body.spindles.iter().map(|at| ReadLength {
        label: words.spindle.with("spindle", at.spindle).to_string(),
        ..ReadLength::beside(frame, &words.measured, at.measured, expected)
    }));
    let place = body.station.as_ref().map_or_else(
        || words.said_whole.to_string(),
        |station| words.said_station.with("station", station).to_string(),
    );
    let work = if body.after_work { &words.said_worked } else { &words.said_not_worked };
    let stale = body.fields(now).centers_may_have_moved(known.before);
    let gauges = if stale { &words.said_stale } else { &words.said_same };
    let said = vec![
        place,
        work.to_string(),
        words.said_reason.with("reason", &body.reason).to_string(),
        words.said_ago.with("ago", ago_in_words(frame, minutes_ago(&typed))).to_string(),
        gauges.to_string(),
    ];
    let title = words.title.with("machine", known.code()).to_string();
    ReadBack { frame, title, address: frame.address.as_str(), lengths, said, typed, floor: true }.confirming()
}
