//! What a check of a centre gauge is expected to read, and the question after one that does not: what a check says is on
//! record for ever, and a slip of the unit rejects a good gauge and calls into doubt all that was set with it.

use crate::{
    code::Code,
    findings::{Findings, RuleSet},
    length::{Length, LengthUnit},
    reading::Expected,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    registry::item::{CenterGaugeFields, GaugeCheckFields},
};

/// A gauge that is found so many widths of its limits from its height was dropped, or it was read in the other unit, or
/// with a wrong digit. Common practice, no published source.
const WIDTHS: i64 = 10;

/// No shop measures a height with a smaller standard uncertainty: 0.0001 mm. Common practice, no published source.
const FINEST: Length = Length::from_picometres(100_000, LengthUnit::Millimetre);

impl CenterGaugeFields {
    /// How far the limits lie apart.
    #[must_use]
    pub const fn width(&self) -> Length {
        self.limits.upper().minus(self.limits.lower())
    }

    /// The heights that a check is expected to find.
    #[must_use]
    pub const fn expected_height(&self) -> Expected {
        let width = self.width();
        let apart = Length::from_picometres(width.picometres().saturating_mul(WIDTHS), width.unit());
        Expected::about(self.nominal, apart)
    }

    /// The standard uncertainties that a check is expected to have: one as wide as the limits measures nothing.
    #[must_use]
    pub const fn expected_uncertainty(&self) -> Expected {
        Expected::between(FINEST, self.width())
    }
}

/// What has to be confirmed of a check before it is taken. As found, a gauge is held beside what it was made for until now;
/// as left, beside what it is made for from now on.
#[must_use]
pub fn not_confirmed(
    gauge: &Code,
    until_now: &CenterGaugeFields,
    from_now_on: &CenterGaugeFields,
    check: &GaugeCheckFields,
) -> Vec<Refusal> {
    let high = |against: &CenterGaugeFields, height: Length, state: &str| {
        let (nominal, width) = (against.nominal, against.width());
        against.expected_height().question(height, |both| {
            format!(
                "Gauge {gauge} would be {both} high as {state}; it is made for {nominal}, with limits that lie {width} \
                 apart."
            )
        })
    };
    let uncertain = from_now_on.expected_uncertainty().question(check.standard_uncertainty, |both| {
        let width = from_now_on.width();
        format!("The check of gauge {gauge} would be uncertain by {both}; the gauge's limits lie {width} apart.")
    });
    let mut findings = Findings::under(RuleSet::ALL);
    let found = high(until_now, check.as_found, "found");
    let left = check.as_left.and_then(|height| high(from_now_on, height, "left"));
    for asked in [found, left, uncertain].into_iter().flatten() {
        findings.add(asked.about(Subject::coded(SubjectKind::CenterGauge, gauge)));
    }
    findings.into_refusals()
}

/// What has to be confirmed before a gauge is accepted whose height is not that of its machine's centres as they were
/// measured: within the gauge's limits both are one.
#[must_use]
pub fn off_the_centers(
    gauge: &Code,
    machine: &Code,
    from_now_on: &CenterGaugeFields,
    measured: Length,
) -> Option<Refusal> {
    let nominal = from_now_on.nominal;
    let off = measured.minus(nominal).picometres();
    let limits = from_now_on.limits;
    let within = (limits.lower().picometres()..=limits.upper().picometres()).contains(&off);
    (!within).then(|| {
        let sentence = format!(
            "Gauge {gauge} is made for {nominal}, and the centres of machine {machine} were measured at {measured}: \
             further apart than the gauge's limits."
        );
        Refusal::new(Rule::ReadingNotConfirmed, sentence)
            .clears(
                "Have the gauge made to the measured height and its record amended, or measure the centres again; if it \
                 serves as it is, send it again with confirmed: true.",
            )
            .about(Subject::coded(SubjectKind::CenterGauge, gauge))
    })
}

#[cfg(test)]
mod tests {
    use super::{not_confirmed, off_the_centers};
    use crate::{
        code::Code,
        findings::with_rule_removed,
        length::{Deviations, Length, LengthUnit},
        refusal::Rule,
        registry::item::{CenterGaugeFields, GaugeCheckFields},
    };
    use chrono::NaiveDate;

    fn inch(value: f64) -> Length {
        Length::new(value, LengthUnit::Inch).unwrap()
    }

    fn mm(value: f64) -> Length {
        Length::new(value, LengthUnit::Millimetre).unwrap()
    }

    fn gauge(nominal: f64) -> CenterGaugeFields {
        CenterGaugeFields { nominal: inch(nominal), limits: Deviations::new(inch(-0.0003), inch(0.0003)).unwrap() }
    }

    #[test]
    fn a_gauge_that_is_not_its_machines_height_is_asked_about() {
        let (code, machine) = (Code::parse("CG-106").unwrap(), Code::parse("M-106").unwrap());
        let asked = |measured| off_the_centers(&code, &machine, &gauge(3.75), inch(measured));
        for measured in [3.749_7, 3.75, 3.750_3] {
            assert_eq!(asked(measured), None, "{measured}");
        }
        for measured in [3.749_6, 3.750_4, 3.76] {
            let refusal = asked(measured).unwrap();
            assert_eq!(refusal.rule, Rule::ReadingNotConfirmed);
            assert!(refusal.sentence.contains(&format!("measured at {measured} in")), "{refusal:?}");
        }
    }

    /// What is asked after a check of a gauge of 3.749 in.
    fn asked(as_found: Length, as_left: Option<Length>, standard_uncertainty: Length) -> Vec<String> {
        let check = GaugeCheckFields {
            as_found,
            as_left,
            standard_uncertainty,
            certificate: None,
            next_check: NaiveDate::from_ymd_opt(2027, 1, 1).unwrap(),
            performed_at: "2026-06-01T08:00:00Z".parse().unwrap(),
        };
        let refusals = not_confirmed(&Code::parse("CG-106").unwrap(), &gauge(3.749), &gauge(3.749), &check);
        assert!(refusals.iter().all(|refusal| refusal.rule == Rule::ReadingNotConfirmed), "{refusals:?}");
        refusals.into_iter().map(|refusal| refusal.sentence).collect()
    }

    #[test]
    fn a_slip_of_the_unit_is_asked_after() {
        let fine = inch(0.000_05);
        assert_eq!(
            asked(mm(3.749), None, fine),
            [
                "Gauge CG-106 would be 3.749 mm (0.14760 in) high as found; it is made for 3.749 in, with limits that lie \
              0.0006 in apart. Was 3.749 in meant?"
            ]
        );
        let left = asked(inch(3.7495), Some(inch(95.2246)), fine);
        assert!(
            left.len() == 1 && left[0].contains("as left") && left[0].ends_with("Was 95.2246 mm meant?"),
            "{left:?}"
        );
        // 0.00127 mm entered as inches, and 0.00005 in as millimetres.
        let coarse = asked(inch(3.749), None, inch(0.001_27));
        assert!(coarse.len() == 1 && coarse[0].ends_with("Was 0.00127 mm meant?"), "{coarse:?}");
        let too_fine = asked(inch(3.749), None, mm(0.000_05));
        assert!(too_fine.len() == 1 && too_fine[0].ends_with("Was 0.00005 in meant?"), "{too_fine:?}");
        assert_eq!(asked(mm(3.749), Some(mm(3.749)), mm(0.000_05)).len(), 3, "all at once");
        let removed = with_rule_removed(Rule::ReadingNotConfirmed, || asked(mm(3.749), Some(mm(3.749)), mm(0.000_05)));
        assert!(removed.is_empty(), "{removed:?}");
    }

    /// A gauge that was dropped is found many limits off, and is no slip; beyond ten widths of them it is asked after.
    #[test]
    fn what_a_gauge_can_be_found_at_is_not() {
        for height in [3.749, 3.7503, 3.755, 3.743] {
            assert!(asked(inch(height), Some(mm(95.2246)), inch(0.0006)).is_empty(), "{height}");
        }
        let digits = asked(inch(3.794), None, inch(0.000_05));
        assert!(digits.len() == 1 && !digits[0].contains("meant"), "{digits:?}");
    }

    /// Bound to another machine, a gauge is cut to its height: each state beside its own.
    #[test]
    fn a_gauge_that_is_cut_anew_is_held_beside_both() {
        let check = |as_left: f64| GaugeCheckFields {
            as_found: inch(3.75),
            as_left: Some(inch(as_left)),
            standard_uncertainty: inch(0.000_05),
            certificate: None,
            next_check: NaiveDate::from_ymd_opt(2027, 1, 1).unwrap(),
            performed_at: "2026-06-01T08:00:00Z".parse().unwrap(),
        };
        let questions =
            |left| not_confirmed(&Code::parse("CG-107").unwrap(), &gauge(3.75), &gauge(3.73), &check(left)).len();
        assert_eq!((questions(3.73), questions(3.75)), (0, 1));
    }
}
