//! How somebody wants the pages: language, numbers, days, light or dark, and how their scanner types.
//!
//! They belong to the browser: a counter's scanner and a phone's differ whoever is signed in. They are kept in a cookie, so
//! that no page has to read them from the records; what is not chosen follows what the browser says of itself.

use super::{
    numbers::{DayStyle, DecimalMark},
    wording::Language,
};
use crate::cookie::{self, NewCookie};
use actix_web::{HttpRequest, http::header};
use chrono::{DateTime, FixedOffset, NaiveDateTime, TimeDelta, Utc};
use dovetally_core::{length::LengthUnit, named};

const COOKIE: &str = "dovetally_preferences";
/// Where scripts write how many minutes the reader's clock is ahead of UTC. What the server draws can tell the time by it.
const CLOCK: &str = "dovetally_clock";

named! {
    /// Light or dark.
    Look {
        /// As the system is.
        System = "system",
        /// Light.
        Light = "light",
        /// Dark.
        Dark = "dark",
    }
}

/// How a scanner that types like a keyboard is told from a hand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Scanner {
    /// The character that it types first; empty when it has none, and then its pace tells it.
    pub prefix: String,
    /// The longest pause between two of its characters, in milliseconds.
    pub longest_gap: u16,
    /// The fewest characters of a scan.
    pub fewest: u8,
}

/// How somebody wants the pages.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Preferences {
    /// The language.
    pub language: Language,
    /// What stands before decimals.
    pub mark: DecimalMark,
    /// How days are written.
    pub days: DayStyle,
    /// The unit that a box begins with where the records do not say.
    pub unit: LengthUnit,
    /// Whether somebody chose that unit: then a box begins with it whatever the records say.
    pub unit_chosen: bool,
    /// Light or dark.
    pub look: Look,
    /// The scanner.
    pub scanner: Scanner,
    /// How far the reader's clock is ahead of UTC; none where no script has told yet.
    pub clock: Option<FixedOffset>,
}

impl Scanner {
    /// What works for scanners as they come: they type faster than any hand, a whole code at a time.
    fn usual() -> Self {
        Self { prefix: String::new(), longest_gap: 35, fewest: 4 }
    }
}

impl Preferences {
    /// What nobody chose: as the browser's language has it.
    fn usual(language: Language, tag: &str) -> Self {
        let (mark, days, unit) = match tag.split('-').next().unwrap_or_default() {
            "en" if tag.eq_ignore_ascii_case("en-us") => (DecimalMark::Point, DayStyle::MonthFirst, LengthUnit::Inch),
            "en" | "" | "*" => (DecimalMark::Point, DayStyle::YearFirst, LengthUnit::Inch),
            "zh" | "ja" | "ko" => (DecimalMark::Point, DayStyle::YearFirst, LengthUnit::Millimetre),
            _ => (DecimalMark::Comma, DayStyle::DayFirst, LengthUnit::Millimetre),
        };
        let (look, scanner) = (Look::System, Scanner::usual());
        Self { language, mark, days, unit, unit_chosen: false, look, scanner, clock: None }
    }

    /// Of a request.
    #[must_use]
    pub fn of(request: &HttpRequest) -> Self {
        let accepted = request.headers().get(header::ACCEPT_LANGUAGE).and_then(|value| value.to_str().ok());
        let accepted = accepted.unwrap_or_default();
        let first = accepted.split([',', ';']).next().unwrap_or_default().trim();
        let spoken = accepted.split(',').find_map(|tag| Language::spoken(tag.split(';').next().unwrap_or_default()));
        let mut preferences = Self::usual(spoken.unwrap_or_default(), first);
        if let Some(kept) = cookie::read(request, COOKIE) {
            kept.split('.').filter_map(|pair| pair.split_once(':')).for_each(|(name, value)| {
                preferences.choose(name, value);
            });
        }
        let minutes = cookie::read(request, CLOCK).and_then(|minutes| minutes.parse::<i32>().ok());
        preferences.clock = minutes.and_then(|minutes| FixedOffset::east_opt(minutes.checked_mul(60)?));
        preferences
    }

    /// An instant as the reader's clock shows it; in UTC until a script has told how far ahead that is.
    #[must_use]
    pub fn local(&self, at: DateTime<Utc>) -> NaiveDateTime {
        self.clock.map_or_else(|| at.naive_utc(), |clock| at.with_timezone(&clock).naive_local())
    }

    /// The unit that a box begins with for what is on record in this one.
    #[must_use]
    pub const fn box_unit(&self, on_record: LengthUnit) -> LengthUnit {
        if self.unit_chosen { self.unit } else { on_record }
    }

    /// Chooses one by its name and the name of its value; whether there is such a choice.
    pub fn choose(&mut self, name: &str, value: &str) -> bool {
        fn set<T>(field: &mut T, value: Option<T>) -> bool {
            value.map(|value| *field = value).is_some()
        }
        match name {
            "language" => set(&mut self.language, Language::from_tag(value)),
            "mark" => set(&mut self.mark, DecimalMark::from_name(value)),
            "days" => set(&mut self.days, DayStyle::from_name(value)),
            "unit" => {
                let known = set(&mut self.unit, LengthUnit::from_sign(value));
                self.unit_chosen |= known;
                known
            }
            "look" => set(&mut self.look, Look::from_name(value)),
            "gap" => set(&mut self.scanner.longest_gap, value.parse().ok().filter(|gap| (5..=500).contains(gap))),
            "fewest" => set(&mut self.scanner.fewest, value.parse().ok().filter(|count| (2..=32).contains(count))),
            // As its character's number: any character is a prefix, and few stand in a cookie.
            "prefix" if value.is_empty() => set(&mut self.scanner.prefix, Some(String::new())),
            "prefix" => {
                let character = value.parse().ok().and_then(char::from_u32).filter(|c| !c.is_control());
                set(&mut self.scanner.prefix, character.map(String::from))
            }
            _ => false,
        }
    }

    /// As the cookie that keeps them for a year.
    #[must_use]
    pub fn cookie(&self, secure: bool) -> NewCookie {
        let prefix = self.scanner.prefix.chars().next().map(|c| u32::from(c).to_string()).unwrap_or_default();
        let value = format!(
            "language:{}.mark:{}.days:{}.unit:{}.look:{}.gap:{}.fewest:{}.prefix:{prefix}",
            self.language.tag(),
            self.mark,
            self.days,
            self.unit.sign(),
            self.look,
            self.scanner.longest_gap,
            self.scanner.fewest,
        );
        NewCookie { name: COOKIE, value, age: TimeDelta::days(365), secure }
    }
}

#[cfg(test)]
mod tests {
    use super::{COOKIE, DayStyle, DecimalMark, Look, Preferences};
    use actix_web::{http::header, test::TestRequest};
    use dovetally_core::length::LengthUnit;

    fn of(language: &str, kept: Option<&str>) -> Preferences {
        let mut request = TestRequest::get().insert_header((header::ACCEPT_LANGUAGE, language));
        if let Some(kept) = kept {
            request = request.insert_header((header::COOKIE, format!("{COOKIE}={kept}")));
        }
        Preferences::of(&request.to_http_request())
    }

    #[test]
    fn what_nobody_chose_follows_the_browser() {
        let american = of("en-US,en;q=0.9", None);
        assert_eq!(
            (american.mark, american.days, american.unit),
            (DecimalMark::Point, DayStyle::MonthFirst, LengthUnit::Inch)
        );
        let german = of("de-AT", None);
        assert_eq!(
            (german.mark, german.days, german.unit),
            (DecimalMark::Comma, DayStyle::DayFirst, LengthUnit::Millimetre)
        );
        assert_eq!(of("", None).scanner.longest_gap, 35);
    }

    #[test]
    fn what_was_chosen_is_kept() {
        let mut chosen = of("en-US", None);
        for (name, value) in [("mark", "comma"), ("unit", "mm"), ("look", "dark"), ("prefix", "126"), ("gap", "80")] {
            assert!(chosen.choose(name, value), "{name}");
        }
        assert_eq!((chosen.look, chosen.scanner.prefix.as_str()), (Look::Dark, "~"));
        assert_eq!(chosen.box_unit(LengthUnit::Inch), LengthUnit::Millimetre);
        let german = of("de", None);
        assert_eq!((german.unit, german.box_unit(LengthUnit::Inch)), (LengthUnit::Millimetre, LengthUnit::Inch));
        let kept = chosen.cookie(false);
        assert_eq!(of("en-US", Some(&kept.value)), chosen);
        assert!(kept.header().to_str().unwrap().contains(&kept.value), "the cookie takes every character");
    }

    #[test]
    fn the_readers_clock_is_what_a_script_wrote() {
        let told = |minutes: &str| {
            let request = TestRequest::get().insert_header((header::COOKIE, format!("dovetally_clock={minutes}")));
            Preferences::of(&request.to_http_request()).clock.map(|clock| clock.local_minus_utc())
        };
        assert_eq!([told("120"), told("-210"), told("0")], [Some(7200), Some(-12600), Some(0)]);
        assert_eq!([told("1440"), told("99999999999"), told("noon"), told("")], [None; 4]);
    }

    #[test]
    fn nonsense_chooses_nothing() {
        let mut preferences = of("en", None);
        let before = preferences.clone();
        for (name, value) in
            [("mark", "dot"), ("gap", "0"), ("fewest", "1"), ("prefix", "10"), ("look", ""), ("x", "y")]
        {
            assert!(!preferences.choose(name, value), "{name}");
        }
        assert_eq!(preferences, before);
        assert_eq!(of("en", Some("mark:dot..x")), before);
    }
}
