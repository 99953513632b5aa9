//! What somebody says that they turned: what was advised, unless they say otherwise.

use super::AdjustWords;
use crate::{
    app::setups::TurnedScrew,
    pages::{frame::Frame, numbers::read_measured, visit::Faults},
};
use dovetally_core::{adjuster::Turn, code::Code, setup::event::HolderMove};
use serde::Deserialize;
use std::collections::BTreeMap;

/// The most screws that one advice turns.
const MOST: usize = 6;
/// The ids of the boxes, for what is wrong with them.
const TURNS: [&str; MOST] = ["turns-1", "turns-2", "turns-3", "turns-4", "turns-5", "turns-6"];

/// The id of a screw's box, from 1.
pub(super) fn box_of(number: usize) -> &'static str {
    number.checked_sub(1).and_then(|index| TURNS.get(index)).unwrap_or(&TURNS[0])
}

/// The form.
#[derive(Clone, Debug, Default, Deserialize)]
pub struct Turned {
    #[serde(default)]
    pub(super) station: String,
    /// The number of the last event on record when it was advised.
    #[serde(default)]
    pub(super) seen: String,
    /// How the holder was left, of screws that move it: "yes" or "no".
    #[serde(default)]
    pub(super) tight: String,
    #[serde(default)]
    pub(super) free: String,
    /// Of each screw: `adjuster-n`, `turns-n`, `direction-n`, and `moves-n` where it moves the holder.
    #[serde(flatten)]
    pub(super) screws: BTreeMap<String, String>,
}

impl Turned {
    /// What was typed of one of the screws, from 1.
    pub(super) fn typed(&self, field: &str, number: usize) -> Option<&str> {
        self.screws.get(&format!("{field}-{number}")).map(String::as_str)
    }

    /// Reads the screws, or notes what is wrong with them.
    pub(super) fn read(&self, frame: &Frame, faults: &mut Faults) -> Vec<TurnedScrew> {
        let words: &AdjustWords = &frame.words.adjust;
        let mut screws = Vec::new();
        let moves_holder = (1..=MOST).any(|number| self.typed("moves", number).is_some());
        let answer = |typed: &str, field: &'static str, faults: &mut Faults| match typed {
            "yes" => true,
            "no" => false,
            _ => {
                faults.add(field, &words.answer);
                false
            }
        };
        let holder_move = moves_holder.then(|| HolderMove {
            holder_retightened: answer(&self.tight, "tight", faults),
            side_screw_free: answer(&self.free, "free", faults),
        });
        for (number, field) in (1..=MOST).zip(TURNS) {
            let adjuster = self.typed("adjuster", number).and_then(|code| Code::parse(code).ok());
            let Some(adjuster) = adjuster else { continue };
            let typed = self.typed("turns", number).unwrap_or_default();
            let turns = faults.read(field, read_measured(typed), |fault| frame.number_fault(fault));
            if turns.is_some_and(|turns| !(turns > 0.0 && turns <= 1000.0)) {
                faults.add(field, &words.turns_odd);
            }
            let direction = self.typed("direction", number).and_then(Turn::from_name).unwrap_or(Turn::Clockwise);
            let holder_move = holder_move.filter(|_| self.typed("moves", number).is_some());
            screws.extend(turns.map(|turns| TurnedScrew { adjuster, turns, direction, holder_move }));
        }
        screws
    }
}
