//! What a measurement of a machine's spindle centres is expected to read: the gauges of a machine are stale after one that
//! departs from the record, and a slip of the unit departs by all there is.

use super::{item::NEAR_CENTER_HEIGHT, machine::CenterHeightFields};
use crate::{
    code::Code,
    findings::{Findings, RuleSet},
    length::Length,
    reading::Expected,
    refusal::{Refusal, Subject, SubjectKind},
};

/// A measurement of spindle centres that is less certain is worth nothing to gauges that have limits of hundredths:
/// 0.05 mm. Common practice, no published source.
const COARSEST: Length = Length::from_picometres(NEAR_CENTER_HEIGHT.picometres() / 10, NEAR_CENTER_HEIGHT.unit());

impl CenterHeightFields {
    /// What a spindle centre's height is expected to be where the builder gives the `nominal` one: as near to it as a gauge
    /// of the machine has to be made.
    #[must_use]
    pub const fn expected_height(nominal: Length) -> Expected {
        Expected::about(nominal, NEAR_CENTER_HEIGHT)
    }

    /// The most that a measurement's standard uncertainty is expected to be, and what it is expected to lie between.
    #[must_use]
    pub const fn expected_uncertainty() -> (Length, Expected) {
        (COARSEST, Expected::between(Length::from_picometres(0, COARSEST.unit()), COARSEST))
    }

    /// The lowest and the highest spindle, and where the machine's own figure, the middle of them, is expected: between the two,
    /// or as far beyond as two standard uncertainties. None where spindles were not told apart.
    #[must_use]
    pub fn expected_among_spindles(&self) -> Option<((Length, Length), Expected)> {
        let heights = || self.spindles.iter().map(|at| at.measured);
        let (lowest, highest) = heights().min().zip(heights().max())?;
        let twice = self.standard_uncertainty.plus(self.standard_uncertainty);
        Some(((lowest, highest), Expected::between(lowest.minus(twice), highest.plus(twice))))
    }

    /// What has to be confirmed before the measurement is taken, of a machine of whose spindle centres the builder gives the
    /// `nominal` height: heights as far from it as no gauge of the machine may be made for, an uncertainty that hides what
    /// moved, and a height that no spindle is near.
    #[must_use]
    pub fn not_confirmed(&self, machine: &Code, nominal: Length) -> Vec<Refusal> {
        let expected = Self::expected_height(nominal);
        let whole = expected.question(self.measured, |both| {
            format!("The spindle centres of machine {machine} would be {both} high; the builder gives {nominal}.")
        });
        let (_, uncertain) = Self::expected_uncertainty();
        let uncertain = uncertain.question(self.standard_uncertainty, |both| {
            format!("The centre height of machine {machine} would be uncertain by {both}, more than {COARSEST}.")
        });
        let spindles = self.spindles.iter().filter_map(|at| {
            expected.question(at.measured, |both| {
                let spindle = at.spindle;
                format!("Spindle {spindle} of machine {machine} would be {both} high; the builder gives {nominal}.")
            })
        });
        let among = self.expected_among_spindles().and_then(|((lowest, highest), expected)| {
            expected.question(self.measured, |both| {
                format!("The spindles of machine {machine} lie from {lowest} to {highest}; {both} is not among them.")
            })
        });
        let mut findings = Findings::under(RuleSet::ALL);
        for asked in [whole, uncertain, among].into_iter().flatten().chain(spindles) {
            findings.add(asked.about(Subject::coded(SubjectKind::Machine, machine)));
        }
        findings.into_refusals()
    }
}

#[cfg(test)]
mod tests {
    use super::super::machine::{CenterHeightFields, SpindleHeight};
    use crate::{
        code::Code,
        findings::with_rule_removed,
        length::{Length, LengthUnit},
        refusal::Rule,
    };
    use chrono::DateTime;

    fn inch(value: f64) -> Length {
        Length::new(value, LengthUnit::Inch).unwrap()
    }

    fn mm(value: f64) -> Length {
        Length::new(value, LengthUnit::Millimetre).unwrap()
    }

    /// What is asked after a measurement of a machine of 110 mm.
    fn asked(measured: Length, standard_uncertainty: Length, spindles: &[Length]) -> Vec<String> {
        let spindles = (1..).zip(spindles).map(|(spindle, measured)| SpindleHeight { spindle, measured: *measured });
        let fields = CenterHeightFields {
            measured,
            standard_uncertainty,
            reason: "yearly".to_owned(),
            after_work: false,
            performed_at: DateTime::UNIX_EPOCH,
            station: None,
            spindles: spindles.collect(),
        };
        let refusals = fields.not_confirmed(&Code::parse("M-103").unwrap(), mm(110.0));
        assert!(refusals.iter().all(|refusal| refusal.rule == Rule::ReadingNotConfirmed), "{refusals:?}");
        refusals.into_iter().map(|refusal| refusal.sentence).collect()
    }

    #[test]
    fn a_slip_of_the_unit_is_asked_after() {
        // 4.33 in are 109.982 mm.
        assert_eq!(
            asked(mm(4.33), mm(0.001), &[]),
            [
                "The spindle centres of machine M-103 would be 4.33 mm (0.17047 in) high; the builder gives 110 mm. Was 4.33 \
              in meant?"
            ]
        );
        let one = asked(mm(110.0), mm(0.001), &[mm(110.0), mm(4.33), mm(100.1)]);
        assert_eq!(one.len(), 2);
        assert!(one[0].starts_with("Spindle 2 ") && one[0].ends_with("Was 4.33 in meant?"), "{one:?}");
        assert!(one[1].starts_with("Spindle 3 ") && !one[1].contains("meant"), "{one:?}");
        let coarse = asked(mm(110.0), inch(0.005), &[]);
        assert!(coarse.len() == 1 && coarse[0].ends_with("more than 0.05 mm. Was 0.005 mm meant?"), "{coarse:?}");
        let removed = with_rule_removed(Rule::ReadingNotConfirmed, || asked(mm(4.33), inch(0.005), &[mm(4.33)]));
        assert!(removed.is_empty(), "{removed:?}");
    }

    #[test]
    fn a_height_that_no_spindle_is_near_is_asked_after() {
        let spindles = [mm(110.02), mm(110.04), mm(110.03)];
        for fits in [mm(110.03), mm(110.019), mm(110.042)] {
            assert!(asked(fits, mm(0.001), &spindles).is_empty(), "{fits}");
        }
        let apart = asked(mm(110.0), mm(0.001), &spindles);
        assert_eq!(
            apart,
            ["The spindles of machine M-103 lie from 110.02 mm to 110.04 mm; 110 mm (4.33071 in) is not among them."]
        );
    }

    /// What bearings and a struck carrier can do is none: centres move by hundredths.
    #[test]
    fn what_centres_can_be_found_at_is_not() {
        for height in [mm(110.0), mm(110.5), mm(109.5), inch(4.33)] {
            assert!(asked(height, mm(0.0), &[height]).is_empty(), "{height}");
        }
        assert_eq!(asked(mm(110.500_1), mm(0.05), &[]).len(), 1);
    }
}
