//! How values of the trade stand in columns, in one place.

use crate::error::{Error, Result};
use chrono::{DateTime, NaiveDateTime, Utc};
use dovetally_core::{
    code::Code,
    length::{Length, LengthUnit},
};
use serde::{Serialize, de::DeserializeOwned};
use std::str::FromStr;

/// The most values that one statement lists: SQLite takes some thirty thousand, and its plan is made anew for each number.
pub(crate) const MOST_IDS: usize = 1000;

/// Reads an id, a code or anything else that is stored as its text.
pub(crate) fn read<T: FromStr>(text: &str) -> Result<T>
where
    T::Err: std::fmt::Display,
{
    text.parse().map_err(|e| Error::unreadable(format!("{text:?}: {e}")))
}

/// The same where there may be nothing.
pub(crate) fn read_optional<T: FromStr>(text: Option<&str>) -> Result<Option<T>>
where
    T::Err: std::fmt::Display,
{
    text.map(read).transpose()
}

/// Reads an enum's name by its `from_name`.
pub(crate) fn named<T>(name: &str, from_name: impl Fn(&str) -> Option<T>) -> Result<T> {
    from_name(name).ok_or_else(|| Error::unreadable(format!("{name:?} is no known name")))
}

/// Reads a length from its two columns.
pub(crate) fn length(picometres: i64, unit: &str) -> Result<Length> {
    Ok(Length::from_picometres(picometres, named(unit, LengthUnit::from_sign)?))
}

/// Reads a length that may be missing.
pub(crate) fn length_optional(picometres: Option<i64>, unit: Option<&str>) -> Result<Option<Length>> {
    picometres.zip(unit).map(|(picometres, unit)| length(picometres, unit)).transpose()
}

/// A time from its column.
pub(crate) const fn time(naive: NaiveDateTime) -> DateTime<Utc> {
    naive.and_utc()
}

/// A document for a text column.
pub(crate) fn document<T: Serialize + ?Sized>(value: &T) -> Result<String> {
    Ok(serde_json::to_string(value)?)
}

/// A document from a text column.
pub(crate) fn from_document<T: DeserializeOwned>(text: &str) -> Result<T> {
    Ok(serde_json::from_str(text)?)
}

/// A code from its column.
pub(crate) fn code(text: &str) -> Result<Code> {
    read(text)
}

/// Later than anything recorded, and still a time that both databases can hold.
pub(crate) const LATEST: DateTime<Utc> = match DateTime::from_timestamp(253_402_300_799, 0) {
    Some(latest) => latest,
    None => DateTime::UNIX_EPOCH,
};

/// Where a walk from the newest row on begins: before nothing.
pub(crate) fn before_or_newest<I: From<uuid::Uuid> + std::fmt::Display>(
    before: Option<(DateTime<Utc>, I)>,
) -> (NaiveDateTime, String) {
    let (at, id) = before.unwrap_or_else(|| (LATEST, I::from(uuid::Uuid::max())));
    (at.naive_utc(), id.to_string())
}
