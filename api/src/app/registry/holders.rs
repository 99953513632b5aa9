//! Holders.

use super::{Registered, no_faults};
use crate::{
    app::items::{changed_item, check_name, forget, new_item, put, show_all},
    principal::Principal,
    problem::Problem,
    transport::{
        adjuster::AdjusterBody,
        holder::{HolderChange, HolderFilters, HolderView, NewHolder},
    },
};
use dovetally_core::{
    code::Code,
    ids::ItemId,
    item::{Condition, ItemKind},
    registry::item::{Holder, HolderFields, check_interval, valid_until, within_plan},
};
use dovetally_db::{Connection, Error, Tx, codes::CodeSubject, holders};
use uuid::Uuid;

/// Holders, which carry form tools on slides.
#[derive(Debug)]
pub struct Holders;

fn fields(style: &str, adjusters: &[AdjusterBody]) -> Result<HolderFields, Problem> {
    let adjusters = AdjusterBody::parse_all(adjusters.to_vec(), "/adjusters")?;
    let fields = HolderFields { style: style.to_owned(), adjusters };
    no_faults(fields.check())?;
    Ok(fields)
}

impl Registered for Holders {
    const RESOURCE: &'static str = "item";
    const COLLECTION: &'static str = "holders";
    const SUBJECT: CodeSubject = CodeSubject::Item;
    const CHANGES: [&'static str; 3] =
        ["dovetally.holder.created", "dovetally.holder.changed", "dovetally.holder.removed"];
    const READ_ONLY: &'static [&'static str] = &[
        "id",
        "kind",
        "condition",
        "where",
        "since",
        "purpose",
        "due",
        "job",
        "in_setup",
        "place",
        "created_at",
        "updated_at",
        "next_check",
    ];

    type Thing = Holder;
    type New = NewHolder;
    type Write = HolderChange;
    type View = HolderView;
    type Filter = HolderFilters;

    fn code_of_new(new: &NewHolder) -> &Code {
        &new.code
    }

    fn code_of(write: &HolderChange) -> &Code {
        &write.code
    }

    fn record_of(holder: &Holder) -> (Uuid, &Code, i64) {
        (holder.item.id.uuid(), &holder.item.code, holder.item.version)
    }

    fn find(connection: &mut Connection, id: Uuid) -> Result<Option<Holder>, Problem> {
        Ok(holders::find(connection, ItemId::from_uuid(id))?)
    }

    fn page(
        connection: &mut Connection,
        filter: &HolderFilters,
        after: Option<&Code>,
        limit: i64,
    ) -> Result<Vec<Holder>, Problem> {
        Ok(holders::page(connection, filter.style.as_deref(), after, limit)?)
    }

    fn view(connection: &mut Connection, holder: &Holder) -> Result<HolderView, Problem> {
        let shown = Self::views(connection, std::slice::from_ref(holder))?.pop();
        shown.ok_or_else(|| Error::unreadable("an item that cannot be shown").into())
    }

    fn views(connection: &mut Connection, holders: &[Holder]) -> Result<Vec<HolderView>, Problem> {
        let items = show_all(connection, &holders.iter().map(|holder| &holder.item).collect::<Vec<_>>())?;
        let shown = items.into_iter().zip(holders).map(|(item, holder)| HolderView {
            item,
            style: holder.style.clone(),
            adjusters: holder.adjusters.iter().map(AdjusterBody::from).collect(),
            next_check: holder.next_check,
            check_interval_days: holder.check_interval_days,
        });
        Ok(shown.collect())
    }

    fn write_form(holder: &Holder) -> HolderChange {
        HolderChange {
            code: holder.item.code.clone(),
            name: holder.item.fields.name.clone(),
            style: holder.style.clone(),
            adjusters: holder.adjusters.iter().map(AdjusterBody::from).collect(),
            check_interval_days: holder.check_interval_days,
        }
    }

    fn insert(tx: &mut Tx<'_>, who: &Principal, id: Uuid, new: &NewHolder) -> Result<Holder, Problem> {
        let fields = fields(&new.style, &new.adjusters)?;
        no_faults(check_interval(new.check_interval_days))?;
        no_faults(within_plan(new.next_check, tx.now().date_naive(), new.check_interval_days))?;
        let name = new.name.clone().unwrap_or_else(|| format!("Holder {}", new.style));
        check_name(&name)?;
        let holder = Holder {
            item: new_item(tx, id, &new.code, ItemKind::Holder, name, Condition::Usable),
            style: fields.style,
            adjusters: fields.adjusters,
            next_check: valid_until(new.next_check, tx.now().date_naive(), new.check_interval_days),
            check_interval_days: new.check_interval_days,
        };
        holders::insert(tx.connection(), &holder)?;
        put(tx, who, holder.item.id, &new.place)?;
        Ok(holder)
    }

    fn update(tx: &mut Tx<'_>, _: &Principal, holder: Holder, write: &HolderChange) -> Result<Holder, Problem> {
        let fields = fields(&write.style, &write.adjusters)?;
        no_faults(check_interval(write.check_interval_days))?;
        check_name(&write.name)?;
        // One that gets its first plan gets its first day with it.
        let next_check = valid_until(holder.next_check, tx.now().date_naive(), write.check_interval_days);
        let item = changed_item(tx, holder.item, &write.code, &write.name);
        let holder = Holder {
            item,
            style: fields.style,
            adjusters: fields.adjusters,
            next_check,
            check_interval_days: write.check_interval_days,
        };
        holders::update(tx.connection(), &holder)?;
        Ok(holder)
    }

    fn delete(tx: &mut Tx<'_>, holder: &Holder) -> Result<(), Problem> {
        forget(tx, holder.item.id)?;
        Ok(holders::delete(tx.connection(), holder.item.id)?)
    }
}
