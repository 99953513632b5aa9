//! How reliable a machine is: the mean time between its failures, with limits, and the mean time to repair one.
//!
//! Failures are the breakdowns on record in a time fixed beforehand; running time is that under a release. What the
//! records do not allow is said, not guessed.

use crate::calc::{
    Calculation, CalculationError,
    mtbf::{MeanTime, Mtbf, Request, Sided},
};

/// What the records hold of a machine in a time fixed beforehand.
#[derive(Clone, Debug, PartialEq)]
pub struct Observed {
    /// Hours under a release in force.
    pub running_hours: f64,
    /// Breakdowns that began in it; cancelled orders are none.
    pub failures: u32,
    /// Of those, for each that is mended, the hours for which the machine was down.
    pub repairs: Vec<f64>,
}

/// What the records tell.
#[derive(Clone, Debug, PartialEq)]
pub struct Reliability {
    /// Mean hours of running between failures, with limits; none where nothing ran.
    pub mean_time: Option<MeanTime>,
    /// Mean hours to repair; none where nothing was mended.
    pub mean_time_to_repair: Option<f64>,
    /// The answer in words.
    pub sentence: String,
    /// What to be careful about, and what the records do not allow.
    pub cautions: Vec<String>,
}

/// Fewer failures than this tell little.
const FEW: u32 = 3;

/// What the calculation found, in hours: no more digits than a year of records bears.
fn sentence(found: &MeanTime, confidence: f64) -> String {
    let (lower, percent) = (found.lower, 100.0 * confidence);
    match found.mtbf.zip(found.upper) {
        Some((mean, upper)) => format!(
            "In hours of running: Mean time between failures {mean:.1} h, with {percent} % confidence between {lower:.1} h \
             and {upper:.1} h."
        ),
        None => format!(
            "In hours of running: No failure yet: with {percent} % confidence at least {lower:.1} h between failures."
        ),
    }
}

/// Judges a machine, with two limits at a confidence between 0 and 1.
///
/// # Errors
/// When the confidence is none, or there are more failures than the calculation takes.
pub fn reliability(observed: &Observed, confidence: f64) -> Result<Reliability, CalculationError> {
    let mut cautions = Vec::new();
    let repairs = &observed.repairs;
    #[expect(clippy::cast_precision_loss, reason = "far fewer than 2^53")]
    let mean_time_to_repair = (!repairs.is_empty()).then(|| repairs.iter().sum::<f64>() / repairs.len() as f64);
    if mean_time_to_repair.is_none() {
        cautions.push("No mean time to repair: no breakdown in this time is mended.".to_owned());
    }
    if !(observed.running_hours > 0.0 && observed.running_hours.is_finite()) {
        // The confidence is judged all the same: a wrong one is told whatever the records hold.
        let probe = Request { total_time: 1.0, failures: 0, confidence, sided: Sided::Two };
        Mtbf::calculate(&probe)?;
        cautions.push("No mean time between failures: no hour of running is on record in this time.".to_owned());
        let sentence = "The records do not allow it: the machine did not run under a release in this time.".to_owned();
        return Ok(Reliability { mean_time: None, mean_time_to_repair, sentence, cautions });
    }
    let request =
        Request { total_time: observed.running_hours, failures: observed.failures, confidence, sided: Sided::Two };
    let answer = Mtbf::calculate(&request)?;
    cautions.extend(answer.cautions);
    if (1..FEW).contains(&observed.failures) {
        cautions.push("Fewer than three failures: the limits tell more than the mean does.".to_owned());
    }
    cautions
        .push("Hours count only under a release on record; a breakdown that nobody reported is not here.".to_owned());
    let sentence = sentence(&answer.result, confidence);
    Ok(Reliability { mean_time: Some(answer.result), mean_time_to_repair, sentence, cautions })
}

#[cfg(test)]
mod tests {
    use super::{Observed, reliability};

    fn observed(running_hours: f64, failures: u32, repairs: &[f64]) -> Observed {
        Observed { running_hours, failures, repairs: repairs.to_vec() }
    }

    /// NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1 (transcription): two failures in 800 hours of testing, with 90 %
    /// confidence between 127.069 and 2251.229 hours, 400 on average.
    #[test]
    fn the_handbooks_example() {
        let found = reliability(&observed(800.0, 2, &[3.0, 5.0]), 0.9).unwrap();
        let mean = found.mean_time.unwrap();
        assert!((mean.mtbf.unwrap() - 400.0).abs() < 1e-9);
        assert!((mean.lower - 127.069).abs() < 5e-4 && (mean.upper.unwrap() - 2251.229).abs() < 5e-3);
        assert_eq!(found.mean_time_to_repair, Some(4.0));
        let told = "In hours of running: Mean time between failures 400.0 h, with 90 % confidence between 127.1 h and 2251.2 h.";
        assert_eq!(found.sentence, told);
        assert!(found.cautions.iter().any(|caution| caution.contains("Fewer than three")));
    }

    #[test]
    fn no_failure_has_a_lower_limit_only() {
        let found = reliability(&observed(1000.0, 0, &[]), 0.9).unwrap();
        let mean = found.mean_time.unwrap();
        assert!(mean.mtbf.is_none() && mean.upper.is_none() && mean.lower > 0.0);
        assert_eq!(found.mean_time_to_repair, None);
    }

    #[test]
    fn what_the_records_do_not_allow_is_said() {
        let found = reliability(&observed(0.0, 4, &[2.0]), 0.9).unwrap();
        assert!(found.mean_time.is_none() && found.sentence.contains("do not allow"), "{}", found.sentence);
        assert_eq!(found.mean_time_to_repair, Some(2.0));
        assert!(reliability(&observed(0.0, 4, &[]), 1.5).is_err() && reliability(&observed(9.0, 4, &[]), 0.0).is_err());
    }
}
