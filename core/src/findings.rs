//! The collector that every rule writes to, so that a person is told everything that stands in the way at once.

use crate::refusal::{Refusal, Rule};

/// The rules in force: all of them, always. Only a development build can take one out, to show that the proofs notice; in
/// a release there is nothing that could.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RuleSet {
    removed: Option<Rule>,
}

impl RuleSet {
    /// Every rule.
    pub const ALL: Self = Self { removed: None };

    /// Every rule but one: for proofs that its absence is noticed.
    #[cfg(any(test, debug_assertions))]
    #[must_use]
    pub const fn without(rule: Rule) -> Self {
        Self { removed: Some(rule) }
    }

    /// Whether the rule is in force.
    #[must_use]
    pub fn has(self, rule: Rule) -> bool {
        #[cfg(any(test, debug_assertions))]
        if REMOVED_HERE.get() == Some(rule) {
            return false;
        }
        self.removed != Some(rule)
    }
}

#[cfg(any(test, debug_assertions))]
thread_local! {
    static REMOVED_HERE: std::cell::Cell<Option<Rule>> = const { std::cell::Cell::new(None) };
}

/// Does something without one rule, wherever in this thread it is asked for: for proofs that its absence is noticed.
#[cfg(any(test, debug_assertions))]
pub fn with_rule_removed<T>(rule: Rule, act: impl FnOnce() -> T) -> T {
    /// Puts back what was removed before, even when what is done panics.
    struct PutBack(Option<Rule>);
    impl Drop for PutBack {
        fn drop(&mut self) {
            REMOVED_HERE.set(self.0);
        }
    }
    let _put_back = PutBack(REMOVED_HERE.replace(Some(rule)));
    act()
}

/// Refusals or blockers, in the order in which they were found.
#[derive(Clone, Debug)]
pub struct Findings {
    rules: RuleSet,
    refusals: Vec<Refusal>,
}

impl Findings {
    /// An empty collection under these rules.
    #[must_use]
    pub const fn under(rules: RuleSet) -> Self {
        Self { rules, refusals: Vec::new() }
    }

    /// The rules in force.
    #[must_use]
    pub const fn rules(&self) -> RuleSet {
        self.rules
    }

    /// Adds a refusal, once.
    pub fn add(&mut self, refusal: Refusal) {
        if self.rules.has(refusal.rule) && !self.refusals.contains(&refusal) {
            self.refusals.push(refusal);
        }
    }

    /// Adds a refusal when its rule is broken.
    pub fn add_if(&mut self, broken: bool, refusal: impl FnOnce() -> Refusal) {
        if broken {
            self.add(refusal());
        }
    }

    /// Whether nothing stands in the way.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.refusals.is_empty()
    }

    /// Whether a rule has been found broken.
    #[must_use]
    pub fn includes(&self, rule: Rule) -> bool {
        self.refusals.iter().any(|refusal| refusal.rule == rule)
    }

    /// All that was found.
    #[must_use]
    pub fn into_refusals(self) -> Vec<Refusal> {
        self.refusals
    }
}
