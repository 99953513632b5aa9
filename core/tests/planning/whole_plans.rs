//! Plans made of records: bookings, days and reservations first, then every answer for what is left.

use crate::every_answer::{Item, Terms, Wish, best};
use chrono::{Days, NaiveDate};
use dovetally_core::{
    code::Code,
    ids::{BookingId, ItemId, JobId, MachineId, PartId, PlaceId, ToolDesignId},
    item::{Condition, ItemKind, Keeper, Whereabouts},
    length::{Length, LengthUnit},
    life::ownership::{Belonging, Ownership, PartRef},
    machine::{StationKind, ToolFace},
    planning::{
        candidate::{BookedDays, Candidate, CandidateHolder, CandidateTool, Life},
        examine::Options,
        needs::{DesignNeed, PlannedJob, PlannedMachine, StationNeed, StationOnMachine},
        plan::{Plan, Records},
        report::{Detail, NeedKind, NeedReport, Readiness},
        window::{EndBasis, Window},
    },
    setup::plan::DesignRef,
};
use proptest::{collection::vec, prelude::*};
use uuid::Uuid;

const FRESH: i64 = 20;
/// The change that follows from it.
const CHANGE: i64 = 2;

fn day(number: u64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2027, 1, 1).unwrap() + Days::new(number)
}

fn code(text: &str) -> Code {
    Code::parse(text).unwrap()
}

fn uuid(kind: usize, number: usize) -> Uuid {
    Uuid::from_u128((kind as u128) << 64 | number as u128)
}

#[derive(Clone, Debug)]
struct JobCase {
    days: (u64, u64),
    pieces: i64,
    part: usize,
    faces_down: bool,
}

#[derive(Clone, Debug)]
struct ToolCase {
    edge: i64,
    reserved_for: Option<usize>,
    /// Jobs for which somebody tries to book it.
    booked: Vec<bool>,
}

#[derive(Clone, Debug)]
struct HolderCase {
    /// The last day of its check.
    valid: Option<u64>,
    booked: Vec<bool>,
}

/// The jobs for which it is booked, in their order: on one day for one only.
fn bookings(asked: &[bool], jobs: &[JobCase]) -> Vec<usize> {
    let mut taken: Vec<usize> = Vec::new();
    for (number, job) in jobs.iter().enumerate().filter(|(number, _)| asked[*number]) {
        if taken.iter().all(|other| jobs[*other].days.1 < job.days.0 || job.days.1 < jobs[*other].days.0) {
            taken.push(number);
        }
    }
    taken
}

fn window(job: &JobCase) -> Window {
    Window::new(day(job.days.0), day(job.days.1)).unwrap()
}

fn candidate(kind: ItemKind, number: usize, booked_for: &[usize], jobs: &[JobCase]) -> Candidate {
    let prefix = if kind == ItemKind::Holder { "HD" } else { "FT" };
    let booked = booked_for.iter().map(|job| {
        let id = (JobId::from_uuid(uuid(1, *job)), code(&format!("J-{job}")));
        BookedDays::new(BookingId::from_uuid(uuid(9 + number, *job)), id, code("S1"), window(&jobs[*job]), day(0))
    });
    Candidate {
        item: ItemId::from_uuid(uuid(if kind == ItemKind::Holder { 2 } else { 3 }, number)),
        code: code(&format!("{prefix}-{number}")),
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
        booked: booked.collect(),
    }
}

fn part(number: usize) -> PartId {
    PartId::from_uuid(uuid(4, number))
}

fn records(jobs: &[JobCase], tools: &[ToolCase], holders: &[HolderCase]) -> Records {
    let inches = |value| Length::new(value, LengthUnit::Inch).unwrap();
    let design = DesignNeed {
        design: DesignRef { id: ToolDesignId::from_uuid(uuid(5, 0)), code: code("TD-1") },
        tool_face: Some(ToolFace::Up),
        holder_style: "DT-A".to_owned(),
        minimum_height: inches(0.5),
        grind_stock: inches(0.01),
        pieces_per_edge: FRESH,
    };
    let planned = jobs.iter().enumerate().map(|(number, job)| PlannedJob {
        job: JobId::from_uuid(uuid(1, number)),
        number: code(&format!("J-{number}")),
        part: part(job.part),
        part_code: code("P-1"),
        machine: PlannedMachine {
            machine: MachineId::from_uuid(uuid(6, number)),
            code: code("M-1"),
            tagged_out: false,
            retired: false,
            breakdowns: Vec::new(),
        },
        window: window(job),
        end: EndBasis::Planned,
        running_seconds: None,
        quantity: job.pieces,
        made: 0,
        stations: vec![StationNeed {
            station: code("S1"),
            on_machine: Some(StationOnMachine {
                kind: StationKind::CrossSlide,
                tool_face: if job.faces_down { ToolFace::Down } else { ToolFace::Up },
            }),
            design: Some(design.clone()),
            holder_style: Some("DT-A".to_owned()),
        }],
    });
    let tool = |(number, tool): (usize, &ToolCase)| CandidateTool {
        item: candidate(ItemKind::FormTool, number, &bookings(&tool.booked, jobs), jobs),
        design: design.design.id,
        height: inches(0.6),
        life: Life { on_edge: tool.edge, grinds: 10 },
        checked_after_grind: true,
        ownership: Ownership {
            belonging: Belonging {
                owner: None,
                reserved_for: tool.reserved_for.map(|number| PartRef { id: part(number), code: code("P-9") }),
            },
            consents: Vec::new(),
        },
    };
    let holder = |(number, holder): (usize, &HolderCase)| CandidateHolder {
        item: candidate(ItemKind::Holder, number, &bookings(&holder.booked, jobs), jobs),
        style: "DT-A".to_owned(),
        next_check: holder.valid.map(day),
    };
    Records {
        jobs: planned.collect(),
        tools: tools.iter().enumerate().map(tool).collect(),
        holders: holders.iter().enumerate().map(holder).collect(),
        ..Records::default()
    }
}

/// What each job must be given: what is booked for it and serves, then the best of all answers for what is left.
fn expected(
    terms: Terms,
    jobs: &[JobCase],
    wanted: impl Fn(&JobCase) -> i64,
    things: &[(i64, Vec<usize>, Vec<bool>)],
) -> Vec<Option<Vec<usize>>> {
    let shares_a_day =
        |one: usize, other: usize| jobs[one].days.0 <= jobs[other].days.1 && jobs[other].days.0 <= jobs[one].days.1;
    let mut left: Vec<i64> = things.iter().map(|(edge, ..)| *edge).collect();
    let mut kept: Vec<Vec<usize>> = Vec::new();
    let mut rests: Vec<i64> = Vec::new();
    for (number, job) in jobs.iter().enumerate() {
        let mut own: Vec<usize> =
            (0..things.len()).filter(|thing| things[*thing].1.contains(&number) && things[*thing].2[number]).collect();
        own.sort_by_key(|thing| (left[*thing], *thing));
        let mut rest = wanted(job);
        for thing in &own {
            let made = left[*thing].min(rest);
            rest -= made;
            if terms.used_up {
                left[*thing] -= made;
            }
        }
        kept.push(own);
        rests.push(rest);
    }
    let open: Vec<usize> = (0..jobs.len()).filter(|job| rests[*job] > 0).collect();
    let items: Vec<Item> = things
        .iter()
        .enumerate()
        .map(|(thing, (_, booked, serves))| Item {
            edge: left[thing],
            grinds: 0,
            serves: open
                .iter()
                .map(|job| serves[*job] && !booked.iter().any(|other| shares_a_day(*job, *other)))
                .collect(),
            distance: vec![1; open.len()],
        })
        .collect();
    let wishes: Vec<Wish> = open.iter().map(|job| Wish { days: jobs[*job].days, pieces: rests[*job] }).collect();
    let mut given: Vec<Option<Vec<usize>>> = kept.into_iter().map(Some).collect();
    for (job, set) in open.into_iter().zip(best(terms, &wishes, &items).answer) {
        given[job] = given[job].take().zip(set).map(|(mut kept, set)| {
            kept.extend(set);
            kept
        });
    }
    for own in given.iter_mut().flatten() {
        own.sort_unstable();
    }
    given
}

fn case() -> impl Strategy<Value = (Vec<JobCase>, Vec<ToolCase>, Vec<HolderCase>)> {
    let job = (1..8_u64, 0..3_u64, 1..35_i64, 0..2_usize, prop::bool::weighted(0.1)).prop_map(
        |(first, length, pieces, part, faces_down)| JobCase { days: (first, first + length), pieces, part, faces_down },
    );
    let asked = || vec(prop::bool::weighted(0.2), 4);
    let tool = (0..=FRESH, prop::option::weighted(0.2, 0..2_usize), asked())
        .prop_map(|(edge, reserved_for, booked)| ToolCase { edge, reserved_for, booked });
    let holder =
        (prop::option::weighted(0.5, 0..12_u64), asked()).prop_map(|(valid, booked)| HolderCase { valid, booked });
    (vec(job, 1..=4), vec(tool, 0..=3), vec(holder, 0..=3)).prop_map(|(mut jobs, tools, holders)| {
        jobs.sort_by_key(|job| job.days.0);
        (jobs, tools, holders)
    })
}

fn check(need: &NeedReport, expected: Option<&Vec<usize>>, prefix: &str) -> Result<(), TestCaseError> {
    let mut given: Vec<String> = need.given.iter().map(|given| given.code.to_string()).collect();
    given.sort();
    if let Some(expected) = expected {
        prop_assert_eq!(given, expected.iter().map(|number| format!("{prefix}-{number}")).collect::<Vec<_>>());
    }
    let served = expected.is_some();
    prop_assert!(served || need.state != Readiness::Ready, "{need:?}");
    prop_assert!((need.state == Readiness::Ready) == need.reasons.is_empty(), "{need:?}");
    prop_assert!(served || need.state != Readiness::Short || !need.reasons.is_empty());
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn readiness_and_kit_are_the_best_of_all_answers((jobs, tools, holders) in case()) {
        let records = records(&jobs, &tools, &holders);
        let plan = Plan::new(&records, Options::on(day(0)));
        prop_assert!(plan.is_exact());
        let of_tools: Vec<_> = tools.iter().map(|tool| {
            let serves = jobs.iter().map(|job| {
                tool.edge > 0 && !job.faces_down && tool.reserved_for.is_none_or(|part| part == job.part)
            });
            (tool.edge, bookings(&tool.booked, &jobs), serves.collect())
        }).collect();
        let of_holders: Vec<_> = holders.iter().map(|holder| {
            let serves = jobs.iter().map(|job| holder.valid.is_none_or(|valid| valid >= job.days.1));
            (1, bookings(&holder.booked, &jobs), serves.collect())
        }).collect();
        let tools_given =
            expected(Terms { fresh: FRESH, change: CHANGE, used_up: true }, &jobs, |job| job.pieces, &of_tools);
        let holders_given = expected(Terms { fresh: 1, change: 0, used_up: false }, &jobs, |_| 1, &of_holders);
        let mut made = vec![0; tools.len()];
        for (number, job) in jobs.iter().enumerate() {
            let report = plan.report(number, Detail::Considered).unwrap();
            let need = |kind| report.needs.iter().find(|need: &&NeedReport| need.kind == kind).unwrap();
            let (tool, holder) = (need(NeedKind::FormTool), need(NeedKind::Holder));
            check(tool, tools_given[number].as_ref(), "FT")?;
            check(holder, holders_given[number].as_ref(), "HD")?;
            let pieces: i64 = tool.given.iter().filter_map(|given| given.pieces).sum();
            prop_assert!(pieces == job.pieces || tools_given[number].is_none());
            for given in &tool.given {
                let at = tools.iter().enumerate().position(|(at, _)| given.code.as_str() == format!("FT-{at}"));
                made[at.unwrap()] += given.pieces.unwrap();
            }
        }
        // No piece is promised twice.
        prop_assert!(made.iter().zip(&tools).all(|(made, tool)| *made <= tool.edge), "{:?}", made);
    }
}
