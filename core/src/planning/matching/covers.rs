//! The sets of supplies that make one lot.

use super::Kind;

/// A set of supplies that makes a lot, and what that wastes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Cover {
    /// The supplies, ascending.
    pub(super) supplies: Vec<usize>,
    /// What it wastes.
    pub(super) waste: i64,
}

/// What is free for a lot, the longest edges first, those alike beside each other.
#[derive(Clone, Copy, Debug)]
pub(super) struct Free {
    pub(super) supply: usize,
    pub(super) edge: i64,
    pub(super) grinds: i64,
    /// Supplies of one class are alike in all that can matter from here on.
    pub(super) class: usize,
}

/// Which sets are wanted.
#[derive(Clone, Copy, Debug)]
pub(super) enum Wanted {
    /// All that waste less than this.
    Below(i64),
    /// One that wastes least, and those found on the way to it.
    Least,
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
    below: i64,
    least_only: bool,
    /// Whether any of them may be ground within the lot.
    grinds: bool,
    limit: u64,
}

/// Sets of which no member can be left out for nothing. Taken with the longest edges first, a set whose edges suffice
/// before its last member wastes more than without it; one whose edges do not suffice lives on grinding, and every such
/// set counts. Where any set is wanted, the first is found
/// without regard to the limit of steps; a better one than is known is looked for within it only.
pub(super) fn covers(kind: Kind, pieces: i64, free: &[Free], wanted: Wanted, limit: u64) -> Covers {
    let mut reach = vec![0; free.len() + 1];
    for (index, one) in free.iter().enumerate().rev() {
        reach[index] = reach[index + 1] + one.edge + one.grinds * kind.fresh_edge;
    }
    let covers = Covers { found: Vec::new(), complete: true, steps: 0 };
    let (below, least_only) = match wanted {
        Wanted::Below(below) => (below, false),
        Wanted::Least => (i64::MAX, true),
    };
    let grinds = free.iter().any(|one| one.grinds > 0);
    let mut walk = Walk { kind, pieces, free, reach, chosen: Vec::new(), covers, below, least_only, grinds, limit };
    walk.on(0, 0, 0);
    walk.covers
}

impl Walk<'_> {
    fn on(&mut self, from: usize, edges: i64, ground: i64) {
        let mut skipped = None;
        for index in from..self.free.len() {
            let one = self.free[index];
            if edges + ground + self.reach[index] < self.pieces {
                return;
            }
            if skipped == Some(one.class) {
                continue;
            }
            skipped = Some(one.class);
            self.covers.steps += 1;
            let first_wanted = self.least_only && self.covers.found.is_empty();
            if self.covers.steps > self.limit && !first_wanted {
                self.covers.complete = false;
                return;
            }
            if self.least_waste(edges, one.edge) >= self.below {
                // What comes later has no longer edge, and wastes no less.
                return;
            }
            self.chosen.push(one.supply);
            let (edges, ground) = (edges + one.edge, ground + one.grinds * self.kind.fresh_edge);
            if edges + ground >= self.pieces {
                self.note(edges);
            }
            if edges < self.pieces {
                self.on(index + 1, edges, ground);
            }
            self.chosen.pop();
        }
    }

    /// What a set wastes at least in changes, if it goes on with edges of this length or of fresh ones at best.
    fn least_waste(&self, edges: i64, next: i64) -> i64 {
        let longest = if self.grinds { next.max(self.kind.fresh_edge) } else { next }.max(1);
        let more = (self.pieces - edges + longest - 1) / longest;
        let chosen = i64::try_from(self.chosen.len()).unwrap_or(i64::MAX);
        self.kind.change * (chosen + more - 1)
    }

    fn note(&mut self, edges: i64) {
        let count = i64::try_from(self.chosen.len()).unwrap_or(i64::MAX);
        let waste = self.kind.waste(self.pieces, edges, count);
        if waste < self.below {
            let mut supplies = self.chosen.clone();
            supplies.sort_unstable();
            self.covers.found.push(Cover { supplies, waste });
            if self.least_only {
                self.below = waste;
            }
        }
    }
}
