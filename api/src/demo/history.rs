//! The demo shop's year before the day of loading: one file a month, one step a line, each with its time.

use super::{
    deeds::{Deed, Open, Step, live},
    moments::{instant, set_days},
};
use crate::{principal::Principal, problem::Problem};
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_db::Tx;
use serde::Deserialize;
use serde_json::Value;
use std::collections::BTreeMap;

macro_rules! months {
    ($($name:literal)*) => {
        [$((concat!("demo-data/history/", $name), include_str!(concat!("../../../demo-data/history/", $name)))),*]
    };
}

/// Each month's file: its name, and what is in it. The oldest comes first.
const MONTHS: [(&str, &str); 12] = months!(
    "month-01.ndjson" "month-02.ndjson" "month-03.ndjson" "month-04.ndjson" "month-05.ndjson" "month-06.ndjson"
    "month-07.ndjson" "month-08.ndjson" "month-09.ndjson" "month-10.ndjson" "month-11.ndjson" "month-12.ndjson"
);

/// The working day on which the shop's things are put on record, before the first step.
const OPENING: &str = "-262 06:00";

/// One line of a month's file.
#[derive(Deserialize)]
struct Line {
    at: String,
    #[serde(flatten)]
    step: Step,
}

struct Timed {
    at: DateTime<Utc>,
    line: usize,
    by: String,
    deed: Deed,
}

/// The year, read.
pub(super) struct History {
    months: Vec<(&'static str, Vec<Timed>)>,
    /// When it begins.
    pub(super) opening: DateTime<Utc>,
}

impl History {
    /// Reads the files for a shop that is loaded today.
    ///
    /// # Errors
    /// The file and line that cannot be read, or lies before the one above it.
    pub(super) fn read(today: NaiveDate) -> Result<Self, String> {
        Self::of(&MONTHS, today)
    }

    fn of(files: &[(&'static str, &str)], today: NaiveDate) -> Result<Self, String> {
        let opening = instant(OPENING, today).ok_or("the calendar does not go back a year")?;
        let mut last = opening;
        let mut months = Vec::with_capacity(files.len());
        for (name, text) in files {
            let mut steps = Vec::new();
            for (number, text) in (1..).zip(text.lines()) {
                let at = |error: &dyn std::fmt::Display| format!("{name}, line {number}: {error}");
                let mut value: Value = serde_json::from_str(text).map_err(|error| at(&error))?;
                set_days(&mut value, today);
                let Line { at: words, step } = serde_path_to_error::deserialize(value).map_err(|error| at(&error))?;
                let then = instant(&words, today).ok_or_else(|| at(&format!("{words:?} is no time")))?;
                if then < last {
                    return Err(at(&format!("{words} lies before the step above it")));
                }
                last = then;
                steps.push(Timed { at: then, line: number, by: step.by, deed: step.deed });
            }
            months.push((*name, steps));
        }
        Ok(Self { months, opening })
    }

    /// Lives through it. Every step is taken at its own time; one that a rule refuses ends the loading.
    ///
    /// # Errors
    /// The file and line that was refused, and why.
    pub(super) fn live(&self, tx: &mut Tx<'_>, people: &BTreeMap<String, Principal>) -> Result<(), Problem> {
        let mut open = Open::default();
        for (number, (name, steps)) in (1..).zip(&self.months) {
            tracing::info!("history: month {number} of {}", self.months.len());
            for step in steps {
                tx.set_time(step.at);
                let who = people.get(&step.by).ok_or_else(|| Problem::not_found("demo person", &step.by));
                who.and_then(|who| live(tx, who, &step.deed, &mut open))
                    .map_err(|problem| Problem::internal(format!("{name}, line {}: {problem:?}", step.line)))?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::History;
    use crate::demo::{DemoPerson, PEOPLE, Shop, read};
    use chrono::{Days, NaiveDate, Timelike};
    use dovetally_db::{Database, DatabaseUrl, FixedClock, OpenOptions, WriteMode, people};
    use std::sync::Arc;

    const DAY: &str = "2026-03-02";

    /// A shop with one month of history, loaded into an empty database: what is said against it.
    fn refused(month: &'static str) -> String {
        let today: NaiveDate = DAY.parse().unwrap();
        let folder = tempfile::tempdir().unwrap();
        let clock = Arc::new(FixedClock::at(format!("{DAY}T06:00:00Z").parse().unwrap()));
        let url = DatabaseUrl::Sqlite(folder.path().join("shop.db"));
        let database = Database::open(OpenOptions::new(url, clock)).unwrap();
        let staff: Vec<DemoPerson> = read("people", PEOPLE, today).unwrap();
        let hashes = vec![String::new(); staff.len()];
        let (shop, history) = (Shop::read(today).unwrap(), History::of(&[("month.ndjson", month)], today).unwrap());
        let loaded = database.write_blocking(WriteMode::Keep, move |tx| shop.load(tx, &staff, &hashes, Some(&history)));
        assert!(!database.read_blocking(people::any).unwrap(), "a loading that was refused leaves nothing");
        format!("{:?}", loaded.unwrap_err())
    }

    #[test]
    fn a_step_that_a_rule_refuses_is_told_with_its_place() {
        let told = refused(concat!(
            r#"{"at":"-239 09:38","by":"clerk","check_out":{"items":["FT-001"],"person":"setter","purpose":"use"}}"#,
            "\n",
            r#"{"at":"-239 09:40","by":"clerk","check_out":{"items":["FT-001"],"person":"inspector","purpose":"use"}}"#,
        ));
        assert!(told.contains("month.ndjson, line 2"), "{told}");
        assert!(told.contains("ItemHeldElsewhere"), "{told}");
    }

    #[test]
    fn the_files_read_on_every_day_of_the_week() {
        let monday: NaiveDate = "2026-03-02".parse().unwrap();
        for shift in 0..7 {
            let today = monday + Days::new(shift);
            let history = History::read(today).unwrap();
            let steps: Vec<_> = history.months.iter().flat_map(|(_, steps)| steps).collect();
            assert!(steps.len() > 3000, "{}", steps.len());
            let (first, last) = (steps[0].at, steps[steps.len() - 1].at);
            assert!((today - first.date_naive()).num_days() > 360, "{first}");
            assert!((1..=3).contains(&(today - last.date_naive()).num_days()), "{last} seen from {today}");
            assert!(steps.iter().all(|step| step.at.hour() >= 5), "nobody works at night");
        }
    }
}
