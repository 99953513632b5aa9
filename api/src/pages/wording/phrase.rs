//! One phrase of the wording files: text with named slots, `"Not sent: {count} waiting"`.

use serde::{Deserialize, Deserializer, de::Error};
use std::fmt;

/// A phrase as it stands in a wording file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Phrase {
    text: String,
    pub(super) parts: Vec<Part>,
}

/// What a phrase is made of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Part {
    /// Text as it is.
    Text(String),
    /// A slot's name.
    Slot(String),
}

/// A phrase with some of its slots filled.
#[derive(Clone, Debug)]
pub struct Filled<'p> {
    phrase: &'p Phrase,
    values: Vec<(&'static str, String)>,
}

impl Phrase {
    /// Reads a phrase.
    ///
    /// # Errors
    /// In words, for a brace without its other half or a slot without a name.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut parts = Vec::new();
        let mut rest = text;
        while let Some((before, after)) = rest.split_once('{') {
            let (name, behind) = after.split_once('}').ok_or_else(|| format!("\"{text}\" has a brace left open"))?;
            let named =
                !name.is_empty() && name.chars().all(|c| c.is_ascii_lowercase() || c == '_' || c.is_ascii_digit());
            if !named {
                return Err(format!("\"{text}\" has a slot that is not a name"));
            }
            if !before.is_empty() {
                parts.push(Part::Text(before.to_owned()));
            }
            parts.push(Part::Slot(name.to_owned()));
            rest = behind;
        }
        if rest.contains('}') {
            return Err(format!("\"{text}\" closes a brace that it did not open"));
        }
        if !rest.is_empty() {
            parts.push(Part::Text(rest.to_owned()));
        }
        Ok(Self { text: text.to_owned(), parts })
    }

    /// Fills a slot.
    pub fn with(&self, slot: &'static str, value: impl fmt::Display) -> Filled<'_> {
        Filled { phrase: self, values: vec![(slot, value.to_string())] }
    }

    /// The text as it stands in the file, slots and all: for scripts, which fill it themselves.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The names of its slots.
    pub fn slots(&self) -> impl Iterator<Item = &str> {
        self.parts.iter().filter_map(|part| match part {
            Part::Slot(name) => Some(name.as_str()),
            Part::Text(_) => None,
        })
    }

    /// The phrase with what `value` gives for each slot.
    pub(super) fn filled_by(&self, value: impl Fn(&str) -> Option<String>) -> String {
        let mut text = String::new();
        for part in &self.parts {
            match part {
                Part::Text(words) => text.push_str(words),
                Part::Slot(name) => match value(name) {
                    Some(value) => text.push_str(&value),
                    None => {
                        text.push('{');
                        text.push_str(name);
                        text.push('}');
                    }
                },
            }
        }
        text
    }
}

impl Filled<'_> {
    /// Fills another slot.
    #[must_use]
    pub fn with(mut self, slot: &'static str, value: impl fmt::Display) -> Self {
        self.values.push((slot, value.to_string()));
        self
    }
}

impl fmt::Display for Phrase {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl fmt::Display for Filled<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // One pass: a value that holds braces of its own is text.
        let value = |slot: &str| self.values.iter().find(|(name, _)| *name == slot).map(|(_, value)| value.clone());
        f.write_str(&self.phrase.filled_by(value))
    }
}

impl<'de> Deserialize<'de> for Phrase {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Self::parse(&String::deserialize(deserializer)?).map_err(D::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::Phrase;

    #[test]
    fn slots_are_filled_in_one_pass() {
        let phrase = Phrase::parse("{item} is with {name}").unwrap();
        assert_eq!(phrase.with("item", "FT-1").with("name", "{item}").to_string(), "FT-1 is with {item}");
        assert_eq!(phrase.with("item", "FT-1").to_string(), "FT-1 is with {name}");
        assert_eq!(phrase.slots().collect::<Vec<_>>(), ["item", "name"]);
        assert_eq!(Phrase::parse("plain").unwrap().to_string(), "plain");
    }

    #[test]
    fn a_broken_phrase_is_told() {
        for broken in ["{", "}", "{a", "{}", "{A}", "a}b"] {
            assert!(Phrase::parse(broken).is_err(), "{broken}");
        }
    }
}
