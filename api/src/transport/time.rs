//! Days and instants as requests may name them: of years that both databases hold and sort alike.

use chrono::{DateTime, Datelike, NaiveDate, Utc};
use serde::{Deserialize, Deserializer, de::Error};

/// The years that are written with four digits.
const YEARS: std::ops::RangeInclusive<i32> = 1..=9999;

fn within<T: Datelike, E: Error>(named: T) -> Result<T, E> {
    if YEARS.contains(&named.year()) { Ok(named) } else { Err(E::custom("must be of a year from 0001 to 9999")) }
}

/// Reads a day.
///
/// # Errors
/// The deserializer's, or another year.
pub(super) fn day<'de, D: Deserializer<'de>>(deserializer: D) -> Result<NaiveDate, D::Error> {
    within(NaiveDate::deserialize(deserializer)?)
}

/// Reads a day that may be left out.
///
/// # Errors
/// The deserializer's, or another year.
pub(super) fn optional_day<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<NaiveDate>, D::Error> {
    Option::<NaiveDate>::deserialize(deserializer)?.map(within).transpose()
}

/// Reads an instant that may be left out.
///
/// # Errors
/// The deserializer's, or another year.
pub(super) fn optional_instant<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<DateTime<Utc>>, D::Error> {
    Option::<DateTime<Utc>>::deserialize(deserializer)?.map(within).transpose()
}

#[cfg(test)]
mod tests {
    use super::{day, optional_instant};
    use serde::Deserialize;

    #[derive(Debug, Deserialize)]
    struct Named {
        #[serde(deserialize_with = "day")]
        day: chrono::NaiveDate,
        #[serde(default, deserialize_with = "optional_instant")]
        at: Option<chrono::DateTime<chrono::Utc>>,
    }

    #[test]
    fn years_are_written_with_four_digits() {
        let read = |text: &str| serde_json::from_str::<Named>(text);
        let named = read(r#"{"day":"9999-12-31","at":"2026-11-25T10:00:00Z"}"#).unwrap();
        assert!(named.day.to_string() == "9999-12-31" && named.at.is_some());
        assert!(read(r#"{"day":"2026-02-28"}"#).unwrap().at.is_none());
        for bad in [
            r#"{"day":"+12000-01-01"}"#,
            r#"{"day":"-0001-01-01"}"#,
            r#"{"day":"0000-01-01"}"#,
            r#"{"day":"2026-01-01","at":"-100000-01-01T00:00:00Z"}"#,
            r#"{"day":"2026-01-01","at":"+12000-01-01T00:00:00Z"}"#,
        ] {
            assert!(read(bad).unwrap_err().to_string().starts_with("must be of a year from 0001 to 9999"), "{bad}");
        }
    }
}
