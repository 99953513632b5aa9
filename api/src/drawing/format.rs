//! How numbers, days and times are written.

use chrono::{DateTime, NaiveDate, NaiveDateTime, TimeDelta, TimeZone, Utc};
use dovetally_core::length::LengthUnit;

/// The minus sign: as wide as a digit, and never taken for a dash between two numbers.
pub const MINUS: char = '\u{2212}';

/// The shop's way to write numbers, days and times.
pub trait Format {
    /// The decimal mark.
    fn decimal_mark(&self) -> char;

    /// The shop's clock and calendar at an instant.
    fn local(&self, at: DateTime<Utc>) -> NaiveDateTime;

    /// A day.
    fn day(&self, day: NaiveDate) -> String {
        day.format("%Y-%m-%d").to_string()
    }

    /// A month, on an axis.
    fn month(&self, day: NaiveDate) -> String {
        day.format("%Y-%m").to_string()
    }

    /// A year, on an axis.
    fn year(&self, day: NaiveDate) -> String {
        day.format("%Y").to_string()
    }

    /// A time of day.
    fn time(&self, at: NaiveDateTime) -> String {
        at.format("%H:%M").to_string()
    }

    /// A day and a time.
    fn instant(&self, at: DateTime<Utc>) -> String {
        let local = self.local(at);
        format!("{} {}", self.day(local.date()), self.time(local))
    }

    /// The instant at which the shop's clock shows a time; where the clock is put back one of the two, where it is put
    /// forward one beside the gap.
    fn instant_of(&self, local: NaiveDateTime) -> DateTime<Utc> {
        let guess = local.and_utc();
        let offset = |at: DateTime<Utc>| self.local(at) - at.naive_utc();
        let near = guess.checked_sub_signed(offset(guess)).unwrap_or(guess);
        guess.checked_sub_signed(offset(near)).unwrap_or(guess)
    }

    /// A number with so many decimals.
    fn fixed(&self, value: f64, decimals: usize) -> String {
        self.written(&format!("{value:.decimals$}"))
    }

    /// A number with as many decimals as it has: what was entered comes back.
    fn exact(&self, value: f64) -> String {
        self.written(&format!("{value}"))
    }

    /// A length: what was measured comes back, what was calculated to a ten-millionth of its unit.
    fn length(&self, value: f64) -> String {
        const FINEST: f64 = 1e7;
        self.exact((value * FINEST).round() / FINEST)
    }

    /// A length, given in one unit, as it reads in another: with no more decimals than a shop reads.
    fn length_in(&self, value: f64, given: LengthUnit, unit: LengthUnit) -> String {
        if unit == given {
            return self.length(value);
        }
        let read = format!("{:.*}", unit.decimals(), value * given.picometres() / unit.picometres());
        self.written(read.trim_end_matches('0').trim_end_matches('.'))
    }

    /// A decimal number as programs write it, as the shop does.
    fn written(&self, plain: &str) -> String {
        let (sign, digits) = plain.strip_prefix('-').map_or(("", plain), |digits| ("-", digits));
        // What rounds to zero has no sign.
        let zero = digits.chars().all(|digit| matches!(digit, '0' | '.'));
        let digits = digits.chars().map(|digit| if digit == '.' { self.decimal_mark() } else { digit });
        (!sign.is_empty() && !zero).then_some(MINUS).into_iter().chain(digits).collect()
    }
}

/// A decimal mark and a time zone, days as ISO 8601 writes them.
#[derive(Clone, Copy, Debug)]
pub struct Plain<Z> {
    /// The decimal mark.
    pub decimal_mark: char,
    /// The time zone.
    pub zone: Z,
}

impl<Z: TimeZone> Format for Plain<Z> {
    fn decimal_mark(&self) -> char {
        self.decimal_mark
    }

    fn local(&self, at: DateTime<Utc>) -> NaiveDateTime {
        at.with_timezone(&self.zone).naive_local()
    }
}

/// Midnight at the beginning of a day, by the shop's clock.
#[must_use]
pub fn midnight(format: &dyn Format, day: NaiveDate) -> DateTime<Utc> {
    format.instant_of(day.and_time(chrono::NaiveTime::MIN))
}

/// The end of a day, by the shop's clock: what is valid on that day is valid until then.
#[must_use]
pub fn end_of(format: &dyn Format, day: NaiveDate) -> DateTime<Utc> {
    midnight(format, day.checked_add_signed(TimeDelta::days(1)).unwrap_or(day))
}

#[cfg(test)]
mod tests {
    use super::{Format, Plain, midnight};
    use chrono::{DateTime, FixedOffset, NaiveDate, NaiveDateTime, TimeDelta, Utc};
    use dovetally_core::length::LengthUnit;

    #[test]
    fn numbers_follow_the_decimal_mark() {
        let comma = Plain { decimal_mark: ',', zone: Utc };
        assert_eq!(comma.fixed(-0.00125, 4), "\u{2212}0,0013");
        assert_eq!(comma.fixed(-0.00001, 3), "0,000");
        assert_eq!(comma.exact(0.3752), "0,3752");
        assert_eq!(comma.exact(-3.0), "\u{2212}3");
        assert_eq!(Plain { decimal_mark: '.', zone: Utc }.fixed(1234.5, 1), "1234.5");
    }

    #[test]
    fn a_length_reads_in_the_other_unit_as_a_shop_reads_it() {
        let point = Plain { decimal_mark: '.', zone: Utc };
        let (inch, millimetre) = (LengthUnit::Inch, LengthUnit::Millimetre);
        assert_eq!(point.length_in(0.375, inch, millimetre), "9.525");
        assert_eq!(point.length_in(25.4, millimetre, inch), "1");
        assert_eq!(point.length_in(10.0, millimetre, inch), "0.3937");
        assert_eq!(point.length_in(-0.000_000_1, inch, millimetre), "0");
        assert_eq!(point.length_in(0.375_2, inch, inch), "0.3752");
    }

    #[test]
    fn times_follow_the_zone() {
        let zone = FixedOffset::east_opt(7200).unwrap();
        let format = Plain { decimal_mark: '.', zone };
        let at: DateTime<Utc> = "2026-03-31T23:30:00Z".parse().unwrap();
        assert_eq!(format.instant(at), "2026-04-01 01:30");
        assert_eq!(format.instant_of(format.local(at)), at);
    }

    /// A clock that is put forward an hour at one instant.
    struct Summer(DateTime<Utc>);

    impl Format for Summer {
        fn decimal_mark(&self) -> char {
            '.'
        }

        fn local(&self, at: DateTime<Utc>) -> NaiveDateTime {
            (at + TimeDelta::hours(if at < self.0 { 1 } else { 2 })).naive_utc()
        }
    }

    #[test]
    fn a_day_begins_at_midnight_on_both_sides_of_summer_time() {
        let summer = Summer("2026-03-29T01:00:00Z".parse().unwrap());
        for day in 25..=31 {
            let day = NaiveDate::from_ymd_opt(2026, 3, day).unwrap();
            assert_eq!(summer.local(midnight(&summer, day)), day.and_hms_opt(0, 0, 0).unwrap());
        }
    }
}
