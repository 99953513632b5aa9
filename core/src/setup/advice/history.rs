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

/// The pieces measured at a station since its tool was put in, and the slide's moves between them.
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
    pub(super) fn of(setup: &Setup, events: &'a [Recorded], station: usize) -> Self {
        let code = &setup.plan.stations[station].code;
        let mut history = Self { sizes: Vec::new(), moved: 0.0, since_change: 0 };
        for recorded in events {
            match &recorded.event {
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
                    history.sizes.extend(readings.iter().map(|reading| (reading, *spindle, history.moved)));
                }
                Event::Adjusted { station: at, adjuster, adjusts, turns, direction, affected, .. }
                    if affected.contains(code) =>
                {
                    history.since_change = history.sizes.len();
                    match setup.adjuster(station, adjuster).filter(|_| at == code && *adjusts == AdjusterKind::Infeed) {
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

/// A feature with all that was measured of it at the present setting.
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
        let fresh = readings.iter().filter(|reading| reading.feature == feature.code);
        let fresh: Vec<_> = fresh.map(|reading| (spindle, reading.value)).collect();
        let mut sizes = history.now(&feature.code);
        (!fresh.is_empty()).then(|| {
            sizes.extend(fresh);
            Self { feature, sizes }
        })
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
