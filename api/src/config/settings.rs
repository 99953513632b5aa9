//! Reading an environment key by key, and reporting everything that is wrong with it at once.

use super::{ConfigErrors, Environment};
use std::{collections::BTreeSet, ops::RangeInclusive, str::FromStr};

const PREFIX: &str = "DOVETALLY_";

/// Keys that belong to the test programs, which start servers with their own environment.
const OF_THE_TESTS: &str = "DOVETALLY_TEST_";

pub(super) struct Settings<'e> {
    environment: &'e Environment,
    known: BTreeSet<&'static str>,
    errors: Vec<String>,
}

impl<'e> Settings<'e> {
    pub(super) fn of(environment: &'e Environment) -> Self {
        Self { environment, known: BTreeSet::new(), errors: Vec::new() }
    }

    /// A key's text; one that is set to nothing is not set.
    pub(super) fn text(&mut self, key: &'static str) -> Option<String> {
        self.known.insert(key);
        self.environment.get(key).map(|value| value.trim().to_owned()).filter(|value| !value.is_empty())
    }

    /// A key's value, described in the error as `what` it is.
    pub(super) fn parsed<T: FromStr>(&mut self, key: &'static str, what: &str) -> Option<T> {
        let text = self.text(key)?;
        let value = text.parse().ok();
        if value.is_none() {
            self.refuse(format!("{key} is {what}"));
        }
        value
    }

    pub(super) fn number(&mut self, key: &'static str, range: RangeInclusive<u32>) -> Option<u32> {
        let what = format!("a number from {} to {}", range.start(), range.end());
        let number = self.parsed::<u32>(key, &what)?;
        if !range.contains(&number) {
            self.refuse(format!("{key} is {what}"));
            return None;
        }
        Some(number)
    }

    pub(super) fn switch(&mut self, key: &'static str) -> Option<bool> {
        self.chosen(key, &[("true", true), ("false", false)])
    }

    pub(super) fn chosen<T: Copy>(&mut self, key: &'static str, choices: &[(&str, T)]) -> Option<T> {
        let text = self.text(key)?;
        let chosen = choices.iter().find(|(name, _)| *name == text).map(|(_, choice)| *choice);
        if chosen.is_none() {
            let names: Vec<_> = choices.iter().map(|(name, _)| *name).collect();
            self.refuse(format!("{key} is {}", names.join(" or ")));
        }
        chosen
    }

    pub(super) fn refuse(&mut self, sentence: impl Into<String>) {
        self.errors.push(sentence.into());
    }

    /// Everything that was wrong, unknown keys included.
    pub(super) fn finish(mut self) -> Result<(), ConfigErrors> {
        for key in self.environment.keys() {
            if key.starts_with(PREFIX) && !key.starts_with(OF_THE_TESTS) && !self.known.contains(key.as_str()) {
                self.errors.push(format!("{key} is not a setting"));
            }
        }
        if self.errors.is_empty() { Ok(()) } else { Err(ConfigErrors(self.errors)) }
    }
}
