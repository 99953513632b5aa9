//! What a setup is opened with: machine, stations, operations, settings. It is stored with the setup, so that a later
//! change of a machine's, a part's or the shop's record does not shift the rules of a setup under way.

use crate::{
    adjuster::Adjuster,
    calc::lateral_correction::MeasuredFrom,
    code::Code,
    field_error::{FieldError, FieldErrors},
    ids::{MachineId, PartId, PersonId, SetupId, ToolDesignId},
    length::{Deviations, Length, LengthUnit},
    machine::{StationKind, ToolFace},
    names::named,
};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

named! {
    /// What kind of dimension a feature is.
    FeatureKind {
        /// A diameter.
        Diameter = "diameter",
        /// A length along the bar.
        Length = "length",
        /// A depth from the finished face.
        Depth = "depth",
        /// A height across the bar: flats, slots.
        Height = "height",
    }
}

/// One dimension that an operation makes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Feature {
    /// Its code within the operation: `D1`, `L2`.
    pub code: Code,
    /// Its name for sentences: "head diameter".
    pub name: String,
    /// What kind of dimension it is.
    pub kind: FeatureKind,
    /// The nominal size.
    pub target: Length,
    /// Signed deviations from the target.
    pub tolerance: Deviations,
    /// For a length along the bar: from which end it is measured. Without it no side screw can be advised.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured_from: Option<MeasuredFrom>,
}

/// A tool design, named.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DesignRef {
    /// Its id.
    pub id: ToolDesignId,
    /// Its code.
    pub code: Code,
}

/// What the part asks of one station.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Operation {
    /// The form tool's design; none where the tool has no form of its own: cut-off, drill.
    pub tool_design: Option<DesignRef>,
    /// The holder's style; none where any style serves.
    pub holder_style: Option<String>,
    /// What this operation makes.
    pub features: Vec<Feature>,
}

/// One station in use.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StationPlan {
    /// Its code within the machine.
    pub code: Code,
    /// The spindle position at which it works, from 1.
    pub position: u8,
    /// What it carries.
    pub kind: StationKind,
    /// Which way its tool's cutting face looks.
    pub tool_face: ToolFace,
    /// The station's own adjusters; a holder brings more.
    pub adjusters: Vec<Adjuster>,
    /// What the part asks here.
    pub operation: Operation,
    /// The serial number that was picked for it. Another that fits is taken too.
    pub planned_tool: Option<Code>,
    /// The holder that was picked for it. Another that fits is taken too.
    pub planned_holder: Option<Code>,
}

impl StationPlan {
    /// Whether the tool's edge is set to the spindle centre on a centre gauge: on slides across the spindle. A drill on
    /// an end slide is aligned with the spindle, not brought to a height.
    #[must_use]
    pub const fn is_set_on_gauge(&self) -> bool {
        matches!(self.kind, StationKind::CrossSlide)
    }

    /// Whether a holder must be seated: always on a cross slide, on an end slide where the operation names a style.
    #[must_use]
    pub const fn needs_holder(&self) -> bool {
        matches!(self.kind, StationKind::CrossSlide) || self.operation.holder_style.is_some()
    }

    /// Whether a depth is asked for: on an end slide whose operation makes one.
    #[must_use]
    pub fn asks_for_depth(&self) -> bool {
        matches!(self.kind, StationKind::EndSlide)
            && self.operation.features.iter().any(|feature| feature.kind == FeatureKind::Depth)
    }

    /// The feature with this code, if the operation makes one.
    #[must_use]
    pub fn feature(&self, code: &Code) -> Option<&Feature> {
        self.operation.features.iter().find(|feature| feature.code == *code)
    }
}

named! {
    /// What a move of the holder (taper or lateral screw) asks of the height after clamping.
    HolderMoveRecheck {
        /// A recheck is advised: shown, and not blocking.
        Advised = "advised",
        /// A recheck is required.
        Required = "required",
    }
}

/// How far a release may go that rests on a second setter's judgement, until an inspector comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProvisionalRelease {
    /// So many pieces from the release, 1 to [`Self::MOST_PIECES`].
    pub most_pieces: u64,
    /// So many minutes from the release, 1 to [`Self::MOST_MINUTES`].
    pub most_minutes: u32,
}

impl ProvisionalRelease {
    /// The most pieces that a shop may allow.
    pub const MOST_PIECES: u64 = 1_000_000;
    /// The most minutes that a shop may allow: a day.
    pub const MOST_MINUTES: u32 = 24 * 60;

    /// Everything that cannot be.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require((1..=Self::MOST_PIECES).contains(&self.most_pieces), "/most_pieces", "must be 1 to 1000000");
        errors.require((1..=Self::MOST_MINUTES).contains(&self.most_minutes), "/most_minutes", "must be 1 to 1440");
        errors.into_vec()
    }
}

/// The shop's choices that bear on setups.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// Whether a first piece is judged by somebody who recorded nothing in the setup.
    pub first_piece_by_another_person: bool,
    /// Whether a piece from every running spindle is judged.
    pub first_piece_from_every_spindle: bool,
    /// What a taper or lateral adjustment asks of the height after clamping.
    pub recheck_after_holder_move: HolderMoveRecheck,
    /// How far the edge may lie from the gauge, either way, limits included. Above zero.
    pub height_limit: Length,
    /// Whether, and how far, a release may rest on a second setter's judgement; none: it may not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub provisional_release: Option<ProvisionalRelease>,
}

impl Settings {
    /// What a shop starts with, in its unit: a height limit of 0.05 mm or 0.002 in (common practice, no published
    /// source).
    #[must_use]
    pub const fn of_a_new_shop(unit: LengthUnit) -> Self {
        let picometres = match unit {
            LengthUnit::Millimetre => 50_000_000,
            LengthUnit::Inch => 50_800_000,
        };
        Self {
            first_piece_by_another_person: true,
            first_piece_from_every_spindle: false,
            recheck_after_holder_move: HolderMoveRecheck::Advised,
            height_limit: Length::from_picometres(picometres, unit),
            provisional_release: None,
        }
    }
}

/// What a setup is opened with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// The setup's id.
    pub setup: SetupId,
    /// The machine's id.
    pub machine: MachineId,
    /// The machine's code, for sentences.
    pub machine_code: Code,
    /// The part's id.
    pub part: PartId,
    /// The part's code, for sentences.
    pub part_code: Code,
    /// The spindles that run, numbered from 1.
    pub running_spindles: Vec<u8>,
    /// How many positions the carrier stops at.
    pub positions: u8,
    /// The position at which the piece is cut off.
    pub cutoff_position: u8,
    /// Pieces that drop in one cycle.
    pub pieces_per_cycle: u8,
    /// The stations in use, each once.
    pub stations: Vec<StationPlan>,
    /// Stations at which the part has an operation and that this setup leaves out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<Code>,
    /// The shop's settings when it was opened.
    pub settings: Settings,
    /// Who opened it.
    pub opened_by: PersonId,
    /// When it was opened.
    pub opened_at: DateTime<Utc>,
}

impl Plan {
    /// Where a station stands in [`Plan::stations`].
    #[must_use]
    pub fn index_of(&self, station: &Code) -> Option<usize> {
        self.stations.iter().position(|plan| plan.code == *station)
    }

    /// A station and those in use beside it: at the same position, or one position on or back around the carrier.
    #[must_use]
    pub fn with_neighbours(&self, station: usize) -> Vec<usize> {
        let Some(here) = self.stations.get(station) else { return Vec::new() };
        let near = |other: &StationPlan| {
            let apart = here.position.abs_diff(other.position);
            apart.min(self.positions.saturating_sub(apart)) <= 1
        };
        (0..self.stations.len()).filter(|index| *index == station || near(&self.stations[*index])).collect()
    }
}
