//! The sets of supplies that make one lot.

use super::{Kind, Left, Nearness};
use std::cmp::Reverse;

/// A set of supplies that makes a lot. The order of covers is the order in which they are preferred: by what they waste,
/// then by how many lots their supplies could serve, then by where these stand, then by the supplies.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Cover {
    /// What it wastes.
    pub(super) waste: i64,
    /// How many lots its supplies could serve, summed.
    pub(super) breadth: usize,
    /// Where its supplies stand.
    pub(super) away: Away,
    /// The supplies, ascending.
    pub(super) supplies: Vec<usize>,
}

/// How many supplies of a set stand in other machines' setups, how many are out, and how many are at hand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Away {
    in_other_machines: usize,
    out: usize,
    at_hand: usize,
}

impl Away {
    /// Of supplies that stand there.
    pub(super) fn of(supplies: impl Iterator<Item = Nearness>) -> Self {
        supplies.fold(Self::default(), |mut away, nearness| {
            match nearness {
                Nearness::InItsMachine => {}
                Nearness::AtHand => away.at_hand += 1,
                Nearness::Out => away.out += 1,
                Nearness::InOtherMachine => away.in_other_machines += 1,
            }
            away
        })
    }
}

/// What is free for a lot.
#[derive(Clone, Copy, Debug)]
pub(super) struct Free {
    pub(super) supply: usize,
    pub(super) left: Left,
    /// How many lots it could serve.
    pub(super) breadth: usize,
    /// Where it stands, seen from the lot.
    pub(super) nearness: Nearness,
    /// Supplies of one class serve the same lots and stand as near to each, and of edges that are used up none of
    /// another class stands between them.
    pub(super) class: usize,
}

impl Free {
    /// Those that are alike in all that can matter from here on.
    fn alike(&self) -> (Left, usize, usize) {
        (self.left, self.breadth, self.class)
    }
}

/// Which sets are wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Wanted {
    /// All of them.
    All,
    /// The one that is preferred.
    First,
}

/// The sets that were found.
pub(super) struct Covers {
    pub(super) found: Vec<Cover>,
    /// Whether all that are wanted were found.
    pub(super) complete: bool,
    pub(super) steps: u64,
}

struct Walk<'a> {
    kind: Kind,
    pieces: i64,
    free: &'a [Free],
    /// What all from here on could make together.
    reach: Vec<i64>,
    chosen: Vec<usize>,
    covers: Covers,
    wanted: Wanted,
    /// Whether any of them may be ground.
    grinds: bool,
    limit: u64,
}

/// Sets that make a lot, of which no supply could be left out for the edges of the others, in the order in which they are
/// preferred. Of sets that differ only in supplies that are alike the first is named. The walk ends at the limit of
/// steps, but no sooner than it has taken each supply once: the longest edges together are the first set that it finds.
pub(super) fn covers(kind: Kind, pieces: i64, mut free: Vec<Free>, wanted: Wanted, limit: u64) -> Covers {
    // With the longest edges first, a set whose edges suffice before its last member could leave that one out.
    free.sort_by_key(|one| (Reverse(one.left.edge), one.left.grinds, one.breadth, one.class, one.supply));
    let mut reach = vec![0; free.len() + 1];
    for (index, one) in free.iter().enumerate().rev() {
        reach[index] = one.left.life(kind).saturating_add(reach[index + 1]);
    }
    let covers = Covers { found: Vec::new(), complete: true, steps: 0 };
    let grinds = free.iter().any(|one| one.left.grinds > 0);
    let limit = limit.max(free.len() as u64);
    let mut walk = Walk { kind, pieces, free: &free, reach, chosen: Vec::new(), covers, wanted, grinds, limit };
    walk.on(0, 0, 0);
    walk.covers.found.sort();
    walk.covers
}

impl Walk<'_> {
    fn on(&mut self, from: usize, edges: i64, ground: i64) {
        let mut skipped = None;
        for index in from..self.free.len() {
            let one = self.free[index];
            if edges.saturating_add(ground).saturating_add(self.reach[index]) < self.pieces {
                return;
            }
            if skipped == Some(one.alike()) {
                continue;
            }
            if self.covers.steps == self.limit {
                self.covers.complete = false;
                return;
            }
            self.covers.steps += 1;
            skipped = Some(one.alike());
            if self.is_worse(edges, one.left.edge) {
                // What comes later has no longer edge, and wastes no less.
                return;
            }
            self.chosen.push(index);
            let ground = ground.saturating_add(one.left.grinds.saturating_mul(self.kind.fresh_edge));
            let edges = edges + one.left.edge;
            if edges.saturating_add(ground) >= self.pieces {
                self.note(edges);
            }
            if edges < self.pieces {
                self.on(index + 1, edges, ground);
            }
            self.chosen.pop();
        }
    }

    /// Whether a set that goes on with edges of this length, or with fresh ones at best, must waste more in changes alone
    /// than the one that is known.
    fn is_worse(&self, edges: i64, next: i64) -> bool {
        let known = match self.wanted {
            Wanted::All => None,
            Wanted::First => self.covers.found.first(),
        };
        let Some(known) = known else { return false };
        let longest = if self.grinds { next.max(self.kind.fresh_edge) } else { next }.max(1);
        let more = (self.pieces - edges + longest - 1) / longest;
        self.kind.change * (count(&self.chosen) + more - 1) > known.waste
    }

    fn note(&mut self, edges: i64) {
        let waste = self.kind.waste(self.pieces, edges, count(&self.chosen));
        let mut supplies: Vec<usize> = self.chosen.iter().map(|index| self.free[*index].supply).collect();
        supplies.sort_unstable();
        let breadth = self.chosen.iter().map(|index| self.free[*index].breadth).sum();
        let away = Away::of(self.chosen.iter().map(|index| self.free[*index].nearness));
        let cover = Cover { waste, breadth, away, supplies };
        match (self.wanted, self.covers.found.first_mut()) {
            (Wanted::First, Some(known)) => {
                if cover < *known {
                    *known = cover;
                }
            }
            _ => self.covers.found.push(cover),
        }
    }
}

fn count(chosen: &[usize]) -> i64 {
    i64::try_from(chosen.len()).unwrap_or(i64::MAX)
}
