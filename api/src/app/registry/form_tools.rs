//! Form tools.

use super::{Registered, no_faults, resolve, resolve_in_query};
use crate::{
    app::{
        items::{changed_item, check_name, forget, new_item, put, show_all},
        life::consents,
    },
    principal::Principal,
    problem::Problem,
    transport::form_tool::{FormToolChange, FormToolFilters, FormToolView, NewFormTool},
};
use dovetally_core::{
    code::Code,
    ids::{ItemId, PartId, ToolDesignId},
    item::{Condition, ItemKind},
    life::{
        edge::begun_before_records,
        ownership::{Belonging, PartRef},
    },
    registry::{item::FormTool, tool_design::ToolDesign},
};
use dovetally_db::{Connection, Error, Tx, codes::CodeSubject, form_tools, parts, tool_designs};
use std::collections::{BTreeMap, btree_map::Entry};
use uuid::Uuid;

/// What follows from records on every item.
pub(super) const ITEM_READ_ONLY: &[&str] = &[
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
];

/// The design that a tool is made to.
///
/// # Errors
/// A database error.
pub(crate) fn design_of(connection: &mut Connection, tool: &FormTool) -> Result<ToolDesign, Problem> {
    let design = tool_designs::find(connection, tool.design)?;
    design.ok_or_else(|| Error::unreadable("a form tool without its design").into())
}

/// Whose a tool is to be, and what it is kept for.
fn belonging(
    connection: &mut Connection,
    owner: Option<&String>,
    reserved_for: Option<&Code>,
) -> Result<Belonging, Problem> {
    let reserved_for = match reserved_for {
        None => None,
        Some(code) => {
            let id = PartId::from_uuid(resolve(connection, CodeSubject::Part, code, "/reserved_for")?);
            // By its present code, whatever alias was used: the answer equals the next read.
            let part = parts::find(connection, id)?.ok_or_else(|| Problem::not_found("part", code))?;
            Some(PartRef { id, code: part.code })
        }
    };
    let belonging = Belonging { owner: owner.cloned(), reserved_for };
    no_faults(belonging.check())?;
    Ok(belonging)
}

/// Form tools, made to tool designs.
#[derive(Debug)]
pub struct FormTools;

impl Registered for FormTools {
    const RESOURCE: &'static str = "item";
    const COLLECTION: &'static str = "form-tools";
    const SUBJECT: CodeSubject = CodeSubject::Item;
    const CHANGES: [&'static str; 3] =
        ["dovetally.form_tool.created", "dovetally.form_tool.changed", "dovetally.form_tool.removed"];
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
        "design",
        "height",
        "regrind_count",
        "pieces_since_grind",
        "pieces_total",
        "last_ground_at",
        "checked_after_grind",
        "usable_angle_deg",
    ];

    type Thing = FormTool;
    type New = NewFormTool;
    type Write = FormToolChange;
    type View = FormToolView;
    type Filter = FormToolFilters;

    fn code_of_new(new: &NewFormTool) -> &Code {
        &new.code
    }

    fn code_of(write: &FormToolChange) -> &Code {
        &write.code
    }

    fn record_of(tool: &FormTool) -> (Uuid, &Code, i64) {
        (tool.item.id.uuid(), &tool.item.code, tool.item.version)
    }

    fn find(connection: &mut Connection, id: Uuid) -> Result<Option<FormTool>, Problem> {
        Ok(form_tools::find(connection, ItemId::from_uuid(id))?)
    }

    fn page(
        connection: &mut Connection,
        filter: &FormToolFilters,
        after: Option<&Code>,
        limit: i64,
    ) -> Result<Vec<FormTool>, Problem> {
        let design = resolve_in_query(connection, CodeSubject::ToolDesign, filter.design.as_ref(), "design")?;
        Ok(form_tools::page(connection, design.map(ToolDesignId::from_uuid), after, limit)?)
    }

    fn view(connection: &mut Connection, tool: &FormTool) -> Result<FormToolView, Problem> {
        let shown = Self::views(connection, std::slice::from_ref(tool))?.pop();
        shown.ok_or_else(|| Error::unreadable("an item that cannot be shown").into())
    }

    fn views(connection: &mut Connection, tools: &[FormTool]) -> Result<Vec<FormToolView>, Problem> {
        let mut designs = BTreeMap::new();
        for tool in tools {
            if let Entry::Vacant(unknown) = designs.entry(tool.design) {
                unknown.insert(design_of(connection, tool)?);
            }
        }
        let items = show_all(connection, &tools.iter().map(|tool| &tool.item).collect::<Vec<_>>())?;
        let shown = items.into_iter().zip(tools).map(|(item, tool)| FormToolView {
            item,
            usable_angle_deg: designs.get(&tool.design).and_then(|design| design.fields.usable_angle_of(tool.height)),
            design: tool.design_code.clone(),
            height: tool.height,
            regrind_count: tool.regrind_count,
            pieces_since_grind: tool.pieces_since_grind,
            pieces_total: tool.pieces_total,
            last_ground_at: tool.last_ground_at,
            checked_after_grind: tool.checked_after_grind,
            owner: tool.belonging.owner.clone(),
            reserved_for: tool.belonging.reserved_for.as_ref().map(|part| part.code.clone()),
        });
        Ok(shown.collect())
    }

    fn write_form(tool: &FormTool) -> FormToolChange {
        FormToolChange {
            code: tool.item.code.clone(),
            name: tool.item.fields.name.clone(),
            owner: tool.belonging.owner.clone(),
            reserved_for: tool.belonging.reserved_for.as_ref().map(|part| part.code.clone()),
        }
    }

    fn insert(tx: &mut Tx<'_>, who: &Principal, id: Uuid, new: &NewFormTool) -> Result<FormTool, Problem> {
        let design =
            ToolDesignId::from_uuid(resolve(tx.connection(), CodeSubject::ToolDesign, &new.design, "/design")?);
        let design = tool_designs::find(tx.connection(), design)?
            .ok_or_else(|| Problem::not_found("tool design", &new.design))?;
        let height = match (new.height, new.usable_angle_deg) {
            (Some(_), Some(_)) => return Err(Problem::field("/usable_angle_deg", "give it or height, one of the two")),
            (Some(height), None) => height,
            (None, Some(angle)) => {
                let arc = design.fields.arc_with_usable_angle(angle);
                arc.map_err(|why| Problem::field("/usable_angle_deg", why))?
            }
            (None, None) => design.fields.new_height,
        };
        if height.picometres() <= 0 || height > design.fields.new_height {
            let most = design.fields.new_height;
            return Err(Problem::field("/height/value", format!("must be above zero and at most {most}, as new")));
        }
        let name = new.name.clone().unwrap_or_else(|| design.fields.name.clone());
        check_name(&name)?;
        let begun_before = begun_before_records(height, design.fields.new_height, new.pieces_on_edge);
        let pieces = new.pieces_on_edge.map_or(0, i64::from);
        let tool = FormTool {
            item: new_item(tx, id, &new.code, ItemKind::FormTool, name, Condition::Usable),
            design: design.id,
            design_code: design.code,
            height,
            regrind_count: 0,
            pieces_since_grind: pieces,
            pieces_total: pieces,
            last_ground_at: None,
            checked_after_grind: true,
            begun_before,
            belonging: belonging(tx.connection(), new.owner.as_ref(), new.reserved_for.as_ref())?,
        };
        form_tools::insert(tx.connection(), &tool)?;
        put(tx, who, tool.item.id, &new.place)?;
        Ok(tool)
    }

    fn update(tx: &mut Tx<'_>, who: &Principal, tool: FormTool, write: &FormToolChange) -> Result<FormTool, Problem> {
        check_name(&write.name)?;
        let item = changed_item(tx, tool.item, &write.code, &write.name);
        let belonging = belonging(tx.connection(), write.owner.as_ref(), write.reserved_for.as_ref())?;
        if belonging.owner != tool.belonging.owner {
            consents::end_with_owner(tx, who, item.id, &item.code)?;
        }
        let tool = FormTool { item, belonging, ..tool };
        form_tools::update(tx.connection(), &tool)?;
        Ok(tool)
    }

    fn delete(tx: &mut Tx<'_>, tool: &FormTool) -> Result<(), Problem> {
        forget(tx, tool.item.id)?;
        Ok(form_tools::delete(tx.connection(), tool.item.id)?)
    }
}
