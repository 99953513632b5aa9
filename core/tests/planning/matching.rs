//! The matching of one design or style.

use crate::every_answer::{Answer, Item, Terms, Wish, best};
use chrono::{Days, NaiveDate};
use dovetally_core::planning::{
    matching::{EFFORT, Kind, Left, Lot, Matching, Nearness, Supply, match_lots},
    window::Window,
};
use proptest::{collection::vec, prelude::*};

fn day(number: u64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2027, 1, 1).unwrap() + Days::new(number)
}

const NEAREST_FIRST: [Nearness; 4] =
    [Nearness::InItsMachine, Nearness::AtHand, Nearness::Out, Nearness::InOtherMachine];

fn solve(terms: Terms, wishes: &[Wish], items: &[Item], effort: u64) -> Matching {
    let Terms { fresh, change, used_up } = terms;
    let window = |(first, last)| Window::new(day(first), day(last)).unwrap();
    let lots: Vec<Lot> = wishes.iter().map(|wish| Lot { window: window(wish.days), pieces: wish.pieces }).collect();
    let supply = |item: &Item| Supply {
        left: Left { edge: item.edge, grinds: item.grinds },
        serves: item.serves[..lots.len()].to_vec(),
        nearness: item.distance[..lots.len()].iter().map(|distance| NEAREST_FIRST[*distance]).collect(),
    };
    let supplies: Vec<Supply> = items.iter().map(supply).collect();
    match_lots(Kind { fresh_edge: fresh, change, used_up }, &lots, &supplies, effort)
}

fn sets(matching: &Matching) -> Answer {
    let set = |shares: &Vec<dovetally_core::planning::matching::Share>| {
        let mut set: Vec<usize> = shares.iter().map(|share| share.supply).collect();
        set.sort_unstable();
        set
    };
    matching.given.iter().map(|given| given.as_ref().map(set)).collect()
}

fn is_the_best(terms: Terms, wishes: &[Wish], items: &[Item]) -> Result<(), TestCaseError> {
    let items: Vec<Item> =
        items.iter().map(|item| Item { serves: item.serves[..wishes.len()].to_vec(), ..item.clone() }).collect();
    let (found, best) = (solve(terms, wishes, &items, EFFORT), best(terms, wishes, &items));
    prop_assert!(found.exact, "given up: {wishes:?} {items:?}");
    prop_assert_eq!(sets(&found), best.answer, "{:?} {:?}", wishes, items);
    prop_assert_eq!(found.waste, best.waste);
    for (number, item) in items.iter().enumerate() {
        let made: i64 = found.given.iter().flatten().flatten().filter(|s| s.supply == number).map(|s| s.pieces).sum();
        let left = best.left[number].0 + best.left[number].1 * terms.fresh;
        prop_assert!(!terms.used_up || made == item.edge + item.grinds * terms.fresh - left);
    }
    for (wish, given) in wishes.iter().zip(&found.given) {
        let made = given.iter().flatten().map(|share| share.pieces).sum::<i64>();
        prop_assert!(given.is_none() || made == wish.pieces);
    }
    Ok(())
}

fn wishes(most: usize, longest: u64, pieces: i64) -> impl Strategy<Value = Vec<Wish>> {
    vec((0..7_u64, 0..longest, 1..pieces), 1..=most).prop_map(|rows| {
        let mut wishes: Vec<Wish> =
            rows.into_iter().map(|(first, length, pieces)| Wish { days: (first, first + length), pieces }).collect();
        wishes.sort_by_key(|wish| wish.days.0);
        wishes
    })
}

fn items(most: usize, grinds: i64) -> impl Strategy<Value = Vec<Item>> {
    let serves = vec(prop::bool::weighted(0.8), 5);
    vec((prop_oneof![Just(10_i64), 0..11_i64], 0..=grinds, serves, distance()), 0..=most).prop_map(|rows| {
        let item = |(edge, grinds, serves, distance)| Item { edge, grinds, serves, distance };
        rows.into_iter().map(item).collect()
    })
}

/// Mostly as near to every lot, which is where it has to tell; or nearer to some.
fn distance() -> impl Strategy<Value = Vec<usize>> {
    prop_oneof![(1..4_usize).prop_map(|everywhere| vec![everywhere; 5]), vec(0..4_usize, 5)]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    #[test]
    fn one_day_jobs_one_after_the_other_share_what_is_left(wishes in wishes(5, 1, 12), items in items(3, 0)) {
        is_the_best(Terms { fresh: 10, change: 1, used_up: true }, &wishes, &items)?;
    }

    #[test]
    fn tools_are_given_as_well_as_can_be(wishes in wishes(4, 4, 20), items in items(3, 0)) {
        is_the_best(Terms { fresh: 10, change: 1, used_up: true }, &wishes, &items)?;
    }

    #[test]
    fn many_tools_for_a_few_lots(wishes in wishes(3, 4, 25), items in items(5, 0)) {
        is_the_best(Terms { fresh: 10, change: 2, used_up: true }, &wishes, &items)?;
    }

    #[test]
    fn grinds_are_shared_like_edges(wishes in wishes(4, 3, 25), items in items(3, 2)) {
        is_the_best(Terms { fresh: 10, change: 3, used_up: true }, &wishes, &items)?;
    }

    #[test]
    fn holders_are_given_as_well_as_can_be(
        wishes in wishes(5, 4, 2), serves in vec((vec(prop::bool::weighted(0.7), 5), distance()), 0..=3)
    ) {
        let item = |(serves, distance)| Item { edge: 1, grinds: 0, serves, distance };
        let items: Vec<Item> = serves.into_iter().map(item).collect();
        is_the_best(Terms { fresh: 1, change: 0, used_up: false }, &wishes, &items)?;
    }

    /// Cut short it may be wrong, but never says that it is right when it is not, and never gives what is not there.
    #[test]
    fn what_is_called_exact_is(wishes in wishes(4, 4, 20), items in items(4, 1), effort in 0..60_u64) {
        let terms = Terms { fresh: 10, change: 1, used_up: true };
        let items: Vec<Item> = items.into_iter()
            .map(|item| Item { serves: item.serves[..wishes.len()].to_vec(), ..item }).collect();
        let found = solve(terms, &wishes, &items, effort);
        if found.exact {
            prop_assert_eq!(sets(&found), best(terms, &wishes, &items).answer);
        }
        for (number, item) in items.iter().enumerate() {
            let shares: Vec<_> = found.given.iter().zip(&wishes)
                .flat_map(|(given, wish)| given.iter().flatten().map(move |share| (share, wish)))
                .filter(|(share, _)| share.supply == number).collect();
            let made: i64 = shares.iter().map(|(share, _)| share.pieces).sum();
            prop_assert!(made <= item.edge + item.grinds * terms.fresh);
            for (at, (_, one)) in shares.iter().enumerate() {
                prop_assert!(shares[at + 1..].iter().all(|(_, other)| one.days.1 < other.days.0));
            }
        }
    }
}
