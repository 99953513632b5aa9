//! What is done at a station and in the machine, and what was done last time, line by line.

use super::Walk;
use crate::{
    pages::{frame::Frame, numbers::ShownLength, wording::Phrase},
    transport::{
        last_time::SetupThen,
        setup_station::{HeightView, StationView},
    },
};
use chrono::{DateTime, Utc};
use dovetally_core::{
    adjuster::Turn,
    code::Code,
    length::Length,
    setup::{event::HeightPhase, plan::StationPlan},
};

/// One line: a shape, words, and a length or an instant where it tells one.
pub(super) struct Line {
    pub(super) kind: &'static str,
    pub(super) words: String,
    pub(super) length: Option<ShownLength>,
    pub(super) at: Option<DateTime<Utc>>,
}

impl Line {
    fn new(kind: &'static str, words: impl std::fmt::Display) -> Self {
        Self { kind, words: words.to_string(), length: None, at: None }
    }

    fn with(self, frame: &Frame, length: &Length) -> Self {
        Self { length: Some(frame.length(length)), ..self }
    }
}

/// A line that says that something is done, or that it is not.
fn either(done: bool, yes: &Phrase, no: &Phrase) -> Line {
    if done { Line::new("good", yes) } else { Line::new("none", no) }
}

/// What is done at a station.
pub(super) fn station(frame: &Frame, view: &StationView, plan: &StationPlan) -> Vec<Line> {
    let words = &frame.words.setup;
    let mut lines = Vec::new();
    if view.crashed {
        lines.push(Line::new("stop", &words.crashed));
    }
    match &view.holder {
        Some(holder) if view.seat_confirmed => lines.push(Line::new("good", words.holder_sits.with("holder", holder))),
        Some(holder) => lines.push(Line::new("stop", words.holder_unsure.with("holder", holder))),
        None if plan.needs_holder() => lines.push(Line::new("none", &words.no_holder)),
        None => {}
    }
    match &view.tool {
        Some(tool) => lines.push(Line::new("good", words.tool_in.with("tool", tool))),
        None => lines.push(Line::new("none", &words.no_tool)),
    }
    if let Some(gauge) = &view.gauge {
        lines.push(Line::new("wait", words.gauge_in.with("gauge", gauge)));
    }
    lines.extend(view.height_before_clamping.as_ref().map(|read| height(frame, read, HeightPhase::BeforeClamping)));
    lines.push(either(view.clamped, &words.clamped, &words.not_clamped));
    lines.extend(view.height_after_clamping.as_ref().map(|read| height(frame, read, HeightPhase::AfterClamping)));
    if view.recheck_advised {
        lines.push(Line::new("wait", &words.recheck));
    }
    lines.extend(view.approach.as_ref().map(|gap| Line::new("good", &words.gap).with(frame, gap)));
    lines.extend(view.depth_read.map(|read| either(read, &words.depth_read, &words.depth_open)));
    lines
}

fn height(frame: &Frame, read: &HeightView, phase: HeightPhase) -> Line {
    let words = &frame.words.setup;
    let (on, within, outside) = match phase {
        HeightPhase::BeforeClamping => (&words.height_before_on, &words.height_before, &words.height_before_off),
        HeightPhase::AfterClamping => (&words.height_after_on, &words.height_after, &words.height_after_off),
    };
    let line =
        |kind, phrase: &Phrase| Line::new(kind, phrase.with("gauge", read.gauge.as_ref().map_or("–", Code::as_str)));
    match &read.deviation {
        None => line("good", on),
        Some(deviation) if read.within_limit => line("good", within).with(frame, deviation),
        Some(deviation) => line("stop", outside).with(frame, deviation),
    }
}

/// What is done in the machine as a whole.
pub(super) fn machine(frame: &Frame, walk: &Walk) -> Vec<Line> {
    let words = &frame.words.setup;
    let view = &walk.view;
    let stock = match &view.stock {
        Some(stock) => Line::new("good", words.stock.with("shape", shape(frame, &stock.bar_shape)))
            .with(frame, &stock.bar_diameter),
        None => Line::new("none", &words.no_stock),
    };
    let first_piece = match &view.first_piece {
        None => Line::new("none", &words.first_none),
        Some(judged) if !judged.accepted => Line::new("stop", words.first_bad.with("name", &judged.by.name)),
        Some(judged) if judged.provisional => Line::new("wait", words.first_provisional.with("name", &judged.by.name)),
        Some(judged) => Line::new("good", words.first_good.with("name", &judged.by.name)),
    };
    let mut lines = vec![
        stock,
        either(view.index_clearance_confirmed, &words.index_clear, &words.index_open),
        either(view.trial_begun, &words.trial, &words.no_trial),
        first_piece,
    ];
    if let Some((words, until)) = walk.provisional(frame) {
        lines.push(Line { at: Some(until), ..Line::new("wait", words) });
    } else if walk.is_released() {
        lines.push(Line::new("good", &words.run_on));
    } else if view.pieces_to_book {
        lines.push(Line::new("stop", &words.to_book));
    } else {
        lines.push(Line::new("none", &words.run_none));
    }
    if view.pieces > 0 {
        lines.push(Line::new("none", words.pieces.with("count", view.pieces)));
    }
    if view.held.is_some() {
        lines.push(Line::new("wait", words.pieces_held.with("count", view.pieces_held)));
    }
    if view.pieces_rejected > 0 {
        lines.push(Line::new("stop", words.pieces_rejected.with("count", view.pieces_rejected)));
    }
    lines
}

/// A bar's shape: as the record names it, in the reader's words where they have one.
pub(super) fn shape(frame: &Frame, recorded: &str) -> String {
    let words = &frame.words.setup;
    match recorded {
        "round" => words.shape_round.to_string(),
        "hexagon" => words.shape_hexagon.to_string(),
        "square" => words.shape_square.to_string(),
        other => other.to_owned(),
    }
}

/// What was done last time for this part on this machine, as a whole.
pub(super) fn of_last_time(frame: &Frame, then: Option<&SetupThen>) -> Vec<Line> {
    let words = &frame.words.setup;
    let Some(then) = then else { return Vec::new() };
    let mut lines = Vec::new();
    let names: Vec<&str> = then.people.iter().map(|person| person.name.as_str()).collect();
    let when = words.then_when.with("day", frame.day_of(&then.opened_at));
    lines.push(Line::new("none", when.with("names", names.join(", "))));
    lines.extend(then.minutes_to_release.map(|count| Line::new("none", words.then_took.with("minutes", count))));
    lines.push(Line::new("none", words.then_pieces.with("count", then.pieces)));
    let stops = then.stops.iter().map(|stop| words.then_stop.with("count", stop.pieces).with("reason", &stop.reason));
    lines.extend(stops.map(|told| Line::new("none", told)));
    let trouble = then.trouble.iter().map(|told| words.then_trouble.with("words", frame.told(&told.words)));
    lines.extend(trouble.map(|told| Line::new("wait", told)));
    lines
}

/// The same at one station.
pub(super) fn of_last_time_at(frame: &Frame, then: Option<&SetupThen>, station: &Code) -> Vec<Line> {
    let words = &frame.words.setup;
    let at = then.and_then(|then| then.stations.iter().find(|at| at.station == *station));
    let Some(at) = at else { return Vec::new() };
    let mut lines = Vec::new();
    lines.extend(at.holder.as_ref().map(|holder| Line::new("none", words.then_holder.with("holder", holder))));
    lines.extend(at.tool.as_ref().map(|tool| Line::new("none", words.then_tool.with("tool", tool))));
    for net in at.net_turns.iter().filter(|net| net.turns > 0.0) {
        let phrase = match net.direction {
            Turn::Clockwise => &words.then_clockwise,
            Turn::Counterclockwise => &words.then_counterclockwise,
        };
        let turns = frame.mark().rounded(net.turns, 3);
        lines
            .push(Line::new("none", phrase.with("screw", &net.adjuster).with("turns", turns).with("steps", net.steps)));
    }
    // The last one is the one that it ran with.
    if let Some(height) = at.heights.last() {
        lines.push(match &height.deviation {
            None => Line::new("none", &words.then_height_on),
            Some(deviation) => Line::new("none", &words.then_height).with(frame, deviation),
        });
    }
    lines.extend(at.gaps.last().map(|gap| Line::new("none", &words.then_gap).with(frame, gap)));
    for size in &at.first_sizes {
        let named = match size.spindle {
            Some(spindle) => words.then_size_spindle.with("feature", &size.feature).with("spindle", spindle),
            None => words.then_size.with("feature", &size.feature),
        };
        lines.push(Line::new("none", named).with(frame, &size.value));
    }
    lines
}
