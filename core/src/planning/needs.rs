//! What a job needs, and what is on record of its machine.

use super::window::{EndBasis, Window};
use crate::{
    code::Code,
    ids::{JobId, MachineId, PartId},
    length::Length,
    machine::{StationKind, ToolFace},
    setup::plan::DesignRef,
};
use chrono::{DateTime, NaiveDate, Utc};

/// A job that is still to be made, wholly or in part.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedJob {
    /// Its id.
    pub job: JobId,
    /// Its number.
    pub number: Code,
    /// The part.
    pub part: PartId,
    /// The part's code.
    pub part_code: Code,
    /// The machine.
    pub machine: PlannedMachine,
    /// Its days.
    pub window: Window,
    /// What the last of them rests on.
    pub end: EndBasis,
    /// How long its machine runs for all its pieces, in seconds; none without a cycle time.
    pub running_seconds: Option<f64>,
    /// Pieces wanted in all.
    pub quantity: i64,
    /// Pieces made already.
    pub made: i64,
    /// What it needs, station by station, in the order of their codes.
    pub stations: Vec<StationNeed>,
}

/// The machine of a job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlannedMachine {
    /// Its id.
    pub machine: MachineId,
    /// Its code.
    pub code: Code,
    /// Whether a tag-out is in force.
    pub tagged_out: bool,
    /// Whether it is out of use for good.
    pub retired: bool,
    /// What is reported broken down on it and not mended, oldest first.
    pub breakdowns: Vec<OpenBreakdown>,
}

/// A breakdown of a machine whose work order has not ended. It stops no machine: the plan takes it as mended by then.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenBreakdown {
    /// From when the machine was down.
    pub down_from: DateTime<Utc>,
    /// What is wrong.
    pub what: String,
}

/// The design of the tool that a station needs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DesignNeed {
    /// Which design.
    pub design: DesignRef,
    /// The face direction it is made for; none fits both.
    pub tool_face: Option<ToolFace>,
    /// The style of holder that carries it.
    pub holder_style: String,
    /// The least height at which a tool of it is used.
    pub minimum_height: Length,
    /// What one grind takes off.
    pub grind_stock: Length,
    /// Pieces expected from a fresh edge, above zero.
    pub pieces_per_edge: i64,
}

/// A station as the machine has it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StationOnMachine {
    /// What it carries.
    pub kind: StationKind,
    /// Which way its tool's cutting face looks.
    pub tool_face: ToolFace,
}

/// What a job needs at one station.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StationNeed {
    /// The station's code.
    pub station: Code,
    /// The station; none when the machine has none of this code.
    pub on_machine: Option<StationOnMachine>,
    /// The tool's design; none where the tool has no form of its own.
    pub design: Option<DesignNeed>,
    /// The holder's style as the operation asks for it, or else as the design does; none where any serves.
    pub holder_style: Option<String>,
}

impl StationNeed {
    /// What an operation needs at a station. `style` is the one that the operation asks for.
    #[must_use]
    pub fn of(
        station: Code,
        on_machine: Option<StationOnMachine>,
        style: Option<String>,
        design: Option<DesignNeed>,
    ) -> Self {
        let holder_style = style.or_else(|| design.as_ref().map(|design| design.holder_style.clone()));
        Self { station, on_machine, design, holder_style }
    }

    /// Whether an edge is set to the spindle centre here, on the machine's gauge.
    #[must_use]
    pub fn is_set_on_gauge(&self) -> bool {
        self.on_machine.is_some_and(|station| station.kind == StationKind::CrossSlide)
    }
}

impl PlannedJob {
    /// Pieces still to make.
    #[must_use]
    pub fn left(&self) -> i64 {
        (self.quantity - self.made).max(0)
    }

    /// Its days, as they are to be reckoned with: a job that is not done lasts until today at least.
    #[must_use]
    pub fn days(&self, today: NaiveDate) -> Window {
        self.window.until_at_least(today)
    }

    /// Whether it may want what another wants: its machine, a tool of one of its designs, a holder of one of its styles.
    #[must_use]
    pub fn bears_on(&self, other: &Self) -> bool {
        let alike = |own: &StationNeed, others: &StationNeed| {
            let design = |need: &StationNeed| need.design.as_ref().map(|design| design.design.id);
            design(own).is_some() && design(own) == design(others)
                || own.holder_style.is_some() && own.holder_style == others.holder_style
        };
        self.machine.machine == other.machine.machine
            || self.stations.iter().any(|own| other.stations.iter().any(|others| alike(own, others)))
    }

    /// Its place in the order of jobs: by planned start, then number.
    #[must_use]
    pub fn priority(&self) -> (NaiveDate, &Code) {
        (self.window.first(), &self.number)
    }
}
