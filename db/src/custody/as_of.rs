//! Where items were at a past instant, read off the ledger.

use super::{Movement, MovementRow};
use crate::{
    columns,
    connection::Connection,
    error::Result,
    schema::{items, movements},
};
use chrono::{DateTime, Utc};
use diesel::{
    dsl::{case_when, exists},
    prelude::*,
};
use dovetally_core::{
    code::Code,
    ids::ItemId,
    item::{ItemKind, Keeper},
};

diesel::alias!(movements as last: Last);

/// An item's last movement recorded at or before an instant; none before it was put on record.
///
/// # Errors
/// A database error.
pub fn last_movement(connection: &mut Connection, item: ItemId, at: DateTime<Utc>) -> Result<Option<Movement>> {
    let row: Option<MovementRow> = movements::table
        .filter(movements::item_id.eq(item.to_string()))
        .filter(movements::recorded_at.le(at.naive_utc()))
        .order((movements::recorded_at.desc(), movements::id.desc()))
        .select(MovementRow::as_select())
        .first(connection)
        .optional()?;
    row.map(Movement::try_from).transpose()
}

/// What a list of items at a past instant is narrowed to.
#[derive(Clone, Copy, Debug, Default)]
pub struct PastFilter {
    /// Of one kind.
    pub kind: Option<ItemKind>,
    /// Of one keeper then.
    pub keeper: Option<Keeper>,
}

/// Items on record at an instant by the code they have now, after a code, each with its last movement until then.
///
/// # Errors
/// A database error.
pub fn page_as_of(
    connection: &mut Connection,
    filter: PastFilter,
    at: DateTime<Utc>,
    after: Option<&Code>,
    limit: i64,
) -> Result<Vec<(Code, Movement)>> {
    use movements as m;
    let at = at.naive_utc();
    // The index of an item's movements by time answers this with one step an item.
    let until = last.filter(last.field(m::item_id).eq(items::id)).filter(last.field(m::recorded_at).le(at));
    let newest = until.order((last.field(m::recorded_at).desc(), last.field(m::id).desc()));
    let mut query = items::table
        .inner_join(m::table.on(m::item_id.eq(items::id)))
        .filter(items::code.gt(after.map_or("", Code::as_str).to_owned()))
        .filter(m::recorded_at.le(at))
        .filter(m::id.nullable().eq(newest.select(last.field(m::id)).single_value()))
        .order(items::code)
        .limit(limit)
        .select((items::code, MovementRow::as_select()))
        .into_boxed();
    // Most items never came to this keeper: an index says so, and only of the others the newest movement is read. CASE holds
    // the database to that order, and to walking the items by code: it would begin with all that ever came to the keeper.
    let came = last.filter(last.field(m::item_id).eq(items::id));
    query = match filter.keeper {
        None => query,
        Some(Keeper::Place(id)) => {
            let here = exists(came.filter(last.field(m::to_place_id).eq(id.to_string())));
            query.filter(case_when(here, newest.select(last.field(m::to_place_id)).single_value()).eq(id.to_string()))
        }
        Some(Keeper::Person(id)) => {
            let here = exists(came.filter(last.field(m::to_person_id).eq(id.to_string())));
            query.filter(case_when(here, newest.select(last.field(m::to_person_id)).single_value()).eq(id.to_string()))
        }
        Some(Keeper::Machine(id)) => {
            let here = exists(came.filter(last.field(m::to_machine_id).eq(id.to_string())));
            query.filter(case_when(here, newest.select(last.field(m::to_machine_id)).single_value()).eq(id.to_string()))
        }
    };
    if let Some(kind) = filter.kind {
        query = query.filter(items::kind.eq(kind.name()));
    }
    let rows: Vec<(String, MovementRow)> = query.load(connection)?;
    rows.into_iter().map(|(code, row)| Ok((columns::code(&code)?, Movement::try_from(row)?))).collect()
}
