//! One machine: how it stands, its gauges, its open setup, whether it may run, what else is on record of it.

use super::{
    center_heights::at_stations,
    floor::ShownMachine,
    frame::{Frame, page},
    visit::Visit,
    wording::{Phrase, section},
};
use crate::{
    app::{
        floor::machine_stands,
        registry::{Machines, find},
        run_permit::CAUTION,
    },
    extract::{Reference, Segments},
    principal::Read,
    problem::Problem,
    transport::floor::FloorMachine,
};
use actix_web::HttpResponse;
use askama::Template;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    people::Permission,
    registry::machine::{CenterHeightFields, Machine},
    setup::state::SetupState,
    work_order::{WorkOrder, WorkOrderState},
};
use dovetally_db::{
    chain,
    machines::newest_center_height,
    setups::{self, Setup, SetupFilter},
    work_orders::{self, WorkOrderFilter},
};

section! {
    /// One machine.
    MachineWords {
        set_up, go_on, check_gauge, all_machines, gauges, setup, open_work, no_work, order_open, order_started, breakdown,
        last_setups, no_setups, part, state, opened, closed, set_closed, set_abandoned, heights, nominal, measured, when, by_spindle,
        spindle, height, spread, moved, never_measured, setup_page,
        at_station, measure
    }
}

/// The setups and orders that are shown.
const SHOWN: i64 = 10;

struct Known {
    machine: Machine,
    stands: FloorMachine,
    sequence: i64,
    orders: Vec<WorkOrder>,
    setups: Vec<Setup>,
    heights: Option<CenterHeightFields>,
    at_stations: Vec<(Code, CenterHeightFields)>,
}

/// An open work order, with the shape and the word of its state.
struct ShownOrder<'p> {
    kind: &'static str,
    word: &'p Phrase,
    order: &'p WorkOrder,
}

#[derive(Template)]
#[template(path = "pages/machine.html")]
struct MachinePage<'p> {
    frame: &'p Frame,
    known: &'p Known,
    shown: ShownMachine<'p>,
    orders: Vec<ShownOrder<'p>>,
    action: (String, &'p Phrase),
    now: DateTime<Utc>,
}

impl MachinePage<'_> {
    fn caution(&self) -> String {
        self.frame.told(CAUTION)
    }

    fn may_measure(&self) -> bool {
        self.frame.may(Permission::Maintain)
    }

    fn opened_on(&self, setup: &Setup) -> String {
        self.frame.day_of(&setup.opened_at)
    }

    fn setup_state(&self, setup: &Setup) -> &Phrase {
        let words = &self.frame.words.machine;
        if setup.state == SetupState::Abandoned { &words.set_abandoned } else { &words.set_closed }
    }
}

/// Shows it.
///
/// # Errors
/// 404 when there is no such machine.
pub async fn show(visit: Visit<Read>, machine: Segments<Reference>) -> Result<HttpResponse, Problem> {
    let reference = machine.into_inner();
    let now = visit.guarded.database().now();
    let known = visit
        .read(move |connection| {
            let sequence = chain::head(connection)?.sequence;
            let machine = find::<Machines>(connection, &reference)?;
            let id = machine.record.id;
            let (stands, _) = machine_stands(connection, &machine, now)?;
            let open = WorkOrderFilter { machine: Some(id), open: Some(true), ..WorkOrderFilter::default() };
            let past = SetupFilter { machine: Some(id), open: Some(false), ..SetupFilter::default() };
            Ok(Known {
                stands,
                sequence,
                orders: work_orders::page(connection, open, None, SHOWN)?,
                setups: setups::page(connection, past, None, SHOWN)?,
                heights: newest_center_height(connection, id, None)?.map(|height| height.fields),
                at_stations: at_stations(connection, &machine)?,
                machine,
            })
        })
        .await?;
    let frame = &visit.frame;
    let shown = ShownMachine::of(frame, &known.stands, now.date_naive());
    let action = action(frame, &known.stands);
    let words = &frame.words.machine;
    let orders = known.orders.iter().map(|order| ShownOrder {
        kind: if order.breakdown { "stop" } else { "none" },
        word: if order.state == WorkOrderState::Started { &words.order_started } else { &words.order_open },
        order,
    });
    let orders = orders.collect();
    page(&MachinePage { frame, known: &known, shown, orders, action, now })
}

/// Where the main action leads, and its words.
fn action<'f>(frame: &'f Frame, stands: &FloorMachine) -> (String, &'f Phrase) {
    let words = &frame.words.machine;
    let code = &stands.machine;
    match &stands.setup {
        Some(setup) => (format!("/setups/{}", setup.id), &words.go_on),
        None if frame.may(Permission::RecordSetup) => (format!("/machines/{code}/setups"), &words.set_up),
        None => (format!("/machines/{code}/gauge"), &words.check_gauge),
    }
}
