//! The days of a job: from its planned start to its planned or estimated end.

use chrono::{Days, NaiveDate};

/// The longest run that is planned: what goes on for more than a year is planned anew.
pub const LONGEST_RUN_DAYS: u64 = 366;

/// How long a machine is taken to run on one day when an end is estimated: one shift of eight hours, in seconds.
pub const RUNNING_SECONDS_A_DAY: f64 = 8.0 * 3600.0;

/// Whole days, first and last included.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Window {
    first: NaiveDate,
    last: NaiveDate,
}

impl Window {
    /// The days from `first` to `last`; none when the last lies before the first.
    #[must_use]
    pub fn new(first: NaiveDate, last: NaiveDate) -> Option<Self> {
        (first <= last).then_some(Self { first, last })
    }

    /// A single day.
    #[must_use]
    pub const fn day(day: NaiveDate) -> Self {
        Self { first: day, last: day }
    }

    /// The first day.
    #[must_use]
    pub const fn first(self) -> NaiveDate {
        self.first
    }

    /// The last day.
    #[must_use]
    pub const fn last(self) -> NaiveDate {
        self.last
    }

    /// Whether they share a day.
    #[must_use]
    pub fn overlaps(self, other: Self) -> bool {
        self.first <= other.last && other.first <= self.last
    }

    /// The same days, prolonged to `day` where that lies later.
    #[must_use]
    pub fn until_at_least(self, day: NaiveDate) -> Self {
        Self { first: self.first, last: self.last.max(day) }
    }

    /// Every day of it.
    pub fn days(self) -> impl Iterator<Item = NaiveDate> {
        self.first.iter_days().take_while(move |day| *day <= self.last)
    }
}

/// What the last day of a job rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EndBasis {
    /// It was planned.
    Planned,
    /// Estimated from the part's cycle time.
    CycleTime,
    /// Estimated from the part's cycle time, and cut off at [`LONGEST_RUN_DAYS`].
    CycleTimeCutOff,
    /// Neither an end nor a cycle time is on record: one day.
    OneDay,
}

/// How long a machine runs for so many pieces, in seconds. `cycle_seconds` is the time of one machine cycle, in which
/// `pieces_per_cycle` pieces drop.
#[must_use]
pub fn running_seconds(quantity: i64, cycle_seconds: f64, pieces_per_cycle: u8) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "at most 10^9 pieces")]
    let cycles = (quantity as f64 / f64::from(pieces_per_cycle.max(1))).ceil();
    cycles * cycle_seconds
}

/// The days of a job of so many pieces. `cycle_seconds` is the time of one machine cycle, in which `pieces_per_cycle`
/// pieces drop.
#[must_use]
pub fn run_window(
    start: NaiveDate,
    planned_end: Option<NaiveDate>,
    quantity: i64,
    cycle_seconds: Option<f64>,
    pieces_per_cycle: u8,
) -> (Window, EndBasis) {
    if let Some(window) = planned_end.and_then(|end| Window::new(start, end)) {
        return (window, EndBasis::Planned);
    }
    let Some(cycle_seconds) = cycle_seconds else { return (Window::day(start), EndBasis::OneDay) };
    let days = (running_seconds(quantity, cycle_seconds, pieces_per_cycle) / RUNNING_SECONDS_A_DAY).ceil().max(1.0);
    #[expect(clippy::cast_precision_loss, reason = "a small number")]
    let longest = LONGEST_RUN_DAYS as f64;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 1 to LONGEST_RUN_DAYS")]
    let counted = days.min(longest) as u64;
    let basis = if days > longest { EndBasis::CycleTimeCutOff } else { EndBasis::CycleTime };
    let last = start.checked_add_days(Days::new(counted - 1)).unwrap_or(start);
    (Window { first: start, last }, basis)
}

#[cfg(test)]
mod tests {
    use super::{EndBasis, Window, run_window};
    use chrono::NaiveDate;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[test]
    fn windows_overlap_when_they_share_a_day() {
        let window = |first, last| Window::new(day(first), day(last)).unwrap();
        let week = window("2027-01-11", "2027-01-15");
        assert!(week.overlaps(window("2027-01-15", "2027-01-20")) && week.overlaps(window("2027-01-12", "2027-01-12")));
        assert!(!week.overlaps(window("2027-01-16", "2027-01-20")));
        assert!(!window("2027-01-16", "2027-01-20").overlaps(week));
        assert_eq!(week.days().count(), 5);
        assert_eq!(Window::new(day("2027-01-02"), day("2027-01-01")), None);
    }

    #[test]
    fn an_end_is_planned_or_follows_from_the_cycle_or_is_the_same_day() {
        let start = day("2027-01-11");
        let ends = |end, quantity, cycle, pieces| {
            let (window, basis) = run_window(start, end, quantity, cycle, pieces);
            assert_eq!(window.first(), start);
            (window.last().to_string(), basis)
        };
        assert_eq!(ends(Some(day("2027-01-13")), 1, Some(9.0), 1), ("2027-01-13".to_owned(), EndBasis::Planned));
        // 14,400 pieces, two a cycle of 8 s: 57,600 s, exactly two days of 28,800 s; one piece more takes a third.
        assert_eq!(ends(None, 14_400, Some(8.0), 2), ("2027-01-12".to_owned(), EndBasis::CycleTime));
        assert_eq!(ends(None, 14_401, Some(8.0), 2), ("2027-01-13".to_owned(), EndBasis::CycleTime));
        assert_eq!(ends(None, 14_400, None, 2), ("2027-01-11".to_owned(), EndBasis::OneDay));
        let (window, basis) = run_window(start, None, 1_000_000_000, Some(3600.0), 1);
        assert_eq!((window.days().count(), basis), (366, EndBasis::CycleTimeCutOff));
    }
}
