//! The search against every possible answer, on cases small enough to try them all.

use super::{EFFORT, Kind, Lot, Matching, Supply, match_lots};
use crate::planning::window::Window;
use chrono::{Days, NaiveDate};
use proptest::{collection::vec, prelude::*};

fn day(number: u64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2027, 1, 1).unwrap() + Days::new(number)
}

fn lot(first: u64, length: u64, pieces: i64) -> Lot {
    Lot { window: Window::new(day(first), day(first + length)).unwrap(), pieces }
}

fn supply(edge: i64, grinds: i64, serves: &[bool]) -> Supply {
    Supply { edge, grinds, serves: serves.to_vec() }
}

/// The objective as it is stated, in its own words: who is served, the first first, then less waste.
type Worth = (Vec<bool>, std::cmp::Reverse<i64>);

/// What a set makes and wastes, counted out edge by edge; none when it does not make the lot.
fn counted(kind: Kind, pieces: i64, set: &[&Supply]) -> Option<i64> {
    let mut left = pieces;
    let mut waste = -kind.change;
    for supply in set {
        waste += kind.change;
        left -= supply.edge;
    }
    for _ in 0..set.iter().map(|supply| supply.grinds).sum::<i64>() {
        if left > 0 {
            left -= kind.fresh_edge;
            waste += kind.change;
        }
    }
    (left <= 0 && !set.is_empty()).then_some(waste - left)
}

/// What an answer is worth; none when it gives what it may not.
fn worth(kind: Kind, lots: &[Lot], supplies: &[Supply], given: &[Option<Vec<usize>>]) -> Option<Worth> {
    let mut total = 0;
    for (index, set) in given.iter().enumerate() {
        let Some(set) = set else { continue };
        for one in set {
            let elsewhere = (0..index).any(|other| {
                given[other].as_ref().is_some_and(|other| other.contains(one))
                    && lots[other].window.overlaps(lots[index].window)
            });
            if elsewhere || !supplies[*one].serves[index] {
                return None;
            }
        }
        let members: Vec<&Supply> = set.iter().map(|one| &supplies[*one]).collect();
        total += counted(kind, lots[index].pieces, &members)?;
    }
    Some((given.iter().map(Option::is_some).collect(), std::cmp::Reverse(total)))
}

/// The best of every answer there is.
fn best_of_all(
    kind: Kind,
    lots: &[Lot],
    supplies: &[Supply],
    given: &mut Vec<Option<Vec<usize>>>,
    best: &mut Option<Worth>,
) {
    // What is not allowed so far does not become so.
    let Some(so_far) = worth(kind, lots, supplies, given) else { return };
    if given.len() == lots.len() {
        if best.as_ref().is_none_or(|best| so_far > *best) {
            *best = Some(so_far);
        }
        return;
    }
    for set in 0_u32..1 << supplies.len() {
        let members: Vec<usize> = (0..supplies.len()).filter(|one| set >> one & 1 == 1).collect();
        given.push((set > 0).then_some(members));
        best_of_all(kind, lots, supplies, given, best);
        given.pop();
    }
}

fn is_the_best(kind: Kind, lots: &[Lot], supplies: &[Supply]) -> Result<Matching, TestCaseError> {
    let found = match_lots(kind, lots, supplies, EFFORT);
    let mut best = None;
    best_of_all(kind, lots, supplies, &mut Vec::new(), &mut best);
    let worth = worth(kind, lots, supplies, &found.given);
    prop_assert!(found.exact, "given up: {lots:?} {supplies:?}");
    prop_assert_eq!(&worth, &best, "{:?} for {:?} {:?}", found, lots, supplies);
    prop_assert_eq!(worth.map(|(_, waste)| waste.0), Some(found.waste));
    Ok(found)
}

fn lots(most: usize) -> impl Strategy<Value = Vec<Lot>> {
    vec((0..6_u64, 0..4_u64, 1..25_i64), 1..=most).prop_map(|rows| {
        let mut lots: Vec<Lot> = rows.into_iter().map(|(first, length, pieces)| lot(first, length, pieces)).collect();
        lots.sort_by_key(|lot| lot.window.first());
        lots
    })
}

fn supplies(most: usize, grinds: i64) -> impl Strategy<Value = Vec<Supply>> {
    let served = vec(prop::bool::weighted(0.8), 4);
    vec((prop_oneof![Just(10_i64), 0..11_i64], 0..=grinds, served), 0..=most)
        .prop_map(|rows| rows.into_iter().map(|(edge, grinds, serves)| supply(edge, grinds, &serves)).collect())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn tools_are_given_as_well_as_can_be(lots in lots(4), supplies in supplies(4, 0)) {
        is_the_best(Kind { fresh_edge: 10, change: 1 }, &lots, &supplies)?;
    }

    #[test]
    fn many_tools_for_two_lots(lots in lots(2), supplies in supplies(7, 0)) {
        is_the_best(Kind { fresh_edge: 10, change: 2 }, &lots, &supplies)?;
    }

    #[test]
    fn grinding_within_the_lot_is_counted(lots in lots(3), supplies in supplies(4, 2)) {
        is_the_best(Kind { fresh_edge: 10, change: 3 }, &lots, &supplies)?;
    }

    #[test]
    fn holders_are_given_as_well_as_can_be(lots in lots(4), serves in vec(vec(prop::bool::weighted(0.7), 4), 0..=3)) {
        let lots: Vec<Lot> = lots.into_iter().map(|lot| Lot { pieces: 1, ..lot }).collect();
        let supplies: Vec<Supply> = serves.iter().map(|serves| supply(1, 0, serves)).collect();
        is_the_best(Kind::HOLDERS, &lots, &supplies)?;
    }
}

const KIND: Kind = Kind { fresh_edge: 100, change: 10 };

fn given(lots: &[Lot], edges: &[i64]) -> Vec<Option<Vec<usize>>> {
    let serves = vec![true; lots.len()];
    let supplies: Vec<Supply> = edges.iter().map(|edge| supply(*edge, 0, &serves)).collect();
    match_lots(KIND, lots, &supplies, EFFORT).given
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
    // With a third it is the later lots' turn too, one after the other.
    assert_eq!(given(&lots, &[80, 80, 80]), [Some(vec![0, 1]), Some(vec![2]), Some(vec![2])]);
}

#[test]
fn nothing_serves_two_lots_on_one_day() {
    assert_eq!(given(&[lot(0, 2, 10), lot(2, 2, 10)], &[50]), [Some(vec![0]), None]);
    assert_eq!(given(&[lot(0, 2, 10), lot(3, 2, 10)], &[50]), [Some(vec![0]), Some(vec![0])]);
}

/// A shop's size: forty tools of one design in all states, thirty lots of which many overlap.
#[test]
fn a_shops_size_is_solved_exactly() {
    let lots: Vec<Lot> =
        (0..30).map(|number| lot(number * 2 / 3, 2, 400 + 370 * (i64::try_from(number).unwrap() % 5))).collect();
    let serves = vec![true; lots.len()];
    let supplies: Vec<Supply> = (0..40)
        .map(|number| supply(if number % 3 == 0 { 137 * number % 1900 + 100 } else { 2000 }, 0, &serves))
        .collect();
    let found = match_lots(Kind::tools(2000), &lots, &supplies, EFFORT);
    assert!(found.given.iter().all(Option::is_some));
    assert!(found.exact);
}

/// Hundreds of needs for a few holders that are alike: served as their number allows, and proven.
#[test]
fn holders_short_for_hundreds_of_jobs_are_given_in_order() {
    let lots: Vec<Lot> = (0..600).map(|number| lot(number / 5, 1, 1)).collect();
    let serves = vec![true; lots.len()];
    let supplies: Vec<Supply> = (0..6).map(|_| supply(1, 0, &serves)).collect();
    let found = match_lots(Kind::HOLDERS, &lots, &supplies, EFFORT);
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
    let supplies: Vec<Supply> = (0..60).map(|number| supply(97 * number % 991 + 5, 0, &serves)).collect();
    let found = match_lots(Kind::tools(1000), &lots, &supplies, 500);
    assert!(!found.exact);
    assert!(worth(Kind::tools(1000), &lots, &supplies, &found.given).is_some(), "an answer all the same");
    assert_eq!(found, match_lots(Kind::tools(1000), &lots, &supplies, 500));
}
