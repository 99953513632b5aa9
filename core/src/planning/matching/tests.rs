//! What the matching promises in single cases, and its bounds. Against every possible answer it is held in
//! `core/tests/planning`.

use super::{
    EFFORT, Kind, Left, Lot, Matching, Nearness, Share, Supply,
    covers::{Covers, Free, Wanted, covers},
    make, match_lots,
};
use crate::planning::window::Window;
use chrono::{Days, NaiveDate};
use std::collections::BTreeSet;

fn day(number: u64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2027, 1, 1).unwrap() + Days::new(number)
}

fn lot(first: u64, length: u64, pieces: i64) -> Lot {
    Lot { window: Window::new(day(first), day(first + length)).unwrap(), pieces }
}

fn supply(edge: i64, serves: &[bool]) -> Supply {
    let nearness = vec![Nearness::AtHand; serves.len()];
    Supply { left: Left { edge, grinds: 0 }, serves: serves.to_vec(), nearness }
}

const KIND: Kind = Kind { fresh_edge: 100, change: 10, used_up: true };

/// Edges that serve every lot.
fn matched(kind: Kind, lots: &[Lot], edges: impl IntoIterator<Item = i64>) -> Matching {
    let serves = vec![true; lots.len()];
    let supplies: Vec<Supply> = edges.into_iter().map(|edge| supply(edge, &serves)).collect();
    match_lots(kind, lots, &supplies, EFFORT)
}

fn sets(matching: &Matching) -> Vec<Option<Vec<usize>>> {
    let set = |shares: &Vec<Share>| {
        let mut set: Vec<usize> = shares.iter().map(|share| share.supply).collect();
        set.sort_unstable();
        set
    };
    matching.given.iter().map(|given| given.as_ref().map(set)).collect()
}

fn given(lots: &[Lot], edges: &[i64]) -> Vec<Option<Vec<usize>>> {
    let matching = matched(KIND, lots, edges.iter().copied());
    assert!(matching.exact);
    sets(&matching)
}

#[test]
fn a_worn_edge_that_suffices_goes_before_a_fresh_one() {
    assert_eq!(given(&[lot(0, 0, 30)], &[100, 35, 31, 20]), [Some(vec![2])]);
    // Twelve more are wasted than with the two, but the station is set once.
    assert_eq!(given(&[lot(0, 0, 30)], &[36, 15, 16]), [Some(vec![0])]);
    // No fresh edge is broken for a short lot where two nearly spent ones make it.
    assert_eq!(given(&[lot(0, 0, 30)], &[100, 16, 15]), [Some(vec![1, 2])]);
}

#[test]
fn an_earlier_job_never_goes_without_for_later_ones() {
    let lots = [lot(0, 5, 150), lot(1, 0, 80), lot(3, 0, 80)];
    assert_eq!(given(&lots, &[80, 80]), [Some(vec![0, 1]), None, None]);
    assert_eq!(given(&lots, &[80, 80, 80]), [Some(vec![0, 1]), Some(vec![2]), None]);
    assert_eq!(given(&lots, &[80, 80, 80, 80]), [Some(vec![0, 1]), Some(vec![2]), Some(vec![3])]);
}

#[test]
fn nothing_serves_two_lots_on_one_day() {
    assert_eq!(given(&[lot(0, 2, 10), lot(2, 2, 10)], &[50]), [Some(vec![0]), None]);
    assert_eq!(given(&[lot(0, 2, 10), lot(3, 2, 10)], &[50]), [Some(vec![0]), Some(vec![0])]);
}

#[test]
fn what_one_lot_uses_up_is_gone_for_the_next() {
    let matching = matched(KIND, &[lot(0, 0, 30), lot(7, 0, 20), lot(14, 0, 1)], [50]);
    let shares: Vec<_> = matching.given.iter().flatten().flatten().map(|share| (share.able, share.pieces)).collect();
    assert_eq!(shares, [(50, 30), (20, 20)]);
    assert_eq!(sets(&matching), [Some(vec![0]), Some(vec![0]), None]);
    // A holder is not used up.
    assert_eq!(sets(&matched(Kind::HOLDERS, &[lot(0, 0, 1), lot(7, 0, 1)], [1])), [Some(vec![0]), Some(vec![0])]);
}

#[test]
fn a_tighter_edge_is_left_to_a_later_lot_that_has_no_other() {
    let lots = [lot(0, 0, 30), lot(7, 0, 30)];
    let supplies = [supply(35, &[true, true]), supply(60, &[true, false])];
    let found = match_lots(KIND, &lots, &supplies, EFFORT);
    assert_eq!((sets(&found), found.waste, found.exact), (vec![Some(vec![1]), Some(vec![0])], 35, true));
}

#[test]
fn what_stands_nearest_goes_first_where_nothing_else_tells() {
    use Nearness::{AtHand, InItsMachine, InOtherMachine, Out};
    let lots = [lot(0, 0, 20)];
    let set = |edges: [i64; 4], nearness: [Nearness; 4]| {
        let supplies = edges
            .into_iter()
            .zip(nearness)
            .map(|(edge, near)| Supply { nearness: vec![near], ..supply(edge, &[true]) });
        let found = match_lots(KIND, &lots, &supplies.collect::<Vec<_>>(), EFFORT);
        assert!(found.exact);
        sets(&found).remove(0).unwrap()
    };
    assert_eq!(set([20; 4], [InOtherMachine, Out, AtHand, AtHand]), [2]);
    assert_eq!(set([20; 4], [InOtherMachine, Out, AtHand, InItsMachine]), [3]);
    assert_eq!(set([20; 4], [InOtherMachine, InOtherMachine, Out, InOtherMachine]), [2]);
    // Of two that are wanted, neither is fetched from another machine while both lie there.
    assert_eq!(set([10; 4], [InOtherMachine, AtHand, Out, AtHand]), [1, 3]);
    // One piece less is wasted.
    assert_eq!(set([20, 21, 21, 21], [InOtherMachine, AtHand, AtHand, AtHand]), [0]);
}

/// All edges are as long. The first two would do for the first lot, but it would leave its rest on the second, which does
/// not serve the next lot: the second and the last, which is of one kind with the first, leave that rest where it serves.
#[test]
fn supplies_that_take_turns_with_another_are_not_alike() {
    let lots = [lot(0, 0, 11), lot(1, 0, 21)];
    let supplies = [[true, true], [true, false], [false, true], [true, true]].map(|serves| supply(10, &serves));
    let found = match_lots(Kind { fresh_edge: 10, change: 2, used_up: true }, &lots, &supplies, EFFORT);
    assert_eq!((sets(&found), found.exact), (vec![Some(vec![1, 3]), Some(vec![0, 2, 3])], true));
}

#[test]
fn shortest_edges_go_first_and_what_has_most_grinds_left_is_ground() {
    let mut left = [Left { edge: 40, grinds: 1 }, Left { edge: 0, grinds: 3 }, Left { edge: 10, grinds: 0 }];
    let shares = make(KIND, 280, &[0, 1, 2], &mut left);
    let parts: Vec<_> = shares.iter().map(|share| (share.supply, share.able, share.ground, share.pieces)).collect();
    assert_eq!(parts, [(1, 300, 3, 230), (2, 10, 0, 10), (0, 140, 0, 40)]);
    assert_eq!(left, [Left { edge: 0, grinds: 1 }, Left { edge: 70, grinds: 0 }, Left { edge: 0, grinds: 0 }]);
    // 40 + 0 + 10 on edges and three of 100, less 280; three tools and three grinds are five changes.
    assert_eq!(KIND.wasted(shares.iter()), 70 + 50);
    assert_eq!(KIND.wasted(shares.iter()), KIND.waste(280, 50, 3));
}

/// A shop's size: forty tools of one design in all states, thirty lots of which many overlap.
#[test]
fn a_shops_size_is_solved_exactly() {
    let lots: Vec<Lot> =
        (0..30).map(|number| lot(number * 2 / 3, 2, 400 + 370 * (i64::try_from(number).unwrap() % 5))).collect();
    let edges = (0..40).map(|number| if number % 3 == 0 { 137 * number % 1900 + 100 } else { 2000 });
    let found = matched(Kind::tools(2000), &lots, edges);
    assert!(found.given.iter().all(Option::is_some));
    assert!(found.exact);
}

/// One lot begins each day, and each takes three days.
fn a_lot_a_day() -> Vec<Lot> {
    (0..20).map(|number| lot(number, 2, 400 + 370 * (i64::try_from(number).unwrap() % 5))).collect()
}

/// With too few tools who goes without is proven too: by what is left in all, and by a search where that might do.
#[test]
fn a_shortage_of_a_shops_size_is_solved_exactly() {
    for edges in [vec![2000; 5], vec![2000, 2000, 1300, 700, 1900, 300, 1100, 2000]] {
        let found = matched(Kind::tools(2000), &a_lot_a_day(), edges);
        assert!(found.given.iter().any(Option::is_none));
        assert!(found.exact, "{found:?}");
    }
}

/// The first ten lots take just what all tools have: that the tenth cannot be made is shown only by trying how the nine
/// before it might leave no rest anywhere. That takes more than a plan may spend, which it says; the answer is the same.
#[test]
fn a_shortage_without_a_piece_to_spare_is_not_called_proven_before_it_is() {
    let (kind, lots) = (Kind::tools(2000), a_lot_a_day());
    let edges = [2000, 2000, 1300, 700, 2000, 300, 1100, 2000];
    assert_eq!(edges.iter().sum::<i64>(), lots[..10].iter().map(|lot| lot.pieces).sum::<i64>());
    let supplies = edges.map(|edge| supply(edge, &[true; 20]));
    let (found, proven) = (match_lots(kind, &lots, &supplies, EFFORT), match_lots(kind, &lots, &supplies, 5 * EFFORT));
    assert_eq!((found.exact, proven.exact), (false, true));
    assert_eq!(found.given, proven.given);
    assert!(proven.given[9].is_none());
}

/// Hundreds of needs for a few holders that are alike: served as their number allows, and proven.
#[test]
fn holders_short_for_hundreds_of_jobs_are_given_in_order() {
    let lots: Vec<Lot> = (0..600).map(|number| lot(number / 5, 1, 1)).collect();
    let found = matched(Kind::HOLDERS, &lots, [1; 6]);
    for number in 0..120 {
        let taken = found
            .given
            .iter()
            .zip(&lots)
            .filter(|(given, lot)| given.is_some() && lot.window.overlaps(Window::day(day(number))));
        assert!(taken.count() <= 6);
    }
    assert!(found.given.iter().take(5).all(Option::is_some));
    assert_eq!(found.given.iter().filter(|given| given.is_some()).count(), 360);
}

#[test]
fn work_is_bounded_and_its_end_is_told() {
    let lots: Vec<Lot> = (0..24).map(|number| lot(0, 3, 611 + 13 * number)).collect();
    let serves = vec![true; lots.len()];
    let supplies: Vec<Supply> = (0..60).map(|number| supply(97 * number % 991 + 5, &serves)).collect();
    let found = match_lots(Kind::tools(1000), &lots, &supplies, 500);
    assert!(!found.exact);
    assert!(found.given[0].is_some(), "an answer all the same");
    // To a first answer each supply is looked at a few times for each lot.
    assert!(found.steps <= 500 + 4 * 24 * 60, "{}", found.steps);
    assert_eq!(found, match_lots(Kind::tools(1000), &lots, &supplies, 500));
}

/// Edges of multiples of 50 between 3,500 and 5,000, for a lot that takes nine at least: too many sets to try.
fn crowded() -> Vec<i64> {
    (0..40).map(|number| 3500 + 50 * (number * 7 % 31)).collect()
}

/// The least that one lot wastes, by every sum that so many edges can have.
fn least_waste(kind: Kind, pieces: i64, edges: &[i64]) -> i64 {
    let mut sums: Vec<BTreeSet<i64>> = vec![BTreeSet::new(); edges.len() + 1];
    sums[0].insert(0);
    for edge in edges {
        for count in (0..edges.len()).rev() {
            let more: Vec<i64> = sums[count].iter().map(|sum| sum + edge).collect();
            sums[count + 1].extend(more);
        }
    }
    let enough = sums.iter().enumerate().flat_map(|(count, sums)| {
        let count = i64::try_from(count).unwrap();
        sums.range(pieces..).next().map(|sum| sum - pieces + kind.change * (count - 1))
    });
    enough.min().unwrap()
}

#[test]
fn one_lot_of_too_many_sets_stays_within_its_bound_and_says_so() {
    let (kind, pieces, edges) = (Kind::tools(5000), 41_375, crowded());
    let free: Vec<Free> = edges
        .iter()
        .enumerate()
        .map(|(supply, edge)| {
            let left = Left { edge: *edge, grinds: 0 };
            Free { supply, left, breadth: 1, nearness: Nearness::AtHand, class: 0 }
        })
        .collect();
    let least = least_waste(kind, pieces, &edges);
    assert!(least < 5000);
    for wanted in [Wanted::First, Wanted::All] {
        for limit in [2_000, 1] {
            let Covers { found, complete, steps } = covers(kind, pieces, free.clone(), wanted, limit);
            assert!(steps <= limit.max(40), "{steps} steps");
            assert!(!complete || found[0].waste == least, "{} is not the least: {least}", found[0].waste);
            assert!(!found.is_empty(), "an answer all the same");
        }
    }
    let found = matched(kind, &[lot(0, 3, pieces)], edges);
    assert!(found.waste >= least && (!found.exact || found.waste == least));
    assert!(found.steps <= 2_000 + 40, "{}", found.steps);
}
