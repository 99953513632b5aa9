//! The run permit: may this machine run now, for a trial or for production?
//!
//! It is advice from the records. The program cannot see the spindle and is no safety device.

use super::{
    blockers::{self, Readiness},
    facts::MachineFacts,
    state::Setup,
};
use crate::{
    code::Code,
    findings::{Findings, RuleSet},
    names::named,
    refusal::{Refusal, Rule, Subject, SubjectKind},
};
use chrono::{DateTime, Utc};

named! {
    /// What the machine is to run for.
    PermitPurpose {
        /// A trial cut.
        Trial = "trial",
        /// Production.
        Production = "production",
    }
}

/// Whether the machine may run, and what stands against it.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct RunPermit {
    /// Whether it may.
    pub permitted: bool,
    /// Everything that stands against it.
    pub blockers: Vec<Refusal>,
    /// The instant beyond which no permit may reach: the end of a provisional release.
    pub not_beyond: Option<DateTime<Utc>>,
}

/// Answers for a machine with its open setup, if it has one.
///
/// Production needs a release in force; a provisional one permits nothing after its end, not even a trial, until its run
/// is stopped. A slide turned during the run re-opens the first piece for the *next* release
/// and does not stop this one. A trial needs its begin on record, or a release.
#[must_use]
pub fn run_permit(
    setup: Option<&Setup>,
    machine: &Code,
    facts: &MachineFacts,
    purpose: PermitPurpose,
    now: DateTime<Utc>,
) -> RunPermit {
    let mut findings = Findings::under(RuleSet::ALL);
    let about = |rule: Rule, sentence: String| {
        Refusal::new(rule, sentence).about(Subject::coded(SubjectKind::Machine, machine))
    };
    let open = setup.filter(|setup| !setup.is_closed());
    let released = open.is_some_and(Setup::is_released);
    let begun = released || open.is_some_and(|setup| setup.trial);
    match purpose {
        PermitPurpose::Trial => findings.add_if(!begun, || {
            about(Rule::TrialNotBegun, format!("No trial has begun on machine {machine} as everything stands now."))
        }),
        PermitPurpose::Production => findings.add_if(!released, || {
            about(Rule::NoReleaseInForce, format!("No release is in force on machine {machine}."))
                .clears("Clear what else is listed, then release the setup.")
        }),
    }
    let readiness = match purpose {
        PermitPurpose::Production if !released => Readiness::Release,
        _ => Readiness::Trial,
    };
    if let Some(ended) = open.and_then(|setup| setup.provisional_ended(now)) {
        findings.add(ended);
    }
    match open {
        Some(setup) => blockers::examine(setup, facts, readiness, &mut findings),
        None => {
            blockers::tagged_out(machine, facts, &mut findings);
            blockers::gauges_on_record(facts, &mut findings);
        }
    }
    let not_beyond = open.and_then(Setup::provisional).map(|held| held.end.until);
    RunPermit { permitted: findings.is_empty(), blockers: findings.into_refusals(), not_beyond }
}
