//! Maintenance plans as records; how one stands is judged in [`crate::app::maintenance_plans`].

use super::{Registered, no_faults, resolve, resolve_in_query};
use crate::{
    principal::Principal,
    problem::Problem,
    transport::maintenance_plan::{
        MaintainedBody, MaintenancePlanChange, MaintenancePlanFilters, MaintenancePlanView, NewMaintenancePlan,
    },
};
use chrono::SubsecRound;
use dovetally_core::{
    code::Code,
    ids::{ItemId, MachineId, MaintenancePlanId},
    maintenance::{Maintained, MaintenancePlan, MaintenancePlanFields},
    registry::Record,
};
use dovetally_db::{
    Connection, Tx,
    codes::CodeSubject,
    items, machines,
    maintenance_plans::{self, MaintenancePlanFilter},
};
use uuid::Uuid;

/// Maintenance plans.
#[derive(Debug)]
pub struct MaintenancePlans;

/// What a body names, with its id and its code of today.
///
/// # Errors
/// 422 when it is not on record, or not exactly one thing is named.
pub(crate) fn maintained(connection: &mut Connection, named: &MaintainedBody) -> Result<Maintained, Problem> {
    Ok(match (&named.machine, &named.item, &named.other) {
        (Some(code), None, None) => {
            let id = MachineId::from_uuid(resolve(connection, CodeSubject::Machine, code, "/subject/machine")?);
            let code = machines::code_of(connection, id)?.ok_or_else(|| Problem::not_found("machine", code))?;
            Maintained::Machine { id, code }
        }
        (None, Some(code), None) => {
            let id = ItemId::from_uuid(resolve(connection, CodeSubject::Item, code, "/subject/item")?);
            let code = items::find(connection, id)?.ok_or_else(|| Problem::not_found("item", code))?.code;
            Maintained::Item { id, code }
        }
        (None, None, Some(words)) => Maintained::Other(words.clone()),
        _ => return Err(Problem::field("/subject", "name one of machine, item and other")),
    })
}

/// The filter of a list in the words of its query.
///
/// # Errors
/// 400 for a filter that names nothing.
pub(crate) fn filter_of(
    connection: &mut Connection,
    filters: &MaintenancePlanFilters,
) -> Result<MaintenancePlanFilter, Problem> {
    let machine = resolve_in_query(connection, CodeSubject::Machine, filters.machine.as_ref(), "machine")?;
    let item = resolve_in_query(connection, CodeSubject::Item, filters.item.as_ref(), "item")?;
    Ok(MaintenancePlanFilter {
        machine: machine.map(MachineId::from_uuid),
        item: item.map(ItemId::from_uuid),
        retired: filters.retired,
    })
}

impl Registered for MaintenancePlans {
    const RESOURCE: &'static str = "maintenance_plan";
    const COLLECTION: &'static str = "maintenance-plans";
    const SUBJECT: CodeSubject = CodeSubject::MaintenancePlan;
    const CHANGES: [&'static str; 3] = [
        "dovetally.maintenance_plan.created",
        "dovetally.maintenance_plan.changed",
        "dovetally.maintenance_plan.removed",
    ];
    const READ_ONLY: &'static [&'static str] = &["id", "subject", "last_done_at", "created_at", "updated_at"];

    type Thing = MaintenancePlan;
    type New = NewMaintenancePlan;
    type Write = MaintenancePlanChange;
    type View = MaintenancePlanView;
    type Filter = MaintenancePlanFilters;

    fn code_of_new(new: &NewMaintenancePlan) -> &Code {
        &new.code
    }

    fn code_of(write: &MaintenancePlanChange) -> &Code {
        &write.code
    }

    fn record_of(plan: &MaintenancePlan) -> (Uuid, &Code, i64) {
        (plan.record.id.uuid(), &plan.record.code, plan.record.version)
    }

    fn find(connection: &mut Connection, id: Uuid) -> Result<Option<MaintenancePlan>, Problem> {
        Ok(maintenance_plans::find(connection, MaintenancePlanId::from_uuid(id))?)
    }

    fn page(
        connection: &mut Connection,
        filter: &MaintenancePlanFilters,
        after: Option<&Code>,
        limit: i64,
    ) -> Result<Vec<MaintenancePlan>, Problem> {
        let filter = filter_of(connection, filter)?;
        Ok(maintenance_plans::page(connection, filter, after, limit)?)
    }

    fn view(_: &mut Connection, plan: &MaintenancePlan) -> Result<MaintenancePlanView, Problem> {
        Ok(plan.into())
    }

    fn write_form(plan: &MaintenancePlan) -> MaintenancePlanChange {
        plan.into()
    }

    fn insert(tx: &mut Tx<'_>, _: &Principal, id: Uuid, new: &NewMaintenancePlan) -> Result<MaintenancePlan, Problem> {
        let fields = MaintenancePlanFields {
            name: new.name.clone(),
            subject: maintained(tx.connection(), &new.subject)?,
            steps: new.steps.clone(),
            cautions: new.cautions.clone(),
            interval: new.interval.into(),
            due_from_percent: new.due_from_percent,
            retired: false,
        };
        no_faults(fields.check())?;
        let now = tx.now();
        let last_done_at = new.last_done_at.map(|at| at.trunc_subsecs(6));
        if last_done_at.is_some_and(|at| at > now) {
            return Err(Problem::field("/last_done_at", "lies ahead of the server's time"));
        }
        let record = Record {
            id: MaintenancePlanId::from_uuid(id),
            code: new.code.clone(),
            fields,
            version: 1,
            created_at: now,
            updated_at: now,
        };
        let plan = MaintenancePlan { record, last_done_at };
        maintenance_plans::insert(tx.connection(), &plan)?;
        Ok(plan)
    }

    fn update(
        tx: &mut Tx<'_>,
        _: &Principal,
        plan: MaintenancePlan,
        write: &MaintenancePlanChange,
    ) -> Result<MaintenancePlan, Problem> {
        let fields = MaintenancePlanFields {
            name: write.name.clone(),
            subject: plan.record.fields.subject.clone(),
            steps: write.steps.clone(),
            cautions: write.cautions.clone(),
            interval: write.interval.into(),
            due_from_percent: write.due_from_percent,
            retired: write.retired,
        };
        no_faults(fields.check())?;
        let record = Record {
            code: write.code.clone(),
            fields,
            version: plan.record.version + 1,
            updated_at: tx.now(),
            ..plan.record
        };
        let plan = MaintenancePlan { record, ..plan };
        maintenance_plans::update(tx.connection(), &plan)?;
        Ok(plan)
    }

    fn delete(tx: &mut Tx<'_>, plan: &MaintenancePlan) -> Result<(), Problem> {
        Ok(maintenance_plans::delete(tx.connection(), plan.record.id)?)
    }
}
