//! The height limit where spindles differ.
//!
//! The gauge is cut to one height, the middle of the spindles' centres; the edge of a tool meets each spindle in turn.
//! Seen from the end of the slide, heights upward:
//!
//! ```text
//!      highest spindle centre  ---------------   half the spread above the gauge
//!      the gauge               ===============   deviation 0
//!      lowest spindle centre   ---------------   half the spread below the gauge
//! ```
//!
//! An edge that lies `e` above the gauge lies `e + s/2` above the lowest centre and `e − s/2` from the highest, `s` being
//! the spread, highest less lowest. So it lies within the shop's limit `L` of every spindle's centre exactly when
//! `|e| ≤ L − s/2`: half the spread comes off the limit on either side. (Derived: plane geometry; that the gauge stands
//! for the middle of the centres is assumed.) Where half the spread is more than the limit, no height serves every
//! spindle.

use super::{
    event::HeightReading,
    facts::MachineFacts,
    state::{HeightTaken, Setup},
};
use crate::{code::Code, length::Length, refusal::Refusal};

/// How far a machine's spindle centres lie apart, highest less lowest, never negative.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SpindleSpreads {
    /// For stations at which nothing else was measured: the newest measurement of the spindles, or what is written about
    /// the machine.
    pub machine: Option<Length>,
    /// Measured at stations.
    pub stations: Vec<(Code, Length)>,
}

impl SpindleSpreads {
    /// What holds at a station.
    #[must_use]
    pub fn at(&self, station: &Code) -> Option<Length> {
        self.stations.iter().find(|(code, _)| code == station).map(|(_, spread)| *spread).or(self.machine)
    }
}

/// The limit of a height at a station.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HeightLimit {
    /// How far the edge may lie from the gauge, either way, limits included; below zero where no height serves.
    pub limit: Length,
    /// The shop's limit.
    pub shop: Length,
    /// The spindles' spread, where it is known.
    pub spread: Option<Length>,
}

impl HeightLimit {
    /// The limit at a station as the records stand now.
    #[must_use]
    pub fn at(setup: &Setup, facts: &MachineFacts, station: &Code) -> Self {
        Self::of(setup.plan.settings.height_limit, facts.spindle_spreads.at(station))
    }

    /// A shop's limit less half of a spread; an odd picometre is taken off, not given.
    #[must_use]
    pub const fn of(shop: Length, spread: Option<Length>) -> Self {
        let limit = match spread {
            None => shop,
            Some(spread) => Length::from_picometres(shop.picometres() - (spread.picometres() + 1) / 2, shop.unit()),
        };
        Self { limit, shop, spread }
    }

    /// The limit under which a height was judged.
    #[must_use]
    pub const fn of_taken(shop: Length, taken: HeightTaken) -> Self {
        Self { limit: taken.limit, shop, spread: taken.spread }
    }

    /// Whether no height at all serves every spindle.
    #[must_use]
    pub const fn leaves_nothing(self) -> bool {
        self.limit.picometres() < 0
    }

    /// Adds to a refusal for a height outside the limit what the limit is made of.
    #[must_use]
    pub fn explain(self, refusal: Refusal) -> Refusal {
        match self.spread {
            Some(spread) if self.leaves_nothing() => refusal
                .saw(format!("limit ±{}, spindle centres {spread} apart: nothing is left of it", self.shop))
                .clears(
                    "No height serves every spindle: have the spindle centres measured again and brought closer together.",
                ),
            Some(spread) if spread.picometres() > 0 => refusal
                .saw(format!("limit ±{}, less half of the {spread} that spindle centres lie apart: ±{}", self.shop, self.limit)),
            _ => refusal.saw(format!("limit ±{}", self.shop)),
        }
    }
}

impl HeightReading {
    /// Whether it lies within a limit, either way, limits included. On the gauge is no deviation at all.
    #[must_use]
    pub fn within(self, limit: Length) -> bool {
        let deviation = match self {
            Self::OnGauge => 0,
            Self::Deviation(deviation) => deviation.abs().picometres(),
        };
        deviation <= limit.picometres()
    }
}

#[cfg(test)]
mod tests {
    use super::HeightLimit;
    use crate::{
        length::{Length, LengthUnit},
        setup::event::HeightReading,
    };
    use proptest::prelude::*;

    fn pm(picometres: i64) -> Length {
        Length::from_picometres(picometres, LengthUnit::Millimetre)
    }

    #[test]
    fn without_a_spread_the_limit_is_the_shops() {
        assert_eq!(HeightLimit::of(pm(50), None).limit, pm(50));
        assert_eq!(HeightLimit::of(pm(50), Some(pm(0))).limit, pm(50));
    }

    proptest! {
        /// Against every spindle one by one: the edge is within the narrowed limit exactly when it lies within the
        /// shop's of each centre, for centres whose middle is the gauge.
        #[test]
        fn within_the_limit_of_every_spindle(
            limit in 1_i64..1000, half in 0_i64..1500, between in prop::collection::vec(-1.0..1.0_f64, 0..4), edge in -1500_i64..1500,
        ) {
            let narrowed = HeightLimit::of(pm(limit), Some(pm(2 * half)));
            #[expect(clippy::cast_possible_truncation, clippy::cast_precision_loss, reason = "small numbers")]
            let others = between.iter().map(|share| (share * half as f64) as i64);
            let serves = [half, -half].into_iter().chain(others).all(|centre| (edge - centre).abs() <= limit);
            prop_assert_eq!(HeightReading::Deviation(pm(edge)).within(narrowed.limit), serves);
            prop_assert_eq!(HeightReading::OnGauge.within(narrowed.limit), half <= limit);
            prop_assert_eq!(narrowed.leaves_nothing(), half > limit);
        }
    }
}
