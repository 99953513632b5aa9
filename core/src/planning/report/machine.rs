//! What a plan says of a job's machine, its gauge, and what it assumed.

use super::{Given, NeedKind, NeedReport, Readiness, judged};
use crate::{
    code::Code,
    findings::Findings,
    planning::{
        examine,
        needs::PlannedJob,
        plan::Plan,
        window::{EndBasis, RUNNING_SECONDS_A_DAY},
    },
    refusal::{Refusal, Rule, Subject, SubjectKind},
};
use std::collections::BTreeSet;

impl Plan<'_> {
    pub(super) fn machine(&self, at: usize, job: &PlannedJob) -> (Vec<Refusal>, Readiness) {
        let machine = &job.machine;
        let about = |rule: Rule, sentence: String| {
            Refusal::new(rule, sentence).about(Subject::coded(SubjectKind::Machine, &machine.code))
        };
        let mut missing = Findings::under(self.options.rules);
        missing.add_if(machine.tagged_out, || {
            about(Rule::MachineTaggedOut, format!("Machine {} is out of service.", machine.code))
        });
        missing
            .add_if(machine.retired, || about(Rule::MachineRetired, format!("Machine {} is retired.", machine.code)));
        for need in job.stations.iter().filter(|need| need.on_machine.is_none()) {
            let sentence = format!(
                "Machine {} has no station {}, where part {} is worked.",
                machine.code, need.station, job.part_code
            );
            missing.add(about(Rule::StationMissing, sentence));
        }
        let mut twice = Findings::under(self.options.rules);
        for other in self.on_machine(machine.machine).filter(|other| *other != at) {
            let other = &self.records.jobs[other];
            if self.follow_too_soon(job, other) {
                let (number, days) = (&other.number, other.days(self.options.today));
                let sentence = format!(
                    "Machine {} is planned for job {number} too, from {} to {}.",
                    machine.code,
                    days.first(),
                    days.last()
                );
                twice.add(about(Rule::MachinePlannedTwice, sentence).saw(number.as_str()));
            }
        }
        let state = if !missing.is_empty() {
            Readiness::Short
        } else if twice.is_empty() {
            Readiness::Ready
        } else {
            Readiness::Conflict
        };
        let mut reasons = missing.into_refusals();
        reasons.extend(twice.into_refusals());
        (reasons, state)
    }

    /// Whether the later of two jobs of a machine begins before the day on which the earlier ends. On that day itself
    /// one may follow the other, unless both are wholly of that day and it is too short for them.
    fn follow_too_soon(&self, one: &PlannedJob, other: &PlannedJob) -> bool {
        let today = self.options.today;
        let (days, others) = (one.days(today), other.days(today));
        if !days.overlaps(others) {
            return false;
        }
        let one_day = days == others && days.first() == days.last();
        let together = one.running_seconds.zip(other.running_seconds).map(|(one, other)| one + other);
        let too_short = one_day && together.is_some_and(|seconds| seconds > RUNNING_SECONDS_A_DAY);
        too_short || days.first().max(others.first()) < days.last().min(others.last())
    }

    /// The machine's gauge, or gauges where each is limited to some stations.
    pub(super) fn gauge(&self, job: &PlannedJob) -> Option<NeedReport> {
        let stations: Vec<&Code> =
            job.stations.iter().filter(|need| need.is_set_on_gauge()).map(|need| &need.station).collect();
        if stations.is_empty() || job.left() == 0 {
            return None;
        }
        let own: Vec<_> = self
            .gauges_of(job.machine.machine)
            .map(|gauge| (gauge, examine::gauge(job, gauge, self.options)))
            .collect();
        let (mut chosen, mut reasons) = (BTreeSet::new(), Findings::under(self.options.rules));
        for station in stations {
            let fits = own
                .iter()
                .enumerate()
                .filter(|(_, (gauge, _))| gauge.stations.is_empty() || gauge.stations.contains(station));
            if let Some((index, _)) = fits.clone().find(|(_, (_, against))| against.is_empty()) {
                chosen.insert(index);
                continue;
            }
            reasons.add_if(fits.clone().count() == 0, || {
                let sentence = format!("Machine {} has no centre gauge for station {station}.", job.machine.code);
                Refusal::new(Rule::NoneOnRecord, sentence)
            });
            fits.flat_map(|(_, (_, against))| against).for_each(|reason| reasons.add(reason.clone()));
        }
        let given = chosen.iter().map(|index| {
            let item = &own[*index].0.item;
            Given {
                item: item.item,
                code: item.code.clone(),
                whereabouts: item.whereabouts.clone(),
                kept: true,
                pieces_left: None,
                pieces: None,
            }
        });
        let reasons = reasons.clone().into_refusals();
        Some(NeedReport {
            kind: NeedKind::CenterGauge,
            station: None,
            asks: None,
            pieces: None,
            state: if reasons.is_empty() { Readiness::Ready } else { Readiness::Short },
            given: given.collect(),
            waste: None,
            considered: own.iter().map(|(gauge, against)| judged(&gauge.item, None, against.clone())).collect(),
            considered_in_all: Some(own.len()),
            reasons,
        })
    }

    /// What is reported of a machine that is down, and what the plan makes of it.
    pub(super) fn breakdowns(job: &PlannedJob) -> Vec<String> {
        let code = &job.machine.code;
        let down = job.machine.breakdowns.iter().map(|breakdown| {
            let (since, what) = (breakdown.down_from.date_naive(), breakdown.what.trim_end_matches('.'));
            format!(
                "Machine {code} is reported down since {since}: {what}. The plan takes it as running again by then."
            )
        });
        down.collect()
    }

    pub(super) fn assumptions(&self, job: &PlannedJob) -> Vec<String> {
        let days = job.days(self.options.today);
        let mut said = vec![format!("The records stand as on {}; nothing comes back by itself.", self.options.today)];
        said.extend(match job.end {
            EndBasis::Planned => None,
            EndBasis::OneDay => {
                Some("No end is planned and the part has no cycle time: one day is reckoned.".to_owned())
            }
            EndBasis::CycleTime | EndBasis::CycleTimeCutOff => {
                Some(format!("No end is planned: {} follows from the cycle time, at 8 hours a day.", days.last()))
            }
        });
        if days.last() > job.window.last() {
            said.push(format!("The job was to end on {}; it is reckoned until today.", job.window.last()));
        }
        if job.left() == 0 {
            said.push("All pieces are made: nothing is needed any more.".to_owned());
            return said;
        }
        said.extend(Self::breakdowns(job));
        said.push(if self.options.regrind_within_lot {
            "Tools may leave the machine within the lot, and between lots, to be ground: every grind left counts as a fresh \
             edge, once."
                .to_owned()
        } else {
            "No tool leaves the machine within the lot to be ground, and no grind before it is foreseen: only the edge in \
             use counts, less what the jobs before use up."
                .to_owned()
        });
        let mut told = BTreeSet::new();
        for design in job.stations.iter().filter_map(|need| need.design.as_ref()) {
            if told.insert(design.design.id) {
                said.push(match self.records.outlooks.get(&design.design.id) {
                    Some(outlook) => outlook.words(&design.design.code),
                    None => format!(
                        "Pieces left on edges of {}: the design's expected {}, less those cut since the last grind.",
                        design.design.code, design.pieces_per_edge
                    ),
                });
            }
        }
        for need in &job.stations {
            if need.design.is_none() {
                said.push(format!("Station {} needs a tool without a form: which one is not planned.", need.station));
            }
            if need.holder_style.is_none() && need.is_set_on_gauge() {
                said.push(format!("Station {} takes a holder of any style: which one is not planned.", need.station));
            }
        }
        said
    }
}
