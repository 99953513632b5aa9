//! Parts.

use super::{Registered, no_faults, resolve};
use crate::{
    app::planning::bookings,
    extract::NoFields,
    principal::Principal,
    problem::Problem,
    transport::part::{PartBody, PartView},
};
use dovetally_core::{
    code::Code,
    ids::{PartId, ToolDesignId},
    registry::{
        Record,
        part::{Part, PartFields},
    },
    setup::plan::DesignRef,
};
use dovetally_db::{Connection, Tx, codes::CodeSubject, parts};
use uuid::Uuid;

/// Parts: what they ask of each station.
#[derive(Debug)]
pub struct Parts;

impl Registered for Parts {
    const RESOURCE: &'static str = "part";
    const COLLECTION: &'static str = "parts";
    const SUBJECT: CodeSubject = CodeSubject::Part;
    const CHANGES: [&'static str; 3] = ["dovetally.part.created", "dovetally.part.changed", "dovetally.part.removed"];
    const READ_ONLY: &'static [&'static str] = &["id", "created_at", "updated_at"];

    type Thing = Part;
    type New = PartBody;
    type Write = PartBody;
    type View = PartView;
    type Filter = NoFields;

    fn code_of_new(new: &PartBody) -> &Code {
        &new.code
    }

    fn code_of(write: &PartBody) -> &Code {
        &write.code
    }

    fn record_of(part: &Part) -> (Uuid, &Code, i64) {
        (part.id.uuid(), &part.code, part.version)
    }

    fn find(connection: &mut Connection, id: Uuid) -> Result<Option<Part>, Problem> {
        Ok(parts::find(connection, PartId::from_uuid(id))?)
    }

    fn page(connection: &mut Connection, _: &NoFields, after: Option<&Code>, limit: i64) -> Result<Vec<Part>, Problem> {
        Ok(parts::page(connection, after, limit)?)
    }

    fn view(_: &mut Connection, part: &Part) -> Result<PartView, Problem> {
        Ok(part.into())
    }

    fn write_form(part: &Part) -> PartBody {
        part.into()
    }

    fn insert(tx: &mut Tx<'_>, _: &Principal, id: Uuid, new: &PartBody) -> Result<Part, Problem> {
        let fields = fields(tx.connection(), new)?;
        let now = tx.now();
        let part = Record {
            id: PartId::from_uuid(id),
            code: new.code.clone(),
            fields,
            version: 1,
            created_at: now,
            updated_at: now,
        };
        parts::insert(tx.connection(), &part)?;
        on_record(tx.connection(), part.id)
    }

    fn update(tx: &mut Tx<'_>, who: &Principal, part: Part, write: &PartBody) -> Result<Part, Problem> {
        let fields = fields(tx.connection(), write)?;
        let part = Record { code: write.code.clone(), fields, version: part.version + 1, updated_at: tx.now(), ..part };
        parts::update(tx.connection(), &part)?;
        bookings::after_change_of_part(tx, who, part.id)?;
        on_record(tx.connection(), part.id)
    }

    fn delete(tx: &mut Tx<'_>, part: &Part) -> Result<(), Problem> {
        Ok(parts::delete(tx.connection(), part.id)?)
    }
}

/// The trade's fields of a body, its design codes looked up.
fn fields(connection: &mut Connection, body: &PartBody) -> Result<PartFields, Problem> {
    let fields = body.fields(|code, at| {
        let id = resolve(connection, CodeSubject::ToolDesign, code, at)?;
        Ok(DesignRef { id: ToolDesignId::from_uuid(id), code: code.clone() })
    })?;
    no_faults(fields.check())?;
    Ok(fields)
}

/// A part as its rows have it: operations in their order and designs by their present codes, whatever alias the body
/// used, so that the answer to a write has the entity tag of the next read.
fn on_record(connection: &mut Connection, id: PartId) -> Result<Part, Problem> {
    parts::find(connection, id)?.ok_or_else(|| Problem::not_found("part", id))
}
