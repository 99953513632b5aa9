//! What somebody typed and chose to read a size: where it belongs, and whether it reads.

use super::SizesWords;
use crate::pages::{frame::Frame, numbers::read_length, visit::Faults};
use dovetally_core::{
    code::Code,
    ids::SetupId,
    length::{LARGEST_PICOMETRES, Length, LengthUnit},
    setup::{event::Recorded, plan::Feature, state::Setup},
};
use serde::Deserialize;

/// A spindle that nobody knows, as the form has it. Empty is a choice not made yet.
const UNKNOWN: &str = "-";
/// The highest number that a piece may have.
const LAST_PIECE: u64 = 1_000_000_000;

/// The form, and the address of the page, which has the same fields.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Typed {
    pub(super) station: String,
    pub(super) feature: String,
    pub(super) spindle: String,
    pub(super) piece: String,
    /// What was read of this piece before, and is not kept yet: "D2 12179300000 in,…".
    pub(super) taken: String,
    pub(super) value: String,
    /// The unit in which it was read, where it is not the target's.
    pub(super) unit: String,
    /// What is done with it: `read` tells it back, `keep` keeps it, `skip` keeps what was read before.
    pub(super) step: String,
}

/// Where a size belongs.
#[derive(Clone, Debug)]
pub(super) struct Spotted {
    pub(super) station: usize,
    pub(super) code: Code,
    pub(super) feature: Feature,
    pub(super) spindle: Option<u8>,
    pub(super) piece: String,
    /// Read before of the same piece.
    pub(super) taken: Vec<(Code, Length)>,
    /// What is still to be read of it after this one.
    pub(super) then: Vec<Code>,
}

/// A size that reads, with the piece's number.
#[derive(Clone, Copy, Debug)]
pub(super) struct Measured {
    pub(super) value: Length,
    pub(super) piece: u64,
}

impl Typed {
    /// Finds where it belongs; what is not said is what is to be measured next. None where the part has no features.
    pub(super) fn spot(&self, setup: &Setup, events: &[Recorded]) -> Option<Spotted> {
        let station = Code::parse(&self.station).ok().and_then(|code| setup.plan.index_of(&code));
        let next = match station {
            Some(station) => setup.next_to_measure_at(station).or_else(|| setup.next_to_measure(None)),
            None => setup.next_to_measure(None),
        }?;
        let plan = &setup.plan.stations[next.station];
        let spindle = match self.spindle.as_str() {
            "" => next.spindle,
            UNKNOWN => None,
            typed => typed.parse().ok().or(next.spindle),
        };
        let wanted = Code::parse(&self.feature).ok().filter(|code| plan.feature(code).is_some());
        let together = setup.read_together(next.station, wanted.as_ref().unwrap_or(&next.feature));
        let mut taken = self.taken();
        taken.retain(|(code, _)| together.iter().any(|feature| feature.code == *code));
        let open = |feature: &&&Feature| taken.iter().all(|(code, _)| *code != feature.code);
        let feature = match &wanted {
            Some(code) => together.iter().find(|feature| feature.code == *code),
            None => together.iter().find(open),
        }?;
        let others = together.iter().filter(|other| other.code != feature.code).filter(open);
        let piece = if self.piece.trim().is_empty() {
            let away = setup.throw_away(events, next.station, spindle);
            let away = if away.pieces > 0 { away } else { setup.throw_away_after(events, 0, spindle) };
            away.piece.to_string()
        } else {
            self.piece.clone()
        };
        Some(Spotted {
            station: next.station,
            code: plan.code.clone(),
            then: others.map(|feature| feature.code.clone()).collect(),
            feature: (*feature).clone(),
            spindle,
            piece,
            taken,
        })
    }

    /// What was read of this piece before.
    fn taken(&self) -> Vec<(Code, Length)> {
        let mut taken: Vec<(Code, Length)> = Vec::new();
        for part in self.taken.split(',') {
            let mut fields = part.split(' ');
            let (code, picometres) = (fields.next().and_then(|code| Code::parse(code).ok()), fields.next());
            let unit = fields.next().and_then(LengthUnit::from_sign);
            let picometres = picometres.and_then(|number| number.parse::<i64>().ok());
            let picometres = picometres.filter(|number| (1..=LARGEST_PICOMETRES).contains(number));
            if let (Some(code), Some(picometres), Some(unit)) = (code, picometres, unit)
                && taken.iter().all(|(before, _)| *before != code)
            {
                taken.push((code, Length::from_picometres(picometres, unit)));
            }
        }
        taken
    }

    /// The unit of the box: the one that was chosen for it, else the screen's or the target's.
    pub(super) fn box_unit(&self, frame: &Frame, spot: &Spotted) -> LengthUnit {
        LengthUnit::from_sign(&self.unit).unwrap_or_else(|| frame.preferences.box_unit(spot.feature.target.unit()))
    }

    /// Reads the size and the piece's number, or notes what is wrong with them.
    pub(super) fn read(&self, frame: &Frame, setup: &Setup, spot: &Spotted, faults: &mut Faults) -> Option<Measured> {
        let words: &SizesWords = &frame.words.sizes;
        let unit = LengthUnit::from_sign(&self.unit).unwrap_or_else(|| spot.feature.target.unit());
        let value = faults.read("value", read_length(&self.value, unit), |fault| frame.number_fault(fault));
        if value.is_some_and(|value| value.picometres() == 0) {
            faults.add("value", &words.zero);
        }
        if let Some(spindle) = spot.spindle
            && !setup.plan.running_spindles.contains(&spindle)
        {
            faults.add("spindle", words.spindle_odd.with("spindle", spindle));
        }
        let piece = self.piece_number();
        if piece.is_none() {
            faults.add("piece", &words.piece_odd);
        }
        Some(Measured { value: value?, piece: piece? }).filter(|_| faults.is_empty())
    }

    /// The number of the piece, if it is one.
    pub(super) fn piece_number(&self) -> Option<u64> {
        self.piece.trim().parse().ok().filter(|piece| (1..=LAST_PIECE).contains(piece))
    }
}

/// What was read of a piece, as the form carries it on.
pub(super) fn carried(taken: &[(Code, Length)]) -> String {
    let parts = taken.iter().map(|(code, value)| format!("{code} {} {}", value.picometres(), value.unit().sign()));
    parts.collect::<Vec<_>>().join(",")
}

/// A spindle as the form has it.
pub(super) fn spindle_value(spindle: Option<u8>) -> String {
    spindle.map_or_else(|| UNKNOWN.to_owned(), |spindle| spindle.to_string())
}

/// The address of the page with these fields; empty ones are left out.
pub(crate) fn address(setup: SetupId, fields: &[(&str, &str)]) -> String {
    let fields: Vec<_> = fields.iter().filter(|(_, value)| !value.is_empty()).collect();
    let query = serde_urlencoded::to_string(fields).unwrap_or_default();
    if query.is_empty() { format!("/setups/{setup}/sizes") } else { format!("/setups/{setup}/sizes?{query}") }
}

#[cfg(test)]
mod tests {
    use super::{Typed, carried};

    #[test]
    fn what_was_read_is_carried_on_and_nothing_else() {
        let of = |taken: &str| Typed { taken: taken.to_owned(), ..Typed::default() }.taken();
        let text = "D2 12179300000 in,D3 15240000000 mm";
        let taken = of(text);
        assert_eq!(carried(&taken), text);
        assert_eq!(taken[0].1.to_string(), "0.4795 in");
        for odd in ["", "D2", "D2 -1 in", "D2 0 mm", "D2 1 cm", "D2 999999999999999999 in", "? 1 in"] {
            assert!(of(odd).is_empty(), "{odd}");
        }
        assert_eq!(of("D2 1 mm,D2 2 mm").len(), 1, "each feature once");
    }

    #[test]
    fn pieces_are_counted_from_one() {
        let number = |piece: &str| Typed { piece: piece.to_owned(), ..Typed::default() }.piece_number();
        assert_eq!([number(" 7 "), number("0"), number("-1"), number("1e3")], [Some(7), None, None, None]);
    }
}
