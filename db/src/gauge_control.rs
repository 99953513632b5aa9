//! The shop's choices for the control of its gauges: one row.

use crate::{
    connection::Connection,
    error::{Error, Result},
    schema::gauge_control as g,
};
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use dovetally_core::gauge::check::{DecisionRule, GaugeControl};

/// A decision rule from its two columns.
pub(crate) fn rule(conformance: Option<f64>, guard_factor: Option<f64>) -> Result<DecisionRule> {
    match (conformance, guard_factor) {
        (Some(wanted), None) => Ok(DecisionRule::Conformance(wanted)),
        (None, Some(factor)) => Ok(DecisionRule::GuardFactor(factor)),
        _ => Err(Error::unreadable("a decision rule that is none or two")),
    }
}

/// The choices with their version.
///
/// # Errors
/// A database error.
pub fn find(connection: &mut Connection) -> Result<(GaugeControl, i64)> {
    let (conformance, guard_factor, impact_when_undecided, version): (Option<f64>, Option<f64>, bool, i64) = g::table
        .find(1)
        .select((g::conformance, g::guard_factor, g::impact_when_undecided, g::version))
        .first(connection)?;
    Ok((GaugeControl { rule: rule(conformance, guard_factor)?, impact_when_undecided }, version))
}

/// Takes the choices for this transaction: whoever else is to change them waits.
///
/// # Errors
/// A database error.
pub fn lock(connection: &mut Connection) -> Result<()> {
    // Writing a column over with itself takes the row on both databases.
    diesel::update(g::table.find(1)).set(g::version.eq(g::version)).execute(connection)?;
    Ok(())
}

/// Writes the choices.
///
/// # Errors
/// A database error.
pub fn save(connection: &mut Connection, control: GaugeControl, version: i64, at: DateTime<Utc>) -> Result<()> {
    let guard_factor = match control.rule {
        DecisionRule::Conformance(_) => None,
        DecisionRule::GuardFactor(factor) => Some(factor),
    };
    diesel::update(g::table.find(1))
        .set((
            g::conformance.eq(control.rule.conformance()),
            g::guard_factor.eq(guard_factor),
            g::impact_when_undecided.eq(control.impact_when_undecided),
            g::version.eq(version),
            g::updated_at.eq(at.naive_utc()),
        ))
        .execute(connection)?;
    Ok(())
}
