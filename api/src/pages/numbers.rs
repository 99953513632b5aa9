//! Numbers, lengths and days as people read and type them.

use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    length::{Length, LengthUnit},
    named,
    reading::Expected,
};

named! {
    /// What stands before the decimals of a number that is shown. Typed, either does.
    DecimalMark {
        /// 12.345
        Point = "point",
        /// 12,345
        Comma = "comma",
    }
}

named! {
    /// How a day is written.
    DayStyle {
        /// 2026-11-25
        YearFirst = "year-first",
        /// 25.11.2026
        DayFirst = "day-first",
        /// 11/25/2026
        MonthFirst = "month-first",
    }
}

named! {
    /// Why a typed text is not a measured value.
    MeasuredFault {
        /// Nothing was typed.
        Empty = "empty",
        /// More than one point or comma: nobody can tell what "1,234.5" was meant to be.
        TwoMarks = "two-marks",
        /// A sign was typed: it is chosen beside the box.
        Sign = "sign",
        /// No sign was chosen.
        NoSign = "no-sign",
        /// Something else than digits.
        NotANumber = "not-a-number",
        /// Beyond what any length here can be.
        TooLarge = "too-large",
    }
}

/// Reads a measured value: digits, with one point or one comma at the most.
///
/// # Errors
/// Why it is not one.
pub fn read_measured(typed: &str) -> Result<f64, MeasuredFault> {
    let text = typed.trim();
    if text.is_empty() {
        return Err(MeasuredFault::Empty);
    }
    if text.starts_with(['+', '-', '\u{2212}']) {
        return Err(MeasuredFault::Sign);
    }
    if text.chars().filter(|c| matches!(c, '.' | ',')).count() > 1 {
        return Err(MeasuredFault::TwoMarks);
    }
    let digits = text.chars().filter(char::is_ascii_digit).count();
    if digits == 0 || !text.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',')) {
        return Err(MeasuredFault::NotANumber);
    }
    text.replace(',', ".").parse().map_err(|_| MeasuredFault::NotANumber)
}

/// Reads a measured value whose sign was chosen beside the box: "plus" or "minus". Nought needs none.
///
/// # Errors
/// Why it is not one.
pub fn read_signed(typed: &str, sign: &str) -> Result<f64, MeasuredFault> {
    let value = read_measured(typed)?;
    match sign_of(sign) {
        "minus" => Ok(-value),
        "plus" => Ok(value),
        _ if value == 0.0 => Ok(value),
        _ => Err(MeasuredFault::NoSign),
    }
}

/// The sign that was chosen beside a box, for `parts::measured`: "open" where none was.
#[must_use]
pub fn sign_of(chosen: &str) -> &'static str {
    match chosen {
        "plus" => "plus",
        "minus" => "minus",
        _ => "open",
    }
}

/// Reads a measured length without a sign.
///
/// # Errors
/// Why it is not one.
pub fn read_length(typed: &str, unit: LengthUnit) -> Result<Length, MeasuredFault> {
    Length::new(read_measured(typed)?, unit).map_err(|_| MeasuredFault::TooLarge)
}

/// Reads a measured length; its sign was chosen beside the box.
///
/// # Errors
/// Why it is not one.
pub fn read_signed_length(typed: &str, unit: LengthUnit, sign: &str) -> Result<Length, MeasuredFault> {
    Length::new(read_signed(typed, sign)?, unit).map_err(|_| MeasuredFault::TooLarge)
}

/// A forecast with the three figures that it bears.
#[must_use]
pub fn three_figures(count: i64) -> i64 {
    let step = 10_i64.pow(count.unsigned_abs().max(1).ilog10().saturating_sub(2));
    (count + step / 2) / step * step
}

/// What a measured length that is held beside a target is expected to be. `width` is how far its limits lie apart, or how
/// far it may lie from its target where there is only one limit.
#[must_use]
pub fn near(target: Length, width: Length) -> Expected {
    let allowed = width.abs().picometres().saturating_mul(10).max(target.abs().picometres() / 50);
    Expected::about(target, Length::from_picometres(allowed, target.unit()))
}

/// A length as it is shown: as it was entered, and in the other unit; of a circular tool the angle, and its arc.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShownLength {
    /// As entered: "0.375 in".
    pub entered: String,
    /// In the other unit, rounded to what a shop reads: "9.525 mm".
    pub other: String,
}

impl DecimalMark {
    /// A number with this mark, as the shortest text that reads back as it.
    #[must_use]
    pub fn number(self, value: f64) -> String {
        self.mark(value.to_string())
    }

    /// A number with this mark, rounded to so many decimals, without zeros at the end.
    #[must_use]
    pub fn rounded(self, value: f64, decimals: usize) -> String {
        let text = format!("{value:.decimals$}");
        let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
        self.mark(if text == "-0" { "0".to_owned() } else { text.to_owned() })
    }

    /// A length with this mark.
    #[must_use]
    pub fn length(self, length: Length) -> ShownLength {
        ShownLength {
            entered: format!("{} {}", self.number(length.value()), length.unit().sign()),
            other: self.mark(length.words_in(length.unit().other())),
        }
    }

    /// A length that was calculated, with no more digits than a shop reads.
    #[must_use]
    pub fn calculated(self, length: Length) -> ShownLength {
        ShownLength { entered: self.mark(length.read_off()), other: self.mark(length.words_in(length.unit().other())) }
    }

    /// A sentence of the program with this mark in what it measures: a number with a point that a unit follows. What no
    /// unit follows may be a code.
    #[must_use]
    pub fn sentence(self, text: &str) -> String {
        const UNITS: [&str; 7] = ["in", "mm", "%", "h", "degrees", "Grad", "°"];
        const ENDS: [char; 6] = ['.', ',', ';', ':', ')', '?'];
        let words: Vec<&str> = text.split(' ').collect();
        let measured = |index: usize, word: &str| {
            let number = word.trim_start_matches(['(', '±', '-', '+', '\u{2212}']);
            let attached = number.trim_end_matches(ENDS).strip_suffix('°');
            let unit = words.get(index + 1).map(|unit| unit.trim_end_matches(ENDS));
            let (number, unit) = attached.map_or((number, unit), |number| (number, Some("°")));
            number.chars().all(|c| c.is_ascii_digit() || c == '.')
                && number.parse::<f64>().is_ok()
                && unit.is_some_and(|unit| UNITS.contains(&unit))
        };
        let marked = words.iter().enumerate().map(|(index, word)| {
            if !measured(index, word) {
                return (*word).to_owned();
            }
            // The point that ends the sentence stays one.
            let number = word.trim_end_matches(ENDS);
            self.mark(number.to_owned()) + &word[number.len()..]
        });
        marked.collect::<Vec<_>>().join(" ")
    }

    fn mark(self, text: String) -> String {
        match self {
            Self::Point => text,
            Self::Comma => text.replace('.', ","),
        }
    }
}

/// A sentence of the program with its lengths in the other unit; none where it has no length. A number without a decimal
/// point before "in" may count something: "spindle 3 in the mean".
#[must_use]
pub fn in_other_unit(sentence: &str) -> Option<String> {
    const BEFORE: [char; 4] = ['(', '±', '-', '\u{2212}'];
    const AFTER: [char; 6] = ['.', ',', ';', ':', ')', '?'];
    let mut words: Vec<String> = sentence.split(' ').map(str::to_owned).collect();
    let mut any = false;
    for at in 1..words.len() {
        let (number, unit) = (&words[at - 1], &words[at]);
        let digits = number.trim_start_matches(BEFORE);
        let sign = unit.trim_end_matches(AFTER);
        let read = LengthUnit::from_sign(sign).zip(digits.parse().ok());
        let read = read.filter(|(unit, _)| *unit == LengthUnit::Millimetre || digits.contains('.'));
        let Some(length) = read.and_then(|(unit, value)| Length::new(value, unit).ok()) else { continue };
        let other = length.words_in(length.unit().other());
        let (before, after) = (&number[..number.len() - digits.len()], &unit[sign.len()..]);
        let (value, unit) = other.split_once(' ').unwrap_or((&other, ""));
        (words[at - 1], words[at]) = (format!("{before}{value}"), format!("{unit}{after}"));
        any = true;
    }
    any.then(|| words.join(" "))
}

impl DayStyle {
    /// A sentence of the program with its days in this style: what is written 2026-11-05 and stands alone.
    #[must_use]
    pub fn sentence(self, text: &str) -> String {
        let joined = |c: char| c.is_alphanumeric() || c == '-';
        let mut said = String::with_capacity(text.len());
        let mut rest = text;
        while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
            let (before, from) = rest.split_at(at);
            said.push_str(before);
            let length = from.find(|c: char| !joined(c)).unwrap_or(from.len());
            let (word, after) = from.split_at(length);
            let alone = !said.ends_with(joined);
            match word.parse().ok().filter(|_: &NaiveDate| alone && word.len() == 10) {
                Some(day) => said.push_str(&self.day(day)),
                None => said.push_str(word),
            }
            rest = after;
        }
        said + rest
    }

    /// A day in this style.
    #[must_use]
    pub fn day(self, day: NaiveDate) -> String {
        let pattern = match self {
            Self::YearFirst => "%Y-%m-%d",
            Self::DayFirst => "%d.%m.%Y",
            Self::MonthFirst => "%m/%d/%Y",
        };
        day.format(pattern).to_string()
    }

    /// An instant in this style, in UTC, to the minute. Scripts show the reader's own time instead.
    #[must_use]
    pub fn instant(self, instant: DateTime<Utc>) -> String {
        format!("{} {} UTC", self.day(instant.date_naive()), instant.format("%H:%M"))
    }
}

#[cfg(test)]
mod tests {
    use super::{
        DayStyle, DecimalMark, MeasuredFault, in_other_unit, near, read_length, read_measured, read_signed_length,
        three_figures,
    };
    use dovetally_core::{
        length::{Length, LengthUnit},
        reading::Doubt,
    };

    fn length(value: f64, unit: LengthUnit) -> Length {
        Length::new(value, unit).unwrap()
    }

    #[test]
    fn point_and_comma_read_alike_and_both_together_do_not() {
        assert_eq!(read_measured("12,345"), Ok(12.345));
        assert_eq!(read_measured(" 12.345 "), Ok(12.345));
        assert_eq!(read_measured(".5"), Ok(0.5));
        assert_eq!(read_measured("5,"), Ok(5.0));
        for (typed, fault) in [
            ("1,234.5", MeasuredFault::TwoMarks),
            ("1.234.5", MeasuredFault::TwoMarks),
            ("", MeasuredFault::Empty),
            (" ", MeasuredFault::Empty),
            ("-1", MeasuredFault::Sign),
            ("+1", MeasuredFault::Sign),
            ("\u{2212}1", MeasuredFault::Sign),
            (".", MeasuredFault::NotANumber),
            ("1e3", MeasuredFault::NotANumber),
            ("1 2", MeasuredFault::NotANumber),
            ("inf", MeasuredFault::NotANumber),
            ("0.375in", MeasuredFault::NotANumber),
            ("\u{663}", MeasuredFault::NotANumber),
        ] {
            assert_eq!(read_measured(typed), Err(fault), "{typed}");
        }
        assert_eq!(read_length("10001", LengthUnit::Millimetre), Err(MeasuredFault::TooLarge));
        assert_eq!(read_length("0,5", LengthUnit::Inch), Ok(length(0.5, LengthUnit::Inch)));
    }

    #[test]
    fn a_sign_is_chosen_and_never_taken_for_granted() {
        let read = |typed: &str, sign: &str| read_signed_length(typed, LengthUnit::Inch, sign);
        assert_eq!(read("0.5", "plus"), Ok(length(0.5, LengthUnit::Inch)));
        assert_eq!(read("0,5", "minus"), Ok(length(-0.5, LengthUnit::Inch)));
        for none in ["", "open", "both"] {
            assert_eq!(read("0.5", none), Err(MeasuredFault::NoSign), "{none}");
        }
        assert_eq!(read("0.0", ""), Ok(length(0.0, LengthUnit::Inch)), "nought has no sign");
        assert_eq!(read("-0.5", ""), Err(MeasuredFault::Sign));
        assert_eq!(read("10001", "minus"), Err(MeasuredFault::TooLarge));
    }

    #[test]
    fn a_value_that_fits_the_other_unit_is_asked_about() {
        let (target, width) = (length(0.375, LengthUnit::Inch), length(0.002, LengthUnit::Inch));
        let doubt = |value, target, width| near(target, width).doubt(length(value, LengthUnit::Inch));
        let in_millimetres = |value| Some(Doubt::OtherUnit(length(value, LengthUnit::Millimetre)));
        assert_eq!(doubt(0.3762, target, width), None);
        assert_eq!(doubt(9.52, target, width), in_millimetres(9.52));
        assert_eq!(doubt(0.475, target, width), Some(Doubt::Far));
        // A deviation: its target is nothing, its limit is all there is.
        let (none, limit) = (length(0.0, LengthUnit::Inch), length(0.002, LengthUnit::Inch));
        assert_eq!(doubt(-0.004, none, limit), None);
        assert_eq!(doubt(0.05, none, limit), in_millimetres(0.05));
        assert_eq!(doubt(5.0, none, limit), Some(Doubt::Far));
    }

    #[test]
    fn a_sentence_is_told_in_the_other_unit() {
        for (sentence, other) in [
            (
                "D1 lies 0.0015 in above its target (±0.0005 in).",
                Some("D1 lies 0.0381 mm above its target (±0.0127 mm)."),
            ),
            ("Move it 0.5 mm, then \u{2212}10 mm.", Some("Move it 0.01969 in, then \u{2212}0.3937 in.")),
            ("Measure spindle 3 in the mean, 25 % of 4 mm/turn.", None),
            ("", None),
        ] {
            assert_eq!(in_other_unit(sentence).as_deref(), other, "{sentence}");
        }
    }

    #[test]
    fn a_length_is_shown_as_entered_and_in_the_other_unit() {
        let shown = DecimalMark::Comma.length(length(0.375, LengthUnit::Inch));
        assert_eq!((shown.entered.as_str(), shown.other.as_str()), ("0,375 in", "9,525 mm"));
        let shown = DecimalMark::Point.length(length(-25.4, LengthUnit::Millimetre));
        assert_eq!((shown.entered.as_str(), shown.other.as_str()), ("-25.4 mm", "-1 in"));
        assert_eq!(DecimalMark::Point.rounded(-0.000_01, 3), "0");
        assert_eq!(DecimalMark::Point.rounded(100.0, 0), "100");
    }

    #[test]
    fn a_sentence_has_the_mark_in_what_it_measures_and_in_no_code() {
        let told = "Gauge 4711.2 reads 0.3752 in (9.53 mm), ±0.5 degrees, 268.25°; 2026-11-05 is 1.5 years (-0.5°).";
        let comma = "Gauge 4711.2 reads 0,3752 in (9,53 mm), ±0,5 degrees, 268,25°; 2026-11-05 is 1.5 years (-0,5°).";
        assert_eq!((DecimalMark::Comma.sentence(told), DecimalMark::Point.sentence(told)), (comma.into(), told.into()));
    }

    #[test]
    fn a_sentence_has_its_days_in_the_style_and_no_code_is_one() {
        let told =
            "It ran out on 2026-11-05 (of 2025-01-31). Job J-2026-11-05, lot 2026-11-05-2, 2026-13-05, über 3.5 mm.";
        let here =
            "It ran out on 11/05/2026 (of 01/31/2025). Job J-2026-11-05, lot 2026-11-05-2, 2026-13-05, über 3.5 mm.";
        assert_eq!(DayStyle::MonthFirst.sentence(told), here);
        assert_eq!(DayStyle::YearFirst.sentence(told), told);
    }

    #[test]
    fn a_forecast_has_three_figures() {
        assert_eq!([0, 999, 12_345, 1_663_313].map(three_figures), [0, 999, 12_300, 1_660_000]);
    }

    #[test]
    fn days_follow_the_style() {
        let at = "2026-11-05T07:08:09Z".parse().unwrap();
        assert_eq!(DayStyle::DayFirst.instant(at), "05.11.2026 07:08 UTC");
        assert_eq!(DayStyle::MonthFirst.day(at.date_naive()), "11/05/2026");
        assert_eq!(DayStyle::YearFirst.day(at.date_naive()), "2026-11-05");
    }

    #[test]
    fn what_is_shown_reads_back() {
        for step in 0..10_000_u32 {
            // No short decimals: thirds and sevenths have every digit that a double has.
            let value = f64::from(step) / 21.0;
            for mark in DecimalMark::ALL {
                assert_eq!(read_measured(&mark.number(value)), Ok(value));
            }
        }
    }
}
