//! Pieces left on edges: those in use, with what each has made, and fresh ones that grinds will make; with a 90 % interval.
//!
//! # Method
//!
//! What an edge in use has left is conditional on its having lasted so far: with the cumulative hazard `H(t) = (t/η)^β`, it
//! lasts `x` more with probability `exp(H(t₀) − H(t₀ + x))`. For one edge alone that is its distribution. For more than one,
//! mean, variance and third moment are summed over all edges (independent, given β and η), and a shifted gamma distribution of those
//! (Pearson's third type) is taken for the sum, by the cube root of E. B. Wilson and M. M. Hilferty (1931, recalled); its
//! bounds differ from those of drawn sums by less than a hundredth of the interval's width.
//!
//! That β and η are estimates is taken in by averaging those distributions over them: three-point Gauss–Hermite quadrature in each
//! direction of their widened normal approximation (see [`super::learned`]). Leaving that out would make the interval of a tool
//! with many grinds left, whose edges all share the same unknown mean, far too narrow.
//!
//! The bounds are the 5 % and 95 % points of that distribution; the expected number is the mean at the estimates.

use super::{
    edge::{EdgeLives, as_number},
    learned::{ENOUGH_FAILURES, Learned, NotLearned, learn},
};
use crate::calc::{distributions::normal, root::rising};
use statrs::function::gamma::ln_gamma;

/// Edges that are still to be used up.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct EdgesLeft {
    /// Edges in use: the pieces that each has made, zero for one just ground.
    pub in_use: Vec<i64>,
    /// Fresh edges that grinds will make.
    pub fresh: u64,
}

impl EdgesLeft {
    /// Adds others.
    pub fn add(&mut self, others: &Self) {
        self.in_use.extend_from_slice(&others.in_use);
        self.fresh += others.fresh;
    }

    /// Whether nothing is left.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.in_use.is_empty() && self.fresh == 0
    }
}

/// What the figures rest on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Basis {
    /// The design's own edges.
    Learned(Learned),
    /// The design's expected pieces of one edge, because its own edges do not say enough.
    Expected {
        /// The expected pieces of one edge.
        pieces: i64,
        /// Why nothing was learned.
        why: NotLearned,
    },
}

/// What was looked at, and what the figures rest on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Experience {
    /// Edges that wore out.
    pub failures: usize,
    /// Edges that ended otherwise, or are in use.
    pub suspensions: usize,
    /// What the figures rest on.
    pub basis: Basis,
}

impl Experience {
    /// Learns from a design's edges, or falls back on its expected figure.
    #[must_use]
    pub fn of(lives: &EdgeLives, expected_pieces: i64) -> Self {
        let basis = match learn(lives) {
            Ok(learned) => Basis::Learned(learned),
            Err(why) => Basis::Expected { pieces: expected_pieces, why },
        };
        Self { failures: lives.failures.len(), suspensions: lives.suspensions.len(), basis }
    }

    /// The mean life of one edge, in pieces.
    #[must_use]
    pub fn pieces_of_an_edge(&self) -> f64 {
        match self.basis {
            Basis::Learned(learned) => Life::of(learned.shape, learned.scale).fresh().mean,
            Basis::Expected { pieces, .. } => as_number(pieces),
        }
    }

    /// What the figures rest on, in words.
    #[must_use]
    pub fn words(&self) -> String {
        let (worn, other) = (self.failures, self.suspensions);
        let seen = format!("{worn} worn edges and {other} that ended otherwise or are in use");
        match self.basis {
            Basis::Learned(_) => format!("Learned from this design's own edges: {seen}."),
            Basis::Expected { pieces, why: NotLearned::TooFew } => format!(
                "The design's expected {pieces} pieces an edge: its own edges are too few to learn from ({seen}; {ENOUGH_FAILURES} worn ones are needed)."
            ),
            Basis::Expected { pieces, why: NotLearned::AllAlike } => format!(
                "The design's expected {pieces} pieces an edge: its own edges all ended alike and shape no distribution ({seen})."
            ),
        }
    }

    /// Whole pieces that one edge may be counted on to make beyond those that it has made: the lower bound of what is left
    /// on it, or what is left of the expected figure; zero at least.
    #[must_use]
    pub fn counted_on(&self, made: i64) -> i64 {
        match &self.basis {
            Basis::Learned(learned) => {
                whole(Mixture::of(learned, &EdgesLeft { in_use: vec![made], fresh: 0 }).point(0.05))
            }
            Basis::Expected { pieces, .. } => (pieces - made).max(0),
        }
    }

    /// The pieces left on edges.
    #[must_use]
    pub fn pieces_left(&self, edges: &EdgesLeft) -> PiecesLeft {
        match &self.basis {
            Basis::Learned(learned) => predict(learned, edges),
            Basis::Expected { pieces, .. } => {
                let expected = as_number(*pieces);
                let in_use: f64 = edges.in_use.iter().map(|made| (expected - as_number(*made)).max(0.0)).sum();
                PiecesLeft { expected: in_use + many(edges.fresh) * expected, interval: None }
            }
        }
    }
}

/// Who tells the pieces left on edges.
pub trait TellsWhatIsLeft: std::fmt::Debug {
    /// The pieces left on edges.
    fn pieces_left(&self, edges: &EdgesLeft) -> PiecesLeft;
}

impl TellsWhatIsLeft for Experience {
    fn pieces_left(&self, edges: &EdgesLeft) -> PiecesLeft {
        Self::pieces_left(self, edges)
    }
}

/// Pieces left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PiecesLeft {
    /// The expected number.
    pub expected: f64,
    /// The 5 % and the 95 % point; none where only the design's expected figure is known.
    pub interval: Option<(f64, f64)>,
}

impl PiecesLeft {
    /// What may be counted on: the lower bound where there is one.
    #[must_use]
    pub fn cautious(&self) -> f64 {
        self.interval.map_or(self.expected, |(lower, _)| lower)
    }
}

/// Mean, variance and third central moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Moments {
    mean: f64,
    variance: f64,
    third: f64,
}

impl Moments {
    /// From the means of the first three powers.
    fn of_powers(first: f64, second: f64, third: f64) -> Self {
        Self {
            mean: first,
            variance: (second - first * first).max(0.0),
            third: third - 3.0 * first * second + 2.0 * first.powi(3),
        }
    }

    /// Of the sum with something independent, so many times.
    fn plus(self, other: Self, times: f64) -> Self {
        Self {
            mean: self.mean + times * other.mean,
            variance: self.variance + times * other.variance,
            third: self.third + times * other.third,
        }
    }
}

/// A Weibull life.
#[derive(Clone, Copy, Debug)]
struct Life {
    shape: f64,
    scale: f64,
}

impl Life {
    const fn of(shape: f64, scale: f64) -> Self {
        Self { shape, scale }
    }

    fn hazard(self, life: f64) -> f64 {
        (life / self.scale).powf(self.shape)
    }

    /// Of an edge that has made nothing yet.
    fn fresh(self) -> Moments {
        let power = |order: f64| self.scale.powf(order) * ln_gamma(1.0 + order / self.shape).exp();
        Moments::of_powers(power(1.0), power(2.0), power(3.0))
    }

    /// Of what is left on an edge that has made `made`. With `s` the hazard still to come, which is exponential, what is left
    /// is `η (H(t₀) + s)^(1/β) − t₀`; the integrals over `s` by the trapezoidal rule over `ln s`, which converges faster than
    /// any power of its step.
    fn after(self, made: f64) -> Moments {
        const STEP: f64 = 0.4;
        let hazard = self.hazard(made);
        if hazard < 1e-12 {
            // So early that having lasted says nothing.
            let fresh = self.fresh();
            return Moments { mean: (fresh.mean - made).max(0.0), ..fresh };
        }
        let mut powers = [0.0; 3];
        for index in -70..=11_i32 {
            let s = (STEP * f64::from(index)).exp();
            let mut term = STEP * s * (-s).exp();
            let left = made * ((s / hazard).ln_1p() / self.shape).exp_m1();
            for power in &mut powers {
                term *= left;
                *power += term;
            }
        }
        Moments::of_powers(powers[0], powers[1], powers[2])
    }

    fn of_all(self, edges: &EdgesLeft) -> Moments {
        let start = Moments::default().plus(self.fresh(), many(edges.fresh));
        edges.in_use.iter().fold(start, |sum, made| sum.plus(self.after(as_number(*made)), 1.0))
    }
}

/// The distribution of what is left, at one shape and scale.
#[derive(Clone, Copy, Debug)]
enum Left {
    /// One edge that has made so many.
    One(Life, f64),
    /// Several, by their moments.
    Several(Moments),
}

impl Left {
    fn of(life: Life, edges: &EdgesLeft) -> Self {
        match (edges.in_use.as_slice(), edges.fresh) {
            ([made], 0) => Self::One(life, as_number(*made)),
            ([], 1) => Self::One(life, 0.0),
            _ => Self::Several(life.of_all(edges)),
        }
    }

    /// The probability that no more than `pieces` are left, and how it grows with them; that is not a number where it is not
    /// known.
    fn at_most(self, pieces: f64) -> (f64, f64) {
        match self {
            Self::One(life, made) => {
                let hazard = life.hazard(made + pieces);
                let lasts = (life.hazard(made) - hazard).exp();
                (1.0 - lasts, lasts * life.shape * hazard / (made + pieces))
            }
            Self::Several(Moments { mean, variance, third }) => {
                let deviation = variance.sqrt();
                let standard = (pieces - mean) / deviation;
                let skewness = (third / deviation.powi(3)).clamp(-2.0, 2.0);
                let standard = if skewness.abs() < 1e-6 {
                    standard
                } else {
                    6.0 / skewness * ((1.0 + skewness * standard / 2.0).cbrt() - 1.0) + skewness / 6.0
                };
                (normal(standard), f64::NAN)
            }
        }
    }
}

/// Three-point Gauss–Hermite quadrature against the standard normal density: points and weights.
const NODES: [(f64, f64); 3] =
    [(-1.732_050_807_568_877_2, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732_050_807_568_877_2, 1.0 / 6.0)];

/// The pieces left on edges of which something was learned.
fn predict(learned: &Learned, edges: &EdgesLeft) -> PiecesLeft {
    if edges.is_empty() {
        return PiecesLeft { expected: 0.0, interval: Some((0.0, 0.0)) };
    }
    let expected = Life::of(learned.shape, learned.scale).of_all(edges).mean;
    let mixture = Mixture::of(learned, edges);
    PiecesLeft { expected, interval: Some((mixture.point(0.05), mixture.point(0.95))) }
}

/// The distribution of what is left, over what shape and scale may be.
struct Mixture {
    parts: Vec<(f64, Left)>,
    /// Above zero, and of the size of what is left: from where points are looked for.
    about: f64,
}

impl Mixture {
    fn of(learned: &Learned, edges: &EdgesLeft) -> Self {
        let [a, b, c] = learned.spread;
        let mut parts = Vec::with_capacity(NODES.len() * NODES.len());
        for (first, first_weight) in NODES {
            for (second, second_weight) in NODES {
                let shape = learned.corrected_shape * (a * first).exp();
                let scale = learned.scale * (b * first + c * second).exp();
                parts.push((first_weight * second_weight, Left::of(Life::of(shape, scale), edges)));
            }
        }
        let middle = Life::of(learned.shape, learned.scale);
        let about = match Left::of(middle, edges) {
            // The median of one edge.
            Left::One(life, made) => {
                life.scale * (life.hazard(made) + std::f64::consts::LN_2).powf(1.0 / life.shape) - made
            }
            Left::Several(moments) => moments.mean,
        };
        Self { parts, about: about.max(1e-9) }
    }

    /// What is left with this probability at most.
    fn point(&self, probability: f64) -> f64 {
        let at_most = |pieces: f64| {
            self.parts.iter().fold((-probability, 0.0), |(value, slope), (weight, left)| {
                let (one, grows) = left.at_most(pieces);
                (value + weight * one, slope + weight * grows)
            })
        };
        let mut high = 2.0 * self.about;
        while at_most(high).0 < 0.0 && high < 1e15 {
            high *= 2.0;
        }
        rising(0.0, high, self.about.min(high), at_most)
    }
}

/// Whole pieces of a number that is not below zero.
#[expect(clippy::cast_possible_truncation, reason = "rounded down, and capped by the cast")]
fn whole(pieces: f64) -> i64 {
    pieces.max(0.0).floor() as i64
}

/// A count as a number.
#[expect(clippy::cast_precision_loss, reason = "grinds and tools are few")]
const fn many(count: u64) -> f64 {
    count as f64
}

#[cfg(test)]
mod tests;
