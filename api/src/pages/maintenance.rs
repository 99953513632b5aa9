//! Maintenance: what is to be done, what is out of service, and how plans and machines stand.

use super::{
    frame::{Frame, page},
    visit::Visit,
    who::Names,
    wording::{Filled, Phrase, section},
};
use crate::{
    app::{maintenance_plans, reliability as app, tag_outs, work_orders},
    principal::Read,
    problem::Problem,
    transport::{
        maintenance_plan::{CounterView, MaintainedBody, MaintenancePlanRow, StandingView},
        reliability::ReliabilityView,
        tag_out::TagOutView,
        work_order::WorkOrderSummary,
    },
};
use actix_web::HttpResponse;
use askama::Template;
use dovetally_core::{
    maintenance::{Measure, PlanState},
    people::Permission,
    work_order::WorkOrderState,
};
use uuid::Uuid;

section! {
    /// Maintenance.
    MaintenanceWords {
        title, main_order, main_plan, not_a_lock, out_of_service, none_out, out, placed, look, take_out, orders, no_orders,
        breakdown, open, started, done, cancelled, plans, no_plans, plan, ok, due, overdue, not_judged,
        runs_out_on, runs_out_about, used_up_on, used_up_about, used_days, used_pieces, used_setups, used_hours,
        open_order, has_order, report, open_by_hand, ended, none_ended,
        reliability, reliability_title, reliability_lead, reliability_none, between, repair, hours, machine, failures, running,
        lower, upper, mean, no_figure, cautions
    }
}

/// The orders that ended of late.
const ENDED: i64 = 10;

/// What is to be done first.
enum First<'p> {
    Order(&'p WorkOrderSummary),
    Plan(&'p MaintenancePlanRow),
    Nothing,
}

#[derive(Template)]
#[template(path = "pages/maintenance.html")]
struct MaintenancePage<'p> {
    frame: &'p Frame,
    first: First<'p>,
    orders: &'p [WorkOrderSummary],
    ended: &'p [WorkOrderSummary],
    tag_outs: &'p [TagOutView],
    plans: &'p [MaintenancePlanRow],
    something_first: bool,
    may_open: bool,
    may_report: bool,
    may_take_out: bool,
}

impl MaintenancePage<'_> {
    fn about<'s>(&self, subject: &'s MaintainedBody) -> &'s str {
        about(subject)
    }

    fn state(&self, state: &WorkOrderState) -> &Phrase {
        order_state(self.frame, *state)
    }

    fn mark(&self, state: &WorkOrderState) -> &'static str {
        order_mark(*state)
    }

    fn plan_state(&self, row: &MaintenancePlanRow) -> &Phrase {
        let words = &self.frame.words.maintenance;
        match row.standing.as_ref().map(|standing| standing.state) {
            Some(PlanState::Ok) => &words.ok,
            Some(PlanState::Due) => &words.due,
            Some(PlanState::Overdue) => &words.overdue,
            None => &words.not_judged,
        }
    }

    fn plan_mark(&self, row: &MaintenancePlanRow) -> &'static str {
        match row.standing.as_ref().map(|standing| standing.state) {
            Some(PlanState::Due) => "wait",
            Some(PlanState::Overdue) => "stop",
            Some(PlanState::Ok) | None => "none",
        }
    }

    fn open_order_of(&self, row: &MaintenancePlanRow) -> Option<Uuid> {
        row.standing.as_ref().and_then(|standing| standing.open_order)
    }

    /// By when a plan's first interval is used up, or was; about when, where that is reckoned.
    fn runs_out(&self, standing: &StandingView) -> Option<String> {
        let words = &self.frame.words.maintenance;
        let day = standing.runs_out_on?;
        let on_that_day = || standing.counters.iter().filter(move |counter| counter.runs_out_on == Some(day));
        let known = on_that_day().any(|counter| counter.measure == Measure::Days);
        let phrase = match (on_that_day().any(|counter| counter.state == PlanState::Overdue), known) {
            (true, true) => &words.used_up_on,
            (true, false) => &words.used_up_about,
            (false, true) => &words.runs_out_on,
            (false, false) => &words.runs_out_about,
        };
        Some(phrase.with("day", self.frame.day(&day)).to_string())
    }

    fn used(&self, counter: &CounterView) -> Filled<'_> {
        let words = &self.frame.words.maintenance;
        let phrase = match counter.measure {
            Measure::Days => &words.used_days,
            Measure::Pieces => &words.used_pieces,
            Measure::Setups => &words.used_setups,
            Measure::RunningHours => &words.used_hours,
        };
        phrase.with("used", self.frame.mark().rounded(counter.used, 0)).with("every", counter.every)
    }
}

/// What an order or a plan is about: a code, or words.
pub(super) fn about(subject: &MaintainedBody) -> &str {
    let code = subject.machine.as_ref().or(subject.item.as_ref());
    code.map(dovetally_core::code::Code::as_str).or(subject.other.as_deref()).unwrap_or_default()
}

/// What an order's state is called.
pub(super) fn order_state(frame: &Frame, state: WorkOrderState) -> &Phrase {
    let words = &frame.words.maintenance;
    match state {
        WorkOrderState::Open => &words.open,
        WorkOrderState::Started => &words.started,
        WorkOrderState::Done => &words.done,
        WorkOrderState::Cancelled => &words.cancelled,
    }
}

/// The shape of an order's state.
pub(super) const fn order_mark(state: WorkOrderState) -> &'static str {
    match state {
        WorkOrderState::Open => "wait",
        WorkOrderState::Started => "off",
        WorkOrderState::Done => "good",
        WorkOrderState::Cancelled => "none",
    }
}

/// Shows it.
///
/// # Errors
/// A database error.
pub async fn show(visit: Visit<Read>) -> Result<HttpResponse, Problem> {
    let now = visit.guarded.database().now();
    let (orders, ended, tag_outs, plans) = visit
        .read(move |connection| {
            let orders = work_orders::open_orders(connection)?;
            let ended = work_orders::ended_orders(connection, ENDED)?;
            let plans = maintenance_plans::in_use(connection, now)?;
            let mut placed = tag_outs::in_force(connection)?;
            let mut names = Names::default();
            placed.iter_mut().try_for_each(|tag_out| names.put(connection, &mut tag_out.placed_by))?;
            Ok((orders, ended, placed, plans))
        })
        .await?;
    let frame = &visit.frame;
    let may_open = frame.may(Permission::Maintain);
    let is_due = |row: &&MaintenancePlanRow| {
        let standing = row.standing.as_ref();
        standing.is_some_and(|standing| standing.state != PlanState::Ok && standing.open_order.is_none())
    };
    let first = match (orders.first(), plans.iter().find(is_due).filter(|_| may_open)) {
        (Some(order), _) => First::Order(order),
        (None, Some(plan)) => First::Plan(plan),
        (None, None) => First::Nothing,
    };
    page(&MaintenancePage {
        frame,
        something_first: !matches!(first, First::Nothing),
        first,
        orders: &orders,
        ended: &ended,
        tag_outs: &tag_outs,
        plans: &plans,
        may_open,
        may_report: frame.may(Permission::ReportFault),
        may_take_out: frame.may(Permission::PlaceTagOut),
    })
}

#[derive(Template)]
#[template(path = "pages/reliability.html")]
struct ReliabilityPage<'p> {
    frame: &'p Frame,
    machines: &'p [ReliabilityView],
}

impl ReliabilityPage<'_> {
    /// What holds for more than one machine, each once.
    fn shared(&self) -> Vec<&String> {
        let mut shared: Vec<&String> = Vec::new();
        for caution in self.machines.iter().flat_map(|found| &found.cautions) {
            if self.is_shared(caution) && !shared.contains(&caution) {
                shared.push(caution);
            }
        }
        shared
    }

    fn is_shared(&self, caution: &str) -> bool {
        self.machines.iter().filter(|found| found.cautions.iter().any(|other| other == caution)).count() > 1
    }

    fn own<'s>(&self, found: &'s ReliabilityView) -> Vec<&'s String> {
        found.cautions.iter().filter(|caution| !self.is_shared(caution)).collect()
    }

    fn running(&self, found: &ReliabilityView) -> String {
        self.hours(&Some(found.running_hours))
    }

    fn hours(&self, hours: &Option<f64>) -> String {
        let words = &self.frame.words.maintenance;
        hours.map_or_else(
            || words.no_figure.to_string(),
            |hours| words.hours.with("hours", self.frame.mark().rounded(hours, 1)).to_string(),
        )
    }
}

/// Shows how reliable each machine was in the last year.
///
/// # Errors
/// A database error.
pub async fn reliability(visit: Visit<Read>) -> Result<HttpResponse, Problem> {
    let now = visit.guarded.database().now();
    let machines = visit.read(move |connection| app::of_the_shop(connection, now)).await?;
    page(&ReliabilityPage { frame: &visit.frame, machines: &machines })
}
