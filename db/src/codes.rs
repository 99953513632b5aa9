//! The one table of codes: unique over everything scannable, never used again.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::codes,
};
use diesel::prelude::*;
use dovetally_core::{code::Code, named};
use uuid::Uuid;

named! {
    /// What a code can name.
    CodeSubject {
        /// A place.
        Place = "place",
        /// A machine.
        Machine = "machine",
        /// A tool design.
        ToolDesign = "tool_design",
        /// A serialised item.
        Item = "item",
        /// A part.
        Part = "part",
        /// A job.
        Job = "job",
        /// A maintenance plan.
        MaintenancePlan = "maintenance_plan",
        /// A supply.
        Supply = "supply",
    }
}

/// What the codes of something that was taken off the records are marked with.
const REMOVED: &str = "removed";

/// Takes a code for a subject.
///
/// # Errors
/// [`crate::Constraint::CodeTaken`] when it is, or ever was, somebody's.
pub fn take(connection: &mut Connection, code: &Code, kind: CodeSubject, id: Uuid) -> Result<()> {
    diesel::insert_into(codes::table)
        .values((
            codes::code.eq(code.as_str()),
            codes::subject_kind.eq(kind.name()),
            codes::subject_id.eq(id.to_string()),
            codes::alias.eq(false),
        ))
        .execute(connection)?;
    Ok(())
}

/// Keeps the old code as an alias after a subject took a new one.
///
/// # Errors
/// A database error.
pub fn keep_as_alias(connection: &mut Connection, old: &Code) -> Result<()> {
    diesel::update(codes::table.find(old.as_str())).set(codes::alias.eq(true)).execute(connection)?;
    Ok(())
}

/// Keeps every code of a subject that was taken off the records: none names anything any more, and none is given again.
///
/// # Errors
/// A database error.
pub fn keep_removed(connection: &mut Connection, id: Uuid) -> Result<()> {
    diesel::update(codes::table.filter(codes::subject_id.eq(id.to_string())))
        .set((codes::alias.eq(true), codes::subject_kind.eq(REMOVED)))
        .execute(connection)?;
    Ok(())
}

/// Takes a code back for a subject that has it as an alias.
///
/// # Errors
/// A database error.
pub fn revive(connection: &mut Connection, code: &Code) -> Result<()> {
    diesel::update(codes::table.find(code.as_str())).set(codes::alias.eq(false)).execute(connection)?;
    Ok(())
}

/// Takes a subject for this transaction: whoever else is to change it waits. Its codes' rows stand for it, whatever
/// kind it is.
///
/// # Errors
/// A database error.
pub fn lock(connection: &mut Connection, id: Uuid) -> Result<()> {
    // Writing a column over with itself takes the rows on both databases.
    diesel::update(codes::table.filter(codes::subject_id.eq(id.to_string())))
        .set(codes::alias.eq(codes::alias))
        .execute(connection)?;
    Ok(())
}

/// What a code names, aliases included.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection, code: &Code) -> Result<Option<(CodeSubject, Uuid)>> {
    let row: Option<(String, String)> = codes::table
        .find(code.as_str())
        .filter(codes::subject_kind.ne(REMOVED))
        .select((codes::subject_kind, codes::subject_id))
        .first(connection)
        .optional()
        .map_err(Error::from)?;
    row.map(|(kind, id)| Ok((columns::named(&kind, CodeSubject::from_name)?, columns::read(&id)?))).transpose()
}

/// The id behind a code of one kind, aliases included.
///
/// # Errors
/// A database error.
pub fn find_id(connection: &mut Connection, kind: CodeSubject, code: &Code) -> Result<Option<Uuid>> {
    Ok(find(connection, code)?.filter(|(found, _)| *found == kind).map(|(_, id)| id))
}
