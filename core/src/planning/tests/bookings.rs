//! What may be kept for a job, and what of it holds after the job changed.

use super::{booked, code, days, holder, inches, job, tool};
use crate::{
    findings::RuleSet,
    ids::ToolDesignId,
    item::{Condition, Purpose},
    planning::{
        booking::{Bookable, Wish, after_change, book},
        candidate::{CandidateHolder, CandidateTool},
        needs::PlannedJob,
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
fn only_what_a_station_needs_is_kept_for_a_job_and_for_one_job_at_a_time() {
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

#[test]
fn a_booking_moves_with_its_job_where_it_can() {
    let mut job = job(1, 11, 13, 900);
    let mut kept = tool("FT-1", 1000);
    kept.item.booked = vec![booked(1, "S1", days(11, 13)), booked(9, "S1", days(20, 21))];
    let ends = |job: &PlannedJob, state, window| {
        let station = code("S1");
        let against = after_change(job, state, window, &station, &Bookable::Tool(kept.clone()), RuleSet::ALL);
        against.iter().map(|refusal| refusal.rule).collect::<Vec<_>>()
    };
    assert_eq!(ends(&job, JobState::Planned, days(14, 19)), []);
    assert_eq!(ends(&job, JobState::Planned, days(14, 20)), [Rule::ItemBooked]);
    assert_eq!(ends(&job, JobState::Cancelled, days(11, 13)), [Rule::JobNotOpen]);
    job.stations.clear();
    assert_eq!(ends(&job, JobState::Planned, days(11, 13)), [Rule::NotNeededThere]);
}
