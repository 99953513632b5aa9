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

/// All sets worth a thought, or as many as the limit allows.
pub(super) struct Covers {
    pub(super) found: Vec<Cover>,
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
    limit: u64,
}

/// Sets of which no member can be left out for nothing. Taken with the longest edges first, a set whose edges suffice
/// before its last member wastes more than without it; one whose edges do not suffice lives on grinding, and every such
/// set counts. The first set is found without regard to the limit.
pub(super) fn covers(kind: Kind, pieces: i64, free: &[Free], limit: u64) -> Covers {
    let mut reach = vec![0; free.len() + 1];
    for (index, one) in free.iter().enumerate().rev() {
        reach[index] = reach[index + 1] + one.edge + one.grinds * kind.fresh_edge;
    }
    let covers = Covers { found: Vec::new(), complete: true, steps: 0 };
    let mut walk = Walk { kind, pieces, free, reach, chosen: Vec::new(), covers, limit };
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
            if self.covers.steps > self.limit && !self.covers.found.is_empty() {
                self.covers.complete = false;
                return;
            }
            self.chosen.push(one.supply);
            let (edges, ground) = (edges + one.edge, ground + one.grinds * self.kind.fresh_edge);
            if edges + ground >= self.pieces {
                let count = i64::try_from(self.chosen.len()).unwrap_or(i64::MAX);
                let mut supplies = self.chosen.clone();
                supplies.sort_unstable();
                self.covers.found.push(Cover { supplies, waste: self.kind.waste(self.pieces, edges, count) });
            }
            if edges < self.pieces {
                self.on(index + 1, edges, ground);
            }
            self.chosen.pop();
        }
    }
}
