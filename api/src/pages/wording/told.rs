//! What the rules and calculations say, in the reader's language.
//!
//! Those sentences are made where they are found, in English, with their facts inside. A wording file of another language
//! holds a pattern for each: the English sentence with slots in place of the facts, and the same in that language. What is
//! found in a slot is looked up in turn, so that "a holder" or "needs grinding" needs one entry, wherever it stands. A
//! refusal whose sentence has no entry is told by its rule's general sentence.

use super::phrase::{Part, Phrase};
use dovetally_core::refusal::Refusal;
use serde::{Deserialize, Deserializer, de::Error};
use std::collections::BTreeMap;

/// What a language says of what the program tells in English. English says nothing of it.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Told {
    /// Each rule, by its id.
    rules: BTreeMap<String, RuleWords>,
    /// English patterns, and what they are here. Of those that fit, the one that leaves least to its slots is taken.
    #[serde(deserialize_with = "read")]
    sentences: Vec<Pattern>,
}

/// An English sentence with slots, and the same in this language.
#[derive(Clone, Debug)]
struct Pattern {
    english: Phrase,
    here: Phrase,
}

fn read<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<Pattern>, D::Error> {
    let sentences = BTreeMap::<String, Phrase>::deserialize(deserializer)?;
    let pattern = |(english, here): (String, Phrase)| Ok(Pattern { english: Phrase::parse(&english)?, here });
    sentences.into_iter().map(pattern).collect::<Result<_, String>>().map_err(D::Error::custom)
}

/// A rule's words.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RuleWords {
    /// The rule in one sentence.
    pub says: String,
    /// What clears it.
    pub clears: String,
}

/// A refusal in the reader's words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToldRefusal {
    /// What stands in the way.
    pub sentence: String,
    /// What was seen.
    pub saw: Option<String>,
    /// What clears it.
    pub clears: String,
}

impl Told {
    /// A sentence of the program in this language; as it is where nothing fits.
    #[must_use]
    pub fn sentence(&self, english: &str) -> String {
        self.known(english).unwrap_or_else(|| english.to_owned())
    }

    fn known(&self, english: &str) -> Option<String> {
        let fits = self.sentences.iter().filter_map(|pattern| {
            let found = captured(&pattern.english.parts, english)?;
            let left: usize = found.iter().map(|(_, value)| value.len()).sum();
            Some((left, pattern, found))
        });
        let (_, pattern, found) = fits.min_by_key(|(left, ..)| *left)?;
        Some(pattern.here.filled_by(|slot| {
            let (_, value) = found.iter().find(|(name, _)| *name == slot)?;
            // A slot that takes the whole sentence would be looked up for ever.
            Some(if value.len() < english.len() { self.sentence(value) } else { (*value).to_owned() })
        }))
    }

    /// A refusal in this language.
    #[must_use]
    pub fn refusal(&self, refusal: &Refusal) -> ToldRefusal {
        let rule = self.rules.get(refusal.rule.id());
        let general = |of: fn(&RuleWords) -> &String, english: &str| {
            self.known(english).or_else(|| rule.map(|rule| of(rule).clone())).unwrap_or_else(|| english.to_owned())
        };
        ToldRefusal {
            sentence: general(|rule| &rule.says, &refusal.sentence),
            saw: refusal.saw.as_deref().map(|saw| self.sentence(saw)),
            clears: general(|rule| &rule.clears, &refusal.clears),
        }
    }

    /// The ids of the rules that have words here.
    pub fn rules(&self) -> impl Iterator<Item = &str> {
        self.rules.keys().map(String::as_str)
    }

    /// The patterns whose translation asks for a slot that they do not have.
    #[must_use]
    pub fn faults(&self) -> Vec<String> {
        let mut faults = Vec::new();
        for Pattern { english, here } in &self.sentences {
            let known: Vec<&str> = english.slots().collect();
            let unknown = here.slots().filter(|slot| !known.contains(slot));
            faults.extend(unknown.map(|slot| format!("\"{}\" has no {{{slot}}}", english.text())));
        }
        faults
    }

    /// The patterns whose own sentences are told by another one, or by none.
    #[must_use]
    pub fn mistaken(&self) -> Vec<String> {
        let fact = |_: &str| Some("X-7".to_owned());
        let wrong = |pattern: &&Pattern| {
            self.known(&pattern.english.filled_by(fact)).as_deref() != Some(pattern.here.filled_by(fact).as_str())
        };
        self.sentences.iter().filter(wrong).map(|pattern| pattern.english.text().to_owned()).collect()
    }
}

/// What a sentence has in the slots of a pattern that it fits: each slot takes as little as it can.
fn captured<'p, 's>(pattern: &'p [Part], sentence: &'s str) -> Option<Vec<(&'p str, &'s str)>> {
    let mut found = Vec::new();
    let mut rest = sentence;
    let mut open: Option<&str> = None;
    for (index, part) in pattern.iter().enumerate() {
        match (part, open) {
            (Part::Slot(name), None) => open = Some(name),
            // Two slots side by side: nobody could say where one ends.
            (Part::Slot(_), Some(_)) => return None,
            (Part::Text(text), None) => rest = rest.strip_prefix(text.as_str())?,
            (Part::Text(text), Some(name)) => {
                let last = index + 1 == pattern.len();
                let at = if last { rest.strip_suffix(text.as_str())?.len() } else { rest.find(text.as_str())? };
                if at == 0 {
                    return None;
                }
                found.push((name, &rest[..at]));
                rest = &rest[at + text.len()..];
                open = None;
            }
        }
    }
    match open {
        Some(name) if !rest.is_empty() => found.push((name, rest)),
        Some(_) => return None,
        None if rest.is_empty() => {}
        None => return None,
    }
    Some(found)
}

#[cfg(test)]
mod tests {
    use super::Told;
    use dovetally_core::refusal::{Refusal, Rule};

    fn told() -> Told {
        serde_json::from_str(
            r#"{
            "rules": {"item-unknown": {"says": "Der Code ist nicht bekannt.", "clears": "Lies den Code am Teil."}},
            "sentences": {
                "Gauge {code} was cut for machine {owner}, not for {machine}.":
                    "Lehre {code} gehört zu Maschine {owner}, nicht zu {machine}.",
                "{code} is {what}.": "{code} ist {what}.",
                "a holder": "ein Halter",
                "cut for {machine}": "gehört zu {machine}"
            }}"#,
        )
        .unwrap()
    }

    #[test]
    fn facts_move_into_the_other_languages_sentence() {
        let told = told();
        let sentence = told.sentence("Gauge CG-1 was cut for machine M-1, not for M-2.");
        assert_eq!(sentence, "Lehre CG-1 gehört zu Maschine M-1, nicht zu M-2.");
        assert_eq!(told.sentence("H-1 is a holder."), "H-1 ist ein Halter.");
        assert_eq!(told.sentence("Nobody knows."), "Nobody knows.");
        assert_eq!(told.faults(), Vec::<String>::new());
    }

    #[test]
    fn a_refusal_falls_back_to_its_rule() {
        let refusal = Refusal::new(Rule::ItemUnknown, "X-9 vanished").saw("cut for M-3");
        let told = told().refusal(&refusal);
        assert_eq!(told.sentence, "Der Code ist nicht bekannt.");
        assert_eq!((told.saw.as_deref(), told.clears.as_str()), (Some("gehört zu M-3"), "Lies den Code am Teil."));
        let english = Told::default().refusal(&refusal);
        assert_eq!((english.sentence, english.clears), (refusal.sentence, refusal.clears));
    }

    #[test]
    fn a_translation_cannot_ask_for_what_the_sentence_does_not_have() {
        let told: Told = serde_json::from_str(r#"{"rules": {}, "sentences": {"{a} is.": "{b} ist."}}"#).unwrap();
        assert_eq!(told.faults().len(), 1);
    }
}
