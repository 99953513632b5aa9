//! How a plan stands: what was used of each interval, and by when it runs out at the rate of late.

use super::{Interval, MaintenancePlan, Measure};
use crate::names::named;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};

named! {
    /// Whether a plan is to be done.
    PlanState {
        /// Not yet.
        Ok = "ok",
        /// Now: an interval is nearly used up.
        Due = "due",
        /// An interval is used up and more.
        Overdue = "overdue",
    }
}

/// What was made in some time: by a machine, or with an item.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Usage {
    /// Pieces of the runs that ended in it.
    pub pieces: i64,
    /// Setups that were opened in it; for an item, setups of which a run began in it.
    pub setups: i64,
    /// Hours in it under a release in force.
    pub running_hours: f64,
}

/// What was used of late: the rate by which a day is forecast.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recent {
    /// Over so many days up to now.
    pub days: f64,
    /// So much.
    pub usage: Usage,
}

impl Recent {
    /// The longest time that a rate is taken over.
    pub const MOST_DAYS: i64 = 90;
    /// The shortest that tells a rate at all.
    pub const LEAST_DAYS: f64 = 14.0;
}

/// One interval of a plan, and how much of it is used.
#[derive(Clone, Debug, PartialEq)]
pub struct Counter {
    /// What it counts.
    pub measure: Measure,
    /// After how much the plan is to be done.
    pub every: i64,
    /// How much was used since it was last done.
    pub used: f64,
    /// How that stands.
    pub state: PlanState,
    /// Use in a day of late; none for days, and where the records tell no rate.
    pub rate_per_day: Option<f64>,
    /// The day on which the interval is used up, or was. Of days it is the calendar's; of anything else it is reckoned
    /// at that rate, and what is used up was so about that day or before. None where nothing tells it yet, and beyond
    /// ten years.
    pub runs_out_on: Option<NaiveDate>,
}

/// How a plan stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// The gravest of its counters.
    pub state: PlanState,
    /// Each interval, in the order days, pieces, setups, running hours.
    pub counters: Vec<Counter>,
    /// The first day on which any of them is used up, or was, as far as the records tell.
    pub runs_out_on: Option<NaiveDate>,
    /// What this rests on, in words.
    pub judged_on: String,
}

/// No forecast goes further than ten years.
const FURTHEST_DAYS: f64 = 3650.0;

/// Judges a plan: `used` since it was last done, and at what rate of late.
#[must_use]
pub fn standing(plan: &MaintenancePlan, used: &Usage, recent: &Recent, now: DateTime<Utc>) -> Standing {
    let fields = &plan.record.fields;
    let counters: Vec<Counter> =
        fields.interval.given().map(|(measure, every)| counter(plan, measure, every, used, recent, now)).collect();
    let state = counters.iter().map(|counter| counter.state).max().unwrap_or(PlanState::Ok);
    let runs_out_on = counters.iter().filter_map(|counter| counter.runs_out_on).min();
    Standing { state, runs_out_on, judged_on: judged_on(plan, &fields.interval, recent, &counters), counters }
}

#[expect(clippy::cast_precision_loss, reason = "counts of pieces lie far below 2^53")]
fn counter(
    plan: &MaintenancePlan,
    measure: Measure,
    every: i64,
    used: &Usage,
    recent: &Recent,
    now: DateTime<Utc>,
) -> Counter {
    let today = now.date_naive();
    let begun = plan.counted_from().date_naive();
    let of = |usage: &Usage| match measure {
        // Whole days: on the last day of an interval it is still in time.
        Measure::Days => (today - begun).num_days().max(0) as f64,
        Measure::Pieces => usage.pieces as f64,
        Measure::Setups => usage.setups as f64,
        Measure::RunningHours => usage.running_hours,
    };
    let (used, every_one) = (of(used), every as f64);
    let state = if used > every_one {
        PlanState::Overdue
    } else if used * 100.0 >= every_one * f64::from(plan.record.fields.due_from_percent) {
        PlanState::Due
    } else {
        PlanState::Ok
    };
    let rate_per_day = (measure != Measure::Days && recent.days >= Recent::LEAST_DAYS)
        .then(|| of(&recent.usage) / recent.days)
        .filter(|rate| *rate > 0.0);
    let left = every_one - used;
    let days_left = match measure {
        Measure::Days => Some(left),
        _ if left < 0.0 => Some(-days_over(-left, of(&recent.usage), recent.days)),
        _ => rate_per_day.map(|rate| (left / rate).floor()),
    };
    let days_left = days_left.filter(|days| *days <= FURTHEST_DAYS);
    #[expect(clippy::cast_possible_truncation, reason = "within ten years of days, or as many as were counted")]
    let day = days_left.and_then(|days| today.checked_add_signed(TimeDelta::try_days(days as i64)?));
    // Nothing was used up before it began to count.
    let runs_out_on = day.map(|day| if state == PlanState::Overdue { day.max(begun.min(today)) } else { day });
    Counter { measure, every, used, state, rate_per_day, runs_out_on }
}

/// For how many whole days what is used up has been so, as far as what was used of late tells. What is over was used at
/// that rate where it is a part of that use; if it is more, the interval was used up before that time began. Over too
/// short a time nothing tells a rate.
fn days_over(over: f64, of_late: f64, days: f64) -> f64 {
    if over > of_late {
        days.floor()
    } else if days >= Recent::LEAST_DAYS {
        (over / of_late * days).floor()
    } else {
        0.0
    }
}

fn judged_on(plan: &MaintenancePlan, interval: &Interval, recent: &Recent, counters: &[Counter]) -> String {
    let since = plan.counted_from().format("%Y-%m-%d %H:%M UTC");
    let from = if plan.last_done_at.is_some() { "it was last done" } else { "the plan was put on record" };
    let mut words = format!("Counted since {from}, {since}.");
    if interval.given().any(|(measure, _)| measure != Measure::Days) {
        words.push_str(" A run's pieces count when they are booked, its hours while it is released.");
        if recent.days < Recent::LEAST_DAYS {
            words.push_str(" No rate: fewer than 14 days are on record.");
        } else if counters.iter().any(|counter| counter.rate_per_day.is_some()) {
            words.push_str(&format!(" The day is forecast at the rate of the last {:.0} days.", recent.days));
        } else {
            words.push_str(&format!(" No rate: nothing was used in the last {:.0} days.", recent.days));
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::{PlanState, Recent, Usage, standing};
    use crate::{
        code::Code,
        ids::{MachineId, MaintenancePlanId},
        maintenance::{Interval, Maintained, MaintenancePlan, MaintenancePlanFields, Measure},
        registry::Record,
    };
    use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
    use proptest::prelude::*;
    use uuid::Uuid;

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    fn plan(interval: Interval) -> MaintenancePlan {
        let created_at = at("2026-01-01T08:00:00Z");
        let code = Code::parse("M-1").unwrap();
        let fields = MaintenancePlanFields {
            name: "Grease the carrier".to_owned(),
            subject: Maintained::Machine { id: MachineId::from_uuid(Uuid::nil()), code: code.clone() },
            steps: vec!["Grease".to_owned()],
            cautions: Vec::new(),
            interval,
            due_from_percent: 90,
            retired: false,
        };
        let id = MaintenancePlanId::from_uuid(Uuid::nil());
        MaintenancePlan {
            record: Record { id, code, fields, version: 1, created_at, updated_at: created_at },
            last_done_at: None,
        }
    }

    const NOTHING: Recent = Recent { days: 90.0, usage: Usage { pieces: 0, setups: 0, running_hours: 0.0 } };

    #[test]
    fn days_are_of_the_calendar() {
        let plan = plan(Interval { days: Some(30), ..Interval::default() });
        for (now, state) in [
            ("2026-01-27T23:59:59Z", PlanState::Ok),
            ("2026-01-28T00:00:00Z", PlanState::Due),
            ("2026-01-31T23:59:59Z", PlanState::Due),
            ("2026-02-01T00:00:00Z", PlanState::Overdue),
        ] {
            let found = standing(&plan, &Usage::default(), &NOTHING, at(now));
            assert_eq!(found.state, state, "{now}");
            assert_eq!(found.runs_out_on.unwrap().to_string(), "2026-01-31", "{now}");
        }
        // However long ago that was.
        assert_eq!(standing(&plan, &Usage::default(), &NOTHING, at("2040-01-01T08:00:00Z")).runs_out_on, Some(day(31)));
    }

    fn day(of_january: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 1, of_january).unwrap()
    }

    #[test]
    fn what_is_used_up_was_so_since_when_the_records_tell() {
        let plan = plan(Interval { pieces: Some(1000), ..Interval::default() });
        let now = at("2026-01-31T08:00:00Z");
        let since = |used, days, of_late| {
            let usage = |pieces| Usage { pieces, setups: 0, running_hours: 0.0 };
            let found = standing(&plan, &usage(used), &Recent { days, usage: usage(of_late) }, now);
            assert_eq!(found.state, PlanState::Overdue);
            found.runs_out_on
        };
        // 200 over, at 40 a day.
        assert_eq!(since(1200, 20.0, 800), Some(day(26)));
        // Just over: today. So it is where the time is too short for a rate.
        assert_eq!([since(1001, 20.0, 800), since(1200, 13.0, 800)], [Some(day(31)); 2]);
        // 900 over, and 800 used in twenty days: it was over before them. With nothing used in them it was, too.
        assert_eq!([since(1900, 20.0, 800), since(1100, 20.0, 0)], [Some(day(11)); 2]);
        // The plan counts since the first of the month.
        assert_eq!(since(1900, 60.0, 1000), Some(day(1)));
    }

    #[test]
    fn the_plans_day_is_the_earliest_of_its_counters() {
        let plan = plan(Interval { days: Some(20), pieces: Some(1000), setups: Some(5), running_hours: None });
        let used = Usage { pieces: 1200, setups: 2, running_hours: 0.0 };
        let recent = Recent { days: 20.0, usage: Usage { pieces: 800, setups: 0, running_hours: 0.0 } };
        let found = standing(&plan, &used, &recent, at("2026-01-31T08:00:00Z"));
        let days: Vec<_> = found.counters.iter().map(|counter| counter.runs_out_on).collect();
        assert_eq!((days, found.runs_out_on), (vec![Some(day(21)), Some(day(26)), None], Some(day(21))));
    }

    #[test]
    fn the_first_interval_to_be_reached_counts() {
        let plan = plan(Interval { days: Some(365), pieces: Some(1000), setups: None, running_hours: Some(100) });
        let now = at("2026-02-01T08:00:00Z");
        let used = |pieces, running_hours| Usage { pieces, setups: 0, running_hours };
        let state = |pieces, hours| standing(&plan, &used(pieces, hours), &NOTHING, now).state;
        assert_eq!(state(899, 89.9), PlanState::Ok);
        assert_eq!(state(900, 0.0), PlanState::Due);
        assert_eq!(state(1000, 0.0), PlanState::Due);
        assert_eq!(state(1001, 0.0), PlanState::Overdue);
        assert_eq!(state(0, 100.1), PlanState::Overdue);
    }

    #[test]
    fn a_day_is_forecast_only_where_the_records_tell_a_rate() {
        let plan = plan(Interval { pieces: Some(1000), ..Interval::default() });
        let now = at("2026-02-01T08:00:00Z");
        let used = Usage { pieces: 400, setups: 0, running_hours: 0.0 };
        let of_late = |days, pieces| Recent { days, usage: Usage { pieces, setups: 0, running_hours: 0.0 } };
        // 600 left at 40 a day.
        let found = standing(&plan, &used, &of_late(20.0, 800), now);
        assert_eq!(found.counters[0].rate_per_day, Some(40.0));
        assert_eq!(found.runs_out_on.unwrap().to_string(), "2026-02-16");
        assert!(found.judged_on.contains("rate of the last 20 days"), "{}", found.judged_on);
        let too_short = standing(&plan, &used, &of_late(13.0, 800), now);
        assert!(too_short.runs_out_on.is_none() && too_short.judged_on.contains("fewer than 14 days"));
        let idle = standing(&plan, &used, &NOTHING, now);
        assert!(idle.runs_out_on.is_none() && idle.judged_on.contains("nothing was used"));
        // Beyond ten years nobody plans.
        assert!(standing(&plan, &used, &of_late(90.0, 1), now).runs_out_on.is_none());
    }

    #[test]
    fn doing_it_begins_anew() {
        let mut plan = plan(Interval { days: Some(30), ..Interval::default() });
        let now = at("2026-03-01T08:00:00Z");
        assert_eq!(standing(&plan, &Usage::default(), &NOTHING, now).state, PlanState::Overdue);
        plan.last_done_at = Some(at("2026-02-28T08:00:00Z"));
        assert_eq!(standing(&plan, &Usage::default(), &NOTHING, now).state, PlanState::Ok);
    }

    proptest! {
        /// More use never makes a plan stand better, and never puts the day off.
        #[test]
        fn more_use_is_never_better(pieces in 0_i64..3000, more in 0_i64..2000, every in 1_i64..2000, rate in 1_i64..500) {
            let plan = plan(Interval { pieces: Some(every), ..Interval::default() });
            let now = at("2026-02-01T08:00:00Z") + TimeDelta::hours(3);
            let recent = Recent { days: 30.0, usage: Usage { pieces: rate * 30, setups: 0, running_hours: 0.0 } };
            let of = |pieces| standing(&plan, &Usage { pieces, ..Usage::default() }, &recent, now);
            let (less, more) = (of(pieces), of(pieces + more));
            prop_assert!(less.state <= more.state);
            prop_assert!(less.runs_out_on >= more.runs_out_on);
            prop_assert_eq!(less.counters[0].measure, Measure::Pieces);
        }
    }
}
