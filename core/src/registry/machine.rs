//! Machines: what is written about one, and its stations.

use super::{MUST_BE_POSITIVE, Record, is_positive};
use crate::{
    adjuster::{Adjuster, AdjusterKind},
    code::Code,
    field_error::{FieldError, FieldErrors},
    ids::{MachineId, StationId},
    length::Length,
    machine::{SpindleRotation, StationKind, ToolFace},
};
use chrono::{DateTime, Utc};
use std::collections::BTreeSet;

/// One station as people write it.
#[derive(Clone, Debug, PartialEq)]
pub struct StationFields {
    /// Its code within the machine.
    pub code: Code,
    /// The spindle position at which it works, from 1.
    pub position: u8,
    /// What it carries.
    pub kind: StationKind,
    /// Which way its tool's cutting face looks.
    pub tool_face: ToolFace,
    /// Its adjusters, each with a code of its own.
    pub adjusters: Vec<Adjuster>,
}

/// A station on record.
#[derive(Clone, Debug, PartialEq)]
pub struct Station {
    /// Its id.
    pub id: StationId,
    /// What is written about it.
    pub fields: StationFields,
}

/// What people write about a machine.
#[derive(Clone, Debug, PartialEq)]
pub struct MachineFields {
    /// Its name.
    pub name: String,
    /// Spindles in the carrier, 1 to 16.
    pub spindles: u8,
    /// Positions at which the carrier stops, 1 to 16.
    pub positions: u8,
    /// The position at which the piece is cut off.
    pub cutoff_position: u8,
    /// Pieces that drop in one cycle.
    pub pieces_per_cycle: u8,
    /// Which way the spindles turn, seen from the free end of the bar.
    pub spindle_rotation: SpindleRotation,
    /// The spindle centre height that the builder gives, above the slide.
    pub center_height_nominal: Length,
    /// How far the spindles' centre heights differ among each other, where known.
    pub spindle_center_spread: Option<Length>,
    /// Whether it is out of the shop's use for good.
    pub retired: bool,
    /// Its stations.
    pub stations: Vec<StationFields>,
}

/// A machine on record, its stations with their ids.
#[derive(Clone, Debug, PartialEq)]
pub struct Machine {
    /// Id, code, version and what was written.
    pub record: Record<MachineId, MachineFields>,
    /// The stations' ids, in the order of [`MachineFields::stations`].
    pub station_ids: Vec<StationId>,
    /// The last instant at which its spindle centres may have moved.
    pub centers_may_have_moved_at: Option<DateTime<Utc>>,
}

/// One measurement of a machine's spindle centre height.
#[derive(Clone, Debug, PartialEq)]
pub struct CenterHeightFields {
    /// The height found, above the slide.
    pub measured: Length,
    /// Its standard uncertainty, zero or more.
    pub standard_uncertainty: Length,
    /// Why it was measured.
    pub reason: String,
    /// Whether work was done that can move the spindle centres: then the machine's gauges are stale.
    pub after_work: bool,
    /// When it was measured.
    pub performed_at: DateTime<Utc>,
    /// The station at which it was measured; none where it holds for the machine.
    pub station: Option<Code>,
    /// What was found at each spindle, in the order of the spindles; empty where they were not told apart.
    pub spindles: Vec<SpindleHeight>,
}

/// A spindle centre height as it stands on record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HeightOnRecord {
    /// The height, above the slide.
    pub height: Length,
    /// The standard uncertainty of its measurement; zero where none is stated, as of a height that the builder gives.
    pub standard_uncertainty: Length,
}

/// The height of one spindle's centre.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SpindleHeight {
    /// The spindle, from 1.
    pub spindle: u8,
    /// Its centre's height above the slide.
    pub measured: Length,
}

impl MachineFields {
    /// Everything that cannot be.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require_text(&self.name, 200, "/name");
        let count = |errors: &mut FieldErrors, value: u8, pointer: &str| {
            errors.require((1..=16).contains(&value), pointer, "must be 1 to 16");
        };
        count(&mut errors, self.spindles, "/spindles");
        count(&mut errors, self.positions, "/positions");
        count(&mut errors, self.pieces_per_cycle, "/pieces_per_cycle");
        errors.require(
            (1..=self.positions).contains(&self.cutoff_position),
            "/cutoff_position",
            "must be one of the machine's positions",
        );
        errors.require(is_positive(self.center_height_nominal), "/center_height/nominal/value", MUST_BE_POSITIVE);
        if let Some(spread) = self.spindle_center_spread {
            errors.require(spread.picometres() >= 0, "/spindle_center_spread/value", "must not be negative");
        }
        let codes: BTreeSet<&Code> = self.stations.iter().map(|station| &station.code).collect();
        errors.require(codes.len() == self.stations.len(), "/stations", "each station needs a code of its own");
        for (index, station) in self.stations.iter().enumerate() {
            let at = format!("/stations/{index}");
            errors.require(
                (1..=self.positions).contains(&station.position),
                format!("{at}/position"),
                "must be one of the machine's positions",
            );
            check_adjusters(&station.adjusters, &format!("{at}/adjusters"), &mut errors);
            for (number, adjuster) in station.adjusters.iter().enumerate() {
                let fits = matches!(
                    (station.kind, adjuster.kind()),
                    (StationKind::CrossSlide, AdjusterKind::Infeed | AdjusterKind::Lateral)
                        | (StationKind::EndSlide, AdjusterKind::Depth)
                );
                errors.require(
                    fits,
                    format!("{at}/adjusters/{number}/clockwise_moves"),
                    "a cross slide moves tool_in/tool_out or toward_collet/away_from_collet, an end slide deeper/shallower; height and taper screws belong to the holder",
                );
                for affected in &adjuster.affects {
                    errors.require(
                        codes.contains(affected),
                        format!("{at}/adjusters/{number}/affects"),
                        format!("{affected} is no station of this machine"),
                    );
                }
            }
        }
        errors.into_vec()
    }
}

impl CenterHeightFields {
    /// Everything that cannot be.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require(is_positive(self.measured), "/measured/value", MUST_BE_POSITIVE);
        errors.require(
            self.standard_uncertainty.picometres() >= 0,
            "/standard_uncertainty/value",
            "must not be negative",
        );
        errors.require_text(&self.reason, 1000, "/reason");
        for (index, height) in self.spindles.iter().enumerate() {
            errors.require(is_positive(height.measured), format!("/spindles/{index}/measured/value"), MUST_BE_POSITIVE);
        }
        errors.into_vec()
    }

    /// Everything that does not fit the machine: a station that it has not, spindles that are not all told. A spread
    /// that leaves a spindle out may be too small, and would be believed.
    #[must_use]
    pub fn check_against(&self, machine: &MachineFields) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        if let Some(station) = &self.station {
            let known = machine.stations.iter().any(|known| known.code == *station);
            errors.require(known, "/station", format!("{station} is no station of this machine"));
        }
        let told: Vec<u8> = self.spindles.iter().map(|height| height.spindle).collect();
        errors.require(
            told.is_empty() || told.iter().copied().eq(1..=machine.spindles),
            "/spindles",
            format!("name every spindle of the machine once, in order: 1 to {}", machine.spindles),
        );
        errors.into_vec()
    }

    /// Whether the spindle centres may have moved, so that the machine's gauges are stale: after work that can move them, or
    /// when what was measured departs from what was on record before by more than twice the two measurements' combined
    /// standard uncertainty. Where none is stated it is by anything at all. A measurement that confirms the record leaves the
    /// gauges as they are.
    #[must_use]
    pub fn centers_may_have_moved(&self, before: HeightOnRecord) -> bool {
        let squared = |length: Length| i128::from(length.picometres()).pow(2);
        let apart = squared(self.measured.minus(before.height));
        let variance = squared(self.standard_uncertainty) + squared(before.standard_uncertainty);
        self.after_work || apart > 4 * variance
    }

    /// What is wrong with when it was done, beside when the `newest` one on record for the same machine or station was done,
    /// and when the spindle centres may last have moved: written up late, it must not take the place of what holds now.
    #[must_use]
    pub fn dated_back(&self, newest: Option<DateTime<Utc>>, moved_at: Option<DateTime<Utc>>) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require(
            newest.is_none_or(|newest| self.performed_at >= newest),
            "/performed_at",
            "lies before the newest measurement on record",
        );
        errors.require(
            self.after_work || moved_at.is_none_or(|moved_at| self.performed_at >= moved_at),
            "/performed_at",
            "lies before the spindle centres may have moved: measure again",
        );
        errors.into_vec()
    }

    /// How far the spindles' centres lie apart, highest less lowest; none where they were not told apart.
    #[must_use]
    pub fn spread(&self) -> Option<Length> {
        let heights = self.spindles.iter().map(|height| height.measured);
        Some(heights.clone().max()?.minus(heights.min()?))
    }
}

/// Faults of a list of adjusters, wherever it stands.
pub(crate) fn check_adjusters(adjusters: &[Adjuster], at: &str, errors: &mut FieldErrors) {
    let codes: BTreeSet<&Code> = adjusters.iter().map(|adjuster| &adjuster.code).collect();
    errors.require(codes.len() == adjusters.len(), at, "each adjuster needs a code of its own");
    for (index, adjuster) in adjusters.iter().enumerate() {
        let at = format!("{at}/{index}");
        errors.require_text(&adjuster.name, 100, &format!("{at}/name"));
        errors.require_text(&adjuster.seen_from, 100, &format!("{at}/seen_from"));
        errors.require(
            adjuster.is_sound(),
            at.clone(),
            "needs a travel above zero (travel_per_turn, or threads whose hands fit their arrangement), a ratio above zero, and no negative backlash or arm",
        );
        errors.require(
            adjuster.affects.is_empty() || adjuster.kind() == AdjusterKind::Depth,
            format!("{at}/affects"),
            "only an end slide's depth screw moves other stations",
        );
        errors.require(
            adjuster.kind() != AdjusterKind::Taper || adjuster.arm.is_some(),
            format!("{at}/arm"),
            "a taper screw needs its arm: the distance from the holder's pivot to the screw",
        );
    }
}

#[cfg(test)]
mod tests {
    use super::{CenterHeightFields, HeightOnRecord};
    use crate::length::{Length, LengthUnit};
    use chrono::{DateTime, Utc};

    fn inches(value: f64) -> Length {
        Length::new(value, LengthUnit::Inch).unwrap()
    }

    /// Whether a height so many millionths of an inch off what is on record says that the centres moved.
    fn moved(off: f64, uncertainty: f64, on_record: f64, after_work: bool) -> bool {
        let millionths = |count: f64| inches(count / 1e6);
        let measured = CenterHeightFields {
            measured: inches(3.75).plus(millionths(off)),
            standard_uncertainty: millionths(uncertainty),
            reason: "yearly".to_owned(),
            after_work,
            performed_at: DateTime::UNIX_EPOCH,
            station: None,
            spindles: Vec::new(),
        };
        let standard_uncertainty = millionths(on_record);
        measured.centers_may_have_moved(HeightOnRecord { height: inches(3.75), standard_uncertainty })
    }

    /// By hand: of 30 and 40 millionths the combined standard uncertainty is 50, and twice that 100.
    #[test]
    fn a_height_that_departs_from_the_record_says_that_the_centres_moved() {
        for off in [0.0, 99.9, 100.0, -100.0] {
            assert!(!moved(off, 30.0, 40.0, false), "{off}");
        }
        for off in [100.1, -100.1, 5000.0] {
            assert!(moved(off, 30.0, 40.0, false), "{off}");
        }
        // Beside the builder's height the measurement's own uncertainty is all there is.
        assert!(!moved(60.0, 30.0, 0.0, false) && moved(60.1, 30.0, 0.0, false));
        // Where nothing is stated, anything at all; and what is the same is the same.
        assert!(moved(0.1, 0.0, 0.0, false) && !moved(0.0, 0.0, 0.0, false));
        assert!(moved(0.0, 30.0, 40.0, true), "after work whatever was found");
        // The longest lengths there are do not overflow.
        assert!(moved(9.9e9, 9.9e8, 0.0, false) && !moved(9.9e9, 9.9e9, 9.9e9, false));
    }

    fn at(hour: u32) -> DateTime<Utc> {
        format!("2026-06-01T{hour:02}:00:00Z").parse().unwrap()
    }

    fn measured(hour: u32, after_work: bool) -> CenterHeightFields {
        CenterHeightFields {
            measured: Length::new(110.0, LengthUnit::Millimetre).unwrap(),
            standard_uncertainty: Length::new(0.001, LengthUnit::Millimetre).unwrap(),
            reason: "yearly".to_owned(),
            after_work,
            performed_at: at(hour),
            station: None,
            spindles: Vec::new(),
        }
    }

    #[test]
    fn a_measurement_that_is_older_than_what_holds_is_none() {
        let faults = |fields: CenterHeightFields| fields.dated_back(Some(at(8)), Some(at(10))).len();
        assert_eq!(faults(measured(7, false)), 2);
        assert_eq!(faults(measured(9, false)), 1);
        assert_eq!((faults(measured(7, true)), faults(measured(9, true))), (1, 0), "after the work itself");
        assert_eq!(faults(measured(10, false)), 0);
        assert!(measured(1, false).dated_back(None, None).is_empty());
    }
}
