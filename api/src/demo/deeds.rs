//! What people of the demo shop do, as the files tell it, done through the same use cases as live requests.

use crate::{
    app::{
        center_heights, custody, floor, gauge_bindings, gauge_checks, handovers, holder_checks, impacts,
        life::{checks, consents, regrinds},
        planning::bookings,
        registry::{self, Registered},
        settings, setups, supplies, tag_outs, work_orders,
    },
    extract::{MergePatch, Reference},
    principal::Principal,
    problem::Problem,
    transport::{
        booking::NewBookings,
        center_height::CenterHeightBody,
        gauge_check::{NewGaugeCheck, Rebinding},
        handover::NewHandover,
        holder_check::NewHolderCheck,
        impact::{ImpactClosing, NewOutcomes},
        movement::{CheckIn, CheckOut, Transfer},
        regrind::NewRegrind,
        settings::SettingsBody,
        setup::NewSetup,
        setup_event::EventBody,
        supply::{NewCount, NewReceipt, NewWithdrawal},
        tag_out::NewTagOut,
        tool_check::NewToolCheck,
        tool_consent::NewToolConsent,
        work_order::{CancelWorkOrder, FinishWorkOrder, NewWorkOrder},
    },
};
use dovetally_core::{
    code::Code,
    gauge::{impact::TouchedKind, impact_document::Outcome},
    ids::{ImpactId, ItemId, MachineId, SetupId, WorkOrderId},
    people::Permission,
};
use dovetally_db::{
    Tx,
    codes::CodeSubject,
    impacts::{EntryFilter, ImpactFilter, entries_page, page as impacts_page},
    tag_outs::{TagOutFilter, page as tag_outs_page},
};
use serde::Deserialize;
use serde_json::{Map, Value};
use std::collections::BTreeMap;

/// One thing that somebody does.
#[derive(Clone, Deserialize)]
pub(super) struct Step {
    /// The badge of whoever does it.
    pub(super) by: String,
    #[serde(flatten)]
    pub(super) deed: Deed,
}

#[derive(Clone, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Deed {
    PutOnRecord(Box<Thing>),
    ChangeJob {
        job: Code,
        change: Map<String, Value>,
    },
    /// Takes the floor over as it stands.
    TakeOver {
        note: Option<String>,
    },
    Settings(SettingsBody),
    CheckOut(CheckOut),
    CheckIn(CheckIn),
    Transfer(Transfer),
    GaugeCheck {
        gauge: Code,
        check: Box<NewGaugeCheck>,
    },
    BindGauge {
        gauge: Code,
        to: Box<Rebinding>,
    },
    /// Brings the gauge's open impact document up to date, and says what became of its entries of a kind.
    JudgeImpact {
        gauge: Code,
        touched: TouchedKind,
        outcome: Outcome,
        note: String,
    },
    CloseImpact {
        gauge: Code,
        closing: ImpactClosing,
    },
    Regrind {
        tool: Code,
        grind: Box<NewRegrind>,
    },
    ToolCheck {
        tool: Code,
        check: Box<NewToolCheck>,
    },
    Consent {
        tool: Code,
        consent: NewToolConsent,
    },
    HolderCheck {
        holder: Code,
        check: NewHolderCheck,
    },
    CenterHeight {
        machine: Code,
        measurement: Box<CenterHeightBody>,
    },
    TagOut(NewTagOut),
    /// Clears the machine's one tag-out in force.
    ClearTagOut {
        machine: Code,
        note: String,
    },
    /// Opens a setup; later steps name its machine.
    OpenSetup(NewSetup),
    SetupEvent {
        machine: Code,
        event: Map<String, Value>,
    },
    /// Opens a work order; later steps name it by what is to be done, or by its plan.
    OpenWorkOrder(NewWorkOrder),
    StartWorkOrder {
        what: String,
    },
    FinishWorkOrder {
        what: String,
        done: FinishWorkOrder,
    },
    CancelWorkOrder {
        what: String,
        cancelled: CancelWorkOrder,
    },
    SupplyReceived {
        supply: Code,
        receipt: NewReceipt,
    },
    SupplyWithdrawn {
        supply: Code,
        withdrawal: NewWithdrawal,
    },
    SupplyCounted {
        supply: Code,
        count: NewCount,
    },
    Book {
        job: Code,
        bookings: NewBookings,
    },
}

/// Something to be put on record.
#[derive(Clone, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Thing {
    Place(<registry::Places as Registered>::New),
    Machine(<registry::Machines as Registered>::New),
    ToolDesign(<registry::ToolDesigns as Registered>::New),
    FormTool(<registry::FormTools as Registered>::New),
    Holder(<registry::Holders as Registered>::New),
    CenterGauge(<registry::CenterGauges as Registered>::New),
    OtherItem(<registry::OtherItems as Registered>::New),
    Part(<registry::Parts as Registered>::New),
    Job(<registry::Jobs as Registered>::New),
    MaintenancePlan(<registry::MaintenancePlans as Registered>::New),
    Supply(<registry::Supplies as Registered>::New),
}

impl Thing {
    fn put_on_record(&self, tx: &mut Tx<'_>, who: &Principal) -> Result<(), Problem> {
        let done = match self {
            Self::Place(new) => registry::create_in::<registry::Places>(tx, who, new),
            Self::Machine(new) => registry::create_in::<registry::Machines>(tx, who, new),
            Self::ToolDesign(new) => registry::create_in::<registry::ToolDesigns>(tx, who, new),
            Self::FormTool(new) => registry::create_in::<registry::FormTools>(tx, who, new),
            Self::Holder(new) => registry::create_in::<registry::Holders>(tx, who, new),
            Self::CenterGauge(new) => registry::create_in::<registry::CenterGauges>(tx, who, new),
            Self::OtherItem(new) => registry::create_in::<registry::OtherItems>(tx, who, new),
            Self::Part(new) => registry::create_in::<registry::Parts>(tx, who, new),
            Self::Job(new) => registry::create_in::<registry::Jobs>(tx, who, new),
            Self::MaintenancePlan(new) => registry::create_in::<registry::MaintenancePlans>(tx, who, new),
            Self::Supply(new) => registry::create_in::<registry::Supplies>(tx, who, new),
        };
        done.map(drop)
    }
}

impl Deed {
    /// The permissions of which one is needed, as the operation of the same kind asks for it.
    fn permissions(&self) -> &'static [Permission] {
        use Permission as P;
        match self {
            Self::PutOnRecord(thing) => match **thing {
                Thing::MaintenancePlan(_) => &[P::Maintain],
                Thing::Supply(_) => &[P::KeepSupplies],
                _ => &[P::WriteRegistry],
            },
            Self::ChangeJob { .. } | Self::Consent { .. } => &[P::WriteRegistry],
            Self::TakeOver { .. } => &[P::TakeOver],
            Self::Settings(_) => &[P::Administer],
            Self::CheckOut(_) | Self::CheckIn(_) | Self::Transfer(_) => &[P::MoveForAnyone, P::MoveForOneself],
            Self::GaugeCheck { .. } | Self::BindGauge { .. } | Self::JudgeImpact { .. } | Self::CloseImpact { .. } => {
                &[P::ControlGauges]
            }
            Self::Regrind { .. } => &[P::Grind],
            Self::ToolCheck { .. } => &[P::CheckTools],
            Self::HolderCheck { .. } => &[P::CheckHolders],
            Self::OpenWorkOrder(_) => &[P::Maintain, P::ReportFault],
            Self::CenterHeight { .. }
            | Self::StartWorkOrder { .. }
            | Self::FinishWorkOrder { .. }
            | Self::CancelWorkOrder { .. } => &[P::Maintain],
            Self::TagOut(_) => &[P::PlaceTagOut],
            Self::ClearTagOut { .. } => &[P::ClearTagOut],
            Self::OpenSetup(_) => &[P::RecordSetup],
            Self::SetupEvent { .. } => &[P::RecordSetup, P::JudgeFirstPiece, P::CloseAnySetup],
            Self::SupplyReceived { .. } | Self::SupplyWithdrawn { .. } | Self::SupplyCounted { .. } => {
                &[P::KeepSupplies]
            }
            Self::Book { .. } => &[P::BookItems],
        }
    }
}

/// What later steps go on with.
#[derive(Default)]
pub(super) struct Open {
    setups: BTreeMap<Code, SetupId>,
    orders: BTreeMap<String, WorkOrderId>,
}

impl Open {
    fn order(&self, what: &str) -> Result<WorkOrderId, Problem> {
        self.orders.get(what).copied().ok_or_else(|| Problem::not_found("open demo work order", what))
    }
}

fn may(who: &Principal, any_of: &[Permission]) -> Result<(), Problem> {
    match any_of.first() {
        Some(first) if !any_of.iter().any(|permission| who.may(*permission)) => Err(Problem::forbidden(*first)),
        _ => Ok(()),
    }
}

/// Does one thing as somebody who may do it.
pub(super) fn live(tx: &mut Tx<'_>, who: &Principal, deed: &Deed, open: &mut Open) -> Result<(), Problem> {
    let by_code = |code: &Code| Reference::Code(code.clone());
    may(who, deed.permissions())?;
    let done = match deed {
        Deed::PutOnRecord(thing) => return thing.put_on_record(tx, who),
        Deed::OpenSetup(new) => {
            let (done, setup) = setups::open_in(tx, who, new)?;
            open.setups.insert(new.machine.clone(), setup);
            Ok(done)
        }
        Deed::SetupEvent { machine, event } => {
            let setup = open.setups.get(machine).ok_or_else(|| Problem::not_found("open demo setup", machine))?;
            let event = EventBody::parse(event.clone())?;
            may(who, event.kind().permissions())?;
            return setups::take_in(tx, who, *setup, &event, None).map(drop);
        }
        Deed::OpenWorkOrder(new) => {
            let (done, order) = work_orders::open_in(tx, who, new)?;
            let name = new.what.clone().or_else(|| new.plan.as_ref().map(Code::to_string));
            open.orders.insert(name.unwrap_or_default(), order);
            Ok(done)
        }
        Deed::StartWorkOrder { what } => work_orders::start_in(tx, who, open.order(what)?),
        Deed::FinishWorkOrder { what, done } => work_orders::finish_in(tx, who, open.order(what)?, done),
        Deed::CancelWorkOrder { what, cancelled } => work_orders::cancel_in(tx, who, open.order(what)?, cancelled),
        Deed::JudgeImpact { gauge, touched, outcome, note } => {
            return judge_impact(tx, who, gauge, *touched, *outcome, note);
        }
        Deed::CloseImpact { gauge, closing } => {
            let document = open_document(tx, gauge)?;
            impacts::close_in(tx, who, document, closing)
        }
        Deed::ClearTagOut { machine, note } => return clear_tag_out(tx, who, machine, note),
        Deed::ChangeJob { job, change } => {
            registry::change_in::<registry::Jobs>(tx, who, &by_code(job), &MergePatch::of(change.clone())?)
        }
        Deed::TakeOver { note } => {
            let now = tx.now();
            let floor = floor::as_it_stands(tx.connection(), now)?;
            let new = NewHandover { read: handovers::tag(&floor)?, note: note.clone() };
            return handovers::accept_in(tx, who, &new).map(drop);
        }
        Deed::Settings(wanted) => settings::set_in(tx, who, wanted),
        Deed::CheckOut(body) => custody::check_out_in(tx, who, body),
        Deed::CheckIn(body) => custody::check_in_in(tx, who, body),
        Deed::Transfer(body) => custody::transfer_in(tx, who, body),
        Deed::GaugeCheck { gauge, check } => gauge_checks::record_in(tx, who, &by_code(gauge), check),
        Deed::BindGauge { gauge, to } => gauge_bindings::bind_in(tx, who, &by_code(gauge), to),
        Deed::Regrind { tool, grind } => regrinds::record_in(tx, who, &by_code(tool), grind),
        Deed::ToolCheck { tool, check } => checks::record_in(tx, who, &by_code(tool), check),
        Deed::Consent { tool, consent } => consents::record_in(tx, who, &by_code(tool), consent),
        Deed::HolderCheck { holder, check } => holder_checks::record_in(tx, who, &by_code(holder), check),
        Deed::CenterHeight { machine, measurement } => {
            center_heights::record_in(tx, who, &by_code(machine), measurement)
        }
        Deed::TagOut(body) => tag_outs::place_in(tx, who, body),
        Deed::SupplyReceived { supply, receipt } => supplies::receive_in(tx, who, &by_code(supply), receipt),
        Deed::SupplyWithdrawn { supply, withdrawal } => supplies::withdraw_in(tx, who, &by_code(supply), withdrawal),
        Deed::SupplyCounted { supply, count } => supplies::count_in(tx, who, &by_code(supply), count),
        Deed::Book { job, bookings: wanted } => bookings::book_in(tx, who, &by_code(job), wanted),
    };
    done.map(drop)
}

fn open_document(tx: &mut Tx<'_>, gauge: &Code) -> Result<ImpactId, Problem> {
    let id = registry::resolve(tx.connection(), CodeSubject::Item, gauge, "/gauge")?;
    let filter = ImpactFilter { gauge: Some(ItemId::from_uuid(id)), open: Some(true) };
    let document = impacts_page(tx.connection(), filter, None, 1)?.pop();
    document.map(|document| document.id).ok_or_else(|| Problem::not_found("open impact document of gauge", gauge))
}

fn judge_impact(
    tx: &mut Tx<'_>,
    who: &Principal,
    gauge: &Code,
    touched: TouchedKind,
    outcome: Outcome,
    note: &str,
) -> Result<(), Problem> {
    /// As many as a request may name.
    const AT_ONCE: i64 = 200;
    let document = open_document(tx, gauge)?;
    impacts::refresh_in(tx, who, document)?;
    loop {
        let filter = EntryFilter { kind: Some(touched), judged: Some(false) };
        let entries = entries_page(tx.connection(), document, filter, None, AT_ONCE)?;
        if entries.is_empty() {
            return Ok(());
        }
        let entries = entries.iter().map(|entry| entry.number).collect();
        impacts::judge_in(tx, who, document, &NewOutcomes { entries, outcome, note: note.to_owned() })?;
    }
}

fn clear_tag_out(tx: &mut Tx<'_>, who: &Principal, machine: &Code, note: &str) -> Result<(), Problem> {
    let id = registry::resolve(tx.connection(), CodeSubject::Machine, machine, "/machine")?;
    let filter = TagOutFilter { machine: Some(MachineId::from_uuid(id)), in_force: Some(true) };
    let placed = tag_outs_page(tx.connection(), filter, None, 1)?.pop();
    let placed = placed.ok_or_else(|| Problem::not_found("tag-out in force of machine", machine))?;
    tag_outs::clear_in(tx, who, placed.id, Some(note)).map(drop)
}
