//! The items that may serve jobs, as they are on record.

use super::{needs::DesignNeed, window::Window};
use crate::{
    code::Code,
    ids::{BookingId, ItemId, JobId, MachineId, PartId, ToolDesignId},
    item::{Condition, ItemKind, Purpose, Whereabouts},
    length::Length,
    refusal::{Subject, SubjectKind},
};
use chrono::{DateTime, NaiveDate, Utc};

/// Days for which an item is kept for a job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BookedDays {
    /// The booking.
    pub booking: BookingId,
    /// The job.
    pub job: JobId,
    /// The job's number.
    pub number: Code,
    /// The station for which it is kept.
    pub station: Code,
    /// The days.
    pub days: Window,
}

/// What an item is at work for now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AtWork {
    /// The job, where one was named, with its number and the last day it is planned for.
    pub job: Option<(JobId, Code, NaiveDate)>,
    /// The open setup's machine and station; none when it was only handed out.
    pub setup: Option<(Code, Code)>,
}

/// What is known of every kind of item.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Candidate {
    /// The item.
    pub item: ItemId,
    /// Its code.
    pub code: Code,
    /// What it is.
    pub kind: ItemKind,
    /// The last judgement of it.
    pub condition: Condition,
    /// Where it is.
    pub whereabouts: Whereabouts,
    /// What it was handed out for.
    pub purpose: Option<Purpose>,
    /// The day by which it is due back.
    pub due: Option<NaiveDate>,
    /// What it is at work for now.
    pub at_work: Option<AtWork>,
    /// For which days it is booked.
    pub booked: Vec<BookedDays>,
}

impl Candidate {
    /// What a refusal about it names.
    #[must_use]
    pub fn subject(&self) -> Subject {
        let kind = match self.kind {
            ItemKind::FormTool => SubjectKind::FormTool,
            ItemKind::Holder => SubjectKind::Holder,
            ItemKind::CenterGauge => SubjectKind::CenterGauge,
            ItemKind::Other => SubjectKind::Item,
        };
        Subject::coded(kind, &self.code)
    }

    /// Whether it stands at this station for this job already: booked for it, or in its setup.
    #[must_use]
    pub fn is_kept_for(&self, job: JobId, station: &Code) -> bool {
        let booked = self.booked.iter().any(|booked| booked.job == job && booked.station == *station);
        let in_setup = |work: &AtWork| {
            work.job.as_ref().is_some_and(|(id, ..)| *id == job)
                && work.setup.as_ref().is_some_and(|(_, at)| at == station)
        };
        booked || self.at_work.as_ref().is_some_and(in_setup)
    }
}

/// A form tool.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CandidateTool {
    /// What is known of every item.
    pub item: Candidate,
    /// Its design.
    pub design: ToolDesignId,
    /// Its height.
    pub height: Length,
    /// What is left in it.
    pub life: Life,
    /// Whether it was checked after its last grind.
    pub checked_after_grind: bool,
    /// The part for which alone it may be used; none when for any.
    pub reserved_for: Option<PartId>,
}

/// A holder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CandidateHolder {
    /// What is known of every item.
    pub item: Candidate,
    /// Its style.
    pub style: String,
    /// The last day on which its check is valid; none where holders are not checked by date.
    pub next_check: Option<NaiveDate>,
}

/// A centre gauge.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CandidateGauge {
    /// What is known of every item.
    pub item: Candidate,
    /// The machine it is cut to.
    pub machine: MachineId,
    /// The stations it is limited to; empty means every station.
    pub stations: Vec<Code>,
    /// The last day on which its check is valid.
    pub next_check: Option<NaiveDate>,
    /// Its last accepted check.
    pub last_accepted_check_at: Option<DateTime<Utc>>,
    /// The last instant at which the machine's spindle centres may have moved.
    pub centers_may_have_moved_at: Option<DateTime<Utc>>,
}

/// What is left in a tool, in pieces.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Life {
    /// Pieces left on the edge in use.
    pub on_edge: i64,
    /// Grinds left, each of which gives a fresh edge.
    pub grinds: i64,
}

impl Life {
    /// What the records say: the pieces expected from an edge less those cut on it, and the grinds that the height
    /// above the design's minimum allows.
    #[must_use]
    pub fn expected(design: &DesignNeed, height: Length, pieces_since_grind: i64) -> Self {
        let above = height.picometres() - design.minimum_height.picometres();
        let grinds = above.max(0) / design.grind_stock.picometres().max(1);
        Self { on_edge: (design.pieces_per_edge - pieces_since_grind).max(0), grinds }
    }
}

#[cfg(test)]
mod tests {
    use super::{DesignNeed, Life};
    use crate::{
        code::Code,
        ids::ToolDesignId,
        length::{Length, LengthUnit},
        setup::plan::DesignRef,
    };
    use uuid::Uuid;

    #[test]
    fn life_is_what_edge_and_height_allow() {
        let inches = |value| Length::new(value, LengthUnit::Inch).unwrap();
        let design = DesignNeed {
            design: DesignRef { id: ToolDesignId::from_uuid(Uuid::nil()), code: Code::parse("TD-1").unwrap() },
            tool_face: None,
            holder_style: "DT-A".to_owned(),
            minimum_height: inches(0.5),
            grind_stock: inches(0.01),
            pieces_per_edge: 4000,
        };
        let life = |height, since| Life::expected(&design, inches(height), since);
        assert_eq!(life(0.53, 1500), Life { on_edge: 2500, grinds: 3 });
        // Just short of a third grind.
        assert_eq!(life(0.529_999_9, 4000), Life { on_edge: 0, grinds: 2 });
        assert_eq!(life(0.4, 9000), Life { on_edge: 0, grinds: 0 });
    }
}
