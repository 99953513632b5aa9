//! Plans of a small shop: what each rule says of a job, and what two jobs see of each other.

use super::{
    candidate::{AtWork, BookedDays, Candidate, CandidateGauge, CandidateHolder, CandidateTool, Life},
    examine::Options,
    needs::{DesignNeed, PlannedJob, PlannedMachine, StationNeed, StationOnMachine},
    plan::{Plan, Records},
    report::{Detail, JobReport, NeedKind, Readiness},
    window::{EndBasis, Window},
};
use crate::{
    code::Code,
    findings::RuleSet,
    ids::{BookingId, ItemId, JobId, MachineId, PartId, PlaceId, ToolDesignId},
    item::{Condition, ItemKind, Keeper, Purpose, Whereabouts},
    length::{Length, LengthUnit},
    life::ownership::{Belonging, Consent, ConsentKind, Ownership, PartRef},
    machine::{StationKind, ToolFace},
    refusal::Rule,
    setup::plan::DesignRef,
};
use chrono::NaiveDate;
use uuid::Uuid;

mod around;
pub(crate) mod bookings;
mod shared;

fn code(text: &str) -> Code {
    Code::parse(text).unwrap()
}

fn day(number: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2027, 1, number).unwrap()
}

fn days(first: u32, last: u32) -> Window {
    Window::new(day(first), day(last)).unwrap()
}

fn inches(value: f64) -> Length {
    Length::new(value, LengthUnit::Inch).unwrap()
}

const TODAY: u32 = 4;
const DESIGN: ToolDesignId = ToolDesignId::from_uuid(Uuid::from_u128(1));
const MACHINE: MachineId = MachineId::from_uuid(Uuid::from_u128(2));
const PART: PartId = PartId::from_uuid(Uuid::from_u128(3));

fn job_id(number: u128) -> JobId {
    JobId::from_uuid(Uuid::from_u128(100 + number))
}

fn design() -> DesignNeed {
    DesignNeed {
        design: DesignRef { id: DESIGN, code: code("TD-1") },
        tool_face: Some(ToolFace::Up),
        holder_style: "DT-A".to_owned(),
        minimum_height: inches(0.5),
        grind_stock: inches(0.01),
        pieces_per_edge: 1000,
    }
}

/// One station that needs a tool of the design in a holder of its style, on a machine of the job's own.
fn job(number: u128, first: u32, last: u32, pieces: i64) -> PlannedJob {
    PlannedJob {
        job: job_id(number),
        number: code(&format!("J-{number}")),
        part: PART,
        part_code: code("P-1"),
        machine: PlannedMachine {
            machine: if number == 1 { MACHINE } else { MachineId::from_uuid(Uuid::from_u128(200 + number)) },
            code: code(&format!("M-{number}")),
            tagged_out: false,
            retired: false,
            breakdowns: Vec::new(),
        },
        window: days(first, last),
        end: EndBasis::Planned,
        running_seconds: None,
        quantity: pieces,
        made: 0,
        stations: vec![StationNeed {
            station: code("S1"),
            on_machine: Some(StationOnMachine { kind: StationKind::CrossSlide, tool_face: ToolFace::Up }),
            design: Some(design()),
            holder_style: Some("DT-A".to_owned()),
        }],
    }
}

fn item(name: &str, kind: ItemKind) -> Candidate {
    Candidate {
        item: ItemId::from_uuid(Uuid::from_u128(name.bytes().fold(0, |id, byte| id << 8 | u128::from(byte)))),
        code: code(name),
        kind,
        condition: Condition::Usable,
        whereabouts: Whereabouts {
            keeper: Keeper::Place(PlaceId::from_uuid(Uuid::nil())),
            name: "BIN-1".to_owned(),
            outside: false,
        },
        purpose: None,
        due: None,
        at_work: None,
        booked: Vec::new(),
    }
}

fn tool(name: &str, on_edge: i64) -> CandidateTool {
    CandidateTool {
        item: item(name, ItemKind::FormTool),
        design: DESIGN,
        height: inches(0.6),
        life: Life { on_edge, grinds: 10 },
        checked_after_grind: true,
        ownership: Ownership::default(),
    }
}

/// Kept for another part; a customer's where an owner is named, and lent for the jobs' part until a day.
fn kept(owner: Option<&str>, lent_until: Option<NaiveDate>) -> Ownership {
    let reserved_for = Some(PartRef { id: PartId::from_uuid(Uuid::nil()), code: code("P-9") });
    let lent = lent_until.map(|last| Consent { kind: ConsentKind::Lend, part: Some(PART), valid_until: Some(last) });
    let belonging = Belonging { owner: owner.map(str::to_owned), reserved_for };
    Ownership { belonging, consents: lent.into_iter().collect() }
}

fn holder(name: &str) -> CandidateHolder {
    CandidateHolder { item: item(name, ItemKind::Holder), style: "DT-A".to_owned(), next_check: None }
}

fn gauge(name: &str, machine: MachineId) -> CandidateGauge {
    CandidateGauge {
        item: item(name, ItemKind::CenterGauge),
        machine,
        stations: Vec::new(),
        next_check: Some(day(31)),
        last_accepted_check_at: Some("2026-12-01T08:00:00Z".parse().unwrap()),
        centers_may_have_moved_at: None,
    }
}

/// One job of 900 pieces for which everything is there.
fn shop() -> Records {
    Records {
        jobs: vec![job(1, 11, 13, 900)],
        tools: vec![tool("FT-1", 1000)],
        holders: vec![holder("HD-1")],
        gauges: vec![gauge("CG-1", MACHINE)],
        ..Records::default()
    }
}

fn booked(number: u128, station: &str, window: Window) -> BookedDays {
    BookedDays {
        booking: BookingId::from_uuid(Uuid::from_u128(number)),
        job: job_id(number),
        number: code(&format!("J-{number}")),
        station: code(station),
        days: window,
        booked_until: window.last(),
    }
}

fn options() -> Options {
    Options::on(day(TODAY))
}

fn report(records: &Records, options: Options, at: usize) -> JobReport {
    let plan = Plan::new(records, options);
    assert!(plan.is_exact());
    plan.report(at, Detail::Considered).unwrap()
}

fn reasons(report: &JobReport) -> Vec<Rule> {
    let needs = report.needs.iter().flat_map(|need| need.reasons.iter());
    report.machine.iter().chain(needs).map(|reason| reason.rule).collect()
}

fn given(report: &JobReport, kind: NeedKind) -> Vec<&str> {
    let needs = report.needs.iter().filter(|need| need.kind == kind);
    needs.flat_map(|need| need.given.iter().map(|given| given.code.as_str())).collect()
}

#[test]
fn a_job_with_everything_there_is_ready() {
    let shop = shop();
    let report = report(&shop, options(), 0);
    assert_eq!((report.state, reasons(&report)), (Readiness::Ready, vec![]));
    assert_eq!(given(&report, NeedKind::FormTool), ["FT-1"]);
    assert_eq!(given(&report, NeedKind::Holder), ["HD-1"]);
    assert_eq!(given(&report, NeedKind::CenterGauge), ["CG-1"]);
    assert_eq!(report.needs[0].waste, Some(100));
    assert_eq!(report.needs[0].given[0].pieces, Some(900));
}

/// A change of the shop, the state it leaves the job in, and the rules that say so.
type Trouble = (&'static str, fn(&mut Records), Readiness, &'static [Rule]);

const SHORT: Readiness = Readiness::Short;

const TROUBLES: &[Trouble] = &[
    ("worn", |s| s.tools[0].item.condition = Condition::NeedsGrinding, SHORT, &[Rule::ToolNotUsable]),
    ("at the grinder", |s| s.tools[0].item.purpose = Some(Purpose::Grind), SHORT, &[Rule::OutForGrinding]),
    ("at the laboratory", |s| s.gauges[0].item.purpose = Some(Purpose::Check), SHORT, &[Rule::OutForCheck]),
    ("away", |s| s.holders[0].item.whereabouts.outside = true, SHORT, &[Rule::OutsideTheShop]),
    ("unchecked", |s| s.tools[0].checked_after_grind = false, SHORT, &[Rule::NotCheckedAfterGrind]),
    ("too low", |s| s.tools[0].height = inches(0.49), SHORT, &[Rule::ToolBelowMinimumHeight]),
    ("kept for another part", |s| s.tools[0].ownership = kept(None, None), SHORT, &[Rule::ReservedForOtherPart]),
    (
        "inverted",
        |s| s.jobs[0].stations[0].on_machine.as_mut().unwrap().tool_face = ToolFace::Down,
        SHORT,
        &[Rule::ToolHandMismatch],
    ),
    ("no tool", |s| s.tools.clear(), SHORT, &[Rule::NoneOnRecord]),
    ("holder damaged", |s| s.holders[0].item.condition = Condition::Damaged, SHORT, &[Rule::HolderNotUsable]),
    ("holder overdue", |s| s.holders[0].next_check = Some(day(3)), SHORT, &[Rule::HolderNotUsable]),
    ("holder due", |s| s.holders[0].next_check = Some(day(12)), SHORT, &[Rule::CheckDueInRun]),
    ("gauge due", |s| s.gauges[0].next_check = Some(day(12)), SHORT, &[Rule::CheckDueInRun]),
    ("gauge overdue", |s| s.gauges[0].next_check = Some(day(3)), SHORT, &[Rule::GaugeCheckOverdue]),
    ("gauge never checked", |s| s.gauges[0].last_accepted_check_at = None, SHORT, &[Rule::GaugeNeverChecked]),
    (
        "gauge stale",
        |s| s.gauges[0].centers_may_have_moved_at = s.gauges[0].last_accepted_check_at,
        SHORT,
        &[Rule::GaugeStale],
    ),
    ("gauge damaged", |s| s.gauges[0].item.condition = Condition::Damaged, SHORT, &[Rule::GaugeNotUsable]),
    ("gauge of another station", |s| s.gauges[0].stations = vec![code("S9")], SHORT, &[Rule::NoneOnRecord]),
    ("tagged out", |s| s.jobs[0].machine.tagged_out = true, SHORT, &[Rule::MachineTaggedOut]),
    ("retired", |s| s.jobs[0].machine.retired = true, SHORT, &[Rule::MachineRetired]),
    (
        "in a setup of no job",
        |s| {
            s.jobs[0].window = days(4, 4);
            s.holders[0].item.at_work = Some(AtWork { job: None, setup: Some((code("M-9"), code("S1"))) });
        },
        SHORT,
        &[Rule::ItemInSetup],
    ),
    (
        "booked",
        |s| s.holders[0].item.booked = vec![booked(9, "S1", days(13, 20))],
        Readiness::Conflict,
        &[Rule::ItemBooked],
    ),
    (
        "at work",
        |s| {
            s.tools[0].item.at_work = Some(AtWork { job: Some((job_id(9), code("J-9"), day(12))), setup: None });
        },
        Readiness::Conflict,
        &[Rule::ItemBooked],
    ),
];

#[test]
pub(crate) fn each_rule_is_told_and_is_not_without_it() {
    for (what, trouble, state, rules) in TROUBLES {
        let mut shop = shop();
        trouble(&mut shop);
        let told = report(&shop, options(), 0);
        assert_eq!(told.state, *state, "{what}");
        for rule in *rules {
            assert!(reasons(&told).contains(rule), "{what}: {told:?}");
            let silent = report(&shop, Options { rules: RuleSet::without(*rule), ..options() }, 0);
            assert!(!reasons(&silent).contains(rule), "{what}");
        }
        let others: Vec<Rule> = reasons(&told).into_iter().filter(|rule| !rules.contains(rule)).collect();
        assert!(others.iter().all(|rule| *rule == Rule::LifeTooShort), "{what}: {others:?}");
    }
}

#[test]
pub(crate) fn a_station_that_the_machine_lacks_is_told() {
    let mut shop = shop();
    shop.jobs[0].stations[0].on_machine = None;
    let report = report(&shop, options(), 0);
    assert_eq!((report.state, reasons(&report)), (Readiness::Short, vec![Rule::StationMissing]));
}

#[test]
pub(crate) fn what_a_lot_lacks_is_told_in_pieces_and_grinding_within_it_is_counted_only_when_asked() {
    let mut shop = shop();
    shop.jobs[0].quantity = 2500;
    shop.tools.push(tool("FT-2", 700));
    let short = report(&shop, options(), 0);
    assert_eq!((short.state, reasons(&short)), (Readiness::Short, vec![Rule::LifeTooShort]));
    assert_eq!(short.needs[0].reasons[0].saw.as_deref(), Some("800 pieces short"));
    let ground = report(&shop, Options { regrind_within_lot: true, ..options() }, 0);
    assert_eq!(ground.state, Readiness::Ready);
    // 700 and two more edges of 1,000: 200 over, and two changes at a tenth of an edge. FT-1 and one grind less cost as
    // much, but would take two tools; FT-1 alone would leave 500 over.
    assert_eq!((given(&ground, NeedKind::FormTool), ground.needs[0].waste), (vec!["FT-2"], Some(400)));
    // What is made already is not needed again.
    shop.jobs[0].made = 1100;
    let fewer = report(&shop, options(), 0);
    assert_eq!((fewer.state, given(&fewer, NeedKind::FormTool)), (Readiness::Ready, vec!["FT-2", "FT-1"]));
    assert_eq!(fewer.needs[0].given.iter().map(|given| given.pieces).collect::<Vec<_>>(), [Some(700), Some(700)]);
}

fn two_jobs() -> Records {
    let mut shop = shop();
    shop.jobs.push(job(2, 13, 14, 800));
    shop.holders.push(holder("HD-2"));
    shop.gauges.push(gauge("CG-2", shop.jobs[1].machine.machine));
    shop
}

#[test]
pub(crate) fn a_tool_that_two_jobs_want_is_a_conflict_that_both_see_until_one_has_it() {
    let mut shop = two_jobs();
    for at in 0..2 {
        let report = report(&shop, options(), at);
        assert_eq!((report.state, reasons(&report)), (Readiness::Conflict, vec![Rule::WantedByOtherJob]));
        let other = format!("J-{}", 2 - at);
        assert_eq!(report.needs[0].reasons[0].saw.as_deref(), Some(other.as_str()));
        let silent = Options { rules: RuleSet::without(Rule::WantedByOtherJob), ..options() };
        assert_eq!(reasons(&self::report(&shop, silent, at)), []);
    }
    // Booked for the later one, it is that one's.
    shop.tools[0].item.booked = vec![booked(2, "S1", days(13, 14))];
    let (first, second) = (report(&shop, options(), 0), report(&shop, options(), 1));
    assert_eq!((second.state, given(&second, NeedKind::FormTool)), (Readiness::Ready, vec!["FT-1"]));
    assert_eq!((first.state, reasons(&first)), (Readiness::Conflict, vec![Rule::ItemBooked]));
    assert!(second.needs[0].given[0].kept);
    // With a day between them there is none, if the edge lasts for both.
    shop.tools[0].item.booked.clear();
    shop.jobs[1].window = days(14, 15);
    shop.jobs[1].quantity = 100;
    assert!((0..2).all(|at| report(&shop, options(), at).state == Readiness::Ready));
}

#[test]
pub(crate) fn a_machine_makes_one_job_at_a_time() {
    let mut shop = two_jobs();
    shop.jobs[1].machine = shop.jobs[0].machine.clone();
    shop.jobs[1].stations.clear();
    assert_eq!(report(&shop, options(), 0).state, Readiness::Ready, "the next may begin on the day the first ends");
    let twice = |shop: &Records| {
        for at in 0..2 {
            let told = report(shop, options(), at);
            assert_eq!((told.state, reasons(&told)), (Readiness::Conflict, vec![Rule::MachinePlannedTwice]));
        }
    };
    shop.jobs[1].window = days(12, 14);
    twice(&shop);
    // Both on one day: as far as is known they follow each other, until the day is too short for both.
    for job in &mut shop.jobs {
        job.window = days(12, 12);
    }
    let ready = |shop: &Records| assert_eq!(report(shop, options(), 0).state, Readiness::Ready);
    ready(&shop);
    let five_hours = Some(5.0 * 3600.0);
    (shop.jobs[0].running_seconds, shop.jobs[1].running_seconds) = (five_hours, Some(3.0 * 3600.0));
    ready(&shop);
    shop.jobs[1].running_seconds = five_hours;
    twice(&shop);
}

#[test]
fn what_is_kept_counts_first_and_is_free_for_nothing_else() {
    let mut shop = two_jobs();
    shop.tools = vec![tool("FT-1", 400), tool("FT-2", 1000), tool("FT-3", 500)];
    shop.tools[0].item.booked = vec![booked(1, "S1", days(11, 13))];
    let report = report(&shop, options(), 0);
    assert_eq!(given(&report, NeedKind::FormTool), ["FT-1", "FT-3"]);
    assert_eq!(report.needs[0].waste, Some(100), "one change, and nothing left over");
    assert_eq!(given(&self::report(&shop, options(), 1), NeedKind::FormTool), ["FT-2"]);
}
