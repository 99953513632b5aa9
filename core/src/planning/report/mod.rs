//! What a plan says of one job: what would serve it, what it is given, what is missing and why.

mod machine;
mod why;

use super::{
    candidate::Candidate,
    plan::{Group, Member, Need, Plan},
};
use crate::{
    code::Code, findings::Findings, ids::ItemId, item::Whereabouts, names::named, refusal::Refusal,
    registry::job::JobState,
};

/// The most reasons that are told of one need.
const MOST_REASONS: usize = 50;

/// The most items that are named as considered for one need.
const MOST_CONSIDERED: usize = 100;

/// How much is told of each need.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// With every item that was considered, those that would serve first, at most a hundred.
    Considered,
    /// Only what it is given and what stands in the way.
    Outcome,
}

named! {
    /// How a job or one of its needs stands.
    Readiness {
        /// The job is made or called off: nothing is needed.
        Closed = "closed",
        /// Everything is there.
        Ready = "ready",
        /// It would be, if another job did not want or have the same.
        Conflict = "conflict",
        /// Something is missing, whatever other jobs do.
        Short = "short",
    }
}

named! {
    /// What is needed.
    NeedKind {
        /// Form tools of a design.
        FormTool = "form_tool",
        /// A holder of a style.
        Holder = "holder",
        /// The machine's centre gauge.
        CenterGauge = "center_gauge",
    }
}

/// An item that a need is given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Given {
    /// The item.
    pub item: ItemId,
    /// Its code.
    pub code: Code,
    /// Where it is.
    pub whereabouts: Whereabouts,
    /// Whether it is booked for the job, or in its setup, already.
    pub kept: bool,
    /// Pieces it can make in the lot; for form tools.
    pub pieces_left: Option<i64>,
    /// Pieces it is to make; for form tools.
    pub pieces: Option<i64>,
}

/// An item that might serve.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Considered {
    /// The item.
    pub item: ItemId,
    /// Its code.
    pub code: Code,
    /// Where it is.
    pub whereabouts: Whereabouts,
    /// Pieces it can make in the lot; for form tools.
    pub pieces_left: Option<i64>,
    /// What speaks against it; empty when it would serve.
    pub reasons: Vec<Refusal>,
}

/// One need of a job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NeedReport {
    /// What is needed.
    pub kind: NeedKind,
    /// At which station; none for the gauge, which serves several.
    pub station: Option<Code>,
    /// The design's code or the style that is asked for.
    pub asks: Option<String>,
    /// Pieces to make; for form tools.
    pub pieces: Option<i64>,
    /// How it stands.
    pub state: Readiness,
    /// What it is given, in the order of use.
    pub given: Vec<Given>,
    /// Pieces of life that this wastes; for form tools that are given.
    pub waste: Option<i64>,
    /// What was considered: what would serve first, then by code.
    pub considered: Vec<Considered>,
    /// How many were considered; none when that was not asked.
    pub considered_in_all: Option<usize>,
    /// What stands in the way, where it is not ready.
    pub reasons: Vec<Refusal>,
}

/// What a plan says of one job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JobReport {
    /// How it stands.
    pub state: Readiness,
    /// What speaks against its machine on its days.
    pub machine: Vec<Refusal>,
    /// What is reported broken down on its machine and taken as mended by then, in words; it stands among the assumptions.
    pub machine_down: Vec<String>,
    /// Its needs.
    pub needs: Vec<NeedReport>,
    /// What was assumed, in words.
    pub assumptions: Vec<String>,
    /// Whether no better plan exists for what it needs.
    pub exact: bool,
}

impl JobReport {
    /// What is said of a job that is no longer to be made.
    #[must_use]
    pub fn closed(number: &Code, state: JobState) -> Self {
        let assumptions = vec![format!("Job {number} is {state}: nothing is needed for it.")];
        Self {
            state: Readiness::Closed,
            machine: Vec::new(),
            machine_down: Vec::new(),
            needs: Vec::new(),
            assumptions,
            exact: true,
        }
    }

    /// Everything that stands in the way.
    pub fn reasons(&self) -> impl Iterator<Item = &Refusal> {
        self.machine.iter().chain(self.needs.iter().flat_map(|need| &need.reasons))
    }
}

impl Plan<'_> {
    /// What the plan says of the job at this place among the jobs.
    #[must_use]
    pub fn report(&self, at: usize, detail: Detail) -> Option<JobReport> {
        let job = self.records.jobs.get(at)?;
        let (machine, mut state) = self.machine(at, job);
        let (mut needs, mut exact) = (Vec::new(), true);
        for (station, need) in job.stations.iter().enumerate().filter(|_| job.left() > 0) {
            if let (Some(group), Some(design)) = (self.tools_for(need), &need.design) {
                exact &= group.exact;
                let asks = design.design.code.to_string();
                needs.extend(self.need(group, NeedKind::FormTool, (at, station), asks, detail));
            }
            if let (Some(group), Some(style)) = (self.holders_for(need), &need.holder_style) {
                exact &= group.exact;
                needs.extend(self.need(group, NeedKind::Holder, (at, station), style.clone(), detail));
            }
        }
        needs.extend(self.gauge(job));
        state = needs.iter().map(|need| need.state).fold(state, Ord::max);
        let machine_down = if job.left() > 0 { Self::breakdowns(job) } else { Vec::new() };
        Some(JobReport { state, machine, machine_down, needs, assumptions: self.assumptions(job), exact })
    }

    fn need<M: Member>(
        &self,
        group: &Group<'_, M>,
        kind: NeedKind,
        at: (usize, usize),
        asks: String,
        detail: Detail,
    ) -> Option<NeedReport> {
        let found = group.needs.binary_search_by_key(&at, |need| (need.job, need.station)).ok()?;
        let need = &group.needs[found];
        let station = &self.records.jobs[need.job].stations[need.station];
        let missing = !need.is_served() && !need.within_reach;
        let (mut state, mut reasons) =
            if missing { (Readiness::Ready, Vec::new()) } else { self.contested(group, kind, need, &asks) };
        let mut considered = match detail {
            Detail::Outcome if !missing => Vec::new(),
            _ => self.considered(group, kind, need),
        };
        if missing {
            (state, reasons) = self.why_not(group, kind, need, &asks, &considered);
        }
        reasons.truncate(MOST_REASONS);
        let considered_in_all = (detail == Detail::Considered).then_some(considered.len());
        considered
            .sort_by(|one, other| (!one.reasons.is_empty(), &one.code).cmp(&(!other.reasons.is_empty(), &other.code)));
        considered.truncate(if detail == Detail::Considered { MOST_CONSIDERED } else { 0 });
        let is_tool = kind == NeedKind::FormTool;
        Some(NeedReport {
            kind,
            station: Some(station.station.clone()),
            asks: Some(asks),
            pieces: is_tool.then_some(need.pieces),
            state,
            waste: (is_tool && need.is_served()).then(|| group.kind.wasted(need.kept.iter().chain(&need.given))),
            given: self.given(group, kind, need),
            considered,
            considered_in_all,
            reasons,
        })
    }

    fn considered<M: Member>(&self, group: &Group<'_, M>, kind: NeedKind, need: &Need) -> Vec<Considered> {
        let job = &self.records.jobs[need.job];
        let station = &job.stations[need.station];
        let judged = group.members.iter().enumerate().map(|(number, member)| {
            let mut findings = Findings::under(self.options.rules);
            member.at_all(self.options, &mut findings);
            member.for_need(job, station, self.options, &mut findings);
            let left = (kind == NeedKind::FormTool).then(|| need.able(group, number));
            judged(member.item(), left, findings.into_refusals())
        });
        judged.collect()
    }

    fn given<M: Member>(&self, group: &Group<'_, M>, kind: NeedKind, need: &Need) -> Vec<Given> {
        let kept = need.kept.iter().map(|share| (share, true));
        let given = kept.chain(need.given.iter().map(|share| (share, false))).map(|(share, kept)| {
            let item = group.members[share.supply].item();
            let tool = kind == NeedKind::FormTool;
            Given {
                item: item.item,
                code: item.code.clone(),
                whereabouts: item.whereabouts.clone(),
                kept,
                pieces_left: tool.then_some(share.able),
                pieces: tool.then_some(share.pieces),
            }
        });
        given.collect()
    }
}

fn judged(item: &Candidate, pieces_left: Option<i64>, reasons: Vec<Refusal>) -> Considered {
    let (code, whereabouts) = (item.code.clone(), item.whereabouts.clone());
    Considered { item: item.item, code, whereabouts, pieces_left, reasons }
}
