//! Serialised items of no kind of their own, and the view over all kinds.

use super::Registered;
use crate::{
    app::items::{changed_item, check_name, forget, new_item, put, show},
    extract::NoFields,
    principal::Principal,
    problem::Problem,
    transport::item::{ItemChange, ItemView, NewItem},
};
use dovetally_core::{
    code::Code,
    ids::ItemId,
    item::{Condition, ItemKind},
    registry::item::Item,
};
use dovetally_db::{
    Connection, Tx,
    codes::CodeSubject,
    items::{self, ItemFilter},
};
use uuid::Uuid;

/// Items of any kind, for reading.
#[derive(Debug)]
pub struct AnyItem;

/// Items of kind `other`.
#[derive(Debug)]
pub struct OtherItems;

/// What both have in common; only `find` and `insert` differ.
macro_rules! items {
    ($name:ident, $accepts:expr) => {
        impl Registered for $name {
            const RESOURCE: &'static str = "item";
            const COLLECTION: &'static str = "items";
            const SUBJECT: CodeSubject = CodeSubject::Item;
            const CHANGES: [&'static str; 3] =
                ["dovetally.item.created", "dovetally.item.changed", "dovetally.item.removed"];
            const READ_ONLY: &'static [&'static str] = super::form_tools::ITEM_READ_ONLY;

            type Thing = Item;
            type New = NewItem;
            type Write = ItemChange;
            type View = ItemView;
            type Filter = NoFields;

            fn code_of_new(new: &NewItem) -> &Code {
                &new.code
            }

            fn code_of(write: &ItemChange) -> &Code {
                &write.code
            }

            fn record_of(item: &Item) -> (Uuid, &Code, i64) {
                (item.id.uuid(), &item.code, item.version)
            }

            fn find(connection: &mut Connection, id: Uuid) -> Result<Option<Item>, Problem> {
                let accepts: fn(&Item) -> bool = $accepts;
                Ok(items::find(connection, ItemId::from_uuid(id))?.filter(accepts))
            }

            fn page(
                connection: &mut Connection,
                _: &NoFields,
                after: Option<&Code>,
                limit: i64,
            ) -> Result<Vec<Item>, Problem> {
                Ok(items::page(connection, &ItemFilter::default(), after, limit)?)
            }

            fn view(connection: &mut Connection, item: &Item) -> Result<ItemView, Problem> {
                show(connection, item)
            }

            fn write_form(item: &Item) -> ItemChange {
                ItemChange { code: item.code.clone(), name: item.fields.name.clone() }
            }

            fn insert(tx: &mut Tx<'_>, who: &Principal, id: Uuid, new: &NewItem) -> Result<Item, Problem> {
                if new.kind != ItemKind::Other {
                    return Err(Problem::field(
                        "/kind",
                        "must be other: the other kinds have collections of their own",
                    ));
                }
                check_name(&new.name)?;
                let item = new_item(tx, id, &new.code, ItemKind::Other, new.name.clone(), Condition::Usable);
                items::insert(tx.connection(), &item)?;
                put(tx, who, item.id, &new.place)?;
                Ok(item)
            }

            fn update(tx: &mut Tx<'_>, _: &Principal, item: Item, write: &ItemChange) -> Result<Item, Problem> {
                check_name(&write.name)?;
                let item = changed_item(tx, item, &write.code, &write.name);
                items::update(tx.connection(), &item)?;
                Ok(item)
            }

            fn delete(tx: &mut Tx<'_>, item: &Item) -> Result<(), Problem> {
                forget(tx, item.id)?;
                Ok(items::delete(tx.connection(), item.id)?)
            }
        }
    };
}

items!(AnyItem, |_| true);
items!(OtherItems, |item| item.fields.kind == ItemKind::Other);
