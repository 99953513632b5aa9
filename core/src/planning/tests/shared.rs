//! What several jobs have of one tool: each piece is promised once.

use super::{DESIGN, code, day, days, given, holder, job, job_id, options, reasons, report, shop, tool, two_jobs};
use super::{Detail, JobReport, NeedKind, Options, Plan, Readiness, Records, booked};
use crate::{
    ids::BookingId,
    life::{edge::EdgeLives, left::Experience},
    planning::{candidate::BookedDays, outlook::EdgeOutlook},
    refusal::Rule,
};
use uuid::Uuid;

fn in_sequence(quantities: [i64; 2]) -> Records {
    let mut shop = two_jobs();
    shop.jobs[1].window = days(20, 21);
    for (job, quantity) in shop.jobs.iter_mut().zip(quantities) {
        job.quantity = quantity;
    }
    shop
}

fn made(report: &JobReport) -> Vec<(Option<i64>, Option<i64>)> {
    report.needs[0].given.iter().map(|given| (given.pieces_left, given.pieces)).collect()
}

#[test]
fn what_is_left_of_a_tool_is_promised_once_to_jobs_one_after_the_other() {
    let lasts = in_sequence([900, 100]);
    assert_eq!(made(&report(&lasts, options(), 0)), [(Some(1000), Some(900))]);
    assert_eq!(made(&report(&lasts, options(), 1)), [(Some(100), Some(100))]);
    // One piece more, and the second job sees who uses the edge up; the first is ready, whatever comes after it.
    let shop = in_sequence([900, 101]);
    assert_eq!(report(&shop, options(), 0).state, Readiness::Ready);
    let second = report(&shop, options(), 1);
    assert_eq!((second.state, reasons(&second)), (Readiness::Conflict, vec![Rule::WantedByOtherJob]));
    assert_eq!(second.needs[0].reasons[0].saw.as_deref(), Some("J-1"));
    assert!(second.assumptions.iter().any(|said| said.contains("less what the jobs before use up")));
    // Grinds that are asked for are shared as well: one of them makes the second job, none a third.
    let mut ground = in_sequence([1000, 1000]);
    ground.tools[0].life.grinds = 1;
    let asked = Options { regrind_within_lot: true, ..options() };
    assert_eq!(made(&report(&ground, asked, 1)), [(Some(1000), Some(1000))]);
    ground.jobs[1].quantity = 1001;
    assert_eq!(report(&ground, asked, 1).state, Readiness::Conflict);
}

#[test]
fn what_a_booked_tool_is_to_make_is_gone_for_every_other_job() {
    // Booked for the later job: the earlier one has the rest of its edge.
    let mut shop = in_sequence([100, 900]);
    shop.tools[0].item.booked = vec![booked(2, "S1", days(20, 21))];
    assert_eq!(made(&report(&shop, options(), 0)), [(Some(100), Some(100))]);
    shop.jobs[0].quantity = 101;
    let first = report(&shop, options(), 0);
    assert_eq!((first.state, reasons(&first)), (Readiness::Conflict, vec![Rule::ItemBooked]));
    assert!(first.needs[0].reasons[0].sentence.contains("uses 900 of the 1000 pieces"), "{first:?}");
    assert_eq!(made(&report(&shop, options(), 1)), [(Some(1000), Some(900))]);
    // Booked for both, they have it in their order.
    shop.tools[0].item.booked.insert(0, booked(1, "S1", days(11, 13)));
    assert_eq!(report(&shop, options(), 0).state, Readiness::Ready);
    let second = report(&shop, options(), 1);
    assert_eq!((second.state, reasons(&second)), (Readiness::Conflict, vec![Rule::ItemBooked]));
    assert_eq!(made(&second), [(Some(899), Some(899))]);
}

#[test]
fn a_booking_of_a_job_that_runs_over_keeps_its_tool_and_both_jobs_see_it() {
    let mut shop = in_sequence([100, 100]);
    let over = |number, window, today| {
        let id = (job_id(number), code(&format!("J-{number}")));
        BookedDays::new(BookingId::from_uuid(Uuid::from_u128(number)), id, code("S1"), window, day(today))
    };
    // Planned until the 13th, not finished on the 20th, when the next begins.
    shop.tools[0].item.booked = vec![over(1, days(11, 13), 20), over(2, days(20, 21), 20)];
    assert!(shop.tools[0].item.booked[0].runs_over() && !shop.tools[0].item.booked[1].runs_over());
    let on_the_20th = Options::on(day(20));
    let (first, second) = (report(&shop, on_the_20th, 0), report(&shop, on_the_20th, 1));
    assert_eq!((first.state, &reasons(&first)[..1]), (Readiness::Conflict, &[Rule::ItemBooked][..]));
    assert_eq!(first.needs[0].reasons[0].saw.as_deref(), Some("J-2"));
    assert!(first.needs[0].given[0].kept, "it keeps it");
    assert_eq!((second.state, &reasons(&second)[..1]), (Readiness::Conflict, &[Rule::ItemBooked][..]));
    assert_eq!(second.needs[0].reasons[0].saw.as_deref(), Some("J-1"));
    assert!(second.needs[0].reasons[0].sentence.contains("was to end on 2027-01-13"), "{second:?}");
    // Another tool would do: the job that is kept waiting is told all the same.
    shop.tools.push(tool("FT-2", 1000));
    let second = report(&shop, on_the_20th, 1);
    assert_eq!((second.state, given(&second, NeedKind::FormTool)), (Readiness::Conflict, vec!["FT-2"]));
    assert_eq!(given(&report(&shop, on_the_20th, 0), NeedKind::FormTool), ["FT-1"]);
}

#[test]
fn two_stations_of_one_job_do_not_share_what_is_left() {
    let mut shop = shop();
    let mut other = shop.jobs[0].stations[0].clone();
    other.station = code("S2");
    shop.jobs[0].stations.push(other);
    let told = report(&shop, options(), 0);
    assert_eq!((told.state, reasons(&told)), (Readiness::Short, vec![Rule::LifeTooShort, Rule::NoneOnRecord]));
}

#[test]
fn plans_count_on_what_the_designs_edges_taught_and_say_so() {
    let mut shop = shop();
    let mut lives = EdgeLives::default();
    [3100, 4200, 4700, 5200, 5400, 6100, 7400, 8000].iter().for_each(|pieces| lives.add(*pieces, true));
    let outlook = EdgeOutlook::of(Experience::of(&lives, 1000));
    shop.jobs[0].quantity = 1001 + outlook.fresh_edge();
    shop.outlooks.insert(DESIGN, outlook.clone());
    let asked = Options { regrind_within_lot: true, ..options() };
    let told = report(&shop, asked, 0);
    // The edge in use, a fresh one, and a piece of another.
    let waste = outlook.fresh_edge() - 1 + 2 * (outlook.fresh_edge() / 10);
    assert_eq!((told.state, told.needs[0].waste), (Readiness::Ready, Some(waste)));
    assert!(told.assumptions.contains(&outlook.words(&code("TD-1"))), "{told:?}");
    shop.outlooks.clear();
    let told = report(&shop, asked, 0);
    assert!(told.assumptions.iter().any(|said| said.contains("the design's expected 1000")), "{told:?}");
}

/// Hundreds of needs of one style for which there are too few holders: who goes without, and who sees it. Compared each
/// with each and every holder, this would take minutes.
#[test]
fn a_crowded_style_is_told_in_no_time() {
    let jobs = 600;
    let mut shop = Records {
        jobs: (1..=jobs).map(|number| job(number, 11, 13, 10)).collect(),
        holders: (0..400).map(|number| holder(&format!("HD-{number:03}"))).collect(),
        ..Records::default()
    };
    shop.jobs.iter_mut().for_each(|job| job.stations[0].design = None);
    let plan = Plan::new(&shop, options());
    let states: Vec<Readiness> =
        (0..shop.jobs.len()).map(|at| plan.report(at, Detail::Outcome).unwrap().needs[0].state).collect();
    assert!(states.iter().all(|state| *state == Readiness::Conflict));
}
