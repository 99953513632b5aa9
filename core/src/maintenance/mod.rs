//! Maintenance plans: what is to be done to a machine, a holder or anything else, and after how much use.
//!
//! A plan runs out by the first of its intervals: days, pieces, setups or running hours. What was used since it was last
//! done comes from the runs and setups on record; nobody reads a meter.

mod standing;

pub use standing::{Counter, PlanState, Recent, Standing, Usage, standing};

use crate::{
    code::Code,
    field_error::{FieldError, FieldErrors},
    ids::{ItemId, MachineId, MaintenancePlanId},
    names::named,
    registry::Record,
};
use chrono::{DateTime, Utc};

/// What a plan or a work order is about: exactly one of these.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Maintained {
    /// A machine.
    Machine {
        /// Its id.
        id: MachineId,
        /// Its code.
        code: Code,
    },
    /// A holder, a tool or any other serialised item.
    Item {
        /// Its id.
        id: ItemId,
        /// Its code.
        code: Code,
    },
    /// Anything that has no record of its own, in words: the coolant tank.
    Other(String),
}

impl Maintained {
    /// The machine, if it is one.
    #[must_use]
    pub const fn machine(&self) -> Option<MachineId> {
        match self {
            Self::Machine { id, .. } => Some(*id),
            Self::Item { .. } | Self::Other(_) => None,
        }
    }

    /// As people name it.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Machine { code, .. } | Self::Item { code, .. } => code.as_str(),
            Self::Other(words) => words,
        }
    }
}

named! {
    /// What an interval counts.
    Measure {
        /// Days of the calendar.
        Days = "days",
        /// Pieces made.
        Pieces = "pieces",
        /// Setups opened on the machine, or run with the item.
        Setups = "setups",
        /// Hours under a release in force.
        RunningHours = "running_hours",
    }
}

/// After how much a plan is to be done again: the first one that is reached counts. At least one is given.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Interval {
    /// After so many days.
    pub days: Option<i64>,
    /// After so many pieces.
    pub pieces: Option<i64>,
    /// After so many setups.
    pub setups: Option<i64>,
    /// After so many hours of running.
    pub running_hours: Option<i64>,
}

impl Interval {
    /// The intervals that are given, each with what it counts.
    pub fn given(&self) -> impl Iterator<Item = (Measure, i64)> {
        let all = [
            (Measure::Days, self.days),
            (Measure::Pieces, self.pieces),
            (Measure::Setups, self.setups),
            (Measure::RunningHours, self.running_hours),
        ];
        all.into_iter().filter_map(|(measure, every)| every.map(|every| (measure, every)))
    }

    /// The most that an interval of a kind can be.
    const fn most(measure: Measure) -> i64 {
        match measure {
            Measure::Days => 3650,
            Measure::Pieces => 1_000_000_000,
            Measure::Setups => 100_000,
            Measure::RunningHours => 100_000,
        }
    }
}

/// What people write about a plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MaintenancePlanFields {
    /// Its name.
    pub name: String,
    /// What it is about.
    pub subject: Maintained,
    /// What to do, step by step.
    pub steps: Vec<String>,
    /// What to be careful about.
    pub cautions: Vec<String>,
    /// After how much.
    pub interval: Interval,
    /// From which share of an interval on it is due, in percent.
    pub due_from_percent: u8,
    /// Whether it is out of use.
    pub retired: bool,
}

/// A plan on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MaintenancePlan {
    /// Id, code, version and what was written.
    pub record: Record<MaintenancePlanId, MaintenancePlanFields>,
    /// When it was last done; none while never.
    pub last_done_at: Option<DateTime<Utc>>,
}

impl MaintenancePlan {
    /// From when use counts: since it was last done, or since the plan was put on record.
    #[must_use]
    pub fn counted_from(&self) -> DateTime<Utc> {
        self.last_done_at.unwrap_or(self.record.created_at)
    }
}

impl MaintenancePlanFields {
    /// Everything that cannot be.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require_text(&self.name, 200, "/name");
        if let Maintained::Other(words) = &self.subject {
            errors.require_text(words, 200, "/subject/other");
        }
        let texts = |errors: &mut FieldErrors, texts: &[String], most: usize, at: &str| {
            errors.require(texts.len() <= most, at, format!("at most {most}"));
            for (index, text) in texts.iter().enumerate() {
                errors.require_text(text, 500, &format!("{at}/{index}"));
            }
        };
        errors.require(!self.steps.is_empty(), "/steps", "say at least one thing to do");
        texts(&mut errors, &self.steps, 50, "/steps");
        texts(&mut errors, &self.cautions, 20, "/cautions");
        errors.require(
            self.interval.given().next().is_some(),
            "/interval",
            "give days, pieces, setups or running hours: at least one of them",
        );
        for (measure, every) in self.interval.given() {
            let most = Interval::most(measure);
            errors.require((1..=most).contains(&every), format!("/interval/{measure}"), format!("must be 1 to {most}"));
            errors.require(
                measure == Measure::Days || !matches!(self.subject, Maintained::Other(_)),
                format!("/interval/{measure}"),
                "is counted for machines and items only; for anything else give days",
            );
        }
        errors.require((1..=100).contains(&self.due_from_percent), "/due_from_percent", "must be 1 to 100");
        errors.into_vec()
    }
}

#[cfg(test)]
mod tests {
    use super::{Interval, Maintained, MaintenancePlanFields};

    fn tank() -> MaintenancePlanFields {
        MaintenancePlanFields {
            name: "Clean the coolant tank".to_owned(),
            subject: Maintained::Other("Coolant tank".to_owned()),
            steps: vec!["Pump it empty".to_owned()],
            cautions: Vec::new(),
            interval: Interval { days: Some(90), ..Interval::default() },
            due_from_percent: 90,
            retired: false,
        }
    }

    fn pointers(change: impl FnOnce(&mut MaintenancePlanFields)) -> Vec<String> {
        let mut plan = tank();
        change(&mut plan);
        plan.check().into_iter().map(|fault| fault.pointer).collect()
    }

    #[test]
    fn what_cannot_be_is_named() {
        assert_eq!(pointers(|_| {}), Vec::<String>::new());
        assert_eq!(pointers(|plan| plan.interval.days = None), ["/interval"]);
        assert_eq!(pointers(|plan| plan.interval.days = Some(0)), ["/interval/days"]);
        assert_eq!(pointers(|plan| plan.interval.pieces = Some(5)), ["/interval/pieces"]);
        assert_eq!(pointers(|plan| plan.steps.clear()), ["/steps"]);
        assert_eq!(pointers(|plan| plan.steps[0] = " ".to_owned()), ["/steps/0"]);
        assert_eq!(pointers(|plan| plan.cautions = vec!["\u{7}".to_owned()]), ["/cautions/0"]);
        assert_eq!(pointers(|plan| plan.due_from_percent = 0), ["/due_from_percent"]);
        assert_eq!(pointers(|plan| plan.subject = Maintained::Other(String::new())), ["/subject/other"]);
    }
}
