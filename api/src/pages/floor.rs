//! Machines as pages show them: a word and a shape for how each stands, and sentences for what there is to know.

use super::{
    frame::Frame,
    wording::{Phrase, ToldRefusal, section},
};
use crate::transport::floor::{FloorGauge, FloorMachine, FloorSetup, FloorTagOut};
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{code::Code, floor::Need, item::HolderOfRecord, machine::MachineState, setup::state::SetupState};

section! {
    /// How machines stand.
    FloorWords {
        tagged_out, stopped, provisional, held, setting, run_stopped, idle, running, retired, part, part_for_job, in_hand,
        gauge_in, gauge_place, gauge_person, gauge_machine, gauge_outside, no_gauge, next_check, never_checked,
        condition, permit, permit_yes, permit_no, tag_out, tag_out_caution, provisional_until, pieces_held, to_book, station,
        station_tool, station_holder, station_empty, station_gauge, nothing_open
    }
}

/// A machine as pages show it.
pub struct ShownMachine<'f> {
    /// As the records have it.
    pub stands: &'f FloorMachine,
    /// The shape of its state, for `parts::state`.
    pub kind: &'static str,
    /// The word of its state.
    pub word: &'f Phrase,
    /// What is set up, and who has it in hand.
    pub setup: Option<String>,
    /// Where its gauges are.
    pub gauges: Vec<ShownGauge<'f>>,
    /// The tag-outs in force.
    pub tag_outs: Vec<String>,
    /// Until when a provisional release goes, and what is said of it.
    pub provisional: Option<(String, DateTime<Utc>)>,
    /// Pieces that wait: for an inspector, or to be booked.
    pub pieces: Vec<String>,
    /// What stands against running production.
    pub against: Vec<ToldRefusal>,
    /// The stations of its open setup.
    pub stations: Vec<ShownStation>,
}

/// A gauge as pages show it.
pub struct ShownGauge<'f> {
    /// Its code.
    pub code: &'f Code,
    /// Whether it stands in the machine.
    pub inside: bool,
    /// Where it is.
    pub whereabouts: String,
    /// That its check is overdue, where it is.
    pub overdue: Option<String>,
    /// Else until when it is in date, and its condition where that is not good.
    pub check: String,
}

/// A station as pages show it.
pub struct ShownStation {
    /// What is at it.
    pub at: String,
    /// What is open there.
    pub open: Vec<String>,
}

impl<'f> ShownMachine<'f> {
    /// A machine, shown as it stood on a day.
    #[must_use]
    pub fn of(frame: &'f Frame, stands: &'f FloorMachine, day: NaiveDate) -> Self {
        let words = &frame.words.floor;
        let (kind, word) = state(words, stands);
        let setup = stands.setup.as_ref();
        Self {
            stands,
            kind,
            word,
            setup: setup.map(|setup| what_is_set_up(words, setup)),
            gauges: stands.gauges.iter().map(|gauge| shown_gauge(frame, gauge, day)).collect(),
            tag_outs: shown_tag_outs(frame, &stands.tag_outs),
            provisional: setup.and_then(|setup| provisional(words, setup)),
            pieces: setup.map(|setup| pieces(frame, setup)).unwrap_or_default(),
            against: frame.refusals(&stands.blockers),
            stations: setup.map(|setup| stations(frame, setup)).unwrap_or_default(),
        }
    }
}

/// Why a machine is out of service, and who said so.
pub(super) fn shown_tag_outs(frame: &Frame, tag_outs: &[FloorTagOut]) -> Vec<String> {
    let said =
        |out: &FloorTagOut| frame.words.floor.tag_out.with("reason", &out.reason).with("name", &out.placed_by.name);
    tag_outs.iter().map(|out| said(out).to_string()).collect()
}

/// The shape and the word of a machine's state.
fn state<'f>(words: &'f FloorWords, stands: &FloorMachine) -> (&'static str, &'f Phrase) {
    let setup = stands.setup.as_ref();
    match stands.need {
        Need::Cleared => ("stop", &words.tagged_out),
        Need::Stopped => ("stop", &words.stopped),
        Need::Judged if stands.state == MachineState::Running => ("wait", &words.provisional),
        Need::Judged => ("wait", &words.held),
        Need::Set if setup.is_some_and(|setup| setup.state == SetupState::Stopped) => ("wait", &words.run_stopped),
        Need::Set => ("wait", &words.setting),
        Need::Planned if stands.state == MachineState::Retired => ("off", &words.retired),
        Need::Planned => ("none", &words.idle),
        Need::Nothing => ("good", &words.running),
    }
}

fn what_is_set_up(words: &FloorWords, setup: &FloorSetup) -> String {
    let part = match &setup.job {
        Some(job) => words.part_for_job.with("part", &setup.part).with("job", job),
        None => words.part.with("part", &setup.part),
    };
    words.in_hand.with("setup", part).with("name", &setup.in_charge.name).to_string()
}

fn shown_gauge<'f>(frame: &Frame, gauge: &'f FloorGauge, today: NaiveDate) -> ShownGauge<'f> {
    let words = &frame.words.floor;
    let at = &gauge.whereabouts;
    let whereabouts = match (&gauge.station, at.kind, at.outside) {
        (Some(station), _, _) => words.gauge_in.with("gauge", &gauge.code).with("station", station),
        (None, _, true) => words.gauge_outside.with("gauge", &gauge.code).with("name", &at.name),
        (None, HolderOfRecord::Place, false) => words.gauge_place.with("gauge", &gauge.code).with("name", &at.name),
        (None, HolderOfRecord::Person, false) => words.gauge_person.with("gauge", &gauge.code).with("name", &at.name),
        (None, HolderOfRecord::Machine, false) => words.gauge_machine.with("gauge", &gauge.code).with("name", &at.name),
    };
    let overdue = frame.overdue(gauge.next_check, today);
    let check = match gauge.next_check {
        _ if overdue.is_some() => String::new(),
        Some(day) => words.next_check.with("day", frame.day(&day)).to_string(),
        None => words.never_checked.to_string(),
    };
    let (_, condition) = frame.words.names.state(gauge.condition, gauge.stale);
    let check = if gauge.condition.is_usable() && !gauge.stale {
        check
    } else {
        words.condition.with("check", check).with("condition", condition).to_string().trim_start().to_owned()
    };
    ShownGauge {
        code: &gauge.code,
        inside: gauge.station.is_some(),
        whereabouts: whereabouts.to_string(),
        overdue,
        check,
    }
}

fn provisional(words: &FloorWords, setup: &FloorSetup) -> Option<(String, DateTime<Utc>)> {
    let held = setup.held.as_ref()?;
    let said = words.provisional_until.with("pieces", held.most_pieces).with("name", &held.accepted_by.name);
    Some((said.to_string(), held.until))
}

fn pieces(frame: &Frame, setup: &FloorSetup) -> Vec<String> {
    let words = &frame.words.floor;
    let mut waiting = Vec::new();
    if setup.pieces_held > 0 {
        waiting.push(words.pieces_held.with("count", setup.pieces_held).to_string());
    }
    if setup.pieces_to_book {
        waiting.push(words.to_book.to_string());
    }
    waiting
}

fn stations(frame: &Frame, setup: &FloorSetup) -> Vec<ShownStation> {
    let words = &frame.words.floor;
    let shown = setup.stations.iter().map(|station| {
        let code = &station.station;
        let at = match (&station.tool, &station.holder) {
            (None, None) => words.station_empty.with("station", code),
            (Some(tool), None) => words.station_tool.with("station", code).with("tool", tool),
            (None, Some(holder)) => words.station_holder.with("station", code).with("holder", holder),
            (Some(tool), Some(holder)) => words.station.with("station", code).with("tool", tool).with("holder", holder),
        };
        let mut open: Vec<String> = station.open.iter().map(|sentence| frame.told(sentence)).collect();
        if let Some(gauge) = &station.gauge {
            open.insert(0, words.station_gauge.with("gauge", gauge).to_string());
        }
        ShownStation { at: at.to_string(), open }
    });
    shown.collect()
}
