//! One screw as the page tells it, and what was turned before.

use super::{
    AdjustWords, Known,
    amount::{amount, exact, exactly, said},
    turned::Turned,
};
use crate::{
    drawing::turn,
    pages::{frame::Frame, wording::Phrase},
    transport::last_time::SetupThen,
};
use dovetally_core::{
    adjuster::{AdjusterKind, Motion, Turn},
    code::Code,
    setup::advice::AdvisedTurn,
};

/// A screw to turn.
pub(super) struct Shown {
    pub(super) number: usize,
    pub(super) code: Code,
    pub(super) name: String,
    pub(super) kind: AdjusterKind,
    /// Screw, amount, direction and viewing side.
    pub(super) sentence: String,
    pub(super) exactly: String,
    pub(super) moves: String,
    /// What is done at this screw before the turn, and after it.
    pub(super) first: Vec<String>,
    pub(super) afterwards: Vec<String>,
    /// The arrow, as SVG.
    pub(super) arrow: String,
    pub(super) moves_holder: bool,
    /// What the form begins with: what is advised, or what was typed.
    pub(super) turns: String,
    pub(super) direction: Turn,
    /// Whether somebody said that it was turned otherwise.
    pub(super) otherwise: bool,
}

pub(super) fn shown(frame: &Frame, typed: &Turned, number: usize, turn: &AdvisedTurn<'_>) -> Shown {
    let (words, mark) = (&frame.words.adjust, frame.mark());
    let screw = turn.screw;
    let phrase = match turn.direction {
        Turn::Clockwise => &words.turn_clockwise,
        Turn::Counterclockwise => &words.turn_counterclockwise,
    };
    let sentence = phrase.with("screw", &screw.name).with("amount", amount(turn.turns, mark, words));
    let sentence = sentence.with("side", &screw.seen_from).to_string();
    let mut first = Vec::new();
    if screw.has_stop {
        first.push(words.stop_first.to_string());
    }
    if let Some(lost) = turn.backlash_turns {
        let phrase = if turn.moves.is_against_cut() { &words.lost_motion_against } else { &words.lost_motion };
        first.push(phrase.with("turns", exact(lost, mark)).to_string());
    }
    let advised = mark.number(turn.turns);
    let (turns, direction) = (typed.typed("turns", number), typed.typed("direction", number).and_then(Turn::from_name));
    let otherwise =
        turns.is_some_and(|typed| typed != advised) || direction.is_some_and(|typed| typed != turn.direction);
    Shown {
        number,
        code: screw.code.clone(),
        name: screw.name.clone(),
        kind: screw.kind(),
        exactly: exactly(turn.turns, turn.flats, mark, words),
        moves: moves(words, turn.moves).to_string(),
        first,
        afterwards: if screw.has_stop { vec![words.stop_after.to_string()] } else { Vec::new() },
        arrow: turn::draw(turn.direction, turn.turns, &format!("arrow-{number}"), &sentence, &said(turn.turns, mark)),
        sentence,
        moves_holder: matches!(screw.kind(), AdjusterKind::Taper | AdjusterKind::Lateral),
        turns: turns.map_or(advised, str::to_owned),
        direction: direction.unwrap_or(turn.direction),
        otherwise,
    }
}

impl Shown {
    /// Whether the box says that it was turned clockwise.
    pub(super) fn is_clockwise(&self) -> bool {
        self.direction == Turn::Clockwise
    }
}

const fn moves(words: &AdjustWords, motion: Motion) -> &Phrase {
    match motion {
        Motion::ToolIn => &words.moves_tool_in,
        Motion::ToolOut => &words.moves_tool_out,
        Motion::EdgeUp => &words.moves_edge_up,
        Motion::EdgeDown => &words.moves_edge_down,
        Motion::FarDiameterUp => &words.moves_far_diameter_up,
        Motion::FarDiameterDown => &words.moves_far_diameter_down,
        Motion::TowardCollet => &words.moves_toward_collet,
        Motion::AwayFromCollet => &words.moves_away_from_collet,
        Motion::Deeper => &words.moves_deeper,
        Motion::Shallower => &words.moves_shallower,
    }
}

const fn way(words: &AdjustWords, direction: Turn) -> &Phrase {
    match direction {
        Turn::Clockwise => &words.clockwise,
        Turn::Counterclockwise => &words.counterclockwise,
    }
}

/// What was turned in this setup at a station, newest first.
pub(super) fn so_far(frame: &Frame, known: &Known, station: usize) -> Vec<String> {
    let words = &frame.words.adjust;
    let taken = known.at.walk.loaded.setup.stations[station].adjustments.iter().rev();
    let told = taken.map(|taken| {
        let by = known.people.get(&taken.by).map_or_else(|| taken.by.to_string(), |person| person.name.clone());
        let said =
            words.so_far_one.with("screw", &taken.adjuster).with("amount", amount(taken.turns, frame.mark(), words));
        said.with("direction", way(words, taken.direction)).with("name", by).to_string()
    });
    told.collect()
}

/// What was turned at a station when this part was last set up on this machine.
pub(super) fn last_time(frame: &Frame, finished: Option<&SetupThen>, station: &Code) -> Vec<String> {
    let words = &frame.words.adjust;
    let Some(setup) = finished else { return vec![words.last_time_none.to_string()] };
    let day = frame.day_of(&setup.opened_at);
    let name = setup.people.first().map(|person| person.name.clone()).unwrap_or_default();
    let then = setup.stations.iter().find(|then| then.station == *station);
    let turned = then.map(|then| then.net_turns.as_slice()).unwrap_or_default();
    if turned.is_empty() {
        return vec![words.last_time_untouched.with("day", day).to_string()];
    }
    let told = turned.iter().map(|net| {
        if net.turns <= 0.0 {
            let said = words.last_time_cancelled.with("screw", &net.adjuster).with("steps", net.steps);
            return said.with("day", &day).with("name", &name).to_string();
        }
        let phrase = if net.steps == 1 { &words.last_time_turned_once } else { &words.last_time_turned };
        let said = phrase.with("screw", &net.adjuster);
        let said =
            said.with("amount", amount(net.turns, frame.mark(), words)).with("direction", way(words, net.direction));
        said.with("steps", net.steps).with("day", &day).with("name", &name).to_string()
    });
    told.collect()
}
