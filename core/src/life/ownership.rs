//! Whose a form tool is, for which part it is kept, and what its owner consented to.

use crate::{
    code::Code,
    field_error::{FieldError, FieldErrors},
    ids::PartId,
    names::named,
    refusal::{Refusal, Rule, Subject, SubjectKind},
};
use chrono::NaiveDate;

/// A part, named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartRef {
    /// Its id.
    pub id: PartId,
    /// Its code.
    pub code: Code,
}

/// Whose a tool is and what it is kept for, as people write it. The shop's own tool, for any part, has neither.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Belonging {
    /// The customer who owns it; none for the shop's own.
    pub owner: Option<String>,
    /// The part it is kept for.
    pub reserved_for: Option<PartRef>,
}

impl Belonging {
    /// Everything that cannot be. A customer's tool is kept for a part of theirs: without one nobody could tell what it
    /// may serve.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        if let Some(owner) = &self.owner {
            errors.require_text(owner, 100, "/owner");
            errors.require(self.reserved_for.is_some(), "/reserved_for", "a customer's tool is kept for a part");
        }
        errors.into_vec()
    }
}

named! {
    /// What an owner can consent to.
    ConsentKind {
        /// Grinding the tool.
        Grind = "grind",
        /// Scrapping it: it is retired.
        Scrap = "scrap",
        /// Using it for another part.
        Lend = "lend",
    }
}

/// A consent that was not withdrawn.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Consent {
    /// To what.
    pub kind: ConsentKind,
    /// For a loan, to which part.
    pub part: Option<PartId>,
    /// The last day on which it holds; none for good.
    pub valid_until: Option<NaiveDate>,
}

impl Consent {
    fn holds(&self, on: NaiveDate) -> bool {
        self.valid_until.is_none_or(|last| on <= last)
    }
}

/// What people write about a consent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ConsentFields {
    /// To what.
    pub kind: ConsentKind,
    /// For a loan, to which part.
    pub part: Option<PartId>,
    /// Who gave it, at the owner's.
    pub given_by: String,
    /// The last day on which it holds; none for good.
    pub valid_until: Option<NaiveDate>,
    /// The letter or order that says so, or anything else to know.
    pub note: Option<String>,
}

impl ConsentFields {
    /// Everything that cannot be, on a day.
    #[must_use]
    pub fn check(&self, today: NaiveDate) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require_text(&self.given_by, 100, "/given_by");
        if let Some(note) = &self.note {
            errors.require_text(note, 1000, "/note");
        }
        let lends = self.kind == ConsentKind::Lend;
        errors.require(self.part.is_some() == lends, "/part", "names the part that a tool is lent to, and only then");
        errors.require(self.valid_until.is_none_or(|last| last >= today), "/valid_until", "must not lie in the past");
        errors.into_vec()
    }
}

/// Whose a tool is, with the consents in force: what the rules ask.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ownership {
    /// Whose, and for what.
    pub belonging: Belonging,
    /// The consents that were not withdrawn.
    pub consents: Vec<Consent>,
}

impl Ownership {
    fn consented(&self, on: NaiveDate, to: impl Fn(&Consent) -> bool) -> bool {
        self.consents.iter().any(|consent| to(consent) && consent.holds(on))
    }

    /// Whether grinding needs a consent that is not there on this day.
    #[must_use]
    pub fn grind_refused(&self, tool: &Code, on: NaiveDate) -> Option<Refusal> {
        let owner = self.belonging.owner.as_ref()?;
        let given = self.consented(on, |consent| consent.kind == ConsentKind::Grind);
        (!given).then(|| {
            let sentence = format!("Tool {tool} belongs to {owner}, who has not consented to a grind.");
            about(tool, Rule::GrindWithoutConsent, sentence, owner)
        })
    }

    /// Whether retiring needs a consent that is not there on this day.
    #[must_use]
    pub fn retirement_refused(&self, tool: &Code, on: NaiveDate) -> Option<Refusal> {
        let owner = self.belonging.owner.as_ref()?;
        let given = self.consented(on, |consent| consent.kind == ConsentKind::Scrap);
        (!given).then(|| {
            let sentence = format!("Tool {tool} belongs to {owner}, who has not consented to scrapping it.");
            about(tool, Rule::RetireWithoutConsent, sentence, owner)
        })
    }
}

/// Whether a tool may serve a part on a day, as far as whose it is goes: nothing, or why not. A tool that is kept for a
/// part serves others only with its owner's consent; one of the shop's own that is kept for a part, only once it no
/// longer is. The day is that on which it is to serve, of several the last: a consent that ends before is none.
#[must_use]
pub fn not_for_part(
    tool: &Code,
    ownership: &Ownership,
    part: PartId,
    part_code: &Code,
    on: NaiveDate,
) -> Option<Refusal> {
    let kept_for = ownership.belonging.reserved_for.as_ref().filter(|kept| kept.id != part)?;
    let owner = ownership.belonging.owner.as_ref();
    let lends = |consent: &Consent| consent.kind == ConsentKind::Lend && consent.part == Some(part);
    if owner.is_some() && ownership.consented(on, lends) {
        return None;
    }
    let lent_until = ownership.consents.iter().filter(|consent| lends(consent)).filter_map(|it| it.valid_until).max();
    let saw = format!("kept for {}", kept_for.code);
    let refusal = match owner {
        Some(owner) => {
            let but = lent_until.map_or_else(
                || format!(", not for {part_code}"),
                |last| format!("; for part {part_code} it is lent until {last} only"),
            );
            let sentence = format!("Tool {tool} belongs to {owner} and is kept for part {}{but}.", kept_for.code);
            about(tool, Rule::ReservedForOtherPart, sentence, &saw)
        }
        None => about(
            tool,
            Rule::ReservedForOtherPart,
            format!("Tool {tool} is kept for part {}, not for {part_code}.", kept_for.code),
            &saw,
        )
        .clears("Take another tool, or have a supervisor free this one."),
    };
    Some(refusal)
}

fn about(tool: &Code, rule: Rule, sentence: String, saw: &str) -> Refusal {
    Refusal::new(rule, sentence).saw(saw).about(Subject::coded(SubjectKind::FormTool, tool))
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::findings::{Findings, RuleSet};
    use uuid::Uuid;

    const OWN: PartId = PartId::from_uuid(Uuid::from_u128(1));
    const OTHER: PartId = PartId::from_uuid(Uuid::from_u128(2));

    fn code(text: &str) -> Code {
        Code::parse(text).unwrap()
    }

    fn day(day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 6, day).unwrap()
    }

    fn owned(consents: Vec<Consent>) -> Ownership {
        let reserved_for = Some(PartRef { id: OWN, code: code("P-1") });
        Ownership { belonging: Belonging { owner: Some("Ashby Pumps".to_owned()), reserved_for }, consents }
    }

    fn given(kind: ConsentKind, part: Option<PartId>) -> Consent {
        Consent { kind, part, valid_until: Some(day(10)) }
    }

    /// The rule that refuses, of those in force.
    fn rule(refusal: Option<Refusal>) -> Option<Rule> {
        let mut findings = Findings::under(RuleSet::ALL);
        refusal.into_iter().for_each(|refusal| findings.add(refusal));
        findings.into_refusals().first().map(|refusal| refusal.rule)
    }

    #[test]
    fn the_shops_own_tools_need_no_consent() {
        let own = Ownership::default();
        let tool = code("FT-1");
        assert_eq!(own.grind_refused(&tool, day(1)), None);
        assert_eq!(own.retirement_refused(&tool, day(1)), None);
        assert_eq!(not_for_part(&tool, &own, OTHER, &code("P-2"), day(1)), None);
        let kept = Ownership { belonging: Belonging { owner: None, ..owned(vec![]).belonging }, consents: vec![] };
        assert_eq!(kept.grind_refused(&tool, day(1)), None);
        assert_eq!(rule(not_for_part(&tool, &kept, OTHER, &code("P-2"), day(1))), Some(Rule::ReservedForOtherPart));
        assert_eq!(not_for_part(&tool, &kept, OWN, &code("P-1"), day(1)), None);
    }

    #[test]
    pub(crate) fn each_deed_needs_its_own_consent_while_it_holds() {
        let tool = code("FT-1");
        let asked = |consents: Vec<Consent>, on: NaiveDate| {
            let tool_of = owned(consents);
            (
                rule(tool_of.grind_refused(&tool, on)),
                rule(tool_of.retirement_refused(&tool, on)),
                rule(not_for_part(&tool, &tool_of, OTHER, &code("P-2"), on)),
            )
        };
        let (grind, retire, lend) =
            (Some(Rule::GrindWithoutConsent), Some(Rule::RetireWithoutConsent), Some(Rule::ReservedForOtherPart));
        assert_eq!(asked(vec![], day(1)), (grind, retire, lend));
        assert_eq!(asked(vec![given(ConsentKind::Grind, None)], day(10)), (None, retire, lend));
        assert_eq!(asked(vec![given(ConsentKind::Scrap, None)], day(10)), (grind, None, lend));
        assert_eq!(asked(vec![given(ConsentKind::Lend, Some(OTHER))], day(10)), (grind, retire, None));
        assert_eq!(asked(vec![given(ConsentKind::Lend, Some(OWN))], day(10)), (grind, retire, lend));
        assert_eq!(asked(vec![given(ConsentKind::Grind, None)], day(11)), (grind, retire, lend));
        assert_eq!(not_for_part(&tool, &owned(vec![]), OWN, &code("P-1"), day(1)), None);
    }

    #[test]
    fn what_cannot_be_written_names_the_field() {
        let pointers = |errors: Vec<FieldError>| errors.into_iter().map(|error| error.pointer).collect::<Vec<_>>();
        let nobody = Belonging { owner: Some(" ".to_owned()), reserved_for: None };
        assert_eq!(pointers(nobody.check()), ["/owner", "/reserved_for"]);
        assert!(owned(vec![]).belonging.check().is_empty());
        let consent = ConsentFields {
            kind: ConsentKind::Lend,
            part: None,
            given_by: "R. Ashby".to_owned(),
            valid_until: Some(day(1)),
            note: None,
        };
        assert_eq!(pointers(consent.check(day(2))), ["/part", "/valid_until"]);
        let grind = ConsentFields { kind: ConsentKind::Grind, valid_until: None, ..consent };
        assert!(grind.check(day(2)).is_empty());
    }
}
