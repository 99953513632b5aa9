//! What the records know of a form tool that is ground or checked, and what holds for both.

use super::{measure::Measure, ownership::Ownership};
use crate::{
    code::Code,
    field_error::FieldError,
    findings::Findings,
    item::Condition,
    length::{Length, LengthUnit},
    reading::{Doubt, Expected},
    refusal::{Refusal, Rule, Subject, SubjectKind},
    setup::facts::SetupPlace,
};
use chrono::{DateTime, Utc};

/// How far two measurements of one tool's height may differ: 0.05 mm. Common practice with a height gauge or calliper over a
/// ground edge, no published source.
pub const MEASUREMENTS_DIFFER: Length = Length::from_picometres(50_000_000, LengthUnit::Millimetre);

/// So many usual grinds a height may fall at once and be taken as it is read; one that falls further is asked after. A chip is
/// ground out in two or three; a number in the other unit lies far below. Common practice, no published source.
pub const GRINDS_AT_ONCE: i64 = 3;

/// A run that a tool ran in and whose pieces nobody has booked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunToBook {
    /// Its setup, with the machine and the station that the tool was at.
    pub place: SetupPlace,
    /// Its number in the setup.
    pub number: u32,
}

impl RunToBook {
    /// Why its tool is neither ground nor retired: its pieces would count for an edge that did not cut them, or for none.
    #[must_use]
    pub fn refusal(&self, tool: &Code) -> Refusal {
        let Self { place, number } = self;
        let sentence = format!(
            "Tool {tool} ran in run {number} of setup {} on machine {}, at station {}, and that run's pieces are not booked.",
            place.setup, place.machine, place.station
        );
        Refusal::new(Rule::RunNotBooked, sentence)
            .saw(format!("run {number}"))
            .clears(format!("Record the stop of the run in setup {} with its pieces.", place.setup))
            .about(Subject::new(SubjectKind::Setup, place.setup.to_string()))
    }
}

/// What is on record of a tool that a grind or a check must not be dated before.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Latest {
    /// Its last grind.
    pub ground: Option<DateTime<Utc>>,
    /// Its last check.
    pub checked: Option<DateTime<Utc>>,
    /// The end of its last run.
    pub ran: Option<DateTime<Utc>>,
}

impl Latest {
    /// What is wrong with an instant that stands at `pointer`. An older finding must not cover a newer grind; and what a
    /// tool cut belongs to the edge that cut it, so that neither a grind nor a check goes back behind a run.
    #[must_use]
    pub fn faults(&self, at: DateTime<Utc>, pointer: &str) -> Vec<FieldError> {
        let mut faults = Vec::new();
        let mut not_before = |latest: Option<DateTime<Utc>>, detail: &str| {
            if latest.is_some_and(|latest| at < latest) {
                faults.push(FieldError { pointer: pointer.to_owned(), detail: detail.to_owned() });
            }
        };
        not_before(self.ground.max(self.checked), "lies before the last grind or check on record");
        not_before(self.ran, "lies before the end of the tool's last run: what it cut counts for the edge that cut it");
        faults
    }
}

/// What the records know of a tool that is ground or checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToolLife {
    /// Its code.
    pub code: Code,
    /// The last judgement of it.
    pub condition: Condition,
    /// The height left.
    pub height: Length,
    /// In what it is measured.
    pub measure: Measure,
    /// The height below which its design is not used.
    pub minimum_height: Length,
    /// What one usual grind of its design takes off the height.
    pub grind_stock: Length,
    /// Grinds so far.
    pub regrind_count: u32,
    /// Pieces cut on the edge in use.
    pub pieces_since_grind: i64,
    /// Whether the edge in use was partly ground.
    pub partly_ground: bool,
    /// Whether the edge in use was cutting before the tool came on record.
    pub begun_before: bool,
    /// In which open setup it is.
    pub in_setup: Option<SetupPlace>,
    /// The place outside the shop that has it.
    pub outside: Option<String>,
    /// A run of it whose pieces are not booked.
    pub run_to_book: Option<RunToBook>,
    /// Whose it is.
    pub ownership: Ownership,
}

impl ToolLife {
    pub(super) fn subject(&self) -> Subject {
        Subject::coded(SubjectKind::FormTool, &self.code)
    }

    pub(super) fn at_rest(&self, findings: &mut Findings) {
        findings.add_if(self.condition == Condition::Retired, || {
            Refusal::new(Rule::ToolRetired, format!("Tool {} is retired.", self.code)).about(self.subject())
        });
        if let Some(place) = &self.in_setup {
            let sentence =
                format!("{} is in the setup of machine {}, at station {}.", self.code, place.machine, place.station);
            findings.add(Refusal::new(Rule::ItemInSetup, sentence).about(self.subject()));
        }
    }

    /// Its edge ends, or is changed: then every piece that it cut has to be counted first.
    pub(super) fn all_booked(&self, findings: &mut Findings) {
        if let Some(run) = &self.run_to_book {
            findings.add(run.refusal(&self.code));
        }
    }

    /// What there is to say of a height below the design's minimum. A customer's tool is nobody's to scrap: without the
    /// owner's consent it is out of use, and kept.
    pub(super) fn below_minimum(&self, height: Length, kept_for_owner: bool) -> String {
        let below = if self.measure.is_angle() {
            format!("The usable angle is used up, and {} more", self.measure.part(self.minimum_height.minus(height)))
        } else {
            let [height, least] = self.measure.beside(height, self.minimum_height);
            format!("{height} is below the design's minimum of {least}")
        };
        match self.ownership.belonging.owner.as_ref().filter(|_| kept_for_owner) {
            None => format!("{below}: the tool is retired."),
            Some(owner) => format!(
                "{below}: the tool is used no more. It belongs to {owner}, who has not consented to scrapping it: keep it \
                 for them."
            ),
        }
    }

    /// A height that falls by more than a grinder takes at once is a slip of a unit or of a digit far more often than it is
    /// so, and it never rises again: it has to be confirmed.
    pub(super) fn expected(&self, from: Length, to: Length, confirmed: bool, findings: &mut Findings) {
        findings.add_if(!confirmed && falls_far(from, to, self.grind_stock), || {
            let other = to.unit().other();
            let (code, [told, was]) = (&self.code, self.measure.beside(to, from));
            let usual = format!("{was}, and one usual grind takes {}.", self.measure.part(self.grind_stock));
            let (saw, mut sentence) = if self.measure.is_angle() {
                let sentence = format!("Tool {code} would have {told} left; it had {usual}");
                (told, sentence)
            } else {
                let both = format!("{told} ({:.5} {})", to.value_in(other), other.sign());
                let sentence = format!("Tool {code} would be {both} high; it was {usual}");
                (both, sentence)
            };
            if let Some(Doubt::OtherUnit(meant)) = Expected::about(from, at_once(self.grind_stock)).doubt(to) {
                sentence.push_str(&format!(" Was {} meant?", meant.read_off()));
            }
            Refusal::new(Rule::ReadingNotConfirmed, sentence).saw(saw).about(self.subject())
        });
    }
}

/// What is ground off at once, and no more.
const fn at_once(grind_stock: Length) -> Length {
    Length::from_picometres(grind_stock.picometres().saturating_mul(GRINDS_AT_ONCE), grind_stock.unit())
}

/// Whether a height falls by more than is ground off at once.
#[must_use]
pub fn falls_far(from: Length, to: Length, grind_stock: Length) -> bool {
    from.minus(to) > at_once(grind_stock)
}

#[cfg(test)]
mod tests {
    use super::Latest;
    use chrono::{DateTime, Utc};

    fn at(hour: u32) -> DateTime<Utc> {
        format!("2026-06-01T{hour:02}:00:00Z").parse().unwrap()
    }

    #[test]
    fn nothing_is_dated_back_behind_what_is_on_record() {
        let latest = Latest { ground: Some(at(8)), checked: Some(at(9)), ran: Some(at(10)) };
        assert!(latest.faults(at(10), "/at").is_empty());
        let faults = latest.faults(at(9), "/at");
        assert_eq!(faults.len(), 1);
        assert!(faults[0].pointer == "/at" && faults[0].detail.contains("last run"), "{faults:?}");
        assert_eq!(latest.faults(at(7), "/at").len(), 2);
        assert_eq!(Latest { ran: None, ..latest }.faults(at(8), "/at").len(), 1);
        assert!(Latest { ran: None, checked: None, ..latest }.faults(at(8), "/at").is_empty());
        assert!(Latest::default().faults(at(1), "/at").is_empty());
    }
}
