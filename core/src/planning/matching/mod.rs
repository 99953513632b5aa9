//! The matching of lots and supplies within one design or one holder style, exact within a bounded effort. The problem,
//! its objective and what waste is stand in [`super`].

mod covers;
mod search;
#[cfg(test)]
mod tests;

use super::window::Window;
use search::{Search, State};

/// Steps of search that one matching may take beyond its first answer: about a millisecond.
pub const EFFORT: u64 = 20_000;

/// The most lots that are searched at once. More are taken piece by piece, in order.
const MOST_AT_ONCE: usize = 256;

/// What all lots of one matching share.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kind {
    /// Pieces from a fresh edge, above zero.
    pub fresh_edge: i64,
    /// What one change within a lot counts as waste, in pieces; zero or more.
    pub change: i64,
    /// Whether a lot uses up what it is made with, so that less is left for the next.
    pub used_up: bool,
}

impl Kind {
    /// Form tools whose fresh edge cuts so many pieces: a change counts a tenth of them, at least one.
    #[must_use]
    pub fn tools(fresh_edge: i64) -> Self {
        let fresh_edge = fresh_edge.max(1);
        Self { fresh_edge, change: (fresh_edge / 10).max(1), used_up: true }
    }

    /// Holders: one serves a lot of one, and nothing of it is used up or wasted.
    pub const HOLDERS: Self = Self { fresh_edge: 1, change: 0, used_up: false };
}

/// What one need asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lot {
    /// Its days.
    pub window: Window,
    /// Pieces to make, above zero.
    pub pieces: i64,
}

/// What an item has left, in pieces.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Left {
    /// On its edge, zero or more.
    pub edge: i64,
    /// Fresh edges that grinding gives, zero or more.
    pub grinds: i64,
}

impl Left {
    /// All that it can make.
    #[must_use]
    pub const fn life(self, kind: Kind) -> i64 {
        self.edge.saturating_add(self.grinds.saturating_mul(kind.fresh_edge))
    }
}

/// Where an item stands, seen from a lot's machine: what is nearest comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Nearness {
    /// In the open setup of this machine.
    InItsMachine,
    /// At its place in the shop.
    AtHand,
    /// With somebody, at a machine, or outside the shop.
    Out,
    /// In the open setup of another machine.
    InOtherMachine,
}

/// An item that may be given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Supply {
    /// What it has left before the first lot.
    pub left: Left,
    /// For each lot, whether it serves there.
    pub serves: Vec<bool>,
    /// For each lot, where it stands.
    pub nearness: Vec<Nearness>,
}

/// An item's part in a lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Share {
    /// Its place among the supplies.
    pub supply: usize,
    /// What it could make when the lot began: what the lots before it left.
    pub able: i64,
    /// Of this, what was left on its edge.
    pub edge: i64,
    /// How often it is ground within the lot.
    pub ground: i64,
    /// Pieces it makes in the lot.
    pub pieces: i64,
}

/// Who is given what.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Matching {
    /// For each lot what it is made with, in the order of use; none where it goes without.
    pub given: Vec<Option<Vec<Share>>>,
    /// The waste of all lots together.
    pub waste: i64,
    /// Whether nothing better exists, proven.
    pub exact: bool,
    /// Steps of search that it took: at most those that it may take, and the last one's, and those to a first answer.
    pub steps: u64,
}

impl Kind {
    /// What it wastes to make a lot with supplies whose edges have `edges` pieces left together, `count` of them; the
    /// rest comes from fresh edges.
    #[must_use]
    pub const fn waste(self, pieces: i64, edges: i64, count: i64) -> i64 {
        let ground = self.ground(pieces - edges);
        edges + ground * self.fresh_edge - pieces + self.change * (count - 1 + ground)
    }

    /// What a lot wastes that is made so. What stands by unused wastes nothing.
    pub fn wasted<'s>(self, shares: impl Iterator<Item = &'s Share>) -> i64 {
        let used = shares.filter(|share| share.pieces > 0);
        let (waste, edges) = used.fold((0, 0), |(waste, edges), share| {
            (waste + share.edge + share.ground * self.fresh_edge - share.pieces, edges + 1 + share.ground)
        });
        waste + self.change * (edges - 1).max(0)
    }

    /// Grinds that so many pieces beyond the edges take.
    const fn ground(self, rest: i64) -> i64 {
        if rest > 0 { (rest + self.fresh_edge - 1) / self.fresh_edge } else { 0 }
    }
}

/// Makes a lot, or as much of it as can be, with these supplies: the shortest edges first, then whole edges from
/// grinding, of whatever has the most grinds left. What they have left is less by it, where lots use up.
pub fn make(kind: Kind, pieces: i64, supplies: &[usize], left: &mut [Left]) -> Vec<Share> {
    let mut order = supplies.to_vec();
    order.sort_by_key(|supply| (left[*supply].edge, *supply));
    let mut rest = pieces;
    let mut shares: Vec<Share> = Vec::with_capacity(order.len());
    for supply in order {
        let (able, edge) = (left[supply].life(kind), left[supply].edge);
        let made = edge.min(rest);
        shares.push(Share { supply, able, edge, ground: 0, pieces: made });
        if kind.used_up {
            left[supply].edge -= made;
        }
        rest -= made;
    }
    let mut grinding: Vec<usize> = (0..shares.len()).filter(|at| left[shares[*at].supply].grinds > 0).collect();
    grinding.sort_by_key(|at| (std::cmp::Reverse(left[shares[*at].supply].grinds), shares[*at].supply));
    for at in grinding {
        let one = &mut left[shares[at].supply];
        let ground = kind.ground(rest).min(one.grinds);
        if ground == 0 {
            break;
        }
        let made = rest.min(ground * kind.fresh_edge);
        *one = Left { edge: ground * kind.fresh_edge - made, grinds: one.grinds - ground };
        shares[at].pieces += made;
        shares[at].ground = ground;
        rest -= made;
    }
    shares
}

/// Gives supplies to lots. The lots come in the order of their first days, which is their order of priority; supplies in
/// the order in which they are preferred where nothing else tells, each with an answer for every lot.
#[must_use]
pub fn match_lots(kind: Kind, lots: &[Lot], supplies: &[Supply], effort: u64) -> Matching {
    let mut matching = Matching { given: Vec::with_capacity(lots.len()), waste: 0, exact: true, steps: 0 };
    let left = supplies.iter().map(|supply| supply.left).collect();
    let mut state = State { left, taken_until: vec![None; supplies.len()] };
    let mut from = 0;
    while from < lots.len() {
        let until = together(kind, lots, from);
        let mut search = Search::new(kind, lots, supplies, from..until, state, effort.saturating_sub(matching.steps));
        search.run();
        let found = search.into_found();
        // What goes without might be served if lots before this piece had been given something else.
        let apart = from > 0 && hangs_together(kind, lots, from);
        matching.exact &= found.exact && !(apart && found.goes_without);
        matching.waste += found.waste;
        matching.given.extend(found.given);
        matching.steps += found.steps;
        state = found.state;
        from = until;
    }
    matching
}

/// Where the lots that are searched at once from `from` on end.
fn together(kind: Kind, lots: &[Lot], from: usize) -> usize {
    let mut last = lots[from].window.last();
    let mut until = from + 1;
    while until < lots.len() && until - from < MOST_AT_ONCE && (kind.used_up || lots[until].window.first() <= last) {
        last = last.max(lots[until].window.last());
        until += 1;
    }
    until
}

/// Whether what the lot at this place can be given depends on what those before it were: what is used up is gone for
/// good, and else what a lot has is free after its days.
fn hangs_together(kind: Kind, lots: &[Lot], at: usize) -> bool {
    kind.used_up || lots[..at].iter().any(|lot| lot.window.last() >= lots[at].window.first())
}
