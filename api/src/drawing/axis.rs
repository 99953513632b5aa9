//! Scales and round ticks.

use super::{
    format::{Format, midnight},
    svg::{LETTER, width_of},
};
use chrono::{DateTime, Datelike, Days, NaiveDate, NaiveTime, TimeDelta, Utc};

/// The values that an axis has to show.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Range {
    pub(crate) low: f64,
    pub(crate) high: f64,
}

impl Range {
    /// All finite values, with a twentieth of room at each end; values that are all alike are given room about them.
    pub(crate) fn over(values: impl IntoIterator<Item = f64>, least_width: f64) -> Self {
        let finite = values.into_iter().filter(|value| value.is_finite());
        let (mut low, mut high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        if low > high {
            (low, high) = (0.0, 0.0);
        }
        // Neighbouring doubles are no range that can be divided.
        let least = least_width.max(low.abs().max(high.abs()) * 1e-9);
        let lacking = (least - (high - low)).max(0.0) / 2.0;
        let room = (high - low).max(least) / 20.0;
        Self { low: low - lacking - room, high: high + lacking + room }
    }

    /// From zero up.
    pub(crate) fn from_zero(values: impl IntoIterator<Item = f64>, least_width: f64) -> Self {
        Self { low: 0.0, ..Self::over(values.into_iter().chain([0.0]), least_width) }
    }

    pub(crate) const fn holds(self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }
}

/// A linear way from values to places.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Scale {
    pub(crate) range: Range,
    pub(crate) from: f64,
    pub(crate) to: f64,
}

impl Scale {
    pub(crate) fn at(self, value: f64) -> f64 {
        self.from + (value - self.range.low) / (self.range.high - self.range.low) * (self.to - self.from)
    }
}

/// A tick with what is written at it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Tick {
    pub(crate) value: f64,
    pub(crate) label: String,
}

/// What an axis counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Counts {
    /// Any numbers.
    Numbers,
    /// Whole things: no ticks between them.
    Whole,
    /// Seconds since 1970.
    Time,
}

/// The finest round ticks whose labels stand clear of each other by `fits`. One whose label would not be `seen` whole is left
/// out: a single tick at an end does not make all others coarser.
pub(crate) fn ticks(
    counts: Counts,
    range: Range,
    format: &dyn Format,
    seen: impl Fn(&Tick) -> bool,
    fits: impl Fn(&[Tick]) -> bool,
) -> Vec<Tick> {
    let mut coarsest = Vec::new();
    for step in 0.. {
        let found = match counts {
            Counts::Time => match TIME_STEPS.get(step) {
                Some(step) => step.ticks(range, format),
                None => return coarsest,
            },
            Counts::Numbers | Counts::Whole => match round_step(range, step) {
                Some((_, exponent)) if counts == Counts::Whole && exponent < 0 => continue,
                Some((mantissa, exponent)) => numbers(range, mantissa, exponent, format),
                None => return coarsest,
            },
        };
        let mut found = found.unwrap_or_default();
        found.retain(&seen);
        if !found.is_empty() {
            if fits(&found) {
                return found;
            }
            coarsest = found.into_iter().take(1).collect();
        }
    }
    coarsest
}

/// Where a label centred under its tick begins and ends.
fn reach(tick: &Tick, scale: Scale) -> (f64, f64) {
    let (at, half) = (scale.at(tick.value), width_of(&tick.label) / 2.0);
    (at - half, at + half)
}

/// Whether a label centred under its tick is inside a picture of a width.
pub(crate) fn inside_across(tick: &Tick, scale: Scale, width: f64) -> bool {
    let (left, right) = reach(tick, scale);
    left >= 0.0 && right <= width
}

/// Whether labels centred under their ticks stand clear of each other.
pub(crate) fn fit_across(ticks: &[Tick], scale: Scale) -> bool {
    ticks.windows(2).all(|pair| reach(&pair[0], scale).1 + LETTER / 2.0 <= reach(&pair[1], scale).0)
}

/// Whether labels beside their ticks stand clear of each other.
pub(crate) fn fit_upward(ticks: &[Tick], scale: Scale) -> bool {
    ticks.windows(2).all(|pair| (scale.at(pair[0].value) - scale.at(pair[1].value)).abs() >= 1.8 * LETTER)
}

/// The `index`-th of the round steps 1, 2 and 5 times powers of ten, from about a hundredth of the range up to its width.
fn round_step(range: Range, index: usize) -> Option<(i32, i32)> {
    const MANTISSAS: [i32; 3] = [1, 2, 5];
    #[expect(clippy::cast_possible_truncation, reason = "the exponent of a double lies within ±324")]
    let finest = ((range.high - range.low) / 100.0).log10().floor() as i32;
    let exponent = finest + i32::try_from(index / 3).ok()?;
    (exponent <= finest + 3).then(|| (MANTISSAS[index % 3], exponent))
}

fn numbers(range: Range, mantissa: i32, exponent: i32, format: &dyn Format) -> Option<Vec<Tick>> {
    let scale = 10_f64.powi(exponent.abs());
    // Divided by a whole power of ten, a tick is the double nearest to its decimal.
    let value = |count: f64| {
        let times = count * f64::from(mantissa);
        if exponent < 0 { times / scale } else { times * scale }
    };
    let step = value(1.0);
    let decimals = usize::try_from(-exponent).unwrap_or(0);
    let first = (range.low / step).ceil();
    if !(step > 0.0 && (range.high - range.low) / step < 200.0 && first.abs() < 1e15) {
        return None;
    }
    let all = (0..200_i32).map(|index| value(first + f64::from(index)));
    let inside = all.take_while(|value| *value <= range.high);
    Some(inside.map(|value| Tick { value, label: format.fixed(value, decimals) }).collect())
}

/// A step of the calendar or the clock.
#[derive(Clone, Copy, Debug)]
enum TimeStep {
    Minutes(i64),
    Days(i32),
    Months(i32),
    Years(i32),
}

use TimeStep::{Days as EveryDays, Minutes, Months, Years};

const TIME_STEPS: [TimeStep; 28] = [
    Minutes(1),
    Minutes(2),
    Minutes(5),
    Minutes(10),
    Minutes(15),
    Minutes(30),
    Minutes(60),
    Minutes(120),
    Minutes(180),
    Minutes(360),
    Minutes(720),
    EveryDays(1),
    EveryDays(2),
    EveryDays(5),
    EveryDays(7),
    EveryDays(14),
    Months(1),
    Months(2),
    Months(3),
    Months(6),
    Years(1),
    Years(2),
    Years(5),
    Years(10),
    Years(20),
    Years(50),
    Years(100),
    Years(1000),
];

const SECONDS_A_DAY: f64 = 86_400.0;

impl TimeStep {
    /// About how many seconds it takes.
    fn seconds(self) -> f64 {
        match self {
            Self::Minutes(minutes) => TimeDelta::minutes(minutes).as_seconds_f64(),
            Self::Days(days) => f64::from(days) * SECONDS_A_DAY,
            Self::Months(months) => f64::from(months) * 30.44 * SECONDS_A_DAY,
            Self::Years(years) => f64::from(years) * 365.25 * SECONDS_A_DAY,
        }
    }

    /// The ticks inside a range; none when there would be far too many.
    fn ticks(self, range: Range, format: &dyn Format) -> Option<Vec<Tick>> {
        if (range.high - range.low) / self.seconds() > 100.0 {
            return None;
        }
        let (from, to) = (instant(range.low)?, instant(range.high)?);
        let first_day = format.local(from).date().checked_sub_days(Days::new(1))?;
        let last_day = format.local(to).date();
        let mut found = Vec::new();
        let mut day = self.start(first_day)?;
        while day <= last_day {
            if let Self::Minutes(minutes) = self {
                for count in 0..24 * 60 / minutes {
                    let minute = u32::try_from(count * minutes).unwrap_or(0);
                    let local = day.and_time(NaiveTime::from_hms_opt(minute / 60, minute % 60, 0)?);
                    let label = if minute == 0 { format.day(day) } else { format.time(local) };
                    found.push(Tick { value: seconds(format.instant_of(local)), label });
                }
            } else {
                let label = match self {
                    Self::Years(_) => format.year(day),
                    Self::Months(_) => format.month(day),
                    Self::Days(_) | Self::Minutes(_) => format.day(day),
                };
                found.push(Tick { value: seconds(midnight(format, day)), label });
            }
            day = self.next(day)?;
        }
        found.retain(|tick| range.holds(tick.value));
        // Where the clock is put forward, two times of day are one instant.
        found.dedup_by(|later, earlier| later.value <= earlier.value);
        Some(found)
    }

    /// The last day not after this one on which a tick may stand.
    fn start(self, day: NaiveDate) -> Option<NaiveDate> {
        match self {
            Self::Minutes(_) => Some(day),
            Self::Days(days) => {
                let past = day.num_days_from_ce().rem_euclid(days);
                day.checked_sub_days(Days::new(u64::try_from(past).ok()?))
            }
            Self::Months(months) => {
                let month = i32::try_from(day.month0()).ok()?;
                NaiveDate::from_ymd_opt(day.year(), u32::try_from(month - month.rem_euclid(months)).ok()? + 1, 1)
            }
            Self::Years(years) => NaiveDate::from_ymd_opt(day.year() - day.year().rem_euclid(years), 1, 1),
        }
    }

    fn next(self, day: NaiveDate) -> Option<NaiveDate> {
        match self {
            Self::Minutes(_) => day.succ_opt(),
            Self::Days(days) => day.checked_add_days(Days::new(u64::try_from(days).ok()?)),
            Self::Months(months) => day.checked_add_months(chrono::Months::new(u32::try_from(months).ok()?)),
            Self::Years(years) => NaiveDate::from_ymd_opt(day.year() + years, 1, 1),
        }
    }
}

/// An instant as a number.
pub(crate) fn seconds(at: DateTime<Utc>) -> f64 {
    (at - DateTime::UNIX_EPOCH).as_seconds_f64()
}

/// A number as an instant, to the second.
pub(crate) fn instant(seconds: f64) -> Option<DateTime<Utc>> {
    #[expect(clippy::cast_possible_truncation, reason = "what is too large for an instant is refused by it")]
    let whole = seconds.floor() as i64;
    DateTime::from_timestamp(whole, 0)
}

#[cfg(test)]
mod tests {
    use super::{Counts, Range, Scale, Tick, fit_across, fit_upward, inside_across, instant, ticks};
    use crate::drawing::format::Plain;
    use chrono::{FixedOffset, Utc};
    use proptest::prelude::*;

    const PLAIN: Plain<Utc> = Plain { decimal_mark: '.', zone: Utc };

    fn labels(counts: Counts, low: f64, high: f64) -> Vec<String> {
        // As in a frame, the picture is wider than its axis: a label at either end has room.
        labels_on(counts, (low, high), (60.0, 500.0), 540.0)
    }

    fn labels_on(counts: Counts, (low, high): (f64, f64), (from, to): (f64, f64), width: f64) -> Vec<String> {
        let range = Range { low, high };
        let scale = Scale { range, from, to };
        let inside = |tick: &Tick| inside_across(tick, scale, width);
        let found = ticks(counts, range, &PLAIN, inside, |ticks| fit_across(ticks, scale) && ticks.len() <= 6);
        found.into_iter().map(|tick| tick.label).collect()
    }

    fn at(text: &str) -> f64 {
        super::seconds(text.parse().unwrap())
    }

    #[test]
    fn steps_are_one_two_or_five() {
        assert_eq!(labels(Counts::Numbers, -0.0011, 0.0009), ["\u{2212}0.0010", "\u{2212}0.0005", "0.0000", "0.0005"]);
        assert_eq!(labels(Counts::Whole, -0.1, 2.1), ["0", "1", "2"]);
        assert_eq!(labels(Counts::Numbers, 9.0, 5200.0), ["1000", "2000", "3000", "4000", "5000"]);
    }

    #[test]
    fn times_are_round_on_the_shops_clock() {
        assert_eq!(
            labels(Counts::Time, at("2026-01-20T00:00:00Z"), at("2026-06-02T00:00:00Z")),
            ["2026-02", "2026-03", "2026-04", "2026-05", "2026-06"]
        );
        assert_eq!(
            labels(Counts::Time, at("2026-01-20T14:10:00Z"), at("2026-01-20T16:20:00Z")),
            ["14:30", "15:00", "15:30", "16:00"]
        );
        assert_eq!(
            labels(Counts::Time, at("2026-01-20T22:10:00Z"), at("2026-01-21T02:20:00Z")),
            ["23:00", "2026-01-21", "01:00", "02:00"]
        );
    }

    proptest! {
        /// Whatever the range, there is a tick, each lies inside, and no two labels touch.
        #[test]
        fn ticks_stand_clear(low in -1e9_f64..1e9, width in -6.0_f64..9.0, wide in 180.0_f64..900.0) {
            let range = Range { low, high: low + 10_f64.powf(width).max(low.abs() * 1e-9) };
            let scale = Scale { range, from: 60.0, to: wide - 20.0 };
            let (inside, clear) = (|tick: &Tick| inside_across(tick, scale, wide), |found: &[Tick]| fit_across(found, scale));
            for counts in [Counts::Numbers, Counts::Time] {
                if counts == Counts::Time && range.high - range.low < 240.0 {
                    continue;
                }
                let zone = FixedOffset::east_opt(-19_800).unwrap();
                let found = ticks(counts, range, &Plain { decimal_mark: ',', zone }, inside, clear);
                prop_assert!(!found.is_empty(), "{counts:?} {range:?}");
                prop_assert!(clear(&found) && found.iter().all(inside), "{found:?}");
                prop_assert!(found.iter().all(|tick| range.holds(tick.value)));
                let up = Scale { range, from: 300.0, to: 20.0 };
                let found = ticks(counts, range, &PLAIN, |_| true, |found| fit_upward(found, up));
                prop_assert!(found.len() == 1 || fit_upward(&found, up));
            }
        }
    }

    #[test]
    fn a_label_that_would_be_cut_is_left_out_alone() {
        let to_the_edges = |counts, low, high| labels_on(counts, (low, high), (0.0, 500.0), 500.0);
        assert_eq!(to_the_edges(Counts::Numbers, -0.0011, 0.0009), ["\u{2212}0.0005", "0.0000", "0.0005"]);
        assert_eq!(
            to_the_edges(Counts::Time, at("2026-01-20T00:00:00Z"), at("2026-06-02T00:00:00Z")),
            ["2026-02", "2026-03", "2026-04", "2026-05"]
        );
    }

    #[test]
    fn values_that_are_alike_have_room_about_them() {
        let range = Range::over([5.0, 5.0], 1.0);
        assert!(range.low < 4.5 && range.high > 5.5);
        let none = Range::over([], 1.0);
        assert!(none.low < none.high);
        assert!(instant(f64::NAN).is_some() && instant(1e300).is_none());
    }
}
