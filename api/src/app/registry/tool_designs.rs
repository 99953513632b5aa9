//! Tool designs.

use super::{Registered, no_faults};
use crate::{
    extract::NoFields,
    principal::Principal,
    problem::Problem,
    transport::tool_design::{ToolDesignBody, ToolDesignView},
};
use dovetally_core::{
    code::Code,
    ids::ToolDesignId,
    registry::{Record, tool_design::ToolDesign},
};
use dovetally_db::{Connection, Tx, codes::CodeSubject, tool_designs};
use uuid::Uuid;

/// Tool designs: the forms that form tools share.
#[derive(Debug)]
pub struct ToolDesigns;

impl Registered for ToolDesigns {
    const RESOURCE: &'static str = "tool_design";
    const COLLECTION: &'static str = "tool-designs";
    const SUBJECT: CodeSubject = CodeSubject::ToolDesign;
    const CHANGES: [&'static str; 3] =
        ["dovetally.tool_design.created", "dovetally.tool_design.changed", "dovetally.tool_design.removed"];
    const READ_ONLY: &'static [&'static str] = &["id", "created_at", "updated_at"];

    type Thing = ToolDesign;
    type New = ToolDesignBody;
    type Write = ToolDesignBody;
    type View = ToolDesignView;
    type Filter = NoFields;

    fn code_of_new(new: &ToolDesignBody) -> &Code {
        &new.code
    }

    fn code_of(write: &ToolDesignBody) -> &Code {
        &write.code
    }

    fn record_of(design: &ToolDesign) -> (Uuid, &Code, i64) {
        (design.id.uuid(), &design.code, design.version)
    }

    fn find(connection: &mut Connection, id: Uuid) -> Result<Option<ToolDesign>, Problem> {
        Ok(tool_designs::find(connection, ToolDesignId::from_uuid(id))?)
    }

    fn page(
        connection: &mut Connection,
        _: &NoFields,
        after: Option<&Code>,
        limit: i64,
    ) -> Result<Vec<ToolDesign>, Problem> {
        Ok(tool_designs::page(connection, after, limit)?)
    }

    fn view(_: &mut Connection, design: &ToolDesign) -> Result<ToolDesignView, Problem> {
        Ok(design.into())
    }

    fn write_form(design: &ToolDesign) -> ToolDesignBody {
        design.into()
    }

    fn insert(tx: &mut Tx<'_>, _: &Principal, id: Uuid, new: &ToolDesignBody) -> Result<ToolDesign, Problem> {
        let fields = new.fields()?;
        no_faults(fields.check())?;
        let now = tx.now();
        let design = Record {
            id: ToolDesignId::from_uuid(id),
            code: new.code.clone(),
            fields,
            version: 1,
            created_at: now,
            updated_at: now,
        };
        tool_designs::insert(tx.connection(), &design)?;
        Ok(design)
    }

    fn update(
        tx: &mut Tx<'_>,
        _: &Principal,
        design: ToolDesign,
        write: &ToolDesignBody,
    ) -> Result<ToolDesign, Problem> {
        let fields = write.fields()?;
        no_faults(fields.check())?;
        let design =
            Record { code: write.code.clone(), fields, version: design.version + 1, updated_at: tx.now(), ..design };
        tool_designs::update(tx.connection(), &design)?;
        Ok(design)
    }

    fn delete(tx: &mut Tx<'_>, design: &ToolDesign) -> Result<(), Problem> {
        Ok(tool_designs::delete(tx.connection(), design.id)?)
    }
}
