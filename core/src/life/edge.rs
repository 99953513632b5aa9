//! Edges of form tools, and what their ends say of how long an edge lasts.

use crate::{length::Length, names::named};

named! {
    /// How an edge ended.
    EdgeEnd {
        /// Worn out: the edge failed.
        Worn = "worn",
        /// Ground before it was worn.
        Early = "early",
        /// Chipped, broken or burnt.
        Damaged = "damaged",
        /// Its tool was retired.
        Retired = "retired",
    }
}

impl EdgeEnd {
    /// Whether a grinder may give it as the reason of a grind; a tool is retired otherwise.
    #[must_use]
    pub const fn ends_by_grinding(self) -> bool {
        !matches!(self, Self::Retired)
    }
}

/// An edge that ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EndedEdge {
    /// The pieces it cut.
    pub pieces: i64,
    /// How it ended.
    pub ended: EdgeEnd,
    /// Whether it was partly ground in between: then it is not one edge's life.
    pub partly_ground: bool,
    /// Whether it was cutting before its tool came on record: then what it cut in all is not known.
    pub begun_before: bool,
}

/// Whether the edge of a tool that comes on record with this height was cutting before, nobody knows for how many pieces: it is
/// not as new, and nobody says what its edge has cut.
#[must_use]
pub fn begun_before_records(height: Length, new_height: Length, pieces_on_edge: Option<u32>) -> bool {
    pieces_on_edge.is_none() && height < new_height
}

impl EndedEdge {
    /// Whether it counts as a failure: worn out, begun on record, and never partly ground. All else is a suspension.
    #[must_use]
    pub const fn failed(self) -> bool {
        matches!(self.ended, EdgeEnd::Worn) && !self.partly_ground && !self.begun_before
    }
}

/// The lives of a design's edges, in pieces. Edges that never cut a piece say nothing and are not among them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct EdgeLives {
    /// Edges that wore out.
    pub failures: Vec<f64>,
    /// Edges that ended otherwise or are still cutting.
    pub suspensions: Vec<f64>,
}

impl EdgeLives {
    /// Adds an edge that ended.
    pub fn add(&mut self, pieces: i64, failed: bool) {
        if pieces > 0 {
            let lives = if failed { &mut self.failures } else { &mut self.suspensions };
            lives.push(as_number(pieces));
        }
    }

    /// Adds the edge in use: it lasted so long, and goes on.
    pub fn add_in_use(&mut self, pieces: i64) {
        self.add(pieces, false);
    }
}

/// A count of pieces as a number.
#[expect(clippy::cast_precision_loss, reason = "pieces lie far below 2^53")]
pub(super) const fn as_number(pieces: i64) -> f64 {
    pieces as f64
}

#[cfg(test)]
mod tests {
    use super::{EdgeEnd, EdgeLives, EndedEdge, begun_before_records};
    use crate::length::{Length, LengthUnit};

    #[test]
    fn only_what_wore_out_untouched_and_on_record_failed() {
        for ended in EdgeEnd::ALL {
            for (partly_ground, begun_before) in [(false, false), (false, true), (true, false), (true, true)] {
                let edge = EndedEdge { pieces: 10, ended: *ended, partly_ground, begun_before };
                let whole = !partly_ground && !begun_before;
                assert_eq!(edge.failed(), *ended == EdgeEnd::Worn && whole, "{edge:?}");
            }
        }
    }

    #[test]
    fn the_edge_of_a_tool_that_is_not_as_new_began_before_unless_somebody_says_what_it_cut() {
        let [new, used] = [20.0, 18.0].map(|height| Length::new(height, LengthUnit::Millimetre).unwrap());
        assert!(begun_before_records(used, new, None));
        assert!(!begun_before_records(used, new, Some(0)) && !begun_before_records(used, new, Some(900)));
        assert!(!begun_before_records(new, new, None));
    }

    #[test]
    fn an_edge_that_never_cut_says_nothing() {
        let mut lives = EdgeLives::default();
        for (pieces, failed) in [(0, true), (0, false), (5, true), (7, false)] {
            lives.add(pieces, failed);
        }
        lives.add_in_use(0);
        lives.add_in_use(3);
        assert_eq!(lives, EdgeLives { failures: vec![5.0], suspensions: vec![7.0, 3.0] });
    }
}
