//! Opening a work order: from a plan, by hand, or to report what broke down.

use super::{
    frame::{Frame, go_to, page_with},
    visit::{Faults, Sent, Visit},
    wording::{ToldRefusal, section},
    work_order::{AGO, ago, ago_in_words},
};
use crate::{
    app::work_orders as app,
    principal::OpenOrder,
    problem::{Problem, ProblemCode},
    transport::{maintenance_plan::MaintainedBody, work_order::NewWorkOrder},
};
use actix_web::{HttpResponse, http::StatusCode, web::Query};
use askama::Template;
use dovetally_core::{code::Code, ids::WorkOrderId, people::Permission};
use dovetally_db::{
    codes::{self, CodeSubject},
    machines,
};
use serde::Deserialize;

section! {
    /// Opening a work order.
    NewWorkOrderWords {
        title, title_report, lead_report, machine, no_machine, about, what, what_report, breakdown, breakdown_yes, breakdown_no,
        down, go, go_report, refused, plan_unknown
    }
}

/// The most machines that are offered.
const MACHINES: i64 = 200;

/// What is said of a new order, as it was typed. From a plan nothing else is said.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Typed {
    plan: String,
    machine: String,
    about: String,
    what: String,
    breakdown: String,
    ago: String,
}

#[derive(Template)]
#[template(path = "pages/work_order_new.html")]
struct NewPage<'p> {
    frame: &'p Frame,
    machines: &'p [(Code, String)],
    typed: &'p Typed,
    /// Whether whoever is here may open other orders than for what broke down.
    maintains: bool,
    faults: Faults,
    refusals: Vec<ToldRefusal>,
}

impl NewPage<'_> {
    fn ago(&self, minutes: &i64) -> String {
        ago_in_words(self.frame, *minutes)
    }

    fn ago_chosen(&self, minutes: &i64) -> bool {
        self.typed.ago.parse() == Ok(*minutes)
    }

    fn chosen(&self, code: &Code) -> bool {
        self.typed.machine == code.as_str()
    }
}

/// Shows the form; `machine` says which machine it begins with.
///
/// # Errors
/// A database error.
pub async fn show(visit: Visit<OpenOrder>, asked: Query<Typed>) -> Result<HttpResponse, Problem> {
    shown(&visit, StatusCode::OK, &asked, Faults::default(), Vec::new()).await
}

async fn shown(
    visit: &Visit<OpenOrder>,
    status: StatusCode,
    typed: &Typed,
    faults: Faults,
    refusals: Vec<ToldRefusal>,
) -> Result<HttpResponse, Problem> {
    let machines = visit
        .read(|connection| {
            let machines = machines::page(connection, None, MACHINES)?.into_iter();
            let in_use = machines.filter(|machine| !machine.record.fields.retired);
            Ok(in_use.map(|machine| (machine.record.code, machine.record.fields.name)).collect::<Vec<_>>())
        })
        .await?;
    let (frame, maintains) = (&visit.frame, visit.frame.may(Permission::Maintain));
    page_with(status, &NewPage { frame, machines: &machines, typed, maintains, faults, refusals })
}

/// Where a fault of what was said is shown.
const FIELDS: &[(&str, &str)] =
    &[("/subject", "about"), ("/what", "what"), ("/down_from", "ago"), ("/breakdown", "breakdown")];

/// Opens it.
///
/// # Errors
/// 403 for what only those who maintain may open; what is neither a fault of the form nor a refusal.
pub async fn open(visit: Visit<OpenOrder>, sent: Sent<Typed>) -> Result<HttpResponse, Problem> {
    let typed = &sent.form;
    let new = if typed.plan.is_empty() { by_hand(&visit, typed).await? } else { from_plan(&visit.frame, typed)? };
    app::may_open(visit.who(), &new)?;
    let opened: Result<WorkOrderId, Problem> =
        visit.perform(&sent, move |tx, who| Ok(app::open_in(tx, who, &new)?.1)).await;
    match opened {
        Ok(id) => Ok(go_to(&format!("/work-orders/{id}"))),
        Err(problem) if problem.code() == ProblemCode::Refused => {
            let refusals = visit.frame.refusals(problem.refused_by());
            shown(&visit, StatusCode::CONFLICT, typed, Faults::default(), refusals).await
        }
        Err(problem) => {
            let faults = Faults::of_problem(&visit.frame, problem, FIELDS)?;
            shown(&visit, StatusCode::UNPROCESSABLE_ENTITY, typed, faults, Vec::new()).await
        }
    }
}

fn from_plan(frame: &Frame, typed: &Typed) -> Result<NewWorkOrder, Problem> {
    let unknown =
        || Problem::field("/plan", frame.words.new_work_order.plan_unknown.with("plan", &typed.plan).to_string());
    let plan = Code::parse(&typed.plan).map_err(|_| unknown())?;
    Ok(NewWorkOrder { plan: Some(plan), subject: None, what: None, breakdown: false, down_from: None })
}

async fn by_hand(visit: &Visit<OpenOrder>, typed: &Typed) -> Result<NewWorkOrder, Problem> {
    let subject = match Code::parse(&typed.machine) {
        Ok(machine) => MaintainedBody { machine: Some(machine), ..MaintainedBody::default() },
        Err(_) => named(visit, typed.about.trim().to_owned()).await?,
    };
    let breakdown = typed.breakdown == "yes" || !visit.frame.may(Permission::Maintain);
    let down = breakdown && subject.machine.is_some();
    let down_from = ago(&typed.ago, visit.guarded.database().now()).filter(|_| down);
    let what = Some(typed.what.trim().to_owned());
    Ok(NewWorkOrder { plan: None, subject: Some(subject), what, breakdown, down_from })
}

/// What was typed of what it is about: a machine's or an item's code, or words.
async fn named(visit: &Visit<OpenOrder>, about: String) -> Result<MaintainedBody, Problem> {
    let code = Code::parse(&about).ok();
    let sought = code.clone();
    let found = visit
        .read(move |connection| Ok(sought.map(|code| codes::find(connection, &code)).transpose()?.flatten()))
        .await?;
    Ok(match found {
        Some((CodeSubject::Machine, _)) => MaintainedBody { machine: code, ..MaintainedBody::default() },
        Some((CodeSubject::Item, _)) => MaintainedBody { item: code, ..MaintainedBody::default() },
        _ => MaintainedBody { other: Some(about), ..MaintainedBody::default() },
    })
}
