//! The branch and bound over the lots of one run of days, in their order.

use super::{
    Kind, Lot, Supply,
    covers::{Cover, Covers, Free, covers},
};
use chrono::NaiveDate;
use std::{cmp::Ordering, collections::BTreeMap, ops::Range};

/// Steps that the sets for one lot may take.
const COVER_STEPS: u64 = 2_000;

/// An answer for the lots of the run.
#[derive(Clone, Debug)]
pub(super) struct Best {
    pub(super) given: Vec<Option<Vec<usize>>>,
    pub(super) waste: i64,
    /// For each supply the last day for which it was given.
    pub(super) taken_until: Vec<Option<NaiveDate>>,
}

pub(super) struct Search<'a> {
    kind: Kind,
    lots: &'a [Lot],
    supplies: &'a [Supply],
    /// The lots of this run.
    range: Range<usize>,
    /// The supplies that serve any of them: longest edges first, those alike together, then by code.
    order: Vec<Free>,
    /// How many lots of the run each supply serves.
    breadth: Vec<usize>,
    /// For each lot what it wastes alone at least, and how many supplies it takes at least; none where all together
    /// cannot make it.
    alone: Vec<Option<(i64, i64)>>,
    taken_until: Vec<Option<NaiveDate>>,
    given: Vec<Option<Vec<usize>>>,
    waste: i64,
    best: Option<Best>,
    effort: u64,
    exact: bool,
}

impl<'a> Search<'a> {
    pub(super) fn new(
        kind: Kind,
        lots: &'a [Lot],
        supplies: &'a [Supply],
        range: Range<usize>,
        taken_until: Vec<Option<NaiveDate>>,
        effort: u64,
    ) -> Self {
        let served = |supply: &Supply| range.clone().filter(|lot| supply.serves[*lot]).count();
        let breadth: Vec<usize> = supplies.iter().map(served).collect();
        let mut classes = BTreeMap::new();
        let mut order: Vec<Free> = Vec::new();
        for (index, supply) in supplies.iter().enumerate() {
            if breadth[index] == 0 || supply.edge + supply.grinds <= 0 {
                continue;
            }
            let alike = (supply.edge, supply.grinds, &supply.serves[range.clone()]);
            let next = classes.len();
            let class = *classes.entry(alike).or_insert(next);
            order.push(Free { supply: index, edge: supply.edge, grinds: supply.grinds, class });
        }
        order.sort_by_key(|one| (std::cmp::Reverse(one.edge), one.class, one.supply));
        let mut search = Self {
            kind,
            lots,
            supplies,
            given: Vec::with_capacity(range.len()),
            alone: Vec::with_capacity(range.len()),
            range,
            order,
            breadth,
            taken_until,
            waste: 0,
            best: None,
            effort,
            exact: true,
        };
        for lot in search.range.clone() {
            let found = search.covers_of(lot);
            let least = found.found.iter().map(|cover| cover.waste).min();
            let fewest = found.found.iter().map(|cover| cover.supplies.len()).min().unwrap_or(1);
            let fewest = if found.complete { i64::try_from(fewest).unwrap_or(1) } else { 1 };
            search.alone.push(least.map(|least| (if found.complete { least } else { 0 }, fewest)));
        }
        search
    }

    pub(super) fn run(&mut self) {
        self.decide(self.range.start);
    }

    pub(super) fn into_best(self) -> (Best, bool) {
        let nothing = Best { given: vec![None; self.range.len()], waste: 0, taken_until: self.taken_until };
        (self.best.unwrap_or(nothing), self.exact)
    }

    fn is_free(&self, supply: usize, day: NaiveDate) -> bool {
        self.taken_until[supply].is_none_or(|until| until < day)
    }

    fn covers_of(&self, lot: usize) -> Covers {
        let asked = &self.lots[lot];
        let serves =
            |one: &&Free| self.supplies[one.supply].serves[lot] && self.is_free(one.supply, asked.window.first());
        let free: Vec<Free> = self.order.iter().filter(serves).copied().collect();
        covers(self.kind, asked.pieces, &free, COVER_STEPS)
    }

    fn decide(&mut self, lot: usize) {
        if lot == self.range.end {
            self.consider();
            return;
        }
        if self.best.is_some() {
            if self.effort == 0 {
                self.exact = false;
                return;
            }
            self.effort -= 1;
            if !self.can_be_better(lot) {
                return;
            }
        }
        let Covers { mut found, complete, steps } = self.covers_of(lot);
        self.exact &= complete;
        self.effort = self.effort.saturating_sub(steps);
        let breadth = |cover: &Cover| cover.supplies.iter().map(|supply| self.breadth[*supply]).sum::<usize>();
        found.sort_by_cached_key(|cover| (cover.waste, breadth(cover), cover.supplies.clone()));
        for cover in found {
            self.give(lot, cover);
        }
        self.given.push(None);
        self.decide(lot + 1);
        self.given.pop();
    }

    fn give(&mut self, lot: usize, cover: Cover) {
        let last = self.lots[lot].window.last();
        let before: Vec<_> = cover.supplies.iter().map(|supply| self.taken_until[*supply].replace(last)).collect();
        self.waste += cover.waste;
        self.given.push(Some(cover.supplies));
        self.decide(lot + 1);
        self.waste -= cover.waste;
        for (supply, before) in self.given.pop().flatten().unwrap_or_default().into_iter().zip(before) {
            self.taken_until[supply] = before;
        }
    }

    fn consider(&mut self) {
        let better = self.best.as_ref().is_none_or(|best| match served(&self.given, &best.given) {
            Ordering::Greater => true,
            Ordering::Equal => self.waste < best.waste,
            Ordering::Less => false,
        });
        if better {
            let (given, taken_until) = (self.given.clone(), self.taken_until.clone());
            self.best = Some(Best { given, waste: self.waste, taken_until });
        }
    }

    /// Whether what was decided before `lot` can still become better than the best answer known.
    fn can_be_better(&self, lot: usize) -> bool {
        let Some(best) = &self.best else { return true };
        match served(&self.given, &best.given[..self.given.len()]) {
            Ordering::Greater => return true,
            Ordering::Less => return false,
            Ordering::Equal => {}
        }
        let start = self.range.start;
        let without = (lot..self.range.end).filter(|later| best.given[later - start].is_none());
        for later in without {
            if self.alone[later - start].is_some() && self.may_reach(lot, later, best) {
                return true;
            }
        }
        let served = (lot..self.range.end).filter(|later| best.given[later - start].is_some());
        let at_least: i64 = served.filter_map(|later| self.alone[later - start]).map(|(least, _)| least).sum();
        self.waste + at_least < best.waste
    }

    /// Whether the lot `wanted`, which the best answer leaves out, might be served together with the lots from `lot` on
    /// that the best answer serves before it. Counted on its first day alone, so that a yes is no promise.
    fn may_reach(&self, lot: usize, wanted: usize, best: &Best) -> bool {
        let (start, day) = (self.range.start, self.lots[wanted].window.first());
        let beside = (lot..=wanted).filter(|other| {
            let served = *other == wanted || best.given[other - start].is_some();
            served && self.lots[*other].window.last() >= day
        });
        let (mut pieces, mut count, mut lots) = (0, 0, Vec::new());
        for other in beside {
            pieces += self.lots[other].pieces;
            count += self.alone[other - start].map_or(1, |(_, fewest)| fewest);
            lots.push(other);
        }
        for one in &self.order {
            let supply = &self.supplies[one.supply];
            if self.is_free(one.supply, day) && lots.iter().any(|lot| supply.serves[*lot]) {
                pieces -= one.edge + one.grinds * self.kind.fresh_edge;
                count -= 1;
                if pieces <= 0 && count <= 0 {
                    return true;
                }
            }
        }
        false
    }
}

/// Compares who is served, the first lots first.
fn served(one: &[Option<Vec<usize>>], other: &[Option<Vec<usize>>]) -> Ordering {
    one.iter().map(Option::is_some).cmp(other.iter().map(Option::is_some))
}
