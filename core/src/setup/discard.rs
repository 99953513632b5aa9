//! Pieces that say nothing about a change because they were formed before it.
//!
//! Bars stand at every position of the carrier. When a station is changed, the piece just formed there and those beyond
//! it still travel on to the cut-off and drop first.

use super::plan::Plan;

/// How many pieces drop, after a change at a station, that were formed before it: the positions from the station on to
/// the cut-off, times the pieces of a cycle. Zero at the cut-off itself, and for a station that is not in the plan.
#[must_use]
pub fn pieces_to_discard(plan: &Plan, station: usize) -> u64 {
    let Some(station) = plan.stations.get(station) else { return 0 };
    let positions = i64::from(plan.positions.max(1));
    let apart = (i64::from(plan.cutoff_position) - i64::from(station.position)).rem_euclid(positions);
    apart.unsigned_abs() * u64::from(plan.pieces_per_cycle)
}

/// The same for a change that moves several stations: the most of them.
#[must_use]
pub fn pieces_to_discard_at(plan: &Plan, stations: &[usize]) -> u64 {
    stations.iter().map(|station| pieces_to_discard(plan, *station)).max().unwrap_or(0)
}
