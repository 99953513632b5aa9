//! What the records know at the moment of asking: the machine, the scanned items, the person.

use super::{
    height_limit::SpindleSpreads,
    plan::{DesignRef, Operation, Settings},
};
use crate::{
    adjuster::Adjuster,
    code::Code,
    gauge::standing::GaugeStanding,
    ids::{ItemId, MachineId, PartId, PersonId, SetupId, TagOutId},
    item::{Condition, Purpose, Whereabouts},
    length::Length,
    life::ownership::Ownership,
    machine::{StationKind, ToolFace},
    people::{Permission, Role, any_may},
};
use chrono::{DateTime, NaiveDate, Utc};

/// Who asks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Actor {
    /// The person.
    pub person: PersonId,
    /// The roles they hold.
    pub roles: Vec<Role>,
}

impl Actor {
    /// Whether their roles carry a permission.
    #[must_use]
    pub fn may(&self, permission: Permission) -> bool {
        any_may(&self.roles, permission)
    }
}

/// A tag-out that is not cleared.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TagOutFacts {
    /// Its id.
    pub tag_out: TagOutId,
    /// Why the machine is out of service.
    pub reason: String,
}

/// A centre gauge that is recorded as being in the machine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GaugeInMachine {
    /// The gauge.
    pub gauge: ItemId,
    /// Its code.
    pub code: Code,
    /// In which setup it was placed.
    pub setup: SetupId,
    /// At which station.
    pub station: Code,
}

/// What the records know of a holder that is seated in an open setup.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HolderStanding {
    /// The holder.
    pub holder: ItemId,
    /// The last judgement of it.
    pub condition: Condition,
}

/// The machine as it is now, read under its guard.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct MachineFacts {
    /// The tag-outs in force.
    pub tag_outs: Vec<TagOutFacts>,
    /// The centre gauges in it, of whatever setup.
    pub gauges: Vec<GaugeInMachine>,
    /// How each gauge stands on which its open setup relies ([`super::state::Setup::gauges_relied_on`]).
    pub gauge_standings: Vec<GaugeStanding>,
    /// How each holder stands that is seated in its open setup ([`super::state::Setup::holders`]).
    pub holder_standings: Vec<HolderStanding>,
    /// The last instant at which its spindle centres may have moved.
    pub centers_may_have_moved_at: Option<DateTime<Utc>>,
    /// How far its spindles' centres lie apart, as last measured or written.
    pub spindle_spreads: SpindleSpreads,
}

impl MachineFacts {
    /// How a gauge stands on which the open setup relies.
    #[must_use]
    pub fn standing(&self, gauge: ItemId) -> Option<&GaugeStanding> {
        self.gauge_standings.iter().find(|standing| standing.gauge == gauge)
    }

    /// The last judgement of a holder that is seated; none where it is not on record.
    #[must_use]
    pub fn holder_condition(&self, holder: ItemId) -> Option<Condition> {
        self.holder_standings.iter().find(|standing| standing.holder == holder).map(|standing| standing.condition)
    }
}

/// In which open setup an item is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SetupPlace {
    /// The setup.
    pub setup: SetupId,
    /// Its machine's code.
    pub machine: Code,
    /// The station.
    pub station: Code,
}

/// A holder, as scanned.
#[derive(Clone, Debug, PartialEq)]
pub struct HolderFacts {
    /// Its item id.
    pub item: ItemId,
    /// Its code.
    pub code: Code,
    /// Its style.
    pub style: String,
    /// The last judgement of it.
    pub condition: Condition,
    /// The last day of its check's validity; none where holders are not checked by date.
    pub next_check: Option<NaiveDate>,
    /// Its screws.
    pub adjusters: Vec<Adjuster>,
    /// Where it is.
    pub whereabouts: Whereabouts,
    /// In which open setup it is.
    pub in_setup: Option<SetupPlace>,
}

/// The design that a form tool is made to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DesignFacts {
    /// Which design.
    pub design: DesignRef,
    /// The face direction it is made for; none fits both.
    pub tool_face: Option<ToolFace>,
    /// The least height at which it may be used.
    pub minimum_height: Length,
}

/// The form of a form tool: its design and how much of it is left.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FormFacts {
    /// Its design.
    pub design: DesignFacts,
    /// The height left.
    pub height: Length,
    /// Whether it was checked after its last grind; true when it was never ground.
    pub checked_after_grind: bool,
}

/// A tool, as scanned: a form tool, or another serialised tool (cut-off, shave, drill).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToolFacts {
    /// Its item id.
    pub item: ItemId,
    /// Its code.
    pub code: Code,
    /// The last judgement of it.
    pub condition: Condition,
    /// Its form, where it has one.
    pub form: Option<FormFacts>,
    /// Whose it is, and what its owner consented to.
    pub ownership: Ownership,
    /// Where it is.
    pub whereabouts: Whereabouts,
    /// What it was handed out for, while it is out.
    pub purpose: Option<Purpose>,
    /// In which open setup it is.
    pub in_setup: Option<SetupPlace>,
}

/// A station of the machine, for opening a setup.
#[derive(Clone, Debug, PartialEq)]
pub struct MachineStation {
    /// Its code within the machine.
    pub code: Code,
    /// The spindle position at which it works.
    pub position: u8,
    /// What it carries.
    pub kind: StationKind,
    /// Which way its tool's cutting face looks.
    pub tool_face: ToolFace,
    /// Its own adjusters.
    pub adjusters: Vec<Adjuster>,
}

/// What the records know when a setup is to be opened.
#[derive(Clone, Debug, PartialEq)]
pub struct OpeningFacts {
    /// The machine's id.
    pub machine: MachineId,
    /// The machine's code.
    pub machine_code: Code,
    /// Whether it is retired.
    pub retired: bool,
    /// The setup that is open on it.
    pub open_setup: Option<SetupId>,
    /// The spindles that run, numbered from 1.
    pub running_spindles: Vec<u8>,
    /// How many positions the carrier stops at.
    pub positions: u8,
    /// The position at which the piece is cut off.
    pub cutoff_position: u8,
    /// Pieces that drop in one cycle.
    pub pieces_per_cycle: u8,
    /// All its stations.
    pub stations: Vec<MachineStation>,
    /// The part's id.
    pub part: PartId,
    /// The part's code.
    pub part_code: Code,
    /// The part's operations by station code.
    pub operations: Vec<(Code, Operation)>,
    /// The shop's settings now.
    pub settings: Settings,
}
