//! The branch and bound over the lots of one run of days, in their order.

use super::{
    Kind, Lot, Supply,
    covers::{Cover, Covers, Free, Wanted, covers},
};
use chrono::NaiveDate;
use std::{cmp::Ordering, collections::BTreeMap, ops::Range};

/// Steps that the sets for one lot may take.
const COVER_STEPS: u64 = 2_000;

/// What can still come of what was decided so far.
enum Hope {
    /// Nothing better than the best answer known.
    None,
    /// More lots served, perhaps.
    More,
    /// The same lots served, with the next one wasting less than this.
    Below(i64),
}

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
    best: Best,
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
            best: Best { given: Vec::new(), waste: 0, taken_until: taken_until.clone() },
            taken_until,
            waste: 0,
            effort,
            exact: true,
        };
        for lot in search.range.clone() {
            let found = search.covers_of(lot, Wanted::Least);
            let least = found.found.iter().map(|cover| cover.waste).min();
            let fewest = search.fewest(lot);
            search.alone.push(least.map(|least| (if found.complete { least } else { 0 }, fewest)));
        }
        search
    }

    /// First an answer that takes for each lot what wastes least there, then the search for a better one.
    pub(super) fn run(&mut self) {
        for lot in self.range.clone() {
            let found = self.covers_of(lot, Wanted::Least).found;
            match found.into_iter().min_by_key(|cover| self.rank(cover)) {
                Some(cover) => {
                    let last = self.lots[lot].window.last();
                    cover.supplies.iter().for_each(|supply| self.taken_until[*supply] = Some(last));
                    self.waste += cover.waste;
                    self.given.push(Some(cover.supplies));
                }
                None => self.given.push(None),
            }
        }
        let begun = self.best.taken_until.clone();
        self.best.taken_until = std::mem::replace(&mut self.taken_until, begun);
        self.best.given = std::mem::take(&mut self.given);
        self.best.waste = std::mem::take(&mut self.waste);
        self.decide(self.range.start);
    }

    pub(super) fn into_best(self) -> (Best, bool) {
        (self.best, self.exact)
    }

    /// How many supplies a lot takes at least, whichever are free.
    fn fewest(&self, lot: usize) -> i64 {
        let longest =
            self.order.iter().map(|one| one.edge + one.grinds * self.kind.fresh_edge).max().unwrap_or(1).max(1);
        (self.lots[lot].pieces + longest - 1) / longest
    }

    /// The order in which covers are tried.
    fn rank(&self, cover: &Cover) -> (i64, usize, Vec<usize>) {
        let breadth = cover.supplies.iter().map(|supply| self.breadth[*supply]).sum();
        (cover.waste, breadth, cover.supplies.clone())
    }

    fn is_free(&self, supply: usize, day: NaiveDate) -> bool {
        self.taken_until[supply].is_none_or(|until| until < day)
    }

    fn covers_of(&self, lot: usize, wanted: Wanted) -> Covers {
        let asked = &self.lots[lot];
        let serves =
            |one: &&Free| self.supplies[one.supply].serves[lot] && self.is_free(one.supply, asked.window.first());
        let free: Vec<Free> = self.order.iter().filter(serves).copied().collect();
        covers(self.kind, asked.pieces, &free, wanted, COVER_STEPS)
    }

    fn decide(&mut self, lot: usize) {
        if lot == self.range.end {
            self.consider();
            return;
        }
        // Looking through what is free is work too.
        let work = 1 + self.order.len() as u64 / 16;
        if self.effort < work {
            self.exact = false;
            return;
        }
        self.effort -= work;
        let wanted = match self.hope(lot) {
            Hope::None => return,
            Hope::More => Wanted::Below(i64::MAX),
            Hope::Below(waste) => Wanted::Below(waste),
        };
        let Covers { mut found, complete, steps } = self.covers_of(lot, wanted);
        self.exact &= complete;
        self.effort = self.effort.saturating_sub(steps);
        found.sort_by_cached_key(|cover| self.rank(cover));
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
        let better = match served(&self.given, &self.best.given) {
            Ordering::Greater => true,
            Ordering::Equal => self.waste < self.best.waste,
            Ordering::Less => false,
        };
        if better {
            let (given, taken_until) = (self.given.clone(), self.taken_until.clone());
            self.best = Best { given, waste: self.waste, taken_until };
        }
    }

    /// Whether what was decided before `lot` can still become better than the best answer known.
    fn hope(&self, lot: usize) -> Hope {
        match served(&self.given, &self.best.given[..self.given.len()]) {
            Ordering::Greater => return Hope::More,
            Ordering::Less => return Hope::None,
            Ordering::Equal => {}
        }
        let start = self.range.start;
        let is_served = |later: usize| self.best.given[later - start].is_some();
        for later in (lot..self.range.end).filter(|later| !is_served(*later)) {
            if self.alone[later - start].is_some() && self.may_reach(lot, later) {
                return Hope::More;
            }
        }
        let least = |later: usize| self.alone[later - start].map_or(0, |(least, _)| least);
        let after: i64 = (lot + 1..self.range.end).filter(|later| is_served(*later)).map(least).sum();
        let below = self.best.waste - self.waste - after;
        let here = if is_served(lot) { least(lot) } else { 0 };
        if here < below { Hope::Below(below) } else { Hope::None }
    }

    /// Whether the lot `wanted`, which the best answer leaves out, might be served together with the lots from `lot` on
    /// that the best answer serves before it. Counted on its first day alone, so that a yes is no promise.
    fn may_reach(&self, lot: usize, wanted: usize) -> bool {
        let (start, day) = (self.range.start, self.lots[wanted].window.first());
        let beside = (lot..=wanted).filter(|other| {
            let served = *other == wanted || self.best.given[other - start].is_some();
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
