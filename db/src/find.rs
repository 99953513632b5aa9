//! Finding things by any part of their code or name.
//!
//! What holds a text in its middle is found in no index: the table is read along its codes until there is enough. That is
//! bearable for what a shop has by the thousands, and for nothing that grows with the years.

use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{items, jobs, machines, parts, supplies, tool_designs},
};
use diesel::{dsl::sql, prelude::*, sql_types::Text};
use dovetally_core::{code::Code, item::ItemKind};

/// A pattern for what holds this text anywhere, in lower case; `%` and `_` stand for themselves.
fn holding(text: &str) -> String {
    let mut pattern = String::from("%");
    for character in text.to_lowercase().chars() {
        if matches!(character, '%' | '_' | '\\') {
            pattern.push('\\');
        }
        pattern.push(character);
    }
    pattern.push('%');
    pattern
}

/// Machines by code.
///
/// # Errors
/// A database error.
pub fn machines(connection: &mut Connection, text: &str, limit: i64) -> Result<Vec<(Code, String)>> {
    let pattern = holding(text);
    let rows: Vec<(String, String)> = machines::table
        .filter(
            sql::<Text>("lower(machines.code)")
                .like(&pattern)
                .escape('\\')
                .or(sql::<Text>("lower(machines.name)").like(&pattern).escape('\\')),
        )
        .order(machines::code)
        .limit(limit)
        .select((machines::code, machines::name))
        .load(connection)?;
    rows.into_iter().map(|(code, name)| Ok((columns::code(&code)?, name))).collect()
}

/// Tool designs by code.
///
/// # Errors
/// A database error.
pub fn tool_designs(connection: &mut Connection, text: &str, limit: i64) -> Result<Vec<(Code, String)>> {
    let pattern = holding(text);
    let rows: Vec<(String, String)> = tool_designs::table
        .filter(
            sql::<Text>("lower(tool_designs.code)").like(&pattern).escape('\\').or(sql::<Text>(
                "lower(tool_designs.name)",
            )
            .like(&pattern)
            .escape('\\')),
        )
        .order(tool_designs::code)
        .limit(limit)
        .select((tool_designs::code, tool_designs::name))
        .load(connection)?;
    rows.into_iter().map(|(code, name)| Ok((columns::code(&code)?, name))).collect()
}

/// Parts by code.
///
/// # Errors
/// A database error.
pub fn parts(connection: &mut Connection, text: &str, limit: i64) -> Result<Vec<(Code, String)>> {
    let pattern = holding(text);
    let rows: Vec<(String, String)> = parts::table
        .filter(
            sql::<Text>("lower(parts.code)")
                .like(&pattern)
                .escape('\\')
                .or(sql::<Text>("lower(parts.name)").like(&pattern).escape('\\')),
        )
        .order(parts::code)
        .limit(limit)
        .select((parts::code, parts::name))
        .load(connection)?;
    rows.into_iter().map(|(code, name)| Ok((columns::code(&code)?, name))).collect()
}

/// Supplies by code.
///
/// # Errors
/// A database error.
pub fn supplies(connection: &mut Connection, text: &str, limit: i64) -> Result<Vec<(Code, String)>> {
    let pattern = holding(text);
    let rows: Vec<(String, String)> = supplies::table
        .filter(
            sql::<Text>("lower(supplies.code)")
                .like(&pattern)
                .escape('\\')
                .or(sql::<Text>("lower(supplies.name)").like(&pattern).escape('\\')),
        )
        .order(supplies::code)
        .limit(limit)
        .select((supplies::code, supplies::name))
        .load(connection)?;
    rows.into_iter().map(|(code, name)| Ok((columns::code(&code)?, name))).collect()
}

/// Jobs by code, each with the code and the name of its part, by which it is found too.
///
/// # Errors
/// A database error.
pub fn jobs(connection: &mut Connection, text: &str, limit: i64) -> Result<Vec<(Code, Code, String)>> {
    let pattern = holding(text);
    let rows: Vec<(String, String, String)> = jobs::table
        .inner_join(parts::table.on(parts::id.eq(jobs::part_id)))
        .filter(
            sql::<Text>("lower(jobs.code)")
                .like(&pattern)
                .escape('\\')
                .or(sql::<Text>("lower(parts.code)").like(&pattern).escape('\\'))
                .or(sql::<Text>("lower(parts.name)").like(&pattern).escape('\\')),
        )
        .order(jobs::code)
        .limit(limit)
        .select((jobs::code, parts::code, parts::name))
        .load(connection)?;
    rows.into_iter().map(|(code, part, name)| Ok((columns::code(&code)?, columns::code(&part)?, name))).collect()
}

/// Serialised items by code.
///
/// # Errors
/// A database error.
pub fn items(connection: &mut Connection, text: &str, limit: i64) -> Result<Vec<(Code, String, ItemKind)>> {
    let pattern = holding(text);
    let rows: Vec<(String, String, String)> = items::table
        .filter(
            sql::<Text>("lower(items.code)")
                .like(&pattern)
                .escape('\\')
                .or(sql::<Text>("lower(items.name)").like(&pattern).escape('\\')),
        )
        .order(items::code)
        .limit(limit)
        .select((items::code, items::name, items::kind))
        .load(connection)?;
    rows.into_iter()
        .map(|(code, name, kind)| Ok((columns::code(&code)?, name, columns::named(&kind, ItemKind::from_name)?)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::holding;

    #[test]
    fn what_is_typed_stands_for_itself() {
        assert_eq!(holding("Ft-0"), "%ft-0%");
        assert_eq!(holding("5%_\\"), "%5\\%\\_\\\\%");
    }
}
