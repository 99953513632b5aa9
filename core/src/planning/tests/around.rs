//! What stands around a job: its machine when it is down, and where the items are that would serve it.

use super::{
    AtWork, CandidateHolder, NeedKind, Purpose, Readiness, code, given, holder, job, options, reasons, report, shop,
    tool,
};
use crate::{
    ids::PersonId,
    item::Keeper,
    planning::{needs::OpenBreakdown, plan::Plan, report::Detail},
};
use uuid::Uuid;

#[test]
fn a_machine_that_is_down_is_told_and_taken_as_running_again() {
    let mut shop = shop();
    let down = |told: &super::JobReport| {
        let said = told.assumptions.iter().filter(|said| said.contains("is reported down"));
        said.cloned().collect::<Vec<_>>()
    };
    assert!(down(&report(&shop, options(), 0)).is_empty());
    let down_from = "2027-01-02T23:30:00Z".parse().unwrap();
    let what = "Chip conveyor stands still.".to_owned();
    shop.jobs[0].machine.breakdowns = vec![OpenBreakdown { down_from, what }];
    let told = report(&shop, options(), 0);
    assert_eq!((told.state, reasons(&told)), (Readiness::Ready, vec![]));
    let sentence = "Machine M-1 is reported down since 2027-01-02: Chip conveyor stands still. The plan takes it as \
        running again by then.";
    assert_eq!((down(&told), &told.machine_down), (vec![sentence.to_owned()], &vec![sentence.to_owned()]));
    // Nothing is planned any more of a job whose pieces are made.
    shop.jobs[0].made = shop.jobs[0].quantity;
    let made = report(&shop, options(), 0);
    assert_eq!((down(&made), made.machine_down), (vec![], vec![]));
}

fn in_setup(name: &str, machine: &str) -> CandidateHolder {
    let mut seated = holder(name);
    seated.item.at_work = Some(AtWork { job: None, setup: Some((code(machine), code("S1"))) });
    seated
}

#[test]
fn what_lies_in_the_crib_goes_before_what_is_out_and_that_before_what_another_machine_has() {
    let mut shop = shop();
    let mut out = holder("HD-2");
    out.item.whereabouts.keeper = Keeper::Person(PersonId::from_uuid(Uuid::nil()));
    out.item.purpose = Some(Purpose::Use);
    shop.holders = vec![in_setup("HD-1", "M-9"), out, holder("HD-3"), holder("HD-4")];
    let mut with_somebody = tool("FT-0", 1000);
    with_somebody.item.whereabouts.keeper = Keeper::Person(PersonId::from_uuid(Uuid::nil()));
    shop.tools.insert(0, with_somebody);
    let told = report(&shop, options(), 0);
    assert_eq!((given(&told, NeedKind::Holder), given(&told, NeedKind::FormTool)), (vec!["HD-3"], vec!["FT-1"]));
    let considered: Vec<&str> = told.needs[1].considered.iter().map(|one| one.code.as_str()).collect();
    assert_eq!(considered, ["HD-1", "HD-2", "HD-3", "HD-4"], "by code, as ever");
    shop.holders.truncate(2);
    assert_eq!(given(&report(&shop, options(), 0), NeedKind::Holder), ["HD-2"]);
    shop.holders.truncate(1);
    assert_eq!(given(&report(&shop, options(), 0), NeedKind::Holder), ["HD-1"], "it serves all the same");
    // What is in this very machine stays there.
    shop.holders = vec![holder("HD-1"), in_setup("HD-2", "M-1")];
    assert_eq!(given(&report(&shop, options(), 0), NeedKind::Holder), ["HD-2"]);
    // Nearer is no reason to waste more.
    shop.tools[0].life.on_edge = 950;
    assert_eq!(given(&report(&shop, options(), 0), NeedKind::FormTool), ["FT-0"]);
}

#[test]
fn what_another_machine_has_is_taken_where_a_job_would_else_go_without() {
    let mut shop = shop();
    shop.jobs.push(job(2, 11, 13, 100));
    shop.tools.push(tool("FT-2", 1000));
    shop.holders = vec![in_setup("HD-1", "M-9"), holder("HD-2")];
    let plan = Plan::new(&shop, options());
    let given: Vec<_> = (0..2)
        .map(|at| {
            let told = plan.report(at, Detail::Outcome).unwrap();
            given(&told, NeedKind::Holder).into_iter().map(str::to_owned).collect::<Vec<_>>()
        })
        .collect();
    assert_eq!(given, [["HD-2"], ["HD-1"]]);
}
