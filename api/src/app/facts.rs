//! What the records know of a scanned code, for the rules. An unknown code stays unknown: nothing is guessed here.

use crate::problem::Problem;
use chrono::NaiveDate;
use dovetally_core::{
    code::Code,
    custody::ItemFacts,
    gauge::{GaugeFacts, GaugeMachine, GaugePlacement},
    ids::ItemId,
    item::{ItemKind, Whereabouts},
    life::ownership::Ownership,
    registry::item::Item,
    scan::Scanned,
    setup::{
        facts::{DesignFacts, FormFacts, HolderFacts, SetupPlace, ToolFacts},
        plan::DesignRef,
    },
};
use dovetally_db::{
    Connection, Error, center_gauges, codes, codes::CodeSubject, custody, form_tools, holders, items, life, machines,
    setups, tool_designs,
};

/// The item behind a scanned text, if it is one.
///
/// # Errors
/// A database error.
pub fn scanned_id(connection: &mut Connection, text: &str) -> Result<Option<ItemId>, Problem> {
    let Ok(code) = Code::parse(text) else { return Ok(None) };
    Ok(codes::find_id(connection, CodeSubject::Item, &code)?.map(ItemId::from_uuid))
}

/// A scanned item of whatever kind, as it is known on a day.
///
/// # Errors
/// A database error.
pub fn scanned_item(connection: &mut Connection, text: &str, today: NaiveDate) -> Result<Scanned<ItemFacts>, Problem> {
    let item = match look_up(connection, text)? {
        Scanned::Known(item) => item,
        Scanned::OtherKind { code, what } => return Ok(Scanned::OtherKind { code, what }),
        Scanned::Unknown { text } => return Ok(Scanned::Unknown { text }),
    };
    let now = custody::find(connection, item.id)?.ok_or_else(incomplete)?;
    let gauge_of = match item.fields.kind {
        ItemKind::CenterGauge => {
            let gauge = center_gauges::find(connection, item.id)?.ok_or_else(incomplete)?;
            Some(GaugeMachine { machine: gauge.machine, code: gauge.machine_code })
        }
        _ => None,
    };
    let not_to_retire = match item.fields.kind {
        ItemKind::FormTool => {
            let tool = form_tools::find(connection, item.id)?.ok_or_else(incomplete)?;
            let ownership = life::ownership::of_tool(connection, item.id, tool.belonging)?;
            ownership.retirement_refused(&item.code, today)
        }
        _ => None,
    };
    Ok(Scanned::Known(ItemFacts {
        item: item.id,
        code: item.code,
        kind: item.fields.kind,
        condition: item.fields.condition,
        whereabouts: custody::whereabouts(connection, now.keeper)?,
        in_setup: in_setup(connection, item.id)?,
        movements: now.movement_sequence,
        purpose: now.purpose,
        gauge_of,
        not_to_retire,
    }))
}

/// In which open setup an item is: held by one, or a gauge placed in one.
///
/// # Errors
/// A database error.
pub fn in_setup(connection: &mut Connection, item: ItemId) -> Result<Option<SetupPlace>, Problem> {
    if let Some(place) = setups::place_of(connection, item)? {
        return Ok(Some(place));
    }
    let placed = placement(connection, item)?;
    Ok(placed.map(|at| SetupPlace { setup: at.setup, machine: at.machine_code, station: at.station }))
}

/// A scanned holder.
///
/// # Errors
/// A database error.
pub fn scanned_holder(connection: &mut Connection, text: &str) -> Result<Scanned<HolderFacts>, Problem> {
    of_kind(connection, text, &[ItemKind::Holder], |connection, item| {
        let holder = holders::find(connection, item.id)?.ok_or_else(incomplete)?;
        Ok(HolderFacts {
            item: item.id,
            code: item.code,
            style: holder.style,
            condition: item.fields.condition,
            next_check: holder.next_check,
            adjusters: holder.adjusters,
            whereabouts: whereabouts(connection, item.id)?,
            in_setup: in_setup(connection, item.id)?,
        })
    })
}

/// A scanned tool: a form tool, or another serialised one.
///
/// # Errors
/// A database error.
pub fn scanned_tool(connection: &mut Connection, text: &str) -> Result<Scanned<ToolFacts>, Problem> {
    of_kind(connection, text, &[ItemKind::FormTool, ItemKind::Other], |connection, item| {
        let mut ownership = Ownership::default();
        let form = match form_tools::find(connection, item.id)? {
            None => None,
            Some(tool) => {
                ownership = life::ownership::of_tool(connection, item.id, tool.belonging)?;
                let design = tool_designs::find(connection, tool.design)?.ok_or_else(incomplete)?;
                Some(FormFacts {
                    design: DesignFacts {
                        design: DesignRef { id: design.id, code: design.code },
                        tool_face: design.fields.tool_face,
                        minimum_height: design.fields.minimum_height,
                    },
                    height: tool.height,
                    checked_after_grind: tool.checked_after_grind,
                })
            }
        };
        Ok(ToolFacts {
            item: item.id,
            code: item.code,
            condition: item.fields.condition,
            form,
            ownership,
            whereabouts: whereabouts(connection, item.id)?,
            in_setup: in_setup(connection, item.id)?,
        })
    })
}

/// A scanned centre gauge.
///
/// # Errors
/// A database error.
pub fn scanned_gauge(connection: &mut Connection, text: &str) -> Result<Scanned<GaugeFacts>, Problem> {
    of_kind(connection, text, &[ItemKind::CenterGauge], |connection, item| {
        let gauge = center_gauges::find(connection, item.id)?.ok_or_else(incomplete)?;
        let machine = machines::find(connection, gauge.machine)?.ok_or_else(incomplete)?;
        Ok(GaugeFacts {
            item: item.id,
            code: item.code,
            machine: gauge.machine,
            machine_code: gauge.machine_code,
            stations: gauge.stations,
            condition: item.fields.condition,
            next_check: gauge.next_check,
            last_accepted_check_at: gauge.last_accepted_check_at,
            centers_may_have_moved_at: machine.centers_may_have_moved_at,
            whereabouts: whereabouts(connection, item.id)?,
            placed: placement(connection, item.id)?,
        })
    })
}

fn placement(connection: &mut Connection, gauge: ItemId) -> Result<Option<GaugePlacement>, Problem> {
    let Some(placed) = setups::gauge_placed(connection, gauge)? else { return Ok(None) };
    let setup = setups::find(connection, placed.setup)?.ok_or_else(incomplete)?;
    Ok(Some(GaugePlacement {
        machine: setup.machine,
        machine_code: setup.plan.machine_code,
        setup: placed.setup,
        station: placed.station,
    }))
}

fn of_kind<T>(
    connection: &mut Connection,
    text: &str,
    kinds: &[ItemKind],
    facts: impl FnOnce(&mut Connection, Item) -> Result<T, Problem>,
) -> Result<Scanned<T>, Problem> {
    Ok(match look_up(connection, text)? {
        Scanned::Known(item) if kinds.contains(&item.fields.kind) => Scanned::Known(facts(connection, item)?),
        Scanned::Known(item) => Scanned::OtherKind { what: what_it_is(item.fields.kind).to_owned(), code: item.code },
        Scanned::OtherKind { code, what } => Scanned::OtherKind { code, what },
        Scanned::Unknown { text } => Scanned::Unknown { text },
    })
}

fn look_up(connection: &mut Connection, text: &str) -> Result<Scanned<Item>, Problem> {
    let unknown = || Scanned::Unknown { text: text.chars().take(64).collect() };
    let Ok(code) = Code::parse(text) else { return Ok(unknown()) };
    Ok(match codes::find(connection, &code)? {
        None => unknown(),
        Some((CodeSubject::Item, id)) => {
            items::find(connection, ItemId::from_uuid(id))?.map_or_else(unknown, Scanned::Known)
        }
        Some((other, _)) => Scanned::OtherKind { code, what: format!("a {}", other.name().replace('_', " ")) },
    })
}

const fn what_it_is(kind: ItemKind) -> &'static str {
    match kind {
        ItemKind::FormTool => "a form tool",
        ItemKind::Holder => "a holder",
        ItemKind::CenterGauge => "a centre gauge",
        ItemKind::Other => "an item of another kind",
    }
}

fn whereabouts(connection: &mut Connection, item: ItemId) -> Result<Whereabouts, Problem> {
    let now = custody::find(connection, item)?.ok_or_else(incomplete)?;
    Ok(custody::whereabouts(connection, now.keeper)?)
}

fn incomplete() -> Problem {
    Error::unreadable("an item whose record is incomplete").into()
}
