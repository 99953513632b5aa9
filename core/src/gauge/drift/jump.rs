//! A gauge that moved at once: dropped, say, or struck. That is no drift, and the line through it would be none.
//!
//! A finding outside the interval that was foretold from those before it, of a gauge that was adjusted at that check or
//! rejected, tells of such a jump; of twenty gauges that drift as before, one is found there too, but seldom adjusted for it.
//! What was found before a jump tells nothing of what comes: the line begins anew with what was left at that check.

use super::{FEWEST_CHECKS_FOR_A_PROPOSAL, History, band_of};

/// Heights nearer than a picometre, in millimetres, are one height: what they differ by is rounding.
const SAME_HEIGHT: f64 = 1e-9;

/// A jump of a gauge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Jump {
    /// The place of the check that found it, counted from zero.
    pub at: usize,
    /// The height found less the one that the checks before foretold, in millimetres; above zero it became higher.
    pub by: f64,
}

impl History {
    /// The checks since the gauge last jumped, the first of them found as it was left then, and that jump. All of them where
    /// it never did. Days are counted from where they were.
    #[must_use]
    pub fn since_last_jump(mut self) -> (Self, Option<Jump>) {
        let (mut begins, mut last) = (0, None);
        for at in 0..self.findings.len() {
            if let Some(by) = self.jumped(begins, at) {
                // The gauge as it was left is the first finding of what comes.
                self.findings[at].found = self.findings[at].left;
                (begins, last) = (at, Some(Jump { at, by }));
            }
        }
        self.findings.drain(..begins);
        (self, last)
    }

    /// By how much the gauge moved at once before the check `at`, seen from those since `begins`.
    fn jumped(&self, begins: usize, at: usize) -> Option<f64> {
        let (before, finding) = (&self.findings[begins..at], &self.findings[at]);
        if !finding.not_left_alone || before.len() < FEWEST_CHECKS_FOR_A_PROPOSAL {
            return None;
        }
        let told = band_of(before, self.confidence)?.on(finding.day);
        let outside = (told.lower - finding.found).max(finding.found - told.upper);
        (outside > SAME_HEIGHT).then_some(finding.found - told.expected)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Answer, Finding, History, follow};

    /// Checks 50 days apart, found so many thousandths of a millimetre from nominal, and left where somebody saw to it.
    fn history(findings: &[(f64, Option<f64>)]) -> History {
        let at = |(index, (found, left)): (u32, &(f64, Option<f64>))| Finding {
            day: 50.0 * f64::from(index),
            found: found / 1000.0,
            left: left.unwrap_or(*found) / 1000.0,
            not_left_alone: left.is_some(),
        };
        let findings = (0..).zip(findings).map(at).collect();
        History { findings, lower_limit: -0.008, upper_limit: 0.008, due: None, confidence: 0.95 }
    }

    const STEADY: [(f64, Option<f64>); 5] = [(0.5, None), (0.1, None), (1.1, None), (0.4, None), (0.8, None)];

    fn then(more: &[(f64, Option<f64>)]) -> (History, Option<super::Jump>) {
        history(&[&STEADY[..], more].concat()).since_last_jump()
    }

    /// By hand, in thousandths: the five lie about 0.58 + 0.0018 (x - 100) with squares of 0.507 in all, Sxx is 25000, and t
    /// (0.975, 3) is 3.182446305 (recalled), so that the sixth is foretold at 0.85, 1.896 either way (NIST/SEMATECH
    /// e-Handbook, 4.5.1.2; recalled).
    #[test]
    fn a_finding_outside_what_was_foretold_is_a_jump() {
        let half =
            3.182_446_305_284 * (0.507_f64 / 3.0).sqrt() * (1.0 + 1.0 / 5.0 + 150.0_f64.powi(2) / 25_000.0).sqrt();
        for (found, jumps) in [(12.4, true), (0.85 + half + 1e-5, true), (0.85 + half - 1e-5, false), (-1.2, true)] {
            let (since, jump) = then(&[(found, Some(0.2))]);
            assert_eq!(jump.is_some(), jumps, "{found}");
            if let Some(jump) = jump {
                assert!(jump.at == 5 && (jump.by - (found - 0.85) / 1000.0).abs() < 1e-12, "{jump:?}");
                assert_eq!(since.findings.len(), 1);
                assert!((since.findings[0].found - 0.0002).abs() < 1e-15 && since.findings[0].day > 249.0);
            } else {
                assert_eq!(since.findings.len(), 6);
            }
        }
    }

    /// Left alone it may yet come back; with fewer than five checks before it nothing was foretold.
    #[test]
    fn what_nobody_saw_to_and_what_nothing_foretold_is_none() {
        assert!(then(&[(12.4, None)]).1.is_none());
        let early = history(&[&STEADY[..4], &[(12.4, Some(0.2))][..]].concat());
        assert_eq!(early.clone().since_last_jump(), (early, None));
    }

    /// What comes after a jump is a line of its own, with the slope that the gauge has since; adjustments are taken off.
    #[test]
    fn the_line_begins_anew_with_what_was_left() {
        let after = [(12.4, Some(0.2)), (0.7, None), (1.2, None), (1.7, Some(0.7)), (1.2, None)];
        let (since, jump) = then(&after);
        assert_eq!((jump.map(|jump| jump.at), since.findings.len()), (Some(5), 5));
        let Answer::Line(line) = follow(&since) else { panic!("no line") };
        assert!((line.slope - 1e-5).abs() < 1e-12 && (line.adjusted + 0.001).abs() < 1e-12, "{line:?}");
        // From 0.0012 on day 450 to 0.008 at 0.00001 a day.
        assert!((line.reaches.unwrap().day - 1130.0).abs() < 1e-6, "{line:?}");
        // It may jump again, and only the last one counts.
        let (since, jump) = then(&[&after[..], &[(-9.0, Some(0.0))][..]].concat());
        assert_eq!((jump.map(|jump| jump.at), since.findings.len()), (Some(10), 1));
    }

    /// A rejected gauge that was left as it is begins where it stands.
    #[test]
    fn what_was_not_set_right_begins_where_it_was_found() {
        let (since, jump) = then(&[(12.4, Some(12.4)), (12.5, None)]);
        assert!(jump.is_some() && (since.findings[0].found - 0.0124).abs() < 1e-15);
        assert_eq!(follow(&since), Answer::TooFew { more: 1 });
    }

    /// A drift that is set right each time goes on as a drift.
    #[test]
    fn a_drift_that_is_set_right_is_no_jump() {
        let noise = [0.2, -0.1, 0.1, -0.2, 0.0, 0.1, -0.1, 0.2, 0.0, -0.2];
        let drifting: Vec<_> = noise.iter().map(|noise| (3.0 + noise, Some(*noise))).collect();
        assert!(history(&drifting).since_last_jump().1.is_none());
    }
}
