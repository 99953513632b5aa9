//! The words of the pages: all of them in one file for each language, read into types.
//!
//! `api/wording/en.json` holds them page by page. A page declares its part with `section!`, beside its handlers, and has
//! a field in [`Words`]; a word that the file lacks, or has too many, fails the tests, in every language. A second
//! language is a second file and a line in [`Language`].

mod names;
mod phrase;
mod told;

pub use phrase::{Filled, Phrase};
pub use told::{Told, ToldRefusal};

use serde::Deserialize;
use std::sync::LazyLock;

/// Declares the words of one page: a struct with a [`Phrase`] for each.
macro_rules! section {
    ($(#[$doc:meta])* $name:ident { $($word:ident),* $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, serde::Deserialize)]
        #[serde(deny_unknown_fields)]
        pub struct $name {
            $(#[doc = concat!("`", stringify!($word), "`, as the wording file has it.")]
            pub $word: $crate::pages::wording::Phrase,)*
        }
    };
}
pub(crate) use section;

macro_rules! languages {
    ($($variant:ident = $tag:literal, $name:literal;)*) => {
        /// The languages that the pages speak. The first is the usual one.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Language {
            $(#[doc = $name] $variant,)*
        }

        impl Language {
            /// All of them.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The tag by which browsers know it.
            #[must_use]
            pub const fn tag(self) -> &'static str {
                match self { $(Self::$variant => $tag,)* }
            }

            /// What its speakers call it.
            #[must_use]
            pub const fn own_name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            const fn file(self) -> &'static str {
                match self { $(Self::$variant => include_str!(concat!("../../wording/", $tag, ".json")),)* }
            }
        }
    };
}

languages! {
    English = "en", "English";
    German = "de", "Deutsch";
}

impl Default for Language {
    fn default() -> Self {
        Self::ALL[0]
    }
}

impl Language {
    /// The language of a tag; `None` for one that the pages do not speak.
    #[must_use]
    pub fn from_tag(tag: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|language| language.tag() == tag)
    }

    /// The language of a browser's tag, whatever its country.
    #[must_use]
    pub fn spoken(tag: &str) -> Option<Self> {
        Self::from_tag(&tag.trim().split('-').next().unwrap_or_default().to_ascii_lowercase())
    }
}

/// All words of a language. Each part has a place of its own: read all at once, they would fill a thread's stack.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Words {
    /// What several pages say.
    pub common: Box<Common>,
    /// Names of kinds, conditions, purposes, as the records name them.
    pub names: Box<Names>,
    /// What is wrong with a number that was typed.
    pub numbers: Box<Numbers>,
    /// Scanning, and what is not sent yet.
    pub scanning: Box<Scanning>,
    /// What went wrong.
    pub problem: Box<super::problems::ProblemWords>,
    /// Signing in.
    pub sign_in: Box<super::sign_in::SignInWords>,
    /// The start.
    pub start: Box<super::start::StartWords>,
    /// Finding things.
    pub find: Box<super::find::FindWords>,
    /// The counter.
    pub counter: Box<super::counter::CounterWords>,
    /// One item.
    pub item: Box<super::item::ItemWords>,
    /// Sizes at the machine.
    pub sizes: Box<super::sizes::SizesWords>,
    /// What to turn.
    pub adjust: Box<super::adjust::AdjustWords>,
    /// The sizes of a setup, drawn.
    pub setup_charts: Box<super::setup_charts::SetupChartsWords>,
    /// Charts.
    pub charts: Box<crate::drawing::words::Words>,
    /// A setup.
    pub setup: Box<super::setup::words::SetupWords>,
    /// Starting a setup.
    pub setup_start: Box<super::setup::words::SetupStartWords>,
    /// The steps of a setup.
    pub steps: Box<super::setup::words::Steps>,
    /// How machines stand.
    pub floor: Box<super::floor::FloorWords>,
    /// The list of machines.
    pub machines: Box<super::machines::MachinesWords>,
    /// One machine.
    pub machine: Box<super::machine::MachineWords>,
    /// Recording a measurement of spindle centres.
    pub center_heights: Box<super::center_heights::CenterHeightsWords>,
    /// The gauge question.
    pub gauge: Box<super::gauge::GaugeWords>,
    /// Handing over.
    pub handover: Box<super::handover::HandoverWords>,
    /// Forms.
    pub forms: Box<super::forms::FormWords>,
    /// Recording a check of a holder.
    pub holder_check: Box<super::holder_checks::HolderCheckWords>,
    /// What is due.
    pub due: Box<super::due::DueWords>,
    /// What form tools have left.
    pub tool_life: Box<super::tool_life::ToolLifeWords>,
    /// The life of one form tool.
    pub tool: Box<super::tool::ToolWords>,
    /// What is left of a tool, as an angle.
    pub left: Box<super::tool_on_record::LeftWords>,
    /// Recording a grind.
    pub regrind: Box<super::regrinds::RegrindWords>,
    /// Recording a check of a form tool.
    pub tool_check: Box<super::tool_checks::ToolCheckWords>,
    /// The drift of a centre gauge.
    pub drift_page: Box<super::drift::DriftPageWords>,
    /// Recording a check of a centre gauge.
    pub gauge_check: Box<super::gauge_checks::GaugeCheckWords>,
    /// The list of impact documents.
    pub impacts: Box<super::impacts::ImpactsWords>,
    /// One impact document.
    pub impact: Box<super::impact::ImpactWords>,
    /// Jobs by readiness.
    pub jobs: Box<super::jobs::JobsWords>,
    /// One job.
    pub job_page: Box<super::job::JobPageWords>,
    /// The list of supplies.
    pub supplies: Box<super::supplies::SuppliesWords>,
    /// One supply.
    pub supply: Box<super::supply::SupplyWords>,
    /// The labels.
    pub labels: Box<super::labels::LabelsWords>,
    /// Maintenance.
    pub maintenance: Box<super::maintenance::MaintenanceWords>,
    /// One work order.
    pub work_order: Box<super::work_order::WorkOrderWords>,
    /// Opening a work order.
    pub new_work_order: Box<super::new_work_order::NewWorkOrderWords>,
    /// Out of service.
    pub tag_out: Box<super::tag_out::TagOutWords>,
    /// People.
    pub people: Box<super::people::PeopleWords>,
    /// The shop's settings.
    pub settings: Box<super::shop_settings::SettingsWords>,
    /// A tool's traveller to the grinder.
    pub traveller: Box<crate::labels::traveller::TravellerWords>,
    /// What the rules and calculations say.
    pub told: Box<Told>,
}

section! {
    /// What several pages say.
    Common {
        product, skip, start, signed_in_as, change_person, sign_out, main_menu, error_prefix, error_summary, save, cancel,
        back, next_page, yes, no, none, in_other_unit, unit_change, sign, plus, minus, unit_in, unit_mm, read_back, read_again, far,
        other_unit_doubt, keep_value, why_not, clears, saw, danger, warning, caution, choose, table_of, check_overdue,
        far_off, small_in_mm, small_in_inch
    }
}

section! {
    /// What is wrong with a number that was typed.
    Numbers { empty, two_marks, sign, no_sign, not_a_number, too_large }
}

section! {
    /// Scanning, and what is not sent yet.
    Scanning { label, go, unsent, not_sent, unsent_of, sign_in_again, sent, dismiss, no_answer }
}

section! {
    /// Names of kinds, conditions, purposes, as the records name them.
    Names {
        form_tool, holder, center_gauge, other, usable, needs_grinding, needs_check, damaged, retired, stale,
        purpose_use, purpose_grind, purpose_check, registered, checked_out, checked_in, transferred, setup, machine,
        tool_design, place, person, job, clerk, setter, inspector, grinder, maintainer, supervisor, administrator, integration
    }
}

impl Words {
    /// The words of a language.
    #[must_use]
    pub fn of(language: Language) -> &'static Self {
        static ALL: LazyLock<Vec<Words>> = LazyLock::new(|| Language::ALL.iter().map(|it| read(*it)).collect());
        &ALL[Language::ALL.iter().position(|known| *known == language).unwrap_or_default()]
    }
}

#[expect(clippy::expect_used, reason = "the files are compiled in, and a test reads each")]
fn read(language: Language) -> Words {
    serde_json::from_str(language.file()).expect("a wording file that reads")
}

#[cfg(test)]
mod tests {
    use super::{Language, Phrase, Words};
    use dovetally_core::refusal::Rule;
    use serde_json::Value;
    use std::collections::BTreeSet;

    /// Every phrase of a file by its path, the program's own sentences aside.
    fn phrases(value: &Value, path: &str, found: &mut Vec<(String, Phrase)>) {
        match value {
            Value::Object(members) => {
                for (name, value) in members.iter().filter(|(name, _)| *name != "told") {
                    phrases(value, &format!("{path}/{name}"), found);
                }
            }
            Value::String(text) => found.push((path.to_owned(), Phrase::parse(text).unwrap())),
            other => panic!("{path} is {other}"),
        }
    }

    fn of(language: Language) -> Vec<(String, Phrase)> {
        let mut found = Vec::new();
        phrases(&serde_json::from_str(language.file()).unwrap(), "", &mut found);
        found
    }

    #[test]
    fn every_language_says_everything_with_the_same_facts() {
        let slots = |phrase: &Phrase| phrase.slots().map(str::to_owned).collect::<BTreeSet<_>>();
        let usual = of(Language::default());
        for language in Language::ALL {
            // Reading is what finds a word that is missing or one too many.
            let words: Words = serde_json::from_str(language.file()).unwrap();
            assert_eq!(words.told.faults(), Vec::<String>::new());
            for ((path, phrase), (other_path, other)) in of(*language).iter().zip(&usual) {
                assert_eq!(path, other_path, "{language:?} has other words");
                assert_eq!(slots(phrase), slots(other), "{language:?} {path}");
                assert!(!phrase.text().trim().is_empty(), "{language:?} {path} says nothing");
            }
        }
    }

    #[test]
    fn a_second_language_tells_every_rule() {
        for language in Language::ALL.iter().skip(1) {
            let known: BTreeSet<&str> = Words::of(*language).told.rules().collect();
            let all: BTreeSet<&str> = Rule::ALL.iter().map(|rule| rule.id()).collect();
            assert_eq!(known, all, "{language:?}");
        }
    }

    #[test]
    fn every_sentence_is_told_by_its_own_pattern() {
        for language in Language::ALL.iter().skip(1) {
            assert_eq!(Words::of(*language).told.mistaken(), Vec::<String>::new(), "{language:?}");
        }
    }

    #[test]
    fn browsers_tags_find_their_language() {
        assert_eq!(Language::spoken("en-US"), Some(Language::English));
        assert_eq!(Language::spoken(" EN "), Some(Language::English));
        assert_eq!(Language::spoken("de-CH"), Some(Language::German));
        assert_eq!(Language::spoken("xx"), None);
    }
}
