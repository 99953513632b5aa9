//! The items that may serve jobs, as they are on record.

use super::{matching::Nearness, needs::DesignNeed, window::Window};
use crate::{
    code::Code,
    ids::{BookingId, ItemId, JobId, MachineId, ToolDesignId},
    item::{Condition, ItemKind, Keeper, Purpose, Whereabouts},
    length::Length,
    life::ownership::Ownership,
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
    /// The days; until today at least, for a job that is not finished keeps what it has.
    pub days: Window,
    /// The last day that was booked.
    pub booked_until: NaiveDate,
}

impl BookedDays {
    /// A booking that was made for these days, of a job that is not finished.
    #[must_use]
    pub fn new(
        booking: BookingId,
        (job, number): (JobId, Code),
        station: Code,
        booked: Window,
        today: NaiveDate,
    ) -> Self {
        Self { booking, job, number, station, days: booked.until_at_least(today), booked_until: booked.last() }
    }

    /// The days that were booked.
    #[must_use]
    pub fn booked(&self) -> Window {
        Window::new(self.days.first(), self.booked_until).unwrap_or(self.days)
    }

    /// Whether its job runs over the days that were booked.
    #[must_use]
    pub fn runs_over(&self) -> bool {
        self.days.last() > self.booked_until
    }
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

    /// Whether no job has it, today or on any day.
    #[must_use]
    pub fn is_nobodys(&self) -> bool {
        self.booked.is_empty() && self.at_work.is_none()
    }

    /// Where it stands, seen from a machine; without one, any machine is another.
    #[must_use]
    pub fn nearness(&self, machine: Option<&Code>) -> Nearness {
        match self.at_work.as_ref().and_then(|work| work.setup.as_ref()) {
            Some((in_machine, _)) if Some(in_machine) == machine => Nearness::InItsMachine,
            Some(_) => Nearness::InOtherMachine,
            None if matches!(self.whereabouts.keeper, Keeper::Place(_)) && !self.whereabouts.outside => {
                Nearness::AtHand
            }
            None => Nearness::Out,
        }
    }

    /// The bookings for other jobs that meet one of this job's. What was booked first is kept until its job is finished:
    /// bookings meet only because one of the jobs runs over.
    pub fn met_by(&self, job: JobId) -> impl Iterator<Item = (&BookedDays, &BookedDays)> {
        let own = self.booked.iter().filter(move |own| own.job == job);
        own.flat_map(move |own| {
            let others = self.booked.iter().filter(move |other| other.job != job && other.days.overlaps(own.days));
            others.map(move |other| (own, other))
        })
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

/// A form tool as it is on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToolOnRecord {
    /// What is known of every item.
    pub item: Candidate,
    /// Its design.
    pub design: ToolDesignId,
    /// Its height.
    pub height: Length,
    /// Pieces cut since its last grind.
    pub pieces_since_grind: i64,
    /// Whether it was checked after its last grind.
    pub checked_after_grind: bool,
    /// Whose it is and for which part it is kept, with its owner's consents.
    pub ownership: Ownership,
}

impl ToolOnRecord {
    /// The tool with what is left in it.
    #[must_use]
    pub fn with(self, life: Life) -> CandidateTool {
        let Self { item, design, height, checked_after_grind, ownership, .. } = self;
        CandidateTool { item, design, height, life, checked_after_grind, ownership }
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
    /// Whose it is and for which part it is kept, with its owner's consents.
    pub ownership: Ownership,
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
    /// Nothing.
    pub const NONE: Self = Self { on_edge: 0, grinds: 0 };

    /// What the records say: the pieces that an edge is counted on for after those cut on it, and the grinds that the
    /// height above the design's minimum allows.
    #[must_use]
    pub fn foreseen(design: &DesignNeed, on_edge: i64, height: Length) -> Self {
        let above = height.picometres() - design.minimum_height.picometres();
        Self { on_edge, grinds: above.max(0) / design.grind_stock.picometres().max(1) }
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
        let life = |height, on_edge| Life::foreseen(&design, on_edge, inches(height));
        assert_eq!(life(0.53, 2500), Life { on_edge: 2500, grinds: 3 });
        // Just short of a third grind.
        assert_eq!(life(0.529_999_9, 0), Life { on_edge: 0, grinds: 2 });
        assert_eq!(life(0.4, 0), Life::NONE);
    }
}
