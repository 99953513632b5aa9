//! The plan of all jobs together: the matching problem of [`super`], made of the records and solved design by design
//! and style by style.

use super::{
    candidate::{Candidate, CandidateGauge, CandidateHolder, CandidateTool},
    examine::{self, Options},
    matching::{EFFORT, Kind, Lot, Supply, match_lots},
    needs::{PlannedJob, StationNeed},
    window::Window,
};
use crate::{findings::Findings, ids::ToolDesignId};
use std::collections::BTreeMap;

/// What a plan is made of. Candidates of a design, style or machine are all there or all left out: what is left out is
/// not planned.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Records {
    /// The jobs still to be made, in the order of [`PlannedJob::priority`].
    pub jobs: Vec<PlannedJob>,
    /// Form tools by code.
    pub tools: Vec<CandidateTool>,
    /// Holders by code.
    pub holders: Vec<CandidateHolder>,
    /// Centre gauges by code.
    pub gauges: Vec<CandidateGauge>,
}

/// A plan for all jobs.
#[derive(Debug)]
pub struct Plan<'a> {
    pub(super) records: &'a Records,
    pub(super) options: Options,
    tools: BTreeMap<ToolDesignId, Group<'a, CandidateTool>>,
    holders: BTreeMap<&'a str, Group<'a, CandidateHolder>>,
}

/// An item that is given to jobs.
pub(super) trait Member {
    fn item(&self) -> &Candidate;
    /// Pieces on its edge, and fresh edges that grinding gives within a lot.
    fn life(&self, options: Options) -> (i64, i64);
    fn at_all(&self, options: Options, findings: &mut Findings);
    fn for_need(&self, job: &PlannedJob, need: &StationNeed, options: Options, findings: &mut Findings);
}

impl Member for CandidateTool {
    fn item(&self) -> &Candidate {
        &self.item
    }

    fn life(&self, options: Options) -> (i64, i64) {
        (self.life.on_edge, if options.regrind_within_lot { self.life.grinds } else { 0 })
    }

    fn at_all(&self, options: Options, findings: &mut Findings) {
        examine::tool_at_all(self, options, findings);
    }

    fn for_need(&self, job: &PlannedJob, need: &StationNeed, options: Options, findings: &mut Findings) {
        examine::tool_for(job, need, self, options, findings);
    }
}

impl Member for CandidateHolder {
    fn item(&self) -> &Candidate {
        &self.item
    }

    fn life(&self, _: Options) -> (i64, i64) {
        (1, 0)
    }

    fn at_all(&self, options: Options, findings: &mut Findings) {
        examine::holder_at_all(self, options, findings);
    }

    fn for_need(&self, job: &PlannedJob, _: &StationNeed, options: Options, findings: &mut Findings) {
        examine::holder_for(job, self, options, findings);
    }
}

/// The items of one design or style, and the needs for them.
#[derive(Debug)]
pub(super) struct Group<'a, M> {
    pub(super) kind: Kind,
    pub(super) members: Vec<&'a M>,
    pub(super) needs: Vec<Need>,
    pub(super) exact: bool,
}

/// One need of a group, and what it is given.
#[derive(Debug)]
pub(super) struct Need {
    /// The job's place among the jobs.
    pub(super) job: usize,
    /// The station's place among the job's stations.
    pub(super) station: usize,
    pub(super) days: Window,
    /// Pieces to make.
    pub(super) pieces: i64,
    /// What stands there for the job already, and serves.
    pub(super) kept: Vec<usize>,
    /// Pieces that are left to others.
    pub(super) rest: i64,
    /// Which others would serve, whatever the other jobs want.
    pub(super) serves: Vec<bool>,
    /// What the plan gives besides what is kept.
    pub(super) given: Vec<usize>,
}

impl Need {
    /// Whether it is served.
    pub(super) fn is_served(&self) -> bool {
        self.rest <= 0 || !self.given.is_empty()
    }
}

impl<'a> Plan<'a> {
    /// Makes the plan.
    #[must_use]
    pub fn new(records: &'a Records, options: Options) -> Self {
        let mut tools: BTreeMap<ToolDesignId, (Kind, Vec<(usize, usize)>)> = BTreeMap::new();
        let mut holders: BTreeMap<&str, Vec<(usize, usize)>> = BTreeMap::new();
        for (number, job) in records.jobs.iter().enumerate().filter(|(_, job)| job.left() > 0) {
            for (station, need) in job.stations.iter().enumerate() {
                if let Some(design) = &need.design {
                    let kind = Kind::tools(design.pieces_per_edge);
                    let entry = tools.entry(design.design.id).or_insert_with(|| (kind, Vec::new()));
                    entry.1.push((number, station));
                }
                if let Some(style) = &need.holder_style {
                    holders.entry(style).or_default().push((number, station));
                }
            }
        }
        let mut of_design: BTreeMap<ToolDesignId, Vec<&CandidateTool>> = BTreeMap::new();
        for tool in &records.tools {
            of_design.entry(tool.design).or_default().push(tool);
        }
        let mut of_style: BTreeMap<&str, Vec<&CandidateHolder>> = BTreeMap::new();
        for holder in &records.holders {
            of_style.entry(&holder.style).or_default().push(holder);
        }
        let jobs = &records.jobs;
        let tools = tools.into_iter().map(|(design, (kind, needs))| {
            let members = of_design.remove(&design).unwrap_or_default();
            (design, Group::new(jobs, kind, members, &needs, PlannedJob::left, options))
        });
        let holders = holders.into_iter().map(|(style, needs)| {
            let members = of_style.remove(style).unwrap_or_default();
            (style, Group::new(jobs, Kind::HOLDERS, members, &needs, |_| 1, options))
        });
        Self { records, options, tools: tools.collect(), holders: holders.collect() }
    }

    /// Whether nothing better exists, for every job.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        self.tools.values().all(|group| group.exact) && self.holders.values().all(|group| group.exact)
    }

    pub(super) fn tools_for(&self, need: &StationNeed) -> Option<&Group<'a, CandidateTool>> {
        self.tools.get(&need.design.as_ref()?.design.id)
    }

    pub(super) fn holders_for(&self, need: &StationNeed) -> Option<&Group<'a, CandidateHolder>> {
        self.holders.get(need.holder_style.as_deref()?)
    }
}

impl<'a, M: Member> Group<'a, M> {
    fn new(
        jobs: &[PlannedJob],
        kind: Kind,
        members: Vec<&'a M>,
        wanted: &[(usize, usize)],
        pieces: impl Fn(&PlannedJob) -> i64,
        options: Options,
    ) -> Self {
        let sound: Vec<bool> = members.iter().map(|member| is_clear(options, |f| member.at_all(options, f))).collect();
        let mut needs: Vec<Need> = Vec::with_capacity(wanted.len());
        for (job_at, station_at) in wanted.iter().copied() {
            let (job, days) = (&jobs[job_at], jobs[job_at].days(options.today));
            let at = &job.stations[station_at];
            let serves = members.iter().zip(&sound).map(|(member, sound)| {
                *sound && is_clear(options, |findings| member.for_need(job, at, options, findings))
            });
            let serves: Vec<bool> = serves.collect();
            let is_kept = |member: &usize| members[*member].item().is_kept_for(job.job, &at.station);
            let kept: Vec<usize> = (0..members.len()).filter(is_kept).filter(|member| serves[*member]).collect();
            let pieces = pieces(job);
            let rest = kept.iter().fold(pieces, |rest, member| rest - life(kind, members[*member], options));
            needs.push(Need { job: job_at, station: station_at, days, pieces, kept, rest, serves, given: Vec::new() });
        }
        let mut group = Self { kind, members, needs, exact: true };
        group.keep_what_is_kept();
        group.give(options);
        group
    }

    /// What stands at one station for a job is free for no other on the same days, of the same job neither.
    fn keep_what_is_kept(&mut self) {
        let kept: Vec<(usize, Window)> =
            self.needs.iter().flat_map(|need| need.kept.iter().map(|member| (*member, need.days))).collect();
        for (member, days) in kept {
            for need in self.needs.iter_mut().filter(|need| need.days.overlaps(days)) {
                need.serves[member] = false;
            }
        }
    }

    fn give(&mut self, options: Options) {
        let open: Vec<usize> = (0..self.needs.len()).filter(|need| self.needs[*need].rest > 0).collect();
        let lots: Vec<Lot> =
            open.iter().map(|need| Lot { window: self.needs[*need].days, pieces: self.needs[*need].rest }).collect();
        let supplies: Vec<Supply> = (0..self.members.len())
            .map(|member| {
                let (edge, grinds) = self.members[member].life(options);
                Supply { edge, grinds, serves: open.iter().map(|need| self.needs[*need].serves[member]).collect() }
            })
            .collect();
        let matching = match_lots(self.kind, &lots, &supplies, EFFORT);
        self.exact = matching.exact;
        for (need, given) in open.into_iter().zip(matching.given) {
            self.needs[need].given = given.unwrap_or_default();
        }
    }

    /// Pieces that a member can make within a lot.
    pub(super) fn life_of(&self, member: usize, options: Options) -> i64 {
        life(self.kind, self.members[member], options)
    }

    /// Whether a need could be served if no other job wanted anything that is not booked.
    pub(super) fn is_within_reach(&self, need: &Need, options: Options) -> bool {
        let able = need.serves.iter().enumerate().filter(|(_, serves)| **serves);
        able.map(|(member, _)| self.life_of(member, options)).sum::<i64>() >= need.rest
    }
}

fn life<M: Member>(kind: Kind, member: &M, options: Options) -> i64 {
    let (edge, grinds) = member.life(options);
    edge + grinds * kind.fresh_edge
}

fn is_clear(options: Options, examine: impl FnOnce(&mut Findings)) -> bool {
    let mut findings = Findings::under(options.rules);
    examine(&mut findings);
    findings.is_empty()
}
