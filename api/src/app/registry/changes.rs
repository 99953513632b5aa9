//! Rows for the chain of changes: each use case adds its own.

use crate::{principal::Principal, problem::Problem};
use dovetally_core::ids::ItemId;
use dovetally_db::{Change, Error, Tx, items};
use uuid::Uuid;

/// Records that an item changed, its version raised already.
///
/// # Errors
/// A database error.
pub(crate) fn record_item(tx: &mut Tx<'_>, who: &Principal, item: ItemId, kind: &'static str) -> Result<(), Problem> {
    let found = items::find(tx.connection(), item)?;
    let found = found.ok_or_else(|| Error::unreadable("a change of an item that is not on record"))?;
    let state = serde_json::json!({"code": found.code, "kind": found.fields.kind, "name": found.fields.name, "condition": found.fields.condition});
    write_change(tx, who, "item", kind, item.uuid(), found.version, state);
    Ok(())
}

/// Adds a row to the chain of changes.
pub fn write_change(
    tx: &mut Tx<'_>,
    who: &Principal,
    subject_kind: &'static str,
    kind: &'static str,
    subject_id: Uuid,
    subject_version: i64,
    state: serde_json::Value,
) {
    let change = Change {
        id: tx.new_id(),
        kind,
        subject_kind,
        subject_id,
        subject_version,
        actor: Some(who.person),
        recorded_at: tx.now(),
        state,
    };
    tx.record(change);
}
