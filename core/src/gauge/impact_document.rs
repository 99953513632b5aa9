//! Working through what a gauge has touched: each entry of the document gets an outcome, and the document is closed only
//! when every entry has one, those that came since included.

use crate::{
    code::Code,
    findings::{Findings, RuleSet},
    names::named,
    refusal::{Refusal, Rule, Subject, SubjectKind},
};

named! {
    /// What became of something that was touched.
    Outcome {
        /// It was looked into, and nothing is wrong with it.
        Cleared = "cleared",
        /// It was put right: measured and sorted, set anew, cut again.
        Reworked = "reworked",
        /// It was thrown away.
        Scrapped = "scrapped",
        /// It stays as it is, by the decision of whoever may decide that; the note says whose.
        AcceptedAsIs = "accepted_as_is",
        /// Whoever has it now was told, and decides.
        Informed = "informed",
    }
}

/// The document as its rules see it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DocumentFacts {
    /// The gauge's code.
    pub gauge: Code,
    /// Whether it was closed before.
    pub closed: bool,
}

impl DocumentFacts {
    fn refusal(&self, rule: Rule, sentence: String) -> Refusal {
        Refusal::new(rule, sentence).about(Subject::coded(SubjectKind::CenterGauge, &self.gauge))
    }

    /// Nobody can say what becomes of pieces that are not counted.
    fn all_booked(&self, going: &[i32], findings: &mut Findings) {
        findings.add_if(!going.is_empty(), || {
            let sentence = format!("{} of the entries are runs whose pieces are not booked yet.", going.len());
            self.refusal(Rule::ImpactRunGoing, sentence).saw(listed(going))
        });
    }

    fn still_open(&self, findings: &mut Findings) {
        findings.add_if(self.closed, || {
            self.refusal(Rule::ImpactClosed, format!("The impact document of gauge {} is closed.", self.gauge))
        });
    }
}

/// Grants or refuses an outcome for entries of which `going` (their numbers) are runs that have no pieces booked.
///
/// # Errors
/// A closed document; a run that has no pieces booked.
pub fn judge(document: &DocumentFacts, going: &[i32]) -> Result<(), Vec<Refusal>> {
    judge_under(RuleSet::ALL, document, going)
}

fn judge_under(rules: RuleSet, document: &DocumentFacts, going: &[i32]) -> Result<(), Vec<Refusal>> {
    let mut findings = Findings::under(rules);
    document.still_open(&mut findings);
    document.all_booked(going, &mut findings);
    settle(findings)
}

/// Grants or refuses taking up what came since.
///
/// # Errors
/// A closed document.
pub fn take_up(document: &DocumentFacts) -> Result<(), Vec<Refusal>> {
    let mut findings = Findings::under(RuleSet::ALL);
    document.still_open(&mut findings);
    settle(findings)
}

/// Grants or refuses closing the document. `going` are the numbers of entries that are runs without pieces booked,
/// `without_outcome` those of entries without one, `came_since` how many things were touched, or changed, since the document
/// was last brought up to date.
///
/// # Errors
/// Everything that speaks against it.
pub fn close(
    document: &DocumentFacts,
    going: &[i32],
    without_outcome: &[i32],
    came_since: usize,
) -> Result<(), Vec<Refusal>> {
    close_under(RuleSet::ALL, document, going, without_outcome, came_since)
}

fn close_under(
    rules: RuleSet,
    document: &DocumentFacts,
    going: &[i32],
    without_outcome: &[i32],
    came_since: usize,
) -> Result<(), Vec<Refusal>> {
    let mut findings = Findings::under(rules);
    document.still_open(&mut findings);
    document.all_booked(going, &mut findings);
    findings.add_if(!without_outcome.is_empty(), || {
        let sentence = format!("{} entries have no outcome yet.", without_outcome.len());
        document.refusal(Rule::ImpactNotWorkedThrough, sentence).saw(listed(without_outcome))
    });
    findings.add_if(came_since > 0, || {
        let sentence = format!("{came_since} entries came or changed since the document was brought up to date.");
        document
            .refusal(Rule::ImpactNotWorkedThrough, sentence)
            .saw(format!("{came_since} not taken up"))
            .clears("Take up what came since, and give it outcomes.")
    });
    settle(findings)
}

fn settle(findings: Findings) -> Result<(), Vec<Refusal>> {
    let refusals = findings.into_refusals();
    if refusals.is_empty() { Ok(()) } else { Err(refusals) }
}

/// Entries' numbers in words, the first few of many.
fn listed(numbers: &[i32]) -> String {
    const SHOWN: usize = 20;
    let shown: Vec<String> = numbers.iter().take(SHOWN).map(ToString::to_string).collect();
    let more = if numbers.len() > SHOWN { ", …" } else { "" };
    format!("entries {}{more}", shown.join(", "))
}

#[cfg(test)]
mod tests {
    use super::{DocumentFacts, close, close_under, judge, judge_under, take_up};
    use crate::{
        code::Code,
        findings::RuleSet,
        refusal::{Refusal, Rule},
    };

    fn document(closed: bool) -> DocumentFacts {
        DocumentFacts { gauge: Code::parse("CG-1").unwrap(), closed }
    }

    fn rules(result: Result<(), Vec<Refusal>>) -> Vec<Rule> {
        result.err().unwrap_or_default().into_iter().map(|refusal| refusal.rule).collect()
    }

    #[test]
    fn a_run_that_goes_on_gets_no_outcome() {
        assert_eq!(judge(&document(false), &[]), Ok(()));
        assert_eq!(rules(judge(&document(false), &[3])), [Rule::ImpactRunGoing]);
        assert!(judge_under(RuleSet::without(Rule::ImpactRunGoing), &document(false), &[3]).is_ok());
    }

    #[test]
    fn it_is_closed_only_when_all_have_an_outcome() {
        assert_eq!(close(&document(false), &[], &[], 0), Ok(()));
        assert_eq!(rules(close(&document(false), &[], &[2, 5], 0)), [Rule::ImpactNotWorkedThrough]);
        assert_eq!(rules(close(&document(false), &[], &[], 1)), [Rule::ImpactNotWorkedThrough]);
        let both = close(&document(false), &[], &[2], 3).unwrap_err();
        assert_eq!(both.len(), 2);
        assert_eq!(both[0].saw.as_deref(), Some("entries 2"));
        let without = RuleSet::without(Rule::ImpactNotWorkedThrough);
        assert!(close_under(without, &document(false), &[], &[2], 3).is_ok());
    }

    /// An outcome given before the run ended does not close it either.
    #[test]
    fn it_is_not_closed_while_a_run_has_no_pieces_booked() {
        let refused = close(&document(false), &[4, 7], &[], 0).unwrap_err();
        assert_eq!((refused[0].rule, refused[0].saw.as_deref()), (Rule::ImpactRunGoing, Some("entries 4, 7")));
        let without = RuleSet::without(Rule::ImpactRunGoing);
        assert!(close_under(without, &document(false), &[4, 7], &[], 0).is_ok());
    }

    #[test]
    fn nothing_is_added_to_a_closed_one() {
        for refused in [judge(&document(true), &[]), close(&document(true), &[], &[], 0), take_up(&document(true))] {
            assert_eq!(rules(refused), [Rule::ImpactClosed]);
        }
        assert!(judge_under(RuleSet::without(Rule::ImpactClosed), &document(true), &[]).is_ok());
        assert!(close_under(RuleSet::without(Rule::ImpactClosed), &document(true), &[], &[], 0).is_ok());
    }
}
