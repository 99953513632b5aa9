//! What is due by a day, read from each kind of record through an index of its days.

use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{
        center_gauges, custody, form_tools, holders, impacts, items, machines, parts, runs, supplies, tool_designs,
        work_orders,
    },
};
use chrono::NaiveDate;
use diesel::prelude::*;
use dovetally_core::{
    code::Code,
    ids::{ImpactId, SetupId, WorkOrderId},
    item::{Condition, ItemKind},
    length::Length,
    setup::runs::RunPieces,
};
use std::collections::BTreeSet;

/// A code with the day by which something is to be done to it.
pub type Dated = (Code, Option<NaiveDate>);

fn dated(rows: Vec<(String, Option<NaiveDate>)>) -> Result<Vec<Dated>> {
    rows.into_iter().map(|(code, day)| Ok((columns::code(&code)?, day))).collect()
}

/// Centre gauges whose next check is on or before a day, oldest first.
///
/// # Errors
/// A database error.
pub fn gauges_with_a_day(connection: &mut Connection, until: NaiveDate, limit: i64) -> Result<Vec<Dated>> {
    dated(
        center_gauges::table
            .inner_join(items::table.on(items::id.eq(center_gauges::item_id)))
            .filter(center_gauges::next_check.le(until))
            .filter(items::condition.ne(Condition::Retired.name()))
            .order((center_gauges::next_check, items::code))
            .limit(limit)
            .select((items::code, center_gauges::next_check))
            .load(connection)?,
    )
}

/// Centre gauges that are to be checked as they stand: never checked, found wanting or damaged, or checked before their
/// machine's spindle centres may have moved.
///
/// # Errors
/// A database error.
pub fn gauges_without_a_check(connection: &mut Connection, limit: i64) -> Result<Vec<Code>> {
    let codes: Vec<String> = center_gauges::table
        .inner_join(items::table.on(items::id.eq(center_gauges::item_id)))
        .inner_join(machines::table.on(machines::id.eq(center_gauges::machine_id)))
        .filter(items::condition.ne(Condition::Retired.name()))
        .filter(
            center_gauges::last_accepted_check_at
                .is_null()
                .or(center_gauges::last_accepted_check_at.le(machines::centers_may_have_moved_at))
                .or(items::condition.eq_any([Condition::NeedsCheck.name(), Condition::Damaged.name()])),
        )
        .order(items::code)
        .limit(limit)
        .select(items::code)
        .load(connection)?;
    codes.iter().map(|code| columns::code(code)).collect()
}

/// Holders in use whose next check is on or before a day, oldest first.
///
/// # Errors
/// A database error.
pub fn holders_with_a_day(connection: &mut Connection, until: NaiveDate, limit: i64) -> Result<Vec<Dated>> {
    dated(
        holders::table
            .inner_join(items::table.on(items::id.eq(holders::item_id)))
            .filter(holders::next_check.le(until))
            .filter(items::condition.eq(Condition::Usable.name()))
            .order((holders::next_check, items::code))
            .limit(limit)
            .select((items::code, holders::next_check))
            .load(connection)?,
    )
}

/// Items of one kind in one condition, by code.
///
/// # Errors
/// A database error.
pub fn in_condition(
    connection: &mut Connection,
    kind: ItemKind,
    condition: Condition,
    limit: i64,
) -> Result<Vec<Code>> {
    let codes: Vec<String> = items::table
        .filter(items::kind.eq(kind.name()))
        .filter(items::condition.eq(condition.name()))
        .order(items::code)
        .limit(limit)
        .select(items::code)
        .load(connection)?;
    codes.iter().map(|code| columns::code(code)).collect()
}

/// Items that are to be back on or before a day, oldest first.
///
/// # Errors
/// A database error.
pub fn items_to_be_back(connection: &mut Connection, until: NaiveDate, limit: i64) -> Result<Vec<Dated>> {
    dated(
        custody::table
            .inner_join(items::table.on(items::id.eq(custody::item_id)))
            .filter(custody::due.le(until))
            .order((custody::due, items::code))
            .limit(limit)
            .select((items::code, custody::due))
            .load(connection)?,
    )
}

/// A form tool and what is left above its design's minimum height, with what one usual grind takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NearLastGrind {
    /// The tool.
    pub code: Code,
    /// Its height, or its arc.
    pub height: Length,
    /// The least that its design allows.
    pub minimum: Length,
    /// What one usual grind takes.
    pub stock: Length,
    /// The radius of a circular tool: its heights are arcs there.
    pub radius: Option<Length>,
}

/// Form tools in use that one more usual grind would bring below their minimum, by code. What is damaged, or below it already,
/// is told as that.
///
/// # Errors
/// A database error.
pub fn tools_near_their_last_grind(connection: &mut Connection, limit: i64) -> Result<Vec<NearLastGrind>> {
    type Row = (String, (i64, String), (i64, String), (i64, String), (Option<i64>, Option<String>));
    let rows: Vec<Row> = items::table
        .inner_join(form_tools::table.on(form_tools::item_id.eq(items::id)))
        .inner_join(tool_designs::table.on(tool_designs::id.eq(form_tools::design_id)))
        .filter(items::kind.eq("form_tool"))
        .filter(items::condition.ne_all([Condition::Retired.name(), Condition::Damaged.name()]))
        .filter(form_tools::height_pm.ge(tool_designs::minimum_height_pm))
        .filter(form_tools::height_pm.lt(tool_designs::minimum_height_pm + tool_designs::grind_stock_pm))
        .order(items::code)
        .limit(limit)
        .select((
            items::code,
            (form_tools::height_pm, form_tools::height_unit),
            (tool_designs::minimum_height_pm, tool_designs::minimum_height_unit),
            (tool_designs::grind_stock_pm, tool_designs::grind_stock_unit),
            (tool_designs::tool_radius_pm, tool_designs::tool_radius_unit),
        ))
        .load(connection)?;
    let length = |(picometres, unit): (i64, String)| columns::length(picometres, &unit);
    rows.into_iter()
        .map(|(code, height, minimum, stock, (radius, radius_unit))| {
            Ok(NearLastGrind {
                code: columns::code(&code)?,
                height: length(height)?,
                minimum: length(minimum)?,
                stock: length(stock)?,
                radius: radius.zip(radius_unit).map(length).transpose()?,
            })
        })
        .collect()
}

/// Form tools below their minimum that are not retired: a customer's, whose owner has not consented to scrap them.
///
/// # Errors
/// A database error.
pub fn used_up_tools(connection: &mut Connection, limit: i64) -> Result<BTreeSet<Code>> {
    let codes: Vec<String> = items::table
        .inner_join(form_tools::table.on(form_tools::item_id.eq(items::id)))
        .inner_join(tool_designs::table.on(tool_designs::id.eq(form_tools::design_id)))
        .filter(items::kind.eq("form_tool"))
        .filter(items::condition.eq(Condition::Damaged.name()))
        .filter(form_tools::height_pm.lt(tool_designs::minimum_height_pm))
        .order(items::code)
        .limit(limit)
        .select(items::code)
        .load(connection)?;
    codes.iter().map(|code| columns::code(code)).collect()
}

/// Supplies below their minimum by code: how many there are, and how many there should be at least.
///
/// # Errors
/// A database error.
pub fn supplies_below_minimum(connection: &mut Connection, limit: i64) -> Result<Vec<(Code, i64, i64)>> {
    let rows: Vec<(String, i64, i64)> = supplies::table
        .filter(supplies::on_hand.lt(supplies::minimum))
        .filter(supplies::retired.eq(false))
        .order(supplies::code)
        .limit(limit)
        .select((supplies::code, supplies::on_hand, supplies::minimum))
        .load(connection)?;
    rows.into_iter().map(|(code, on_hand, minimum)| Ok((columns::code(&code)?, on_hand, minimum))).collect()
}

/// A work order that is open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenOrder {
    /// The order.
    pub id: WorkOrderId,
    /// The code of what is worked on; none where it has none.
    pub code: Option<Code>,
    /// What is worked on: its code, or what was written.
    pub on: String,
    /// What is to be done.
    pub what: String,
    /// Whether it broke down.
    pub breakdown: bool,
    /// Whether it is a machine, which alone can be down.
    pub on_machine: bool,
}

/// Open work orders that no maintenance plan asks for, the oldest first.
///
/// # Errors
/// A database error.
pub fn work_orders(connection: &mut Connection, limit: i64) -> Result<Vec<OpenOrder>> {
    use work_orders as w;
    type Row = (String, Option<String>, Option<String>, Option<String>, String, bool);
    let rows: Vec<Row> = w::table
        .left_join(machines::table.on(machines::id.nullable().eq(w::machine_id)))
        .left_join(items::table.on(items::id.nullable().eq(w::item_id)))
        .filter(w::ended_at.is_null())
        .filter(w::plan_id.is_null())
        .order((w::opened_at, w::id))
        .limit(limit)
        .select((w::id, machines::code.nullable(), items::code.nullable(), w::other, w::what, w::breakdown))
        .load(connection)?;
    let order = |(id, machine, item, other, what, breakdown): Row| {
        let on_machine = machine.is_some();
        let code = machine.or(item);
        let on = code.clone().or(other).unwrap_or_default();
        let code = code.map(|code| columns::code(&code)).transpose()?;
        Ok(OpenOrder { id: columns::read(&id)?, code, on, what, breakdown, on_machine })
    };
    rows.into_iter().map(order).collect()
}

/// Setups of which pieces are held for an inspector, each with its machine and part, the oldest run first.
///
/// # Errors
/// A database error.
pub fn held_runs(connection: &mut Connection, limit: i64) -> Result<Vec<(SetupId, Code, Code)>> {
    let rows: Vec<(String, String, String)> = runs::table
        .inner_join(machines::table.on(machines::id.eq(runs::machine_id)))
        .inner_join(parts::table.on(parts::id.eq(runs::part_id)))
        .filter(runs::pieces_are.eq(RunPieces::Held.name()))
        .order((runs::released_at, runs::id))
        .limit(limit)
        .select((runs::setup_id, machines::code, parts::code))
        .load(connection)?;
    let run = |(setup, machine, part): (String, String, String)| {
        Ok((columns::read(&setup)?, columns::code(&machine)?, columns::code(&part)?))
    };
    rows.into_iter().map(run).collect()
}

/// Open impact documents, each with its gauge, the oldest first.
///
/// # Errors
/// A database error.
pub fn impacts(connection: &mut Connection, limit: i64) -> Result<Vec<(ImpactId, Code)>> {
    let rows: Vec<(String, String)> = impacts::table
        .inner_join(items::table.on(items::id.eq(impacts::gauge_id)))
        .filter(impacts::closed_at.is_null())
        .order((impacts::raised_at, impacts::id))
        .limit(limit)
        .select((impacts::id, items::code))
        .load(connection)?;
    rows.into_iter().map(|(impact, gauge)| Ok((columns::read(&impact)?, columns::code(&gauge)?))).collect()
}
