//! How the gauges stand on which a setup relies, and the holders seated in it, now or at a past instant.

use crate::problem::Problem;
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    gauge::standing::{CheckFinding, GaugeStanding, doubts},
    item::Condition,
    setup::{facts::HolderStanding, state::Setup},
};
use dovetally_db::{
    Connection,
    center_gauges::{self, GaugeCheck},
    chain, items,
};
use serde::Deserialize;

/// How they stand now.
///
/// # Errors
/// A database error.
pub(super) fn now(connection: &mut Connection, setup: &Setup) -> Result<Vec<GaugeStanding>, Problem> {
    let mut standings = Vec::new();
    for (id, first) in setup.gauges_relied_on() {
        // Of one that is not on record nothing is known, and the rules say so.
        let Some(gauge) = center_gauges::find(connection, id)? else { continue };
        let checks = center_gauges::checks_that_judge(connection, id, first, None)?;
        standings.push(GaugeStanding {
            gauge: id,
            code: gauge.item.code,
            condition: gauge.item.fields.condition,
            next_check: gauge.next_check,
            last_accepted_check_at: gauge.last_accepted_check_at,
            doubts: doubts(&findings(&checks)),
        });
    }
    Ok(standings)
}

/// What an item's record said.
#[derive(Deserialize)]
struct Written {
    code: Code,
    condition: Condition,
}

/// How they stood at an instant, by what was recorded until then.
///
/// # Errors
/// A database error.
pub(super) fn as_of(
    connection: &mut Connection,
    setup: &Setup,
    at: DateTime<Utc>,
) -> Result<Vec<GaugeStanding>, Problem> {
    let mut standings = Vec::new();
    for (id, first) in setup.gauges_relied_on() {
        let Some(found) = chain::state_as_of(connection, id.uuid(), at)? else { continue };
        let written: Written = serde_json::from_value(found.state).map_err(Problem::internal)?;
        let checks = center_gauges::checks_that_judge(connection, id, first, Some(at))?;
        let accepted = checks.iter().rev().find(|check| check.accepted);
        standings.push(GaugeStanding {
            gauge: id,
            code: written.code,
            condition: written.condition,
            next_check: accepted.map(|check| check.fields.next_check),
            last_accepted_check_at: accepted.map(|check| check.finding().performed_at),
            doubts: doubts(&findings(&checks)),
        });
    }
    Ok(standings)
}

/// How its holders stand now.
///
/// # Errors
/// A database error.
pub(super) fn holders_now(connection: &mut Connection, setup: &Setup) -> Result<Vec<HolderStanding>, Problem> {
    let mut standings = Vec::new();
    for holder in setup.holders() {
        let Some(found) = items::find(connection, holder)? else { continue };
        standings.push(HolderStanding { holder, condition: found.fields.condition });
    }
    Ok(standings)
}

/// How its holders stood at an instant, by what was recorded until then.
///
/// # Errors
/// A database error.
pub(super) fn holders_as_of(
    connection: &mut Connection,
    setup: &Setup,
    at: DateTime<Utc>,
) -> Result<Vec<HolderStanding>, Problem> {
    let mut standings = Vec::new();
    for holder in setup.holders() {
        let Some(found) = chain::state_as_of(connection, holder.uuid(), at)? else { continue };
        let written: Written = serde_json::from_value(found.state).map_err(Problem::internal)?;
        standings.push(HolderStanding { holder, condition: written.condition });
    }
    Ok(standings)
}

fn findings(checks: &[GaugeCheck]) -> Vec<CheckFinding> {
    checks.iter().map(GaugeCheck::finding).collect()
}
