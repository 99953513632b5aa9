//! Sizes by spindle: what was last measured of each feature from each spindle since anything was changed at its station.
//!
//! Spindles differ, and no slide screw removes what lies between them: the mean over all of them is what a slide answers
//! to, the spread is the machine's.

use super::{
    event::Recorded,
    plan::{Feature, FeatureKind},
    state::Setup,
};
use crate::{code::Code, length::Length};
use chrono::{DateTime, Utc};
use serde::Serialize;

/// The last size of a feature from one spindle.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LastSize {
    /// The feature.
    pub feature: Code,
    /// The spindle; none where nobody said which.
    pub spindle: Option<u8>,
    /// The piece's number, where it is known.
    pub piece: Option<u64>,
    /// The size.
    pub value: Length,
    /// When it was recorded.
    pub at: DateTime<Utc>,
}

/// One feature's last sizes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SizesOfFeature {
    /// The feature.
    pub feature: Code,
    /// What is wanted.
    pub target: Length,
    /// The last size of each spindle, in the order of the spindles; one without a spindle first.
    pub sizes: Vec<LastSize>,
    /// The mean of those whose spindle is known, to the picometre in the target's unit; none without any.
    pub mean: Option<Length>,
    /// Largest less smallest of those; none with fewer than two spindles.
    pub spread: Option<Length>,
    /// Running spindles of which nothing was measured since the last change.
    pub missing: Vec<u8>,
}

impl SizesOfFeature {
    fn of(feature: &Feature, all: &[LastSize], running: &[u8]) -> Option<Self> {
        let mut sizes: Vec<LastSize> = all.iter().filter(|size| size.feature == feature.code).cloned().collect();
        if sizes.is_empty() {
            return None;
        }
        sizes.sort_by_key(|size| size.spindle);
        let of_spindles: Vec<Length> =
            sizes.iter().filter(|size| size.spindle.is_some()).map(|size| size.value).collect();
        let unit = feature.target.unit();
        let mean = i64::try_from(of_spindles.len()).ok().filter(|count| *count > 0).map(|count| {
            let sum: i64 = of_spindles.iter().map(|size| size.picometres()).sum();
            Length::from_picometres(sum / count, unit)
        });
        let spread = of_spindles
            .iter()
            .max()
            .zip(of_spindles.iter().min())
            .filter(|_| of_spindles.len() > 1)
            .map(|(largest, smallest)| Length::from_picometres(largest.minus(*smallest).picometres(), unit));
        let measured = |spindle: &u8| sizes.iter().any(|size| size.spindle == Some(*spindle));
        let missing = running.iter().copied().filter(|spindle| !measured(spindle)).collect();
        Some(Self { feature: feature.code.clone(), target: feature.target, mean, spread, missing, sizes })
    }
}

impl Setup {
    /// The last sizes at a station, by feature in the order of its operation.
    #[must_use]
    pub fn sizes_by_spindle(&self, station: usize) -> Vec<SizesOfFeature> {
        let (Some(plan), Some(state)) = (self.plan.stations.get(station), self.stations.get(station)) else {
            return Vec::new();
        };
        let features = plan.operation.features.iter();
        features.filter_map(|feature| SizesOfFeature::of(feature, &state.sizes, &self.plan.running_spindles)).collect()
    }

    /// The depth that is asked for at a station.
    pub(super) fn depth_feature(&self, station: usize) -> Option<Code> {
        let features = &self.plan.stations.get(station)?.operation.features;
        features.iter().find(|feature| feature.kind == FeatureKind::Depth).map(|feature| feature.code.clone())
    }

    /// Puts a size in the place of the last one of that feature and spindle.
    pub(super) fn note_size(
        &mut self,
        station: usize,
        feature: &Code,
        spindle: Option<u8>,
        piece: Option<u64>,
        value: Length,
        recorded: &Recorded,
    ) {
        let sizes = &mut self.stations[station].sizes;
        sizes.retain(|size| size.feature != *feature || size.spindle != spindle);
        sizes.push(LastSize { feature: feature.clone(), spindle, piece, value, at: recorded.recorded_at });
    }
}
