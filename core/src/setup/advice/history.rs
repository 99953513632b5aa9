//! What was measured at a station, and what was turned in between.

use crate::{
    adjuster::{AdjusterKind, Motion, Turn},
    code::Code,
    length::{Length, LengthUnit},
    setup::{
        event::{Event, Recorded, SizeReading},
        plan::Feature,
        state::Setup,
    },
};

/// The pieces measured at a station since its tool was tightened, the bar fed, and the trial or the run begun, and the
/// slide's moves between them.
pub(super) struct History<'a> {
    /// Readings with the station's diameter as it stood: each with the moves made before it, as a change of diameter in
    /// millimetres.
    pub(super) sizes: Vec<(&'a SizeReading, Option<u8>, f64)>,
    /// All moves so far, as a change of diameter.
    pub(super) moved: f64,
    /// Where in `sizes` the station's present setting begins.
    pub(super) since_change: usize,
}

impl<'a> History<'a> {
    pub(super) fn of(setup: &Setup, events: &'a [Recorded], index: usize) -> Self {
        let code = &setup.plan.stations[index].code;
        let mut history = Self { sizes: Vec::new(), moved: 0.0, since_change: 0 };
        for recorded in events {
            match &recorded.event {
                // What was formed before says nothing any more; nor does a trial of a run, nor a run of the next one.
                Event::StockFed { .. }
                | Event::TrialCutBegun
                | Event::RunReleased { .. }
                | Event::RunStopped { .. }
                | Event::CrashReported { .. } => {
                    history = Self { sizes: Vec::new(), moved: 0.0, since_change: 0 };
                }
                // Another tool, or the same one held otherwise, makes another form.
                Event::ToolInserted { station, .. }
                | Event::HolderSeated { station, .. }
                | Event::ToolClamped { station }
                | Event::ToolUnclamped { station }
                    if station == code =>
                {
                    history = Self { sizes: Vec::new(), moved: 0.0, since_change: 0 };
                }
                Event::SizesRead { station, spindle, readings, .. } if station == code => {
                    let features = &setup.plan.stations[index].operation.features;
                    let sound = readings.iter().filter(|reading| {
                        features
                            .iter()
                            .any(|feature| feature.code == reading.feature && is_plausible(feature, reading.value))
                    });
                    history.sizes.extend(sound.map(|reading| (reading, *spindle, history.moved)));
                }
                Event::Adjusted { station: at, adjuster, adjusts, turns, direction, affected, .. }
                    if affected.contains(code) =>
                {
                    history.since_change = history.sizes.len();
                    match setup.adjuster(index, adjuster).filter(|_| at == code && *adjusts == AdjusterKind::Infeed) {
                        Some(screw) => {
                            let travel = screw.travel_per_turn().value_in(LengthUnit::Millimetre) * screw.ratio * turns;
                            let out = (screw.clockwise_moves == Motion::ToolOut) == (*direction == Turn::Clockwise);
                            history.moved += if out { 2.0 * travel } else { -2.0 * travel };
                        }
                        // A screw that changes the form, or another station's: what was before cannot be compared.
                        None => history.sizes.clear(),
                    }
                    history.since_change = history.since_change.min(history.sizes.len());
                }
                _ => {}
            }
        }
        history
    }

    /// A feature's sizes at the present setting, in millimetres, with their spindles.
    pub(super) fn now(&self, feature: &Code) -> Vec<(Option<u8>, Length)> {
        let now = self.sizes[self.since_change..].iter().filter(|(reading, ..)| reading.feature == *feature);
        now.map(|(reading, spindle, _)| (*spindle, reading.value)).collect()
    }
}

/// Tolerances' widths beyond which a reading is taken for a slip of the pen or of the unit (common practice, no published
/// source).
const SLIP: i64 = 20;

/// Whether a reading can be one of this feature at all.
pub(in crate::setup) fn is_plausible(feature: &Feature, value: Length) -> bool {
    let width = feature.tolerance.upper().picometres() - feature.tolerance.lower().picometres();
    width == 0 || value.minus(feature.target).abs().picometres() <= width.saturating_mul(SLIP)
}

/// A feature with the last that was measured of it from each spindle at the present setting.
pub(super) struct Measured<'a> {
    pub(super) feature: &'a Feature,
    pub(super) sizes: Vec<(Option<u8>, Length)>,
}

impl<'a> Measured<'a> {
    /// Nothing for a feature of which these readings say nothing.
    pub(super) fn of(
        feature: &'a Feature,
        spindle: Option<u8>,
        readings: &[SizeReading],
        history: &History<'_>,
    ) -> Option<Self> {
        let fresh = readings.iter().find(|reading| reading.feature == feature.code)?;
        if !is_plausible(feature, fresh.value) {
            return None;
        }
        let mut sizes = vec![(spindle, fresh.value)];
        for (spindle, size) in history.now(&feature.code).into_iter().rev() {
            if sizes.iter().all(|(taken, _)| *taken != spindle) {
                sizes.push((spindle, size));
            }
        }
        sizes.reverse();
        Some(Self { feature, sizes })
    }

    /// How far the middle of the limits lies from the target.
    pub(super) fn middle(&self, unit: LengthUnit) -> f64 {
        f64::midpoint(self.feature.tolerance.lower().value_in(unit), self.feature.tolerance.upper().value_in(unit))
    }

    pub(super) fn mean(&self, unit: LengthUnit) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
        let count = self.sizes.len() as f64;
        self.sizes.iter().map(|(_, size)| size.value_in(unit)).sum::<f64>() / count
    }

    pub(super) fn width(&self, unit: LengthUnit) -> f64 {
        self.feature.tolerance.upper().value_in(unit) - self.feature.tolerance.lower().value_in(unit)
    }
}
