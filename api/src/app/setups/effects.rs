//! From a decision's effects to rows: custody, guards, tool life.

use crate::{
    app::{ledger::move_item, registry::record_item},
    principal::Principal,
    problem::Problem,
};
use chrono::{DateTime, Utc};
use dovetally_core::{
    ids::{ItemId, MachineId, SetupId},
    item::Condition,
    machine::MachineMode,
    setup::decide::Effect,
};
use dovetally_db::{Tx, custody, custody::MovementKind, form_tools, items, machines, setups};

/// Where effects take place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scene {
    /// The setup.
    pub setup: SetupId,
    /// Its machine.
    pub machine: MachineId,
    /// When it happened, as the person says.
    pub occurred_at: DateTime<Utc>,
    /// When the last of its events was recorded.
    pub recorded_at: DateTime<Utc>,
}

/// Carries out effects in order. Tells whether the setup is to be closed.
///
/// # Errors
/// A constraint: the last guard behind the rules.
pub(super) fn carry_out(tx: &mut Tx<'_>, who: &Principal, scene: Scene, effects: &[Effect]) -> Result<bool, Problem> {
    let mut closes = false;
    for effect in effects {
        match effect {
            Effect::MoveItem { item, to } => {
                move_item(tx, who, *item, *to, MovementKind::Setup, Some(scene.setup), scene.occurred_at)?;
            }
            Effect::EnterSetup { item, station } => {
                setups::put_item_in(tx.connection(), scene.setup, *item, station)?;
            }
            Effect::LeaveSetup { item } => setups::take_item_out(tx.connection(), *item)?,
            Effect::GaugeIn { gauge, station } => {
                machines::set_mode(tx.connection(), scene.machine, MachineMode::Gauge)?;
                setups::gauge_in(tx.connection(), scene.setup, scene.machine, *gauge, station)?;
            }
            Effect::GaugeOut { gauge } => {
                setups::gauge_out(tx.connection(), *gauge)?;
                if setups::gauges_in(tx.connection(), scene.machine)?.is_empty() {
                    machines::set_mode(tx.connection(), scene.machine, MachineMode::Idle)?;
                }
            }
            Effect::ReleaseOn => {
                machines::set_mode(tx.connection(), scene.machine, MachineMode::Running)?;
                setups::release_on(tx.connection(), scene.setup, scene.machine)?;
            }
            Effect::ReleaseOff => {
                setups::release_off(tx.connection(), scene.setup)?;
                machines::set_mode(tx.connection(), scene.machine, MachineMode::Idle)?;
            }
            Effect::AddPieces { items, pieces } => add_pieces(tx, who, items, *pieces)?,
            Effect::BlockItems { items } => block(tx, who, items, scene.occurred_at)?,
            Effect::MakeGaugesStale => {
                machines::note_centers_moved(tx, scene.machine, scene.recorded_at)?;
            }
            Effect::Close => {
                setups::release_items(tx.connection(), scene.setup)?;
                closes = true;
            }
        }
    }
    Ok(closes)
}

fn add_pieces(tx: &mut Tx<'_>, who: &Principal, tools: &[ItemId], pieces: u64) -> Result<(), Problem> {
    let count = i64::try_from(pieces).map_err(Problem::internal)?;
    let now = tx.now();
    custody::lock(tx.connection(), tools)?;
    for tool in tools {
        if form_tools::add_pieces(tx.connection(), *tool, count, now)? {
            record_item(tx, who, *tool, "dovetally.form_tool.changed")?;
        }
    }
    Ok(())
}

fn block(tx: &mut Tx<'_>, who: &Principal, blocked: &[ItemId], occurred_at: DateTime<Utc>) -> Result<(), Problem> {
    let now = tx.now();
    custody::lock(tx.connection(), blocked)?;
    for item in blocked {
        items::set_condition(tx.connection(), *item, Condition::NeedsCheck, occurred_at.min(now), now)?;
        record_item(tx, who, *item, "dovetally.item.blocked")?;
    }
    Ok(())
}
