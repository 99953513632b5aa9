//! Releases that rest on a second setter's judgement until an inspector comes: how far they go, and what they made.
//!
//! Where a shop allows it, a first piece that no inspector is there to judge may be accepted by another setter, who
//! recorded nothing in the setup. The release is then provisional: so many pieces, so many minutes. What it makes is held
//! until an inspector judged it, and its end bars the next release until then.

use super::state::Setup;
use crate::{
    ids::PersonId,
    refusal::{Refusal, Rule, Subject, SubjectKind},
};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// Where a provisional release ends, whichever comes first; a stop of the run ends it too.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProvisionalEnd {
    /// At this instant.
    pub until: DateTime<Utc>,
    /// After so many pieces.
    pub most_pieces: u64,
}

/// What a provisional release makes, until it is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HeldPieces {
    /// Where the release ends, or would have ended.
    pub end: ProvisionalEnd,
    /// Who accepted the first piece on which it rests.
    pub accepted_by: PersonId,
    /// When it was released.
    pub released_at: DateTime<Utc>,
    /// The pieces booked so far; none while the run goes on.
    pub pieces: u64,
    /// The highest number read in the run, where it tells of more pieces than were booked.
    pub number_beyond: Option<u64>,
}

impl HeldPieces {
    /// Whether as many pieces as it allows are known to be made: by the highest number measured in the run. Trial pieces
    /// that nobody measured count too, so that it ends early and never late.
    #[must_use]
    pub fn all_made(&self, setup: &Setup) -> bool {
        setup.pieces_told_by_numbers() >= self.end.most_pieces
    }

    /// Pieces booked beyond what it allowed.
    #[must_use]
    pub const fn beyond(&self) -> u64 {
        self.pieces.saturating_sub(self.end.most_pieces)
    }

    pub(super) fn sentence(&self, setup: &Setup) -> String {
        let machine = &setup.plan.machine_code;
        if setup.is_released() {
            return format!(
                "The release of machine {machine} is provisional, and what it makes is held for an inspector."
            );
        }
        let pieces = self.pieces;
        let mut sentence =
            format!("{pieces} pieces of a provisional release of machine {machine} are held for an inspector");
        if self.beyond() > 0 {
            sentence.push_str(&format!(", {} more than it allowed", self.beyond()));
        }
        if let Some(number) = self.number_beyond {
            sentence.push_str(&format!("; piece {number} was read in it, so there may be more"));
        }
        sentence + "."
    }
}

impl Setup {
    /// The provisional release that is in force, if the one in force is provisional.
    #[must_use]
    pub fn provisional(&self) -> Option<&HeldPieces> {
        self.held.as_ref().filter(|_| self.is_released())
    }

    /// What stands against running on, when a provisional release in force is past its end.
    #[must_use]
    pub fn provisional_ended(&self, now: DateTime<Utc>) -> Option<Refusal> {
        let held = self.provisional()?;
        let machine = &self.plan.machine_code;
        let over = if now >= held.end.until {
            format!("The provisional release of machine {machine} ended at {}.", held.end.until.format("%F %H:%M UTC"))
        } else if held.all_made(self) {
            format!("The {} pieces of the provisional release of machine {machine} are made.", held.end.most_pieces)
        } else {
            return None;
        };
        Some(Refusal::new(Rule::InspectionPending, over).about(Subject::coded(SubjectKind::Machine, machine)))
    }
}
