//! The best answer to a matching problem by trying all of them. Its words are those of the statement: an item is a row of
//! edges, a lot eats edges up.

use std::cmp::Reverse;

/// An item: pieces on its edge, whole edges that grinding gives, the lots that it serves, and how far it is from each.
#[derive(Clone, Debug)]
pub(crate) struct Item {
    pub(crate) edge: i64,
    pub(crate) grinds: i64,
    pub(crate) serves: Vec<bool>,
    /// From nearest to furthest: in the lot's machine, at its place, out, in another machine.
    pub(crate) distance: Vec<usize>,
}

/// A lot: first day, last day, pieces.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wish {
    pub(crate) days: (u64, u64),
    pub(crate) pieces: i64,
}

/// What all share: pieces of a fresh edge, what a change wastes, whether lots use edges up.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Terms {
    pub(crate) fresh: i64,
    pub(crate) change: i64,
    pub(crate) used_up: bool,
}

/// For each lot the set it is given.
pub(crate) type Answer = Vec<Option<Vec<usize>>>;

/// What is preferred in a lot that is served: waste, lots that its items could serve, how many of these are furthest off,
/// then less far, their order.
type Preference = (i64, usize, [usize; 3], Vec<usize>);

/// Who is served, the first lots first; then what each that is served is given.
type Worth = (Vec<bool>, Reverse<Vec<Preference>>);

pub(crate) struct Best {
    pub(crate) answer: Answer,
    pub(crate) waste: i64,
    /// What each item has left in the end: pieces on its edge, grinds.
    pub(crate) left: Vec<(i64, i64)>,
    worth: Worth,
}

/// The best of all answers. Lots come in their order.
pub(crate) fn best(terms: Terms, wishes: &[Wish], items: &[Item]) -> Best {
    let mut best = None;
    let left = items.iter().map(|item| (item.edge, item.grinds)).collect();
    try_all(terms, wishes, items, &mut Vec::new(), &mut Vec::new(), left, &mut best);
    best.expect("to give nothing is an answer")
}

fn try_all(
    terms: Terms,
    wishes: &[Wish],
    items: &[Item],
    answer: &mut Answer,
    preferences: &mut Vec<Preference>,
    left: Vec<(i64, i64)>,
    best: &mut Option<Best>,
) {
    let at = answer.len();
    if at == wishes.len() {
        let worth = (answer.iter().map(Option::is_some).collect(), Reverse(preferences.clone()));
        if best.as_ref().is_none_or(|best| worth > best.worth) {
            let waste = preferences.iter().map(|(waste, ..)| waste).sum();
            *best = Some(Best { answer: answer.clone(), waste, left, worth });
        }
        return;
    }
    for set in 1_u32..1 << items.len() {
        let set: Vec<usize> = (0..items.len()).filter(|item| set >> item & 1 == 1).collect();
        if set.iter().any(|item| !items[*item].serves[at] || is_taken(wishes, answer, at, *item)) {
            continue;
        }
        let mut after = left.clone();
        let Some(waste) = eat(terms, wishes[at].pieces, &set, &mut after) else { continue };
        let breadth = set.iter().map(|item| items[*item].serves.iter().filter(|serves| **serves).count()).sum();
        let far = [3, 2, 1].map(|far| set.iter().filter(|item| items[**item].distance[at] == far).count());
        preferences.push((waste, breadth, far, set.clone()));
        answer.push(Some(set));
        let after = if terms.used_up { after } else { left.clone() };
        try_all(terms, wishes, items, answer, preferences, after, best);
        let _ = (answer.pop(), preferences.pop());
    }
    answer.push(None);
    try_all(terms, wishes, items, answer, preferences, left, best);
    let _ = answer.pop();
}

fn is_taken(wishes: &[Wish], answer: &Answer, at: usize, item: usize) -> bool {
    let shares_a_day = |other: usize| {
        let (one, other) = (wishes[at].days, wishes[other].days);
        (one.0..=one.1).any(|day| (other.0..=other.1).contains(&day))
    };
    answer
        .iter()
        .enumerate()
        .any(|(other, set)| set.as_ref().is_some_and(|set| set.contains(&item)) && shares_a_day(other))
}

/// Makes a lot, edge by edge, and says what that wastes; none when the set does not make it, or when the edges of the
/// others would have made it without one of them.
fn eat(terms: Terms, pieces: i64, set: &[usize], left: &mut [(i64, i64)]) -> Option<i64> {
    let on_edges: i64 = set.iter().map(|item| left[*item].0).sum();
    if set.iter().any(|item| on_edges - left[*item].0 >= pieces) {
        return None;
    }
    // The edges that are there, the shortest first; then those from grinding, all of whatever has the most first.
    let mut there = set.to_vec();
    there.sort_by_key(|item| (left[*item].0, *item));
    let mut from_grinding = set.to_vec();
    from_grinding.sort_by_key(|item| (Reverse(left[*item].1), *item));
    let mut to_make = pieces;
    let mut over = 0;
    for item in there {
        let eaten = left[item].0.min(to_make);
        to_make -= eaten;
        left[item].0 -= eaten;
        over += left[item].0;
    }
    let mut changes = set.len() - 1;
    for item in from_grinding {
        while to_make > 0 && left[item].1 > 0 {
            let eaten = terms.fresh.min(to_make);
            left[item] = (terms.fresh - eaten, left[item].1 - 1);
            to_make -= eaten;
            over += terms.fresh - eaten;
            changes += 1;
        }
    }
    (to_make == 0).then(|| over + terms.change * i64::try_from(changes).unwrap())
}
