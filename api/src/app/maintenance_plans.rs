//! How maintenance plans stand: what was used of each interval, by the runs and setups on record.

use super::registry::{MaintenancePlans, filter_of, find};
use crate::{
    conditional::answer_fresh,
    extract::Reference,
    page::Paging,
    principal::{Guarded, Read},
    problem::Problem,
    transport::maintenance_plan::{MaintenancePlanFilters, MaintenancePlanRow, StandingView},
};
use actix_web::HttpResponse;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use dovetally_core::{
    code::Code,
    ids::{MaintenancePlanId, WorkOrderId},
    maintenance::{Maintained, MaintenancePlan, Measure, Recent, Usage, standing},
};
use dovetally_db::{
    Connection, items, machines,
    maintenance_plans::{self, MaintenancePlanFilter},
    usage, work_orders,
};
use std::{
    cmp::Reverse,
    collections::{BTreeMap, BTreeSet},
};

/// Judges plans at one instant: what the records know of all of them is asked at once.
pub(crate) struct Judge {
    now: DateTime<Utc>,
    /// What was used since each plan was last done; only of plans that count something.
    used: BTreeMap<MaintenancePlanId, Usage>,
    /// What was used of late, by what it is of: plans of one machine share it.
    recent: BTreeMap<String, Recent>,
    open_orders: BTreeMap<MaintenancePlanId, WorkOrderId>,
}

impl Judge {
    /// A judge of these plans at this instant.
    ///
    /// # Errors
    /// A database error.
    pub(crate) fn of(
        connection: &mut Connection,
        plans: &[MaintenancePlan],
        now: DateTime<Utc>,
    ) -> Result<Self, Problem> {
        let plans: Vec<&MaintenancePlan> = plans.iter().filter(|plan| !plan.record.fields.retired).collect();
        let ids: Vec<MaintenancePlanId> = plans.iter().map(|plan| plan.record.id).collect();
        let open_orders = work_orders::open_of_plans(connection, &ids)?;
        let counting: Vec<&MaintenancePlan> = plans.into_iter().filter(|plan| counts(plan)).collect();
        let since = counting.iter().map(|plan| (&plan.record.fields.subject, plan.counted_from())).collect::<Vec<_>>();
        let used = counting.iter().map(|plan| plan.record.id).zip(used(connection, &since, now)?).collect();
        let recent = recent(connection, &counting, now)?;
        Ok(Self { now, used, recent, open_orders })
    }

    /// How a plan stands; none for one that is out of use.
    pub(crate) fn standing(&self, plan: &MaintenancePlan) -> Option<StandingView> {
        let (id, fields) = (plan.record.id, &plan.record.fields);
        if fields.retired {
            return None;
        }
        let used = self.used.get(&id).copied().unwrap_or_default();
        let recent = self.recent.get(fields.subject.name()).filter(|_| counts(plan)).copied();
        let recent = recent.unwrap_or(Recent { days: 0.0, usage: Usage::default() });
        let found = standing(plan, &used, &recent, self.now);
        let open_order = self.open_orders.get(&id).copied();
        Some(StandingView::of(plan, found, open_order.map(WorkOrderId::uuid), self.now))
    }
}

/// Whether a plan counts anything but days.
fn counts(plan: &MaintenancePlan) -> bool {
    plan.record.fields.interval.given().any(|(measure, _)| measure != Measure::Days)
}

/// What was used of each subject of these plans of late, as far back as it is on record.
fn recent(
    connection: &mut Connection,
    plans: &[&MaintenancePlan],
    now: DateTime<Utc>,
) -> Result<BTreeMap<String, Recent>, Problem> {
    let subjects: BTreeMap<&str, &Maintained> =
        plans.iter().map(|plan| &plan.record.fields.subject).map(|subject| (subject.name(), subject)).collect();
    let (mut machine_ids, mut item_ids) = (BTreeSet::new(), BTreeSet::new());
    for subject in subjects.values() {
        match subject {
            Maintained::Machine { id, .. } => _ = machine_ids.insert(*id),
            Maintained::Item { id, .. } => _ = item_ids.insert(*id),
            Maintained::Other(_) => {}
        }
    }
    let (machines, items) =
        (machines::created_at(connection, &machine_ids)?, items::created_at(connection, &item_ids)?);
    let window = now - TimeDelta::days(Recent::MOST_DAYS);
    let from = |subject: &Maintained| {
        let on_record_since = match subject {
            Maintained::Machine { id, .. } => machines.get(id),
            Maintained::Item { id, .. } => items.get(id),
            Maintained::Other(_) => None,
        };
        on_record_since.map_or(now, |since| (*since).max(window)).min(now)
    };
    let asked: Vec<(&Maintained, DateTime<Utc>)> = subjects.values().map(|subject| (*subject, from(subject))).collect();
    let usage = used(connection, &asked, now)?;
    let recent = asked.iter().zip(usage).map(|((subject, from), usage)| {
        #[expect(clippy::cast_precision_loss, reason = "at most ninety days of seconds")]
        let days = (now - *from).num_seconds() as f64 / 86_400.0;
        (subject.name().to_owned(), Recent { days, usage })
    });
    Ok(recent.collect())
}

/// What was used of subjects, each since its own instant, in the order of what is asked; of what is neither machine nor item
/// nothing is on record.
fn used(
    connection: &mut Connection,
    asked: &[(&Maintained, DateTime<Utc>)],
    until: DateTime<Utc>,
) -> Result<Vec<Usage>, Problem> {
    let (mut machines, mut items) = (Vec::new(), Vec::new());
    for (subject, since) in asked {
        match subject {
            Maintained::Machine { id, .. } => machines.push((*id, *since)),
            Maintained::Item { id, .. } => items.push((*id, *since)),
            Maintained::Other(_) => {}
        }
    }
    let mut machines = usage::of_machines(connection, &machines, until)?.into_iter();
    let mut items = usage::of_items(connection, &items, until)?.into_iter();
    let next = |(subject, _): &(&Maintained, _)| match subject {
        Maintained::Machine { .. } => machines.next(),
        Maintained::Item { .. } => items.next(),
        Maintained::Other(_) => None,
    };
    Ok(asked.iter().map(next).map(Option::unwrap_or_default).collect())
}

/// How a plan stands now.
///
/// # Errors
/// 404 for what is no plan; 409 for one that is out of use.
pub async fn read_standing(guarded: &Guarded<Read>, plan: Reference) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let view = guarded
        .database()
        .read(move |connection| {
            let plan = find::<MaintenancePlans>(connection, &plan)?;
            let standing = Judge::of(connection, std::slice::from_ref(&plan), now)?.standing(&plan);
            standing.ok_or_else(|| Problem::in_use(format!("plan {} is out of use: nothing is due", plan.record.code)))
        })
        .await?;
    Ok(answer_fresh(&view))
}

/// Plans by code, each with how it stands.
///
/// # Errors
/// 400 for a filter that names nothing, or another list's cursor.
pub async fn list(guarded: &Guarded<Read>, paging: Paging<MaintenancePlanFilters>) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let after: Option<Code> = paging.after()?;
            let filter = filter_of(connection, &paging.filters)?;
            let rows = rows(connection, filter, after.as_ref(), paging.rows_to_fetch(), now)?;
            let page = paging.page(rows, |row| row.plan.code.clone(), |row| row)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

fn rows(
    connection: &mut Connection,
    filter: MaintenancePlanFilter,
    after: Option<&Code>,
    limit: i64,
    now: DateTime<Utc>,
) -> Result<Vec<MaintenancePlanRow>, Problem> {
    let plans = maintenance_plans::page(connection, filter, after, limit)?;
    let judge = Judge::of(connection, &plans, now)?;
    Ok(plans.iter().map(|plan| MaintenancePlanRow { plan: plan.into(), standing: judge.standing(plan) }).collect())
}

/// The most plans that a page shows.
const MOST: i64 = 500;

/// The plans in use with how they stand, what is to be done soonest first.
///
/// # Errors
/// A database error.
pub(crate) fn in_use(connection: &mut Connection, now: DateTime<Utc>) -> Result<Vec<MaintenancePlanRow>, Problem> {
    let filter = MaintenancePlanFilter { retired: Some(false), ..MaintenancePlanFilter::default() };
    let mut rows = rows(connection, filter, None, MOST, now)?;
    let soonest = |row: &MaintenancePlanRow| {
        let standing = row.standing.as_ref();
        let day = standing.and_then(|standing| standing.runs_out_on).unwrap_or(NaiveDate::MAX);
        (Reverse(standing.map(|standing| standing.state)), day)
    };
    rows.sort_by_key(soonest);
    Ok(rows)
}
