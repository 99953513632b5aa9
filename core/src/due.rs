//! What is due: one list over checks, plans, work orders, items that are out, tools near their last grind, tools and
//! holders that wait for somebody, tools and supplies to be ordered, pieces that are held, and what a doubtful gauge has
//! touched.

use crate::{code::Code, names::named};
use chrono::{NaiveDate, TimeDelta};
use uuid::Uuid;

named! {
    /// What kind of thing is due.
    DueKind {
        /// A centre gauge is to be checked.
        GaugeCheck = "gauge_check",
        /// A holder is to be checked.
        HolderCheck = "holder_check",
        /// A maintenance plan is to be done.
        MaintenancePlan = "maintenance_plan",
        /// An item is to be brought back.
        ItemReturn = "item_return",
        /// A form tool is on its last edge, or its last grind but one.
        LastGrind = "last_grind",
        /// A form tool waits for a check: it was ground, struck or is in doubt.
        ToolCheck = "tool_check",
        /// A form tool waits for the grinder.
        ToolGrind = "tool_grind",
        /// A form tool was found damaged: it is to be ground, or retired.
        ToolDamaged = "tool_damaged",
        /// A holder is blocked until a check clears it.
        HolderBlocked = "holder_blocked",
        /// Tools of a design are to be ordered, or those there are run out in a job that is booked.
        ToolOrder = "tool_order",
        /// A supply is below its minimum.
        SupplyLow = "supply_low",
        /// A work order is open that no maintenance plan asks for.
        WorkOrder = "work_order",
        /// Pieces made under a provisional release are held until they are inspected.
        HeldPieces = "held_pieces",
        /// What a gauge has touched since it was last known to be right is to be worked through.
        Impact = "impact",
    }
}

named! {
    /// When it is due.
    Urgency {
        /// Its day is past.
        Overdue = "overdue",
        /// Today, or now: what has no day is due as it stands.
        Today = "today",
        /// Within the seven days that begin today.
        ThisWeek = "this_week",
        /// After that.
        Later = "later",
    }
}

impl Urgency {
    /// How urgent a day is. A check or a return is good through its own day: it is overdue from the next one on.
    #[must_use]
    pub fn of(day: Option<NaiveDate>, today: NaiveDate) -> Self {
        match day {
            None => Self::Today,
            Some(day) if day < today => Self::Overdue,
            Some(day) if day == today => Self::Today,
            Some(day) if day < today + TimeDelta::days(7) => Self::ThisWeek,
            Some(_) => Self::Later,
        }
    }
}

/// One thing that is due.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Due {
    /// When.
    pub urgency: Urgency,
    /// The day; none where it is due as it stands.
    pub day: Option<NaiveDate>,
    /// What kind of thing.
    pub kind: DueKind,
    /// The thing's code; none for a work order on something that has none.
    pub code: Option<Code>,
    /// The record in which it is done, where that is not the thing's own: a work order, a setup, an impact document.
    pub record: Option<Uuid>,
    /// What is to be done, in one sentence.
    pub sentence: String,
}

impl Due {
    /// Something that is due on a day, or as it stands.
    #[must_use]
    pub fn new(kind: DueKind, code: Code, day: Option<NaiveDate>, today: NaiveDate, sentence: String) -> Self {
        Self { urgency: Urgency::of(day, today), day, kind, code: Some(code), record: None, sentence }
    }

    /// Something that is due as it stands, and done in a record of its own.
    #[must_use]
    pub fn in_record(kind: DueKind, code: Option<Code>, record: Uuid, sentence: String) -> Self {
        Self { urgency: Urgency::Today, day: None, kind, code, record: Some(record), sentence }
    }
}

#[cfg(test)]
mod tests {
    use super::{Due, DueKind, Urgency};
    use chrono::NaiveDate;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[test]
    fn a_day_is_good_until_it_is_over() {
        let today = day("2026-06-10");
        for (due, urgency) in [
            (None, Urgency::Today),
            (Some("2026-06-09"), Urgency::Overdue),
            (Some("2026-06-10"), Urgency::Today),
            (Some("2026-06-11"), Urgency::ThisWeek),
            (Some("2026-06-16"), Urgency::ThisWeek),
            (Some("2026-06-17"), Urgency::Later),
        ] {
            assert_eq!(Urgency::of(due.map(day), today), urgency, "{due:?}");
        }
    }

    #[test]
    fn what_is_overdue_longest_comes_first() {
        let today = day("2026-06-10");
        let due = |code: &str, on: Option<&str>| {
            Due::new(DueKind::GaugeCheck, code.parse().unwrap(), on.map(day), today, String::new())
        };
        let mut all = [
            due("CG-4", Some("2026-06-12")),
            due("CG-3", None),
            due("CG-2", Some("2026-06-08")),
            due("CG-1", Some("2026-05-01")),
        ];
        all.sort();
        assert_eq!(all.map(|due| due.code.unwrap().to_string()), ["CG-1", "CG-2", "CG-3", "CG-4"]);
    }
}
