//! How long edges last, as plans count on it: cautiously, and saying what it rests on.

use crate::{
    code::Code,
    life::left::{Basis, Experience},
};

/// What plans count on for the edges of a design.
///
/// Where its edges taught how long they last, an edge is counted on for the lower bound of what it has left after the
/// pieces that it made: nineteen of twenty last longer. A plan that counts on the mean is short every other time, in the
/// middle of a lot. Where they did not, it is the design's expected figure less the pieces that it made.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgeOutlook {
    experience: Experience,
    fresh_edge: i64,
}

impl EdgeOutlook {
    /// What follows from a design's edges.
    #[must_use]
    pub fn of(experience: Experience) -> Self {
        Self { fresh_edge: experience.counted_on(0).max(1), experience }
    }

    /// Pieces that a fresh edge is counted on for; one at least.
    #[must_use]
    pub const fn fresh_edge(&self) -> i64 {
        self.fresh_edge
    }

    /// Pieces that an edge is still counted on for after those that it made.
    #[must_use]
    pub fn on_edge(&self, made: i64) -> i64 {
        self.experience.counted_on(made)
    }

    /// What it rests on, in words.
    #[must_use]
    pub fn words(&self, design: &Code) -> String {
        let basis = self.experience.words();
        let counted = match self.experience.basis {
            Basis::Learned(_) => {
                "counted on is what nineteen of twenty edges outlast after the pieces cut since the last grind"
            }
            Basis::Expected { .. } => "counted on is that figure less the pieces cut since the last grind",
        };
        format!("Pieces left on edges of {design}: {counted}. {basis}")
    }
}

#[cfg(test)]
mod tests {
    use super::EdgeOutlook;
    use crate::{
        code::Code,
        life::{
            edge::EdgeLives,
            left::{EdgesLeft, Experience},
        },
    };

    fn lives(failures: &[i64]) -> EdgeLives {
        let mut lives = EdgeLives::default();
        failures.iter().for_each(|pieces| lives.add(*pieces, true));
        lives
    }

    #[test]
    fn a_design_that_taught_nothing_counts_its_expected_figure_and_says_so() {
        let outlook = EdgeOutlook::of(Experience::of(&lives(&[3000, 3100]), 4000));
        assert_eq!((outlook.fresh_edge(), outlook.on_edge(1500), outlook.on_edge(9000)), (4000, 2500, 0));
        let words = outlook.words(&Code::parse("TD-1").unwrap());
        assert!(words.contains("expected 4000 pieces") && words.contains("that figure"), "{words}");
    }

    #[test]
    fn a_design_that_taught_something_counts_the_lower_bound_that_the_outlook_tells() {
        let experience = Experience::of(&lives(&[3100, 4200, 4700, 5200, 5400, 6100, 7400, 8000]), 9000);
        let outlook = EdgeOutlook::of(experience);
        for made in [0, 1, 500, 3000, 7000, 20_000] {
            let told = experience.pieces_left(&EdgesLeft { in_use: vec![made], fresh: 0 }).interval.unwrap().0;
            assert!(
                (told - told.fract() - f64::from(i32::try_from(outlook.on_edge(made)).unwrap())).abs() < 0.5,
                "{made}"
            );
        }
        assert!(outlook.fresh_edge() > 1000 && outlook.fresh_edge() < 3100, "{}", outlook.fresh_edge());
        assert!(outlook.on_edge(3000) < outlook.fresh_edge());
        let words = outlook.words(&Code::parse("TD-1").unwrap());
        assert!(words.contains("Learned from") && words.contains("nineteen of twenty"), "{words}");
    }
}
