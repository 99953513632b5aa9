//! One list over everything that is due.

use super::{life::outlook::orders, maintenance_plans::Judge};
use crate::{
    conditional::answer_fresh,
    principal::{Guarded, Read},
    problem::Problem,
    transport::due::{DueCounts, DueList, DueQuestion, DueRow},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Days, NaiveDate, Utc};
use dovetally_core::{
    due::{Due, DueKind, Urgency},
    item::{Condition, ItemKind},
    life::arc::{angle_of, usable_angle_deg},
    maintenance::PlanState,
};
use dovetally_db::{
    Connection, due,
    maintenance_plans::{self, MaintenancePlanFilter},
};
use std::collections::BTreeSet;

/// The most of one kind that are listed: nobody works through more, and what is most urgent comes first.
const MOST: i64 = 200;

/// What is due within so many days.
///
/// # Errors
/// 400 for a number of days that is no number from 1 to 366.
pub async fn list(guarded: &Guarded<Read>, question: DueQuestion) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let days = question.days.unwrap_or(7);
    if !(1..=366).contains(&days) {
        return Err(Problem::query("days", "\"days\" is a number from 1 to 366"));
    }
    let list = guarded.database().read(move |connection| list_in(connection, now, days, question.kind)).await?;
    Ok(answer_fresh(&list))
}

/// The same from a connection.
///
/// # Errors
/// A database error.
pub(crate) fn list_in(
    connection: &mut Connection,
    now: DateTime<Utc>,
    days: u16,
    only: Option<DueKind>,
) -> Result<DueList, Problem> {
    let today = now.date_naive();
    let until = today + Days::new(u64::from(days) - 1);
    let (mut all, mut more_of) = (Vec::new(), Vec::new());
    for kind in DueKind::ALL.iter().copied().filter(|kind| only.is_none_or(|only| only == *kind)) {
        let mut found = of_kind(connection, kind, now, until)?;
        found.sort();
        let most = usize::try_from(MOST).map_err(Problem::internal)?;
        if found.len() > most {
            found.truncate(most);
            more_of.push(kind);
        }
        all.extend(found);
    }
    all.sort();
    let count = |urgency| all.iter().filter(|due: &&Due| due.urgency == urgency).count();
    let counts = DueCounts {
        overdue: count(Urgency::Overdue),
        today: count(Urgency::Today),
        this_week: count(Urgency::ThisWeek),
        later: count(Urgency::Later),
    };
    Ok(DueList { today, until, counts, more_of, items: all.into_iter().map(DueRow::from).collect() })
}

fn of_kind(
    connection: &mut Connection,
    kind: DueKind,
    now: DateTime<Utc>,
    until: NaiveDate,
) -> Result<Vec<Due>, Problem> {
    let today = now.date_naive();
    let limit = MOST + 1;
    let of = |code, day, sentence| Due::new(kind, code, day, today, sentence);
    Ok(match kind {
        DueKind::GaugeCheck => gauge_checks(connection, today, until, limit)?,
        DueKind::HolderCheck => {
            let rows = due::holders_with_a_day(connection, until, limit)?.into_iter();
            rows.map(|(code, day)| of(code.clone(), day, format!("Check holder {code}."))).collect()
        }
        DueKind::MaintenancePlan => plans(connection, now, until)?,
        DueKind::ItemReturn => {
            let rows = due::items_to_be_back(connection, until, limit)?.into_iter();
            rows.map(|(code, day)| of(code.clone(), day, format!("{code} is to be brought back."))).collect()
        }
        DueKind::LastGrind => {
            let rows = due::tools_near_their_last_grind(connection, limit)?.into_iter();
            rows.map(|tool| {
                let (code, height, stock) = (&tool.code, tool.height, tool.stock);
                let sentence = match tool.radius {
                    None => format!(
                        "{code} stands at {height}; one more grind of {stock} takes it below its minimum of {}: have \
                         another one ready.",
                        tool.minimum
                    ),
                    // A circular tool is ground by the angle.
                    Some(radius) => format!(
                        "{code} has {}° left to grind; one more grind takes {}°: have another one ready.",
                        usable_angle_deg(height, tool.minimum, radius),
                        angle_of(stock, radius)
                    ),
                };
                of(tool.code, None, sentence)
            })
            .collect()
        }
        DueKind::ToolCheck | DueKind::ToolGrind | DueKind::ToolDamaged | DueKind::HolderBlocked => {
            waiting(connection, kind, today, limit)?
        }
        DueKind::ToolOrder => {
            let due = orders(connection, today)?.into_iter();
            due.filter(|order| order.by.is_none_or(|day| day <= until))
                .map(|order| of(order.design, order.by, order.sentence))
                .collect()
        }
        DueKind::WorkOrder | DueKind::HeldPieces | DueKind::Impact => in_records(connection, kind, limit)?,
        DueKind::SupplyLow => {
            let rows = due::supplies_below_minimum(connection, limit)?.into_iter();
            rows.map(|(code, on_hand, minimum)| {
                of(code.clone(), None, format!("{on_hand} of {code} on hand, {minimum} wanted at least: reorder."))
            })
            .collect()
        }
    })
}

/// A gauge that is to be checked as it stands is listed as that, whatever day its next check has.
fn gauge_checks(
    connection: &mut Connection,
    today: NaiveDate,
    until: NaiveDate,
    limit: i64,
) -> Result<Vec<Due>, Problem> {
    let kind = DueKind::GaugeCheck;
    let now = due::gauges_without_a_check(connection, limit)?;
    let dated = due::gauges_with_a_day(connection, until, limit)?;
    let dated = dated.into_iter().filter(|(code, _)| !now.contains(code));
    let mut found: Vec<Due> =
        dated.map(|(code, day)| Due::new(kind, code.clone(), day, today, format!("Check gauge {code}."))).collect();
    found.extend(now.iter().map(|code| {
        let sentence = format!("Check gauge {code} against its machine: until then it sets nothing.");
        Due::new(kind, code.clone(), None, today, sentence)
    }));
    Ok(found)
}

/// What is out of use until somebody does something about it.
fn waiting(connection: &mut Connection, kind: DueKind, today: NaiveDate, limit: i64) -> Result<Vec<Due>, Problem> {
    use Condition::{Damaged, NeedsCheck, NeedsGrinding};
    let (of, conditions, what): (_, &[Condition], _) = match kind {
        DueKind::ToolGrind => (ItemKind::FormTool, &[NeedsGrinding], "waits for the grinder"),
        DueKind::ToolDamaged => (ItemKind::FormTool, &[Damaged], "is damaged: have it ground, or retire it"),
        DueKind::HolderBlocked => (ItemKind::Holder, &[NeedsCheck, Damaged], "is blocked until a check clears it"),
        _ => (ItemKind::FormTool, &[NeedsCheck], "waits for a check before it is used"),
    };
    let mut found = Vec::new();
    let used_up = match kind {
        DueKind::ToolDamaged => due::used_up_tools(connection, limit)?,
        _ => BTreeSet::new(),
    };
    for condition in conditions {
        for code in due::in_condition(connection, of, *condition, limit)? {
            let sentence = if used_up.contains(&code) {
                format!("{code} is used up: ask its owner for consent to scrap it, and retire it.")
            } else {
                format!("{code} {what}.")
            };
            found.push(Due::new(kind, code, None, today, sentence));
        }
    }
    Ok(found)
}

/// What is done in a record of its own.
fn in_records(connection: &mut Connection, kind: DueKind, limit: i64) -> Result<Vec<Due>, Problem> {
    Ok(match kind {
        DueKind::WorkOrder => {
            let orders = due::work_orders(connection, limit)?.into_iter();
            orders
                .map(|order| {
                    let down = if order.breakdown && order.on_machine { " is down" } else { "" };
                    let sentence = format!("{}{down}: {}.", order.on, order.what.trim_end_matches('.'));
                    Due::in_record(kind, order.code, order.id.uuid(), sentence)
                })
                .collect()
        }
        DueKind::HeldPieces => {
            let runs = due::held_runs(connection, limit)?.into_iter();
            runs.map(|(setup, machine, part)| {
                let sentence = format!("Pieces of {part} from {machine} are held: have them inspected.");
                Due::in_record(kind, Some(machine), setup.uuid(), sentence)
            })
            .collect()
        }
        _ => {
            let open = due::impacts(connection, limit)?.into_iter();
            open.map(|(impact, gauge)| {
                let sentence = format!("Work through what gauge {gauge} has touched, and close its document.");
                Due::in_record(kind, Some(gauge), impact.uuid(), sentence)
            })
            .collect()
        }
    })
}

/// Plans whose interval is nearly used up, and those that will be by the last day, as far as the records tell.
fn plans(connection: &mut Connection, now: DateTime<Utc>, until: NaiveDate) -> Result<Vec<Due>, Problem> {
    let today = now.date_naive();
    let plans = maintenance_plans::page(connection, MaintenancePlanFilter::default(), None, i64::from(u16::MAX))?;
    let judge = Judge::of(connection, &plans, now)?;
    let mut found = Vec::new();
    for plan in plans {
        let Some(standing) = judge.standing(&plan) else { continue };
        let in_time = standing.runs_out_on.is_some_and(|day| day <= until);
        if standing.state == PlanState::Ok && !in_time {
            continue;
        }
        let sentence = format!("{}: {}.", plan.record.fields.name, plan.record.fields.subject.name());
        let mut due = Due::new(DueKind::MaintenancePlan, plan.record.code, standing.runs_out_on, today, sentence);
        // What counts pieces, setups or hours is overdue when they are used up, whatever day is forecast.
        if standing.state == PlanState::Overdue {
            due.urgency = Urgency::Overdue;
        }
        found.push(due);
    }
    Ok(found)
}
