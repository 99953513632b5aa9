//! What the records know of a scanned code, for the rules. An unknown code stays unknown: nothing is guessed here.

use crate::problem::Problem;
use chrono::NaiveDate;
use dovetally_core::{
    code::Code,
    custody::ItemFacts,
    gauge::{Checks, GaugeFacts, GaugeMachine, GaugePlacement, checks_against_use, stale},
    holder,
    ids::ItemId,
    item::{ItemKind, Whereabouts},
    life::ownership::Ownership,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    registry::item::{CenterGauge, FormTool, Item},
    scan::Scanned,
    setup::{
        facts::{DesignFacts, FormFacts, HolderFacts, SetupPlace, ToolFacts},
        plan::DesignRef,
    },
};
use dovetally_db::{
    Connection, Error, center_gauges, codes, codes::CodeSubject, custody, form_tools, holders, items, life, setups,
    tool_designs,
};

/// The code in a scanned or typed text: a label may hold the whole address of its code.
pub(crate) fn code_of(text: &str) -> &str {
    let text = text.trim();
    text.rsplit_once("/s/").map_or(text, |(_, code)| code)
}

/// The item behind a scanned text, if it is one.
///
/// # Errors
/// A database error.
pub fn scanned_id(connection: &mut Connection, text: &str) -> Result<Option<ItemId>, Problem> {
    let Ok(code) = Code::parse(code_of(text)) else { return Ok(None) };
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
    let (mut gauge_of, mut ownership) = (None, Ownership::default());
    let against = match item.fields.kind {
        ItemKind::FormTool => {
            let tool = form_tools::find(connection, item.id)?.ok_or_else(incomplete)?;
            ownership = life::ownership::of_tool(connection, item.id, tool.belonging.clone())?;
            against_tool(connection, &tool, &ownership, today)?
        }
        ItemKind::Holder => {
            let last = holders::checks_page(connection, item.id, None, 1)?.pop();
            let pass = holder::not_to_pass(&item.code, last.map(|last| last.fields.accepted));
            Against { pass: pass.into_iter().collect(), ..Against::default() }
        }
        ItemKind::CenterGauge => {
            let gauge = center_gauges::find(connection, item.id)?.ok_or_else(incomplete)?;
            let checks = Checks {
                next: gauge.next_check,
                last_accepted_at: gauge.last_accepted_check_at,
                centers_may_have_moved_at: gauge.centers_may_have_moved_at,
            };
            let using = checks_against_use(&gauge.item.code, &gauge.machine_code, checks, today);
            gauge_of = Some(GaugeMachine { machine: gauge.machine, code: gauge.machine_code });
            Against { using, ..Against::default() }
        }
        ItemKind::Other => Against::default(),
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
        ownership,
        not_to_use: against.using,
        not_to_grind: against.grind,
        not_to_retire: against.retire,
        not_to_pass: against.pass,
    }))
}

/// What an item's own record says against what is done with it at the counter.
#[derive(Default)]
struct Against {
    using: Vec<Refusal>,
    grind: Vec<Refusal>,
    retire: Vec<Refusal>,
    pass: Vec<Refusal>,
}

/// Why a gauge sets nothing until it is checked again, though its condition may be usable.
pub(crate) fn stale_gauge(gauge: &CenterGauge) -> Option<Refusal> {
    let (checked_at, moved_at) = (gauge.last_accepted_check_at, gauge.centers_may_have_moved_at);
    stale::refusal(&gauge.item.code, &gauge.machine_code, checked_at, moved_at)
}

fn against_tool(
    connection: &mut Connection,
    tool: &FormTool,
    ownership: &Ownership,
    today: NaiveDate,
) -> Result<Against, Problem> {
    let code = &tool.item.code;
    let not_booked = life::booking::run_to_book(connection, tool.item.id)?.map(|run| run.refusal(code));
    Ok(Against {
        grind: ownership.grind_refused(code, today).into_iter().collect(),
        retire: ownership.retirement_refused(code, today).into_iter().chain(not_booked).collect(),
        pass: not_to_pass(connection, tool)?,
        ..Against::default()
    })
}

/// Why nobody's word at the counter makes a form tool usable.
fn not_to_pass(connection: &mut Connection, tool: &FormTool) -> Result<Vec<Refusal>, Problem> {
    let code = &tool.item.code;
    let in_doubt = life::regrinds::edge_doubt(connection, tool.item.id)?.refusal(code);
    let ground = (!tool.checked_after_grind).then(|| {
        Refusal::new(Rule::NotCheckedAfterGrind, format!("Tool {code} was ground, and no check has passed it since."))
            .about(Subject::coded(SubjectKind::FormTool, code))
    });
    Ok(ground.into_iter().chain(in_doubt).collect())
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
        let held = custody::find(connection, item.id)?.ok_or_else(incomplete)?;
        Ok(ToolFacts {
            item: item.id,
            code: item.code,
            condition: item.fields.condition,
            form,
            ownership,
            whereabouts: custody::whereabouts(connection, held.keeper)?,
            purpose: held.purpose,
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
        Ok(GaugeFacts {
            item: item.id,
            code: item.code,
            machine: gauge.machine,
            machine_code: gauge.machine_code,
            stations: gauge.stations,
            condition: item.fields.condition,
            next_check: gauge.next_check,
            last_accepted_check_at: gauge.last_accepted_check_at,
            centers_may_have_moved_at: gauge.centers_may_have_moved_at,
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
    let text = code_of(text);
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

/// Where an item is.
///
/// # Errors
/// A database error.
pub fn whereabouts(connection: &mut Connection, item: ItemId) -> Result<Whereabouts, Problem> {
    let now = custody::find(connection, item)?.ok_or_else(incomplete)?;
    Ok(custody::whereabouts(connection, now.keeper)?)
}

fn incomplete() -> Problem {
    Error::unreadable("an item whose record is incomplete").into()
}

#[cfg(test)]
mod tests {
    use super::code_of;

    #[test]
    fn a_label_holds_a_code_or_the_address_of_one() {
        for (text, code) in [
            (" FT-001\n", "FT-001"),
            ("https://tooling.shop.example:8443/s/FT-001 ", "FT-001"),
            ("http://crib/dove/s/s/ft-001", "ft-001"),
            ("https://elsewhere.example/FT-001", "https://elsewhere.example/FT-001"),
            ("", ""),
        ] {
            assert_eq!(code_of(text), code, "{text}");
        }
    }
}
