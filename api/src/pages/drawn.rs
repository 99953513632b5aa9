//! Charts on pages: drawn for a desk and for a phone, with the reader's words, numbers and clock. The style sheet shows the one
//! that fits.

use super::{frame::Frame, preferences::Preferences};
use crate::{
    drawing::{Drawing, Format, Setting, Size, words::Words},
    pages::numbers::{DayStyle, DecimalMark},
};
use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};

/// A chart in both sizes.
#[derive(Clone, Debug)]
pub struct Chart {
    /// For a desk.
    pub wide: Drawing,
    /// For a phone.
    pub narrow: Drawing,
}

/// An instant by the reader's own clock, as far as the server knows it: for sentences in which no script could change it.
#[must_use]
pub fn instant(frame: &Frame, at: DateTime<Utc>) -> String {
    Written(&frame.preferences).instant(at)
}

/// How the reader wants numbers, days and times.
pub(super) struct Written<'p>(pub(super) &'p Preferences);

impl Format for Written<'_> {
    fn decimal_mark(&self) -> char {
        match self.0.mark {
            DecimalMark::Point => '.',
            DecimalMark::Comma => ',',
        }
    }

    fn local(&self, at: DateTime<Utc>) -> NaiveDateTime {
        self.0.local(at)
    }

    fn day(&self, day: NaiveDate) -> String {
        self.0.days.day(day)
    }

    fn month(&self, day: NaiveDate) -> String {
        let pattern = match self.0.days {
            DayStyle::YearFirst => "%Y-%m",
            DayStyle::DayFirst => "%m.%Y",
            DayStyle::MonthFirst => "%m/%Y",
        };
        day.format(pattern).to_string()
    }

    fn time(&self, at: NaiveDateTime) -> String {
        let time = at.format("%H:%M");
        // Where nobody knows the reader's clock, it is said whose time this is.
        if self.0.clock.is_some() { time.to_string() } else { format!("{time} UTC") }
    }
}

impl Chart {
    /// Draws a chart for a reader. `name` is the chart's own on its page.
    #[must_use]
    pub fn of(frame: &Frame, name: &str, draw: impl Fn(&Words, &Setting<'_>) -> Drawing) -> Self {
        let format = Written(&frame.preferences);
        let drawn = |name: &str, size: Size| draw(&frame.words.charts, &Setting { name, size, format: &format });
        Self {
            wide: drawn(&format!("{name}-wide"), Size::WIDE),
            narrow: drawn(&format!("{name}-narrow"), Size::NARROW),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Written;
    use crate::{drawing::Format, pages::preferences::Preferences};
    use actix_web::{http::header, test::TestRequest};

    #[test]
    fn times_are_the_readers_where_their_clock_is_known() {
        let at = "2026-11-05T22:30:00Z".parse().unwrap();
        let told = |cookie: &str| {
            let request = TestRequest::get()
                .insert_header((header::ACCEPT_LANGUAGE, "de"))
                .insert_header((header::COOKIE, cookie));
            Written(&Preferences::of(&request.to_http_request())).instant(at)
        };
        assert_eq!(told("dovetally_clock=120"), "06.11.2026 00:30");
        assert_eq!(told("other=1"), "05.11.2026 22:30 UTC");
    }
}
