use super::*;
use crate::life::edge::EdgeLives;
use proptest::prelude::*;

fn lives(failures: &[i64], suspensions: &[i64]) -> EdgeLives {
    let mut lives = EdgeLives::default();
    failures.iter().for_each(|pieces| lives.add(*pieces, true));
    suspensions.iter().for_each(|pieces| lives.add(*pieces, false));
    lives
}

const FAILURES: [i64; 8] = [3100, 4200, 4700, 5200, 5400, 6100, 7400, 8000];

fn known(shape: f64, scale: f64) -> Learned {
    Learned { shape, scale, corrected_shape: shape, spread: [0.0; 3] }
}

fn left(in_use: &[i64], fresh: u64) -> EdgesLeft {
    EdgesLeft { in_use: in_use.to_vec(), fresh }
}

#[test]
fn too_few_worn_edges_leave_the_expected_figure_without_an_interval() {
    let experience = Experience::of(&lives(&FAILURES[..4], &[100]), 5000);
    let pieces = experience.pieces_left(&left(&[1200, 6000], 3));
    assert_eq!((pieces.expected, pieces.interval, pieces.cautious()), (18_800.0, None, 18_800.0));
    let words = experience.words();
    assert!(words.contains("expected 5000") && words.contains("4 worn edges and 1 that"), "{words}");
    assert_eq!(experience.pieces_of_an_edge(), 5000.0);
    let alike = Experience::of(&lives(&[7; 9], &[]), 5000);
    assert!(alike.words().contains("ended alike"), "{}", alike.words());
    let learned = Experience::of(&lives(&FAILURES, &[]), 5000);
    assert!(learned.words().starts_with("Learned from"), "{}", learned.words());
}

/// An exponential life forgets: whatever an edge has made, it has its mean left, and `−η ln 0.95` to `−η ln 0.05` (derived).
#[test]
fn an_edge_that_does_not_wear_forgets_what_it_made() {
    for made in [0, 1, 700, 20_000] {
        let pieces = predict(&known(1.0, 1000.0), &left(&[made], 0));
        let (lower, upper) = pieces.interval.unwrap();
        assert!((pieces.expected - 1000.0).abs() < 1e-3, "{made}: {pieces:?}");
        assert!((lower / (-1000.0 * 0.95_f64.ln()) - 1.0).abs() < 1e-9, "{made}: {pieces:?}");
        assert!((upper / (-1000.0 * 0.05_f64.ln()) - 1.0).abs() < 1e-9, "{made}: {pieces:?}");
    }
}

/// Shape 2 after one scale: what is left has mean `η (e √π/2 erfc(1))`, 0.37894 η (the integral of exp(1 − t²) from 1 on, derived).
#[test]
fn what_wears_has_less_left_the_more_it_made() {
    let life = Life::of(2.0, 1000.0);
    let expected = 1000.0 * std::f64::consts::E * std::f64::consts::PI.sqrt() / 2.0 * libm::erfc(1.0);
    assert!((life.after(1000.0).mean / expected - 1.0).abs() < 1e-8, "{}", life.after(1000.0).mean);
    let mut last = life.fresh().mean;
    for made in [1e-5, 1.0, 10.0, 200.0, 900.0, 2500.0, 30_000.0] {
        let mean = life.after(made).mean;
        assert!(mean <= last && mean > 0.0, "{made}: {mean} after {last}");
        last = mean;
    }
    assert!((life.after(1e-3).mean / life.fresh().mean - 1.0).abs() < 1e-5);
}

/// Sums of random lives, drawn by a fixed generator, beside the distribution of their moments.
#[test]
fn sums_are_as_random_sums() {
    let learned = known(2.2, 5000.0);
    let edges = left(&[2500], 5);
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let mut uniform = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        as_number(i64::try_from(state >> 11).unwrap()) / 9_007_199_254_740_992.0
    };
    let mut sums: Vec<f64> = (0..40_000)
        .map(|_| {
            let mut draw = |made: f64| {
                let hazard = (made / 5000.0_f64).powf(2.2) - (1.0 - uniform()).ln();
                5000.0 * hazard.powf(1.0 / 2.2) - made
            };
            draw(2500.0) + (0..5).map(|_| draw(0.0)).sum::<f64>()
        })
        .collect();
    sums.sort_by(f64::total_cmp);
    let found = predict(&learned, &edges);
    let (lower, upper) = found.interval.unwrap();
    let mean = sums.iter().sum::<f64>() / 40_000.0;
    let width = sums[38_000] - sums[2_000];
    assert!((found.expected / mean - 1.0).abs() < 0.005, "{} {mean}", found.expected);
    assert!((lower - sums[2_000]).abs() < 0.01 * width, "{lower} {}", sums[2_000]);
    assert!((upper - sums[38_000]).abs() < 0.01 * width, "{upper} {}", sums[38_000]);
}

/// Many edges of one unknown mean: the interval does not shrink to nothing, as it does where the mean is known.
#[test]
fn an_unknown_mean_widens_what_many_edges_have_left() {
    let Basis::Learned(learned) = Experience::of(&lives(&FAILURES, &[2000, 5000]), 1).basis else {
        panic!("not learned")
    };
    let width = |learned: &Learned, fresh: u64| {
        let found = predict(learned, &left(&[], fresh));
        let (lower, upper) = found.interval.unwrap();
        (upper - lower) / found.expected
    };
    assert!(width(&known(learned.shape, learned.scale), 400) < 0.08);
    assert!(width(&learned, 400) > 0.3);
    assert!(width(&learned, 4) > width(&learned, 400));
}

#[test]
fn nothing_left_is_nothing() {
    let found = predict(&known(2.0, 10.0), &EdgesLeft::default());
    assert_eq!((found.expected, found.interval), (0.0, Some((0.0, 0.0))));
}

proptest! {
    #[test]
    fn bounds_are_finite_ordered_and_grow_with_grinds(
        failures in prop::collection::vec(1..100_000_i64, 5..20), suspensions in prop::collection::vec(1..100_000_i64, 0..10),
        in_use in prop::collection::vec(0..200_000_i64, 0..4), fresh in 0..60_u64,
    ) {
        let experience = Experience::of(&lives(&failures, &suspensions), 1000);
        let edges = left(&in_use, fresh);
        let found = experience.pieces_left(&edges);
        prop_assert!(found.expected.is_finite() && found.expected >= 0.0);
        if let Some((lower, upper)) = found.interval {
            prop_assert!(lower.is_finite() && upper.is_finite() && 0.0 <= lower && lower <= upper, "{:?}", found);
            let more = experience.pieces_left(&left(&in_use, fresh + 5));
            prop_assert!(more.expected > found.expected);
        }
    }
}
