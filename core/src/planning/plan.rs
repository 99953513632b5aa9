//! The plan of all jobs together: the matching problem of [`super`], made of the records and solved design by design
//! and style by style.

use super::{
    candidate::{Candidate, CandidateGauge, CandidateHolder, CandidateTool},
    examine::{self, Options},
    matching::{EFFORT, Kind, Left, Lot, Share, Supply, make, match_lots},
    needs::{DesignNeed, PlannedJob, StationNeed},
    outlook::EdgeOutlook,
    window::Window,
};
use crate::{
    findings::Findings,
    ids::{MachineId, ToolDesignId},
    machine::ToolFace,
};
use chrono::NaiveDate;
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
    /// How long edges last, by design; where it is not known the design's expected figure stands.
    pub outlooks: BTreeMap<ToolDesignId, EdgeOutlook>,
}

impl Records {
    /// Pieces that a fresh edge of a design is counted on for.
    #[must_use]
    pub fn fresh_edge(&self, design: &DesignNeed) -> i64 {
        self.outlooks.get(&design.design.id).map_or(design.pieces_per_edge, EdgeOutlook::fresh_edge)
    }
}

/// A plan for all jobs.
#[derive(Debug)]
pub struct Plan<'a> {
    pub(super) records: &'a Records,
    pub(super) options: Options,
    tools: BTreeMap<ToolDesignId, Group<'a, CandidateTool>>,
    holders: BTreeMap<&'a str, Group<'a, CandidateHolder>>,
    /// The jobs of each machine, by their places.
    jobs_on: BTreeMap<MachineId, Vec<usize>>,
    gauges: BTreeMap<MachineId, Vec<&'a CandidateGauge>>,
}

/// An item that is given to jobs.
pub(super) trait Member {
    fn item(&self) -> &Candidate;
    /// What the plan may count on in it.
    fn left(&self, options: Options) -> Left;
    /// Whether nothing on record of it can tell needs apart that end by a day and look the same way.
    fn is_plain(&self, until: NaiveDate, options: Options) -> bool;
    fn at_all(&self, options: Options, findings: &mut Findings);
    fn for_need(&self, job: &PlannedJob, need: &StationNeed, options: Options, findings: &mut Findings);
}

impl Member for CandidateTool {
    fn item(&self) -> &Candidate {
        &self.item
    }

    fn left(&self, options: Options) -> Left {
        Left { edge: self.life.on_edge, grinds: if options.regrind_within_lot { self.life.grinds } else { 0 } }
    }

    fn is_plain(&self, _: NaiveDate, _: Options) -> bool {
        self.item.is_nobodys() && self.ownership.belonging.reserved_for.is_none()
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

    fn left(&self, _: Options) -> Left {
        Left { edge: 1, grinds: 0 }
    }

    fn is_plain(&self, until: NaiveDate, _: Options) -> bool {
        self.item.is_nobodys() && self.next_check.is_none_or(|day| day >= until)
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
    /// What is at hand first, what is in setups last, then by code: of edges that are as long the first is used up first.
    pub(super) members: Vec<&'a M>,
    pub(super) needs: Vec<Need>,
    /// What each member has left for jobs that it is not kept for.
    left: Vec<Left>,
    /// The members that a job has, today or on some day.
    pub(super) held: Vec<usize>,
    pub(super) exact: bool,
    /// Whether a need goes without.
    pub(super) is_short: bool,
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
    /// What stands there for the job already, and serves, in the order of use.
    pub(super) kept: Vec<Share>,
    /// Pieces that are left to others.
    pub(super) rest: i64,
    /// Which others would serve, whatever the other jobs want.
    pub(super) serves: Vec<bool>,
    /// What the plan gives besides what is kept, in the order of use.
    pub(super) given: Vec<Share>,
    /// Whether it could be served if no other job wanted anything that it has not.
    pub(super) within_reach: bool,
}

impl Need {
    /// Whether it is served.
    pub(super) fn is_served(&self) -> bool {
        self.rest <= 0 || !self.given.is_empty()
    }

    /// Pieces that a member could make here if no job but those that it is kept for wanted any.
    pub(super) fn able<M>(&self, group: &Group<'_, M>, member: usize) -> i64 {
        let share = self.kept.iter().chain(&self.given).find(|share| share.supply == member);
        share.map_or_else(|| group.left[member].life(group.kind), |share| share.able)
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
                    let kind = Kind::tools(records.fresh_edge(design));
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
        let (tools, holders) = (tools.collect(), holders.collect());
        let mut jobs_on: BTreeMap<MachineId, Vec<usize>> = BTreeMap::new();
        for (at, job) in jobs.iter().enumerate() {
            jobs_on.entry(job.machine.machine).or_default().push(at);
        }
        let mut gauges: BTreeMap<MachineId, Vec<&CandidateGauge>> = BTreeMap::new();
        for gauge in &records.gauges {
            gauges.entry(gauge.machine).or_default().push(gauge);
        }
        Self { records, options, tools, holders, jobs_on, gauges }
    }

    /// The jobs of a machine, by their places among the jobs.
    pub(super) fn on_machine(&self, machine: MachineId) -> impl Iterator<Item = usize> {
        self.jobs_on.get(&machine).into_iter().flatten().copied()
    }

    /// The gauges that are cut to a machine.
    pub(super) fn gauges_of(&self, machine: MachineId) -> impl Iterator<Item = &'a CandidateGauge> {
        self.gauges.get(&machine).into_iter().flatten().copied()
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
        mut members: Vec<&'a M>,
        wanted: &[(usize, usize)],
        pieces: impl Fn(&PlannedJob) -> i64,
        options: Options,
    ) -> Self {
        members.sort_by_key(|member| member.item().nearness(None));
        let left = members.iter().map(|member| member.left(options)).collect();
        let held = (0..members.len()).filter(|member| !members[*member].item().is_nobodys()).collect();
        let mut needs: Vec<Need> = Vec::with_capacity(wanted.len());
        for ((job, station), serves) in wanted.iter().copied().zip(serving(jobs, &members, wanted, options)) {
            let (days, pieces) = (jobs[job].days(options.today), pieces(&jobs[job]));
            needs.push(Need {
                job,
                station,
                days,
                pieces,
                kept: Vec::new(),
                rest: pieces,
                serves,
                given: Vec::new(),
                within_reach: true,
            });
        }
        let mut group = Self { kind, members, needs, left, held, exact: true, is_short: false };
        group.keep_what_is_kept(jobs);
        group.give(jobs);
        group
    }

    /// What stands at one station for a job is used there first. What it makes is gone for every other job, and on the
    /// same days it is free for none, of the same job neither.
    fn keep_what_is_kept(&mut self, jobs: &[PlannedJob]) {
        let mut kept: Vec<(usize, Window)> = Vec::new();
        for need in &mut self.needs {
            let job = &jobs[need.job];
            let is_kept = |member: &usize| {
                need.serves[*member]
                    && self.members[*member].item().is_kept_for(job.job, &job.stations[need.station].station)
            };
            let members: Vec<usize> = self.held.iter().copied().filter(is_kept).collect();
            need.kept = make(self.kind, need.pieces, &members, &mut self.left);
            need.rest = need.kept.iter().fold(need.pieces, |rest, share| rest - share.pieces);
            kept.extend(members.into_iter().map(|member| (member, need.days)));
        }
        for (member, days) in kept {
            for need in self.needs.iter_mut().filter(|need| need.days.overlaps(days)) {
                need.serves[member] = false;
            }
        }
    }

    fn give(&mut self, jobs: &[PlannedJob]) {
        let open: Vec<usize> = (0..self.needs.len()).filter(|need| self.needs[*need].rest > 0).collect();
        let lots: Vec<Lot> =
            open.iter().map(|need| Lot { window: self.needs[*need].days, pieces: self.needs[*need].rest }).collect();
        let machine = |need: &usize| &jobs[self.needs[*need].job].machine.code;
        let supplies = self.left.iter().zip(&self.members).enumerate().map(|(number, (left, member))| Supply {
            left: *left,
            serves: open.iter().map(|need| self.needs[*need].serves[number]).collect(),
            nearness: open.iter().map(|need| member.item().nearness(Some(machine(need)))).collect(),
        });
        let matching = match_lots(self.kind, &lots, &supplies.collect::<Vec<_>>(), EFFORT);
        self.exact = matching.exact;
        for (need, given) in open.into_iter().zip(matching.given) {
            self.is_short |= given.is_none();
            self.needs[need].given = given.unwrap_or_default();
        }
        let within_reach: Vec<bool> =
            self.needs.iter().map(|need| need.is_served() || self.able_for(need) >= need.rest).collect();
        for (need, within_reach) in self.needs.iter_mut().zip(within_reach) {
            need.within_reach = within_reach;
        }
    }

    /// What all that would serve a need could make there besides what is kept for it, if no other job wanted anything
    /// that it has not.
    pub(super) fn able_for(&self, need: &Need) -> i64 {
        let able =
            need.serves.iter().zip(&self.left).filter(|(serves, _)| **serves).map(|(_, left)| left.life(self.kind));
        able.fold(0, i64::saturating_add)
    }
}

/// For each need, which members would serve it. What nothing on record ties to a job or a day is asked once for all needs
/// that look the same way.
fn serving<M: Member>(
    jobs: &[PlannedJob],
    members: &[&M],
    wanted: &[(usize, usize)],
    options: Options,
) -> Vec<Vec<bool>> {
    let at = |(job, station): (usize, usize)| (&jobs[job], &jobs[job].stations[station]);
    let until = wanted.iter().map(|need| at(*need).0.days(options.today).last()).max().unwrap_or(options.today);
    let face = |need: (usize, usize)| at(need).1.on_machine.map(|station| station.tool_face);
    let faces: Vec<_> = wanted.iter().map(|need| face(*need)).collect();
    let mut serves = vec![vec![false; members.len()]; wanted.len()];
    for (number, member) in members.iter().enumerate() {
        if !is_clear(options, |findings| member.at_all(options, findings)) {
            continue;
        }
        let plain = member.is_plain(until, options);
        let mut known: Vec<(Option<ToolFace>, bool)> = Vec::new();
        for (need, face) in faces.iter().enumerate() {
            let answered = known.iter().find(|(known, _)| plain && known == face).map(|(_, serves)| *serves);
            serves[need][number] = answered.unwrap_or_else(|| {
                let (job, station) = at(wanted[need]);
                let clear = is_clear(options, |findings| member.for_need(job, station, options, findings));
                known.push((*face, clear));
                clear
            });
        }
    }
    serves
}

fn is_clear(options: Options, examine: impl FnOnce(&mut Findings)) -> bool {
    let mut findings = Findings::under(options.rules);
    examine(&mut findings);
    findings.is_empty()
}
