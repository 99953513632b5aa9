//! The matching of lots and supplies within one design or one holder style, exact within a bounded effort. The problem,
//! its objective and what waste is stand in [`super`].

mod covers;
mod search;
#[cfg(test)]
mod tests;

use super::window::Window;
use chrono::NaiveDate;
use search::Search;

/// Steps of search that one run of days may take after its first answer: about a millisecond.
pub const EFFORT: u64 = 20_000;

/// The most lots that are searched at once. A longer run of days is taken piece by piece, in order.
const MOST_AT_ONCE: usize = 256;

/// What all lots of one matching share.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kind {
    /// Pieces from a fresh edge, above zero.
    pub fresh_edge: i64,
    /// What one change within a lot counts as waste, in pieces; zero or more.
    pub change: i64,
}

impl Kind {
    /// Form tools whose fresh edge cuts so many pieces: a change counts a tenth of them, at least one.
    #[must_use]
    pub fn tools(fresh_edge: i64) -> Self {
        let fresh_edge = fresh_edge.max(1);
        Self { fresh_edge, change: (fresh_edge / 10).max(1) }
    }

    /// Holders: one serves a lot of one, and nothing of it is wasted.
    pub const HOLDERS: Self = Self { fresh_edge: 1, change: 0 };
}

/// What one need asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lot {
    /// Its days.
    pub window: Window,
    /// Pieces to make, above zero.
    pub pieces: i64,
}

/// An item that may be given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Supply {
    /// Pieces left on its edge, zero or more.
    pub edge: i64,
    /// Fresh edges that grinding gives within a lot, zero or more.
    pub grinds: i64,
    /// For each lot, whether it serves there.
    pub serves: Vec<bool>,
}

/// Who is given what.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Matching {
    /// For each lot the supplies given, ascending; none where it goes without.
    pub given: Vec<Option<Vec<usize>>>,
    /// The waste of all lots together.
    pub waste: i64,
    /// Whether nothing better exists, proven.
    pub exact: bool,
}

impl Kind {
    /// What it wastes to make a lot with supplies whose edges have `edges` pieces left together, `count` of them; the
    /// rest comes from fresh edges.
    #[must_use]
    pub const fn waste(self, pieces: i64, edges: i64, count: i64) -> i64 {
        let rest = if edges < pieces { pieces - edges } else { 0 };
        let ground = (rest + self.fresh_edge - 1) / self.fresh_edge;
        edges + ground * self.fresh_edge - pieces + self.change * (count - 1 + ground)
    }
}

/// Gives supplies to lots. The lots come in the order of their first days, which is their order of priority; supplies in
/// the order of their codes, each with an answer for every lot.
#[must_use]
pub fn match_lots(kind: Kind, lots: &[Lot], supplies: &[Supply], effort: u64) -> Matching {
    let mut matching = Matching { given: Vec::with_capacity(lots.len()), waste: 0, exact: true };
    let mut taken_until: Vec<Option<NaiveDate>> = vec![None; supplies.len()];
    let mut from = 0;
    while from < lots.len() {
        let (until, whole) = run_of_days(lots, from);
        let mut search = Search::new(kind, lots, supplies, from..until, taken_until, effort);
        search.run();
        let (best, exact) = search.into_best();
        matching.exact &= exact && whole;
        matching.waste += best.waste;
        taken_until = best.taken_until;
        matching.given.extend(best.given);
        from = until;
    }
    matching
}

/// Where the run of days that begins with the lot `from` ends, and whether it was taken whole.
fn run_of_days(lots: &[Lot], from: usize) -> (usize, bool) {
    let mut last = lots[from].window.last();
    let mut until = from + 1;
    while until < lots.len() && lots[until].window.first() <= last {
        if until - from == MOST_AT_ONCE {
            return (until, false);
        }
        last = last.max(lots[until].window.last());
        until += 1;
    }
    (until, true)
}
