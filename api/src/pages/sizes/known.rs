//! What is known: of a setup and its machine, and of a station's sizes since it was last changed.

use crate::{
    app::setups::machine_facts,
    pages::{frame::Frame, numbers::ShownLength, setup::Walk, visit::Visit},
    problem::Problem,
};
use dovetally_core::{
    code::Code,
    ids::SetupId,
    setup::{facts::MachineFacts, plan::Feature, state::Setup},
};
use dovetally_db::Connection;

/// A setup with what is known of its machine.
pub(crate) struct AtMachine {
    pub(crate) walk: Walk,
    pub(crate) facts: MachineFacts,
}

impl AtMachine {
    /// Reads it.
    ///
    /// # Errors
    /// 404 when there is no such setup.
    pub(crate) async fn of<A: 'static>(visit: &Visit<A>, id: SetupId) -> Result<Self, Problem> {
        let now = visit.guarded.database().now();
        let reading = move |connection: &mut Connection| {
            let walk = Walk::of(connection, id, now)?;
            let facts = machine_facts(connection, walk.loaded.row.machine, Some(&walk.loaded.setup))?;
            Ok(Self { walk, facts })
        };
        visit.read(reading).await
    }
}

/// A size that is known.
pub(crate) struct Known {
    pub(crate) feature: Code,
    /// The spindle, in words.
    pub(crate) spindle: String,
    pub(crate) size: ShownLength,
    pub(crate) inside: bool,
}

/// The last size of each feature from each spindle.
pub(crate) fn known(frame: &Frame, setup: &Setup, station: usize) -> Vec<Known> {
    let words = &frame.words.sizes;
    let plan = &setup.plan.stations[station];
    let sizes = setup.sizes_by_spindle(station).into_iter().flat_map(|of| of.sizes);
    let known = sizes.filter_map(|size| {
        let feature = plan.feature(&size.feature)?;
        Some(Known {
            spindle: size.spindle.map_or_else(|| words.spindle_unknown.to_string(), |spindle| spindle.to_string()),
            size: frame.length(&size.value),
            inside: feature.tolerance.admit(feature.target, size.value),
            feature: size.feature,
        })
    });
    known.collect()
}

/// What a feature's limits allow, from the smallest to the largest size.
pub(crate) fn allowed(frame: &Frame, feature: &Feature) -> ShownLength {
    let (smallest, largest) =
        (feature.target.plus(feature.tolerance.lower()), feature.target.plus(feature.tolerance.upper()));
    let (smallest, largest) = (frame.length(&smallest), frame.length(&largest));
    let range = &frame.words.sizes.range;
    ShownLength {
        entered: range.with("smallest", smallest.entered).with("largest", largest.entered).to_string(),
        other: range.with("smallest", smallest.other).with("largest", largest.other).to_string(),
    }
}
