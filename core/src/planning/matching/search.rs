//! The branch and bound over lots in their order.
//!
//! Each lot is tried with its covers as they are preferred, and last without any. The first answer that serves the lots
//! it serves is therefore the preferred one of all that serve just these, and only what may serve better is looked for
//! after it: where the first answer serves every lot, nothing is searched at all.

use super::{
    Kind, Left, Lot, Share, Supply,
    covers::{Away, Cover, Covers, Free, Wanted, covers},
    make,
};
use chrono::NaiveDate;
use std::{
    cmp::Ordering,
    collections::{BTreeMap, BTreeSet},
    ops::Range,
};

/// Steps that the sets for one lot may take.
const COVER_STEPS: u64 = 2_000;

/// What is there for the next lot.
#[derive(Clone, Debug)]
pub(super) struct State {
    /// What each supply has left.
    pub(super) left: Vec<Left>,
    /// For each supply the last day for which it was given.
    pub(super) taken_until: Vec<Option<NaiveDate>>,
}

impl State {
    fn is_free(&self, supply: usize, day: NaiveDate) -> bool {
        self.taken_until[supply].is_none_or(|until| until < day)
    }
}

/// What was decided for lots, the first of the piece first.
#[derive(Clone, Debug, Default)]
struct Decided {
    given: Vec<Option<Vec<Share>>>,
    waste: i64,
}

/// What the search found, and what it leaves for lots after its own.
pub(super) struct Found {
    pub(super) given: Vec<Option<Vec<Share>>>,
    pub(super) waste: i64,
    pub(super) exact: bool,
    /// Whether a lot goes without that could be made if it were the only one.
    pub(super) goes_without: bool,
    pub(super) state: State,
    /// Steps that it took.
    pub(super) steps: u64,
}

pub(super) struct Search<'a> {
    kind: Kind,
    lots: &'a [Lot],
    supplies: &'a [Supply],
    /// The lots of this piece.
    range: Range<usize>,
    /// The supplies that serve any of them: what serves the fewest lots first, then in their order.
    order: Vec<Free>,
    /// The most that any of them can make.
    longest: i64,
    /// Before the first lot.
    begun: State,
    state: State,
    now: Decided,
    best: Option<Decided>,
    /// What the best answer leaves.
    best_state: State,
    /// The lots that the best answer leaves out and that might be made beside those that it serves before them.
    wanted: Vec<usize>,
    /// Steps that it may take.
    effort: u64,
    steps: u64,
    exact: bool,
}

impl<'a> Search<'a> {
    pub(super) fn new(
        kind: Kind,
        lots: &'a [Lot],
        supplies: &'a [Supply],
        range: Range<usize>,
        state: State,
        effort: u64,
    ) -> Self {
        let mut classes = BTreeMap::new();
        let (mut run, mut before) = (0, None);
        let mut order: Vec<Free> = Vec::new();
        for (supply, (asked, left)) in supplies.iter().zip(&state.left).enumerate() {
            let serves = &asked.serves[range.clone()];
            if left.life(kind) > 0 && serves.contains(&true) {
                let nearness = &asked.nearness[range.clone()];
                let alike = (serves, nearness);
                let class = if kind.used_up {
                    // Of edges that are as long, the first is used up first: what another stands between is not alike,
                    // because the turn of that other one would change.
                    run += usize::from(before.replace(alike).is_some_and(|before| before != alike));
                    run
                } else {
                    let next = classes.len();
                    *classes.entry(alike).or_insert(next)
                };
                let breadth = asked.serves.iter().filter(|serves| **serves).count();
                order.push(Free { supply, left: *left, breadth, nearness: nearness[0], class });
            }
        }
        order.sort_by_key(|one| (one.breadth, one.supply));
        let longest = order.iter().map(|one| one.left.life(kind)).max().unwrap_or(1);
        Self {
            kind,
            lots,
            supplies,
            range,
            order,
            longest,
            begun: state.clone(),
            best_state: state.clone(),
            state,
            now: Decided::default(),
            best: None,
            wanted: Vec::new(),
            effort,
            steps: 0,
            exact: true,
        }
    }

    pub(super) fn run(&mut self) {
        self.decide(self.range.start);
    }

    pub(super) fn into_found(self) -> Found {
        let best = self.best.unwrap_or_default();
        let goes_without = self.range.zip(&best.given).any(|(lot, given)| {
            let own =
                self.supplies.iter().filter(|supply| supply.serves[lot]).map(|supply| supply.left.life(self.kind));
            given.is_none() && own.fold(0, i64::saturating_add) >= self.lots[lot].pieces
        });
        let Decided { given, waste } = best;
        Found { given, waste, exact: self.exact, goes_without, state: self.best_state, steps: self.steps }
    }

    fn spend(&mut self, steps: u64) {
        self.steps += steps;
    }

    fn steps_left(&self) -> u64 {
        self.effort.saturating_sub(self.steps)
    }

    /// What is free for a lot, with what it has left now and where it stands.
    fn free(&self, lot: usize) -> impl Iterator<Item = Free> {
        let day = self.lots[lot].window.first();
        self.order.iter().filter_map(move |one| {
            let left = self.state.left[one.supply];
            let supply = &self.supplies[one.supply];
            let serves = supply.serves[lot] && self.state.is_free(one.supply, day);
            let nearness = supply.nearness[lot];
            (serves && left.life(self.kind) > 0).then_some(Free { left, nearness, ..*one })
        })
    }

    fn covers_of(&mut self, lot: usize, wanted: Wanted) -> Vec<Cover> {
        // Looking through what is there is work too.
        self.spend(1 + self.order.len() as u64 / 16);
        if !self.kind.used_up {
            // Any one serves, and none wastes anything.
            let cover = |one: Free| {
                let away = Away::of(std::iter::once(one.nearness));
                Cover { waste: 0, breadth: one.breadth, away, supplies: vec![one.supply] }
            };
            return match wanted {
                Wanted::First => self.free(lot).map(cover).min().into_iter().collect(),
                Wanted::All => {
                    let mut seen = BTreeSet::new();
                    let mut found: Vec<Cover> =
                        self.free(lot).filter(|one| seen.insert(one.class)).map(cover).collect();
                    found.sort();
                    found
                }
            };
        }
        let limit = COVER_STEPS.min(self.steps_left());
        let Covers { found, complete, steps } =
            covers(self.kind, self.lots[lot].pieces, self.free(lot).collect(), wanted, limit);
        self.exact &= complete;
        self.spend(steps);
        found
    }

    fn decide(&mut self, lot: usize) {
        if lot == self.range.end {
            self.take_as_best();
            return;
        }
        if !self.is_hopeful(lot) {
            return;
        }
        // A lot that can be served here goes without only where nothing is better for it: an answer that serves it is
        // better than any that does not, whatever comes after.
        let Some(first) = self.covers_of(lot, Wanted::First).pop() else {
            self.now.given.push(None);
            self.decide(lot + 1);
            let _ = self.now.given.pop();
            return;
        };
        self.give(lot, &first);
        if !self.is_hopeful(lot) {
            return;
        }
        for cover in self.covers_of(lot, Wanted::All) {
            if cover != first {
                self.give(lot, &cover);
                if !self.is_hopeful(lot) {
                    return;
                }
            }
        }
    }

    fn give(&mut self, lot: usize, cover: &Cover) {
        let State { left, taken_until } = &mut self.state;
        let before: Vec<_> = cover.supplies.iter().map(|supply| (left[*supply], taken_until[*supply])).collect();
        let shares = make(self.kind, self.lots[lot].pieces, &cover.supplies, left);
        cover.supplies.iter().for_each(|supply| taken_until[*supply] = Some(self.lots[lot].window.last()));
        self.now.waste += cover.waste;
        self.now.given.push(Some(shares));
        self.decide(lot + 1);
        let _ = self.now.given.pop();
        self.now.waste -= cover.waste;
        for (supply, (left, until)) in cover.supplies.iter().zip(before) {
            (self.state.left[*supply], self.state.taken_until[*supply]) = (left, until);
        }
    }

    fn take_as_best(&mut self) {
        let better = |best: &Decided| served(&self.now.given, &best.given) == Ordering::Greater;
        if self.best.as_ref().is_none_or(better) {
            self.best_state = self.state.clone();
            self.best = Some(self.now.clone());
            // What is out of reach before anything is given stays so.
            let without: Vec<usize> = self.range.clone().filter(|lot| !self.best_serves(*lot)).collect();
            self.wanted =
                without.into_iter().filter(|wanted| self.may_reach(self.range.start, *wanted, true)).collect();
        }
    }

    fn best_serves(&self, lot: usize) -> bool {
        self.best.as_ref().is_some_and(|best| best.given[lot - self.range.start].is_some())
    }

    /// Whether something better than the best answer may come of what was decided before `lot`.
    fn is_hopeful(&mut self, lot: usize) -> bool {
        let Some(best) = &self.best else { return true };
        match served(&self.now.given, &best.given[..self.now.given.len()]) {
            Ordering::Greater => return true,
            Ordering::Less => return false,
            Ordering::Equal => {}
        }
        let wanted: Vec<usize> = self.wanted.iter().copied().filter(|wanted| *wanted >= lot).collect();
        wanted.into_iter().any(|wanted| {
            let out_of_steps = self.steps_left() == 0;
            self.exact &= !out_of_steps;
            !out_of_steps && self.may_reach(lot, wanted, false)
        })
    }

    /// Whether the lot `wanted`, which the best answer leaves out, might be made together with the lots from `lot` on
    /// that the best answer serves before it. Counted on its first day, and over all days: a yes is no promise.
    fn may_reach(&mut self, lot: usize, wanted: usize, from_the_start: bool) -> bool {
        self.spend(1 + (self.order.len() + wanted - lot) as u64 / 16);
        let state = if from_the_start { &self.begun } else { &self.state };
        let day = self.lots[wanted].window.first();
        let all: Vec<usize> = (lot..=wanted).filter(|other| *other == wanted || self.best_serves(*other)).collect();
        let on_the_day: Vec<usize> =
            all.iter().copied().filter(|other| self.lots[*other].window.last() >= day).collect();
        let pieces = |of: &[usize]| of.iter().map(|other| self.lots[*other].pieces).sum::<i64>();
        let serves_any = |one: &&Free, of: &[usize]| of.iter().any(|other| self.supplies[one.supply].serves[*other]);
        let life = |one: &Free| state.left[one.supply].life(self.kind);

        let free = self.order.iter().filter(|one| state.is_free(one.supply, day) && serves_any(one, &on_the_day));
        let (count, able) = free.fold((0_i64, 0_i64), |(count, able), one| (count + 1, able.saturating_add(life(one))));
        let fewest: i64 =
            on_the_day.iter().map(|other| (self.lots[*other].pieces + self.longest - 1) / self.longest).sum();
        if count < fewest || able < pieces(&on_the_day) {
            return false;
        }
        let left = self.order.iter().filter(|one| serves_any(one, &all)).map(life).fold(0, i64::saturating_add);
        !self.kind.used_up || left >= pieces(&all)
    }
}

/// Compares who is served, the first lots first.
fn served(one: &[Option<Vec<Share>>], other: &[Option<Vec<Share>>]) -> Ordering {
    one.iter().map(Option::is_some).cmp(other.iter().map(Option::is_some))
}
