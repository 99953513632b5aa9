//! Whether the records are what was recorded.

use crate::{
    center_gauges,
    chain::{self, Verification},
    connection::Connection,
    custody,
    error::Result,
    setups, supplies,
};
use chrono::{DateTime, Utc};

/// Walks the chain of changes, holds custody against the ledger and the ledgers against the chain, and the machines'
/// guards against the events of the open setups, gauges against what they are bound to. `now` tells which changes should long be numbered.
///
/// # Errors
/// A database error; what does not fit is a fault.
pub fn verify(connection: &mut Connection, now: DateTime<Utc>) -> Result<Verification> {
    let mut found = chain::verify(connection, now)?;
    found.faults.extend(custody::faults(connection)?);
    found.faults.extend(setups::faults(connection)?);
    found.faults.extend(supplies::faults(connection)?);
    found.faults.extend(center_gauges::faults(connection)?);
    Ok(found)
}
