//! What somebody at the machine measured of one piece at one station, and the screws that they turned for it: each becomes the
//! events that the API takes.

use super::{Loaded, append::take_in, load::load};
use crate::{
    principal::Principal,
    problem::Problem,
    transport::setup_event::{EventBody, SizeReadingBody},
};
use dovetally_core::{adjuster::Turn, code::Code, ids::SetupId, length::Length, setup::event::HolderMove};
use dovetally_db::{Tx, machines, setups};

/// What was measured of a piece, at a station, in one go.
#[derive(Clone, Debug)]
pub(crate) struct MeasuredPiece {
    pub(crate) station: Code,
    pub(crate) piece: u64,
    pub(crate) spindle: Option<u8>,
    /// Each feature once; at least one.
    pub(crate) readings: Vec<(Code, Length)>,
}

/// A screw that was turned.
#[derive(Clone, Debug)]
pub(crate) struct TurnedScrew {
    pub(crate) adjuster: Code,
    pub(crate) turns: f64,
    pub(crate) direction: Turn,
    /// How the holder was left, of a screw that moves it.
    pub(crate) holder_move: Option<HolderMove>,
}

/// Records what was measured: as the depth where the station is asked for it and nothing else was read, as sizes otherwise.
///
/// # Errors
/// 409 with every refusal; 422 for what cannot be a size.
pub(crate) fn measured_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    id: SetupId,
    measured: &MeasuredPiece,
) -> Result<Loaded, Problem> {
    let loaded = load(tx.connection(), id)?;
    let MeasuredPiece { station, piece, spindle, readings } = measured.clone();
    let index = loaded.setup.plan.index_of(&station);
    let event = match (index, readings.as_slice()) {
        (Some(index), [(feature, depth)]) if loaded.setup.is_depth_asked_for(index, feature) => EventBody::DepthRead {
            station,
            piece,
            spindle,
            depth: Some(*depth),
            mouth_diameter: None,
            occurred_at: None,
        },
        _ => {
            let readings = readings.into_iter().map(|(feature, value)| SizeReadingBody { feature, value });
            EventBody::SizesRead { station, piece, spindle, readings: readings.collect(), occurred_at: None }
        }
    };
    take_in(tx, who, id, &event, None)
}

/// Records the screws that were turned at a station, in the order in which they were turned, all or none. `seen` is the number
/// of the last event that was on record when they were advised: what was advised for another state is not taken.
///
/// # Errors
/// 412 when something was recorded since; 409 with every refusal.
pub(crate) fn turned_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    id: SetupId,
    station: &Code,
    seen: i64,
    screws: &[TurnedScrew],
) -> Result<(), Problem> {
    let machine = setups::machine_of(tx.connection(), id)?.ok_or_else(|| Problem::not_found("setup", id))?;
    // Nothing is recorded in the setup between looking and turning.
    machines::take_guard(tx.connection(), machine)?;
    if load(tx.connection(), id)?.setup.last_sequence != seen {
        return Err(Problem::precondition_failed());
    }
    for screw in screws {
        let event = EventBody::Adjusted {
            station: station.clone(),
            adjuster: screw.adjuster.clone(),
            turns: screw.turns,
            direction: screw.direction,
            holder_retightened: screw.holder_move.map(|moved| moved.holder_retightened),
            side_screw_free: screw.holder_move.map(|moved| moved.side_screw_free),
            occurred_at: None,
        };
        take_in(tx, who, id, &event, None)?;
    }
    Ok(())
}
