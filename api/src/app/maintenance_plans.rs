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
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::{
    code::Code,
    ids::WorkOrderId,
    maintenance::{Maintained, MaintenancePlan, Measure, Recent, Usage, standing},
};
use dovetally_db::{Connection, items, machines, maintenance_plans, usage, work_orders};
use std::collections::BTreeMap;

/// What was used of late, by what it is of: plans of one machine share it.
type Rates = BTreeMap<String, Recent>;

/// Judges plans at one instant.
pub(crate) struct Judge {
    now: DateTime<Utc>,
    rates: Rates,
}

impl Judge {
    /// A judge of this instant.
    pub(crate) const fn at(now: DateTime<Utc>) -> Self {
        Self { now, rates: Rates::new() }
    }

    /// How a plan stands; none for one that is out of use.
    ///
    /// # Errors
    /// A database error.
    pub(crate) fn standing(
        &mut self,
        connection: &mut Connection,
        plan: &MaintenancePlan,
    ) -> Result<Option<StandingView>, Problem> {
        let fields = &plan.record.fields;
        if fields.retired {
            return Ok(None);
        }
        let counts = fields.interval.given().any(|(measure, _)| measure != Measure::Days);
        let (used, recent) = if counts {
            let used = used(connection, &fields.subject, plan.counted_from(), self.now)?;
            (used, self.recent(connection, &fields.subject)?)
        } else {
            (Usage::default(), Recent { days: 0.0, usage: Usage::default() })
        };
        let found = standing(plan, &used, &recent, self.now);
        let open_order = work_orders::open_of_plan(connection, plan.record.id)?;
        Ok(Some(StandingView::of(plan, found, open_order.map(WorkOrderId::uuid), self.now)))
    }

    fn recent(&mut self, connection: &mut Connection, subject: &Maintained) -> Result<Recent, Problem> {
        if let Some(known) = self.rates.get(subject.name()) {
            return Ok(*known);
        }
        let on_record_since = match subject {
            Maintained::Machine { id, .. } => machines::find(connection, *id)?.map(|found| found.record.created_at),
            Maintained::Item { id, .. } => items::find(connection, *id)?.map(|found| found.created_at),
            Maintained::Other(_) => None,
        };
        let window = self.now - TimeDelta::days(Recent::MOST_DAYS);
        let from = on_record_since.map_or(self.now, |since| since.max(window)).min(self.now);
        #[expect(clippy::cast_precision_loss, reason = "at most ninety days of seconds")]
        let days = (self.now - from).num_seconds() as f64 / 86_400.0;
        let recent = Recent { days, usage: used(connection, subject, from, self.now)? };
        self.rates.insert(subject.name().to_owned(), recent);
        Ok(recent)
    }
}

fn used(
    connection: &mut Connection,
    subject: &Maintained,
    from: DateTime<Utc>,
    until: DateTime<Utc>,
) -> Result<Usage, Problem> {
    Ok(match subject {
        Maintained::Machine { id, .. } => usage::of_machine(connection, *id, from, until)?,
        Maintained::Item { id, .. } => usage::of_item(connection, *id, from, until)?,
        Maintained::Other(_) => Usage::default(),
    })
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
            let standing = Judge::at(now).standing(connection, &plan)?;
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
            let plans = maintenance_plans::page(connection, filter, after.as_ref(), paging.rows_to_fetch())?;
            let mut judge = Judge::at(now);
            let mut rows = Vec::with_capacity(plans.len());
            for plan in plans {
                let standing = judge.standing(connection, &plan)?;
                rows.push((plan.record.code.clone(), MaintenancePlanRow { plan: (&plan).into(), standing }));
            }
            let page = paging.page(rows, |(code, _)| code.clone(), |(_, row)| row)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}
