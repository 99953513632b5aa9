//! Checks of holders: what was found, and what it makes of the holder.
//!
//! A holder's seat and screws decide whether a tool stays where it was set: a burr on the seat tips it, a side screw that
//! is not free carries it instead of the slide.

use crate::{
    adjuster::{Adjuster, AdjusterKind},
    code::Code,
    field_error::{FieldError, FieldErrors},
    findings::{Findings, RuleSet},
    item::Condition,
    names::named,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    registry::item::{valid_until, within_plan},
};
use chrono::{DateTime, NaiveDate, Utc};

named! {
    /// What may be found on a holder.
    HolderFinding {
        /// Its dovetail or ways are worn.
        WornWays = "worn_ways",
        /// A burr stands on its seat.
        BurrOnSeat = "burr_on_seat",
        /// It is cracked.
        Cracked = "cracked",
        /// A screw is bent.
        BentScrew = "bent_screw",
        /// A thread is stripped.
        StrippedThread = "stripped_thread",
        /// Its clamp is worn.
        WornClamp = "worn_clamp",
        /// Chips, coolant residue or rust where it seats or moves.
        DirtOrRust = "dirt_or_rust",
        /// Something else; the note says what.
        Other = "other",
    }
}

impl HolderFinding {
    /// Whether a holder with this is never accepted. Wear is a matter of judgement, which has to be explained; what tips,
    /// breaks or jams is not.
    #[must_use]
    pub const fn stops_use(self) -> bool {
        matches!(self, Self::BurrOnSeat | Self::Cracked | Self::BentScrew | Self::StrippedThread)
    }
}

/// One check of a holder, as it is recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HolderCheckFields {
    /// Whether it may be used.
    pub accepted: bool,
    /// What was found.
    pub found: Vec<HolderFinding>,
    /// Whether its taper screw turns freely; where it has one.
    pub taper_adjuster_free: Option<bool>,
    /// Whether its height screw turns freely; where it has one.
    pub height_adjuster_free: Option<bool>,
    /// Whether its side screw turns freely; where it has one.
    pub side_screw_free: Option<bool>,
    /// Whether its seat is clean and without burrs.
    pub seat_clean: bool,
    /// What else there is to say.
    pub note: Option<String>,
    /// What it is now, where it is not accepted; waiting for a check when left out.
    pub condition: Option<Condition>,
    /// The last day on which this check is valid; none where holders are not checked by date.
    pub next_check: Option<NaiveDate>,
    /// When it was done.
    pub performed_at: DateTime<Utc>,
}

impl HolderCheckFields {
    /// Each screw that a holder may have: its field, its kind, its words, and the answer.
    const fn screws(&self) -> [(&'static str, AdjusterKind, &'static str, Option<bool>); 3] {
        [
            ("taper_adjuster_free", AdjusterKind::Taper, "taper screw", self.taper_adjuster_free),
            ("height_adjuster_free", AdjusterKind::Height, "height screw", self.height_adjuster_free),
            ("side_screw_free", AdjusterKind::Lateral, "side screw", self.side_screw_free),
        ]
    }

    /// Everything that cannot be, for a holder with these screws that is checked every so many days.
    #[must_use]
    pub fn check(&self, adjusters: &[Adjuster], interval_days: Option<u32>) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.extend(within_plan(self.next_check, self.performed_at.date_naive(), interval_days));
        for (field, kind, words, answer) in self.screws() {
            let pointer = format!("/{field}");
            match (adjusters.iter().any(|adjuster| adjuster.kind() == kind), answer) {
                (true, None) => errors.add(pointer, format!("this holder has a {words}: say whether it turns freely")),
                (false, Some(_)) => errors.add(pointer, format!("this holder has no {words}")),
                _ => {}
            }
        }
        for (index, finding) in self.found.iter().enumerate() {
            let twice = self.found.iter().take(index).any(|before| before == finding);
            errors.require(!twice, format!("/found/{index}"), "is named twice");
        }
        if let Some(note) = &self.note {
            errors.require_text(note, 1000, "/note");
        }
        let unexplained = self.found.contains(&HolderFinding::Other) && self.note.is_none();
        errors.require(!unexplained, "/note", "must say what else was found");
        let worn = self.accepted && !self.found.is_empty() && !self.found.iter().any(|finding| finding.stops_use());
        let in_spite = worn && self.note.is_none();
        errors.require(!in_spite || unexplained, "/note", "must say why it is accepted with what was found");
        if let Some(condition) = self.condition {
            errors.require(!self.accepted, "/condition", "an accepted holder is usable; leave it out");
            let may_be = matches!(condition, Condition::NeedsCheck | Condition::Damaged | Condition::Retired);
            errors.require(may_be, "/condition", "must be needs_check, damaged or retired");
        }
        let kept = self.accepted || self.next_check.is_none();
        errors.require(kept, "/next_check", "what is not accepted is checked again before it is used; leave it out");
        let performed_on = self.performed_at.date_naive();
        let in_order = self.next_check.is_none_or(|day| day >= performed_on);
        errors.require(in_order, "/next_check", "must not lie before the check itself");
        errors.into_vec()
    }

    /// The last day on which the check is valid: as said, or by the holder's own interval.
    #[must_use]
    pub fn valid_until(&self, interval_days: Option<u32>) -> Option<NaiveDate> {
        valid_until(self.next_check, self.performed_at.date_naive(), interval_days)
    }
}

/// What a check makes of a holder: its condition from now on.
///
/// # Errors
/// An acceptance that what was found speaks against; a holder that is retired.
pub fn judge(holder: &Code, now: Condition, check: &HolderCheckFields) -> Result<Condition, Vec<Refusal>> {
    judge_under(RuleSet::ALL, holder, now, check)
}

fn judge_under(
    rules: RuleSet,
    holder: &Code,
    now: Condition,
    check: &HolderCheckFields,
) -> Result<Condition, Vec<Refusal>> {
    let mut findings = Findings::under(rules);
    let about =
        |rule: Rule, sentence: String| Refusal::new(rule, sentence).about(Subject::coded(SubjectKind::Holder, holder));
    findings.add_if(now == Condition::Retired, || {
        about(Rule::HolderNotUsable, format!("Holder {holder} is retired."))
            .saw(now.name())
            .clears("Check the holder that is in use.")
    });
    if check.accepted {
        for finding in check.found.iter().filter(|finding| finding.stops_use()) {
            let sentence = format!("Holder {holder} is not accepted with this: {}.", finding.words());
            findings.add(about(Rule::HolderNotSound, sentence).saw(finding.name()));
        }
        findings.add_if(!check.seat_clean, || {
            about(Rule::HolderNotSound, format!("The seat of holder {holder} is not clean.")).saw("seat_clean: false")
        });
        for (field, _, words, answer) in check.screws() {
            findings.add_if(answer == Some(false), || {
                about(Rule::HolderNotSound, format!("The {words} of holder {holder} does not turn freely."))
                    .saw(format!("{field}: false"))
            });
        }
    }
    let refusals = findings.into_refusals();
    if !refusals.is_empty() {
        return Err(refusals);
    }
    Ok(if check.accepted { Condition::Usable } else { check.condition.unwrap_or(Condition::NeedsCheck) })
}

/// Why nobody's word makes a holder usable: its last check did not accept it. One that was never checked, or that its last
/// check accepted, is judged at the counter like anything else.
#[must_use]
pub fn not_to_pass(holder: &Code, last_check_accepted: Option<bool>) -> Option<Refusal> {
    (last_check_accepted == Some(false)).then(|| {
        let sentence = format!("Holder {holder} was not accepted by its last check: only an accepted one clears it.");
        Refusal::new(Rule::ItemNotUsable, sentence)
            .saw("accepted: false")
            .clears("Take it back in the condition that it is in, and have it checked.")
            .about(Subject::coded(SubjectKind::Holder, holder))
    })
}

#[cfg(test)]
mod tests {
    use super::{HolderCheckFields, HolderFinding, judge, judge_under};
    use crate::{code::Code, findings::RuleSet, item::Condition, refusal::Rule};
    use chrono::NaiveDate;

    fn good() -> HolderCheckFields {
        HolderCheckFields {
            accepted: true,
            found: Vec::new(),
            taper_adjuster_free: None,
            height_adjuster_free: None,
            side_screw_free: None,
            seat_clean: true,
            note: None,
            condition: None,
            next_check: None,
            performed_at: "2026-06-01T08:00:00Z".parse().unwrap(),
        }
    }

    fn judged(now: Condition, check: &HolderCheckFields) -> Result<Condition, Vec<Rule>> {
        let code = Code::parse("HD-1").unwrap();
        let result = judge(&code, now, check);
        result.map_err(|refusals| {
            let rules: Vec<Rule> = refusals.into_iter().map(|refusal| refusal.rule).collect();
            if let [only] = rules.as_slice() {
                assert!(judge_under(RuleSet::without(*only), &code, now, check).is_ok());
            }
            rules
        })
    }

    #[test]
    fn an_accepted_holder_is_usable_and_another_is_what_is_said() {
        for now in [Condition::Usable, Condition::NeedsCheck, Condition::Damaged] {
            assert_eq!(judged(now, &good()), Ok(Condition::Usable));
        }
        let rejected = HolderCheckFields { accepted: false, found: vec![HolderFinding::Cracked], ..good() };
        assert_eq!(judged(Condition::Usable, &rejected), Ok(Condition::NeedsCheck));
        let damaged = HolderCheckFields { condition: Some(Condition::Damaged), ..rejected };
        assert_eq!(judged(Condition::Usable, &damaged), Ok(Condition::Damaged));
        let worn = HolderCheckFields { found: vec![HolderFinding::WornWays], ..good() };
        assert_eq!(judged(Condition::NeedsCheck, &worn), Ok(Condition::Usable));
    }

    #[test]
    fn nothing_that_stops_its_use_is_accepted() {
        let mut cases = vec![HolderCheckFields { seat_clean: false, ..good() }];
        cases.push(HolderCheckFields { taper_adjuster_free: Some(false), ..good() });
        cases.push(HolderCheckFields { height_adjuster_free: Some(false), ..good() });
        cases.push(HolderCheckFields { side_screw_free: Some(false), ..good() });
        for finding in HolderFinding::ALL.iter().filter(|finding| finding.stops_use()) {
            cases.push(HolderCheckFields { found: vec![*finding], ..good() });
        }
        assert_eq!(cases.len(), 8);
        for case in cases {
            assert_eq!(judged(Condition::NeedsCheck, &case), Err(vec![Rule::HolderNotSound]), "{case:?}");
            let recorded = HolderCheckFields { accepted: false, ..case };
            assert_eq!(judged(Condition::Usable, &recorded), Ok(Condition::NeedsCheck));
        }
        assert_eq!(judged(Condition::Retired, &good()), Err(vec![Rule::HolderNotUsable]));
    }

    #[test]
    fn what_cannot_be_is_told_at_its_field() {
        let pointers = |check: &HolderCheckFields| {
            check.check(&[], None).into_iter().map(|error| error.pointer).collect::<Vec<_>>()
        };
        assert!(pointers(&good()).is_empty());
        assert_eq!(pointers(&HolderCheckFields { side_screw_free: Some(true), ..good() }), ["/side_screw_free"]);
        let twice = vec![HolderFinding::WornWays, HolderFinding::WornWays];
        let told = HolderCheckFields { note: Some("0.01 mm of play".to_owned()), ..good() };
        assert_eq!(pointers(&HolderCheckFields { found: twice, ..told.clone() }), ["/found/1"]);
        let worn = vec![HolderFinding::WornWays];
        assert_eq!(pointers(&HolderCheckFields { found: worn.clone(), ..good() }), ["/note"]);
        assert!(pointers(&HolderCheckFields { found: worn.clone(), ..told }).is_empty());
        assert!(pointers(&HolderCheckFields { found: worn, accepted: false, ..good() }).is_empty());
        assert_eq!(pointers(&HolderCheckFields { found: vec![HolderFinding::Other], ..good() }), ["/note"]);
        assert_eq!(pointers(&HolderCheckFields { note: Some(" ".to_owned()), ..good() }), ["/note"]);
        let both = HolderCheckFields { condition: Some(Condition::Usable), ..good() };
        assert_eq!(pointers(&both), ["/condition", "/condition"]);
        let day = NaiveDate::from_ymd_opt(2027, 1, 1);
        assert_eq!(pointers(&HolderCheckFields { accepted: false, next_check: day, ..good() }), ["/next_check"]);
        let before = HolderCheckFields { next_check: NaiveDate::from_ymd_opt(2026, 5, 31), ..good() };
        assert_eq!(pointers(&before), ["/next_check"]);
    }

    #[test]
    fn the_next_check_is_as_said_or_by_the_interval() {
        let day = |text: &str| Some(text.parse::<NaiveDate>().unwrap());
        assert_eq!(good().valid_until(None), None);
        assert_eq!(good().valid_until(Some(30)), day("2026-07-01"));
        let said = HolderCheckFields { next_check: day("2026-06-10"), ..good() };
        assert_eq!(said.valid_until(Some(30)), day("2026-06-10"));
        // By hand no later than the plan: its last day is good, the one after is not.
        let until = |said: &str| HolderCheckFields { next_check: day(said), ..good() }.check(&[], Some(30));
        assert!(until("2026-07-01").is_empty());
        let beyond = until("2026-07-02");
        assert_eq!(beyond.len(), 1);
        assert!(beyond[0].pointer == "/next_check" && beyond[0].detail.contains("2026-07-01"), "{beyond:?}");
    }
}
