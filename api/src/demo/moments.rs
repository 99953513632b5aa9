//! Days and times of the demo shop's files, told from the day of loading, so that the shop is as fresh in ten years as it
//! is now.

use chrono::{DateTime, Datelike, Days, NaiveDate, NaiveTime, Utc, Weekday};
use serde_json::Value;

/// Puts days in the place of their words: `today+30` and `today-30`, and `workday-12` for the twelfth day before today that
/// is no Saturday and no Sunday.
pub(super) fn set_days(value: &mut Value, today: NaiveDate) {
    match value {
        Value::String(text) => {
            if let Some(day) = day_of(text, today) {
                *text = day.to_string();
            }
        }
        Value::Array(items) => items.iter_mut().for_each(|item| set_days(item, today)),
        Value::Object(members) => members.values_mut().for_each(|member| set_days(member, today)),
        _ => {}
    }
}

fn day_of(text: &str, today: NaiveDate) -> Option<NaiveDate> {
    if let Some(days) = text.strip_prefix("today+") {
        today.checked_add_days(Days::new(days.parse().ok()?))
    } else if let Some(days) = text.strip_prefix("today-") {
        today.checked_sub_days(Days::new(days.parse().ok()?))
    } else {
        working_day(text.strip_prefix("workday-")?.parse().ok()?, today)
    }
}

/// The working day so many before today: the first is yesterday, or the Friday before a weekend.
fn working_day(number: u64, today: NaiveDate) -> Option<NaiveDate> {
    let (weeks, days) = (number / 5, number % 5);
    // From a weekend on, counting begins at its Monday.
    let from = match today.weekday() {
        Weekday::Sat => today.checked_add_days(Days::new(2))?,
        Weekday::Sun => today.checked_add_days(Days::new(1))?,
        _ => today,
    };
    let over_a_weekend = days > u64::from(from.weekday().num_days_from_monday());
    from.checked_sub_days(Days::new(weeks * 7 + days + if over_a_weekend { 2 } else { 0 }))
}

/// The instant of a step: `-150 07:42` is 07:42 UTC of the 150th working day before today.
pub(super) fn instant(text: &str, today: NaiveDate) -> Option<DateTime<Utc>> {
    let (number, time) = text.strip_prefix('-')?.split_once(' ')?;
    let number = number.parse().ok().filter(|number| *number > 0)?;
    let time = NaiveTime::parse_from_str(time, "%H:%M").ok()?;
    Some(working_day(number, today)?.and_time(time).and_utc())
}

#[cfg(test)]
mod tests {
    use super::{day_of, instant, working_day};
    use chrono::{Datelike, Days, NaiveDate, Weekday};

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[test]
    fn days_are_told_from_today() {
        let today = day("2026-03-04");
        assert_eq!(day_of("today+30", today), Some(day("2026-04-03")));
        assert_eq!(day_of("today-4", today), Some(day("2026-02-28")));
        assert_eq!(day_of("workday-3", today), Some(day("2026-02-27")));
        assert_eq!(day_of("today", today), None);
        assert_eq!(instant("-3 07:42", today).unwrap().to_rfc3339(), "2026-02-27T07:42:00+00:00");
        for wrong in ["3 07:42", "-0 07:42", "-3 25:00", "-3", "-x 07:42"] {
            assert_eq!(instant(wrong, today), None, "{wrong}");
        }
    }

    /// Against counting day by day, for every weekday of loading.
    #[test]
    fn working_days_are_those_that_counting_finds() {
        for shift in 0..7 {
            let today = day("2026-03-02") + Days::new(shift);
            let mut counted = today;
            for number in 1..=300 {
                counted = counted - Days::new(1);
                while matches!(counted.weekday(), Weekday::Sat | Weekday::Sun) {
                    counted = counted - Days::new(1);
                }
                assert_eq!(working_day(number, today), Some(counted), "{number} before {today}");
            }
        }
    }
}
