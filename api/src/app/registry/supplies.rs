//! Supplies as records; what moves them is in [`crate::app::supplies`].

use super::{Registered, no_faults, resolve};
use crate::{
    principal::Principal,
    problem::Problem,
    transport::supply::{SupplyBody, SupplyFilters, SupplyView},
};
use dovetally_core::{
    code::Code,
    ids::{PlaceId, SupplyId},
    registry::Record,
    supply::{Supply, SupplyFields},
};
use dovetally_db::{Connection, Tx, codes::CodeSubject, places, supplies};
use uuid::Uuid;

/// Supplies: counted, not numbered.
#[derive(Debug)]
pub struct Supplies;

fn fields(connection: &mut Connection, body: &SupplyBody) -> Result<SupplyFields, Problem> {
    let place = match &body.place {
        None => None,
        Some(code) => {
            let id = PlaceId::from_uuid(resolve(connection, CodeSubject::Place, code, "/place")?);
            let place = places::find(connection, id)?.ok_or_else(|| Problem::not_found("place", code))?;
            Some((id, place.code))
        }
    };
    let fields = SupplyFields {
        name: body.name.clone(),
        unit: body.unit.clone(),
        minimum: body.minimum,
        reorder_quantity: body.reorder_quantity,
        lead_time_days: body.lead_time_days,
        place,
        retired: body.retired,
    };
    no_faults(fields.check())?;
    Ok(fields)
}

impl Registered for Supplies {
    const RESOURCE: &'static str = "supply";
    const COLLECTION: &'static str = "supplies";
    const SUBJECT: CodeSubject = CodeSubject::Supply;
    const CHANGES: [&'static str; 3] =
        ["dovetally.supply.created", "dovetally.supply.changed", "dovetally.supply.removed"];
    const READ_ONLY: &'static [&'static str] =
        &["id", "on_hand", "below_minimum", "movements", "created_at", "updated_at"];

    type Thing = Supply;
    type New = SupplyBody;
    type Write = SupplyBody;
    type View = SupplyView;
    type Filter = SupplyFilters;

    fn code_of_new(new: &SupplyBody) -> &Code {
        &new.code
    }

    fn code_of(write: &SupplyBody) -> &Code {
        &write.code
    }

    fn record_of(supply: &Supply) -> (Uuid, &Code, i64) {
        (supply.record.id.uuid(), &supply.record.code, supply.record.version)
    }

    fn find(connection: &mut Connection, id: Uuid) -> Result<Option<Supply>, Problem> {
        Ok(supplies::find(connection, SupplyId::from_uuid(id))?)
    }

    fn page(
        connection: &mut Connection,
        filter: &SupplyFilters,
        after: Option<&Code>,
        limit: i64,
    ) -> Result<Vec<Supply>, Problem> {
        Ok(supplies::page(connection, filter.below_minimum, after, limit)?)
    }

    fn view(_: &mut Connection, supply: &Supply) -> Result<SupplyView, Problem> {
        Ok(supply.into())
    }

    fn write_form(supply: &Supply) -> SupplyBody {
        supply.into()
    }

    fn insert(tx: &mut Tx<'_>, _: &Principal, id: Uuid, new: &SupplyBody) -> Result<Supply, Problem> {
        let fields = fields(tx.connection(), new)?;
        let now = tx.now();
        let record = Record {
            id: SupplyId::from_uuid(id),
            code: new.code.clone(),
            fields,
            version: 1,
            created_at: now,
            updated_at: now,
        };
        let supply = Supply { record, on_hand: 0, movements: 0 };
        supplies::insert(tx.connection(), &supply)?;
        Ok(supply)
    }

    fn update(tx: &mut Tx<'_>, _: &Principal, supply: Supply, write: &SupplyBody) -> Result<Supply, Problem> {
        let fields = fields(tx.connection(), write)?;
        let record = Record {
            code: write.code.clone(),
            fields,
            version: supply.record.version + 1,
            updated_at: tx.now(),
            ..supply.record
        };
        let supply = Supply { record, ..supply };
        supplies::update(tx.connection(), &supply)?;
        Ok(supply)
    }

    fn delete(tx: &mut Tx<'_>, supply: &Supply) -> Result<(), Problem> {
        Ok(supplies::delete(tx.connection(), supply.record.id)?)
    }
}
