//! What may be kept for a job, and what of it holds after the job changed.

use super::{booked, code, day, days, holder, inches, job, job_id, kept, options, report, shop, tool};
use crate::{
    findings::RuleSet,
    ids::ToolDesignId,
    item::{Condition, Purpose},
    planning::{
        booking::{AfterChange, Bookable, Wish, after_change, book},
        candidate::{AtWork, CandidateHolder, CandidateTool},
        needs::PlannedJob,
        report::Readiness,
    },
    refusal::Rule,
    registry::job::JobState,
    scan::Scanned,
};
use uuid::Uuid;

fn wish(station: &str, item: Bookable) -> [Wish; 1] {
    [Wish { station: code(station), item: Scanned::Known(item) }]
}

fn refused(job: &PlannedJob, state: JobState, wishes: &[Wish]) -> Vec<Rule> {
    let refusals = book(job, state, job.window, wishes, RuleSet::ALL).err().unwrap_or_default();
    let rules: Vec<Rule> = refusals.iter().map(|refusal| refusal.rule).collect();
    for rule in &rules {
        let without = book(job, state, job.window, wishes, RuleSet::without(*rule)).err().unwrap_or_default();
        assert!(without.iter().all(|refusal| refusal.rule != *rule));
    }
    rules
}

#[test]
pub(crate) fn only_what_a_station_needs_is_kept_for_a_job_and_for_one_job_at_a_time() {
    let (job, planned) = (job(1, 11, 13, 900), JobState::Planned);
    let (tool, holder) = (tool("FT-1", 1000), holder("HD-1"));
    let asks = |station: &str, item: Bookable| refused(&job, planned, &wish(station, item));
    assert_eq!(asks("S1", Bookable::Tool(tool.clone())), []);
    assert_eq!(asks("S1", Bookable::Holder(holder.clone())), []);
    assert_eq!(asks("S2", Bookable::Tool(tool.clone())), [Rule::NotNeededThere]);
    let changed = |change: fn(&mut CandidateTool)| {
        let mut tool = tool.clone();
        change(&mut tool);
        Bookable::Tool(tool)
    };
    assert_eq!(
        asks("S1", changed(|tool| tool.design = ToolDesignId::from_uuid(Uuid::nil()))),
        [Rule::ToolDesignMismatch]
    );
    assert_eq!(asks("S1", changed(|tool| tool.height = inches(0.4))), [Rule::ToolBelowMinimumHeight]);
    assert_eq!(asks("S1", changed(|tool| tool.item.condition = Condition::Retired)), [Rule::ItemNotUsable]);
    // What is away today may be back by then.
    assert_eq!(asks("S1", changed(|tool| tool.item.purpose = Some(Purpose::Grind))), []);
    assert_eq!(asks("S1", changed(|tool| tool.item.booked = vec![booked(9, "S1", days(13, 20))])), [Rule::ItemBooked]);
    assert_eq!(asks("S1", changed(|tool| tool.item.booked = vec![booked(9, "S1", days(14, 20))])), []);
    assert_eq!(asks("S1", changed(|tool| tool.item.booked = vec![booked(1, "S2", days(11, 13))])), [Rule::ItemBooked]);
    let other = Bookable::Holder(CandidateHolder { style: "DT-B".to_owned(), ..holder });
    assert_eq!(asks("S1", other), [Rule::HolderStyleMismatch]);
    assert_eq!(refused(&job, JobState::Done, &wish("S1", Bookable::Tool(tool))), [Rule::JobNotOpen]);
    let unknown = [Wish { station: code("S1"), item: Scanned::Unknown { text: "X".to_owned() } }];
    assert_eq!(refused(&job, planned, &unknown), [Rule::ItemUnknown]);
}

/// Whoever books it decides that a customer's tool is used for others, with the owner's consent until the job's last day; the
/// plan by itself never does.
#[test]
fn a_customers_tool_serves_another_part_only_where_somebody_books_it() {
    let job = job(1, 11, 13, 900);
    let lent = |until: Option<u32>| CandidateTool {
        ownership: kept(Some("Ashby Pumps"), until.map(day)),
        ..tool("FT-1", 1000)
    };
    let told = |tool: CandidateTool| {
        let wishes = wish("S1", Bookable::Tool(tool));
        let refusals = book(&job, JobState::Planned, job.window, &wishes, RuleSet::ALL).err().unwrap_or_default();
        refusals.into_iter().map(|refusal| (refusal.rule, refusal.sentence, refusal.clears)).collect::<Vec<_>>()
    };
    assert_eq!(told(lent(Some(13))), []);
    let [(rule, sentence, clears)] = &told(lent(None))[..] else { panic!() };
    assert_eq!(*rule, Rule::ReservedForOtherPart);
    assert_eq!(sentence, "Tool FT-1 belongs to Ashby Pumps and is kept for part P-9, not for P-1.");
    assert_eq!(clears, "Take another tool, or record the owner's consent to lend it.");
    let [(_, sentence, _)] = &told(lent(Some(12)))[..] else { panic!() };
    assert!(sentence.ends_with("; for part P-1 it is lent until 2027-01-12 only."), "{sentence}");
    let own = CandidateTool { ownership: kept(None, None), ..tool("FT-1", 1000) };
    let [(_, _, clears)] = &told(own)[..] else { panic!() };
    assert_eq!(clears, "Take another tool, or have a supervisor free this one.");

    // The plan: what is lent and booked for nobody, what is booked, and what is in the job's setup.
    let planned = |tool: CandidateTool| {
        let mut shop = shop();
        shop.tools = vec![tool];
        let report = report(&shop, options(), 0);
        let need = &report.needs[0];
        let cleared = need.reasons.iter().find(|reason| reason.rule == Rule::ReservedForOtherPart);
        (report.state, cleared.map(|reason| reason.clears.clone()))
    };
    let (ready, short) = (Readiness::Ready, Readiness::Short);
    assert_eq!(planned(lent(Some(13))), (short, Some("Book it for this job, or take another tool.".to_owned())));
    let (state, clears) = planned(lent(None));
    assert_eq!(state, short);
    assert!(clears.is_some_and(|clears| clears.ends_with("and book it for this job.")));
    let booked_for_it = |until| {
        let mut tool = lent(until);
        tool.item.booked = vec![booked(1, "S1", days(11, 13))];
        tool
    };
    let in_its_setup = |until| {
        let mut tool = lent(until);
        let its_job = Some((job_id(1), code("J-1"), day(13)));
        tool.item.at_work = Some(AtWork { job: its_job, setup: Some((code("M-1"), code("S1"))) });
        tool
    };
    for tool in [booked_for_it(Some(13)), in_its_setup(Some(13))] {
        assert_eq!(planned(tool), (ready, None));
    }
    for tool in [booked_for_it(None), in_its_setup(Some(12))] {
        let (state, clears) = planned(tool);
        assert_eq!(state, short);
        assert_eq!(clears.as_deref(), Some("Take another tool, or record the owner's consent to lend it."));
    }
}

#[test]
fn a_booking_moves_with_its_job_where_it_can() {
    let mut job = job(1, 11, 13, 900);
    let mut kept = tool("FT-1", 1000);
    kept.item.booked = vec![booked(1, "S1", days(11, 13)), booked(9, "S1", days(20, 21))];
    let ends = |job: &PlannedJob, state, window| {
        let station = code("S1");
        match after_change(job, state, window, &station, &Bookable::Tool(kept.clone()), RuleSet::ALL) {
            AfterChange::Moves => vec![],
            AfterChange::Stays => panic!("it stays"),
            AfterChange::Ends(refusals) => refusals.iter().map(|refusal| refusal.rule).collect::<Vec<_>>(),
        }
    };
    assert_eq!(ends(&job, JobState::Planned, days(14, 19)), []);
    assert_eq!(ends(&job, JobState::Planned, days(14, 20)), [Rule::ItemBooked]);
    assert_eq!(ends(&job, JobState::Cancelled, days(11, 13)), [Rule::JobNotOpen]);
    job.stations.clear();
    assert_eq!(ends(&job, JobState::Planned, days(11, 13)), [Rule::NotNeededThere]);
}

#[test]
fn a_booking_whose_job_runs_over_into_another_stays_as_it_is() {
    let job = job(1, 11, 13, 900);
    let mut kept = tool("FT-1", 1000);
    kept.item.booked = vec![booked(1, "S1", days(11, 20)), booked(9, "S1", days(20, 21))];
    kept.item.booked[0].booked_until = days(11, 13).last();
    let after = |job: &PlannedJob, state| {
        after_change(job, state, days(11, 20), &code("S1"), &Bookable::Tool(kept.clone()), RuleSet::ALL)
    };
    assert_eq!(after(&job, JobState::Planned), AfterChange::Stays);
    assert!(matches!(after(&job, JobState::Done), AfterChange::Ends(_)));
    // The job that is kept waiting keeps its booking too: it was there first.
    let waiting = PlannedJob { job: job_id(9), ..job };
    let told = |window| {
        after_change(&waiting, JobState::Planned, window, &code("S1"), &Bookable::Tool(kept.clone()), RuleSet::ALL)
    };
    assert_eq!(told(days(20, 22)), AfterChange::Moves);
    assert!(matches!(told(days(13, 22)), AfterChange::Ends(_)));
}
