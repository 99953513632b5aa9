//! Supplies: what is counted and not numbered. An append-only ledger, of which what is on hand is the sum.
//!
//! A count says what was found at a moment, and corrects the ledger as it stood at that moment: what was withdrawn or came
//! in afterwards stays, however late the count is recorded.

mod reorder;

pub use reorder::{Advice, Demand, advise};

use crate::{
    code::Code,
    field_error::{FieldError, FieldErrors},
    findings::{Findings, RuleSet},
    ids::{MachineId, PersonId, PlaceId, SupplyId, SupplyMovementId, WorkOrderId},
    names::named,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    registry::Record,
};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// The most that is ever counted, withdrawn or received at once, and on hand.
pub const MOST: i64 = 1_000_000_000;

/// What people write about a supply.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SupplyFields {
    /// Its name.
    pub name: String,
    /// What one of it is: piece, pair, litre.
    pub unit: String,
    /// Fewer than this on hand are too few.
    pub minimum: i64,
    /// How many are ordered at once.
    pub reorder_quantity: i64,
    /// Days from order to delivery.
    pub lead_time_days: i64,
    /// Where it is kept, with the place's code.
    pub place: Option<(PlaceId, Code)>,
    /// Whether it is out of use.
    pub retired: bool,
}

/// A supply on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Supply {
    /// Id, code, version and what was written.
    pub record: Record<SupplyId, SupplyFields>,
    /// What is on hand by the ledger.
    pub on_hand: i64,
    /// Movements so far: the number of the last one.
    pub movements: i64,
}

named! {
    /// Why what is on hand changed.
    SupplyMovementKind {
        /// Taken for use.
        Withdrawn = "withdrawn",
        /// Came in.
        Received = "received",
        /// Counted, and corrected to what was found.
        Counted = "counted",
    }
}

/// One row of a supply's ledger. Its document is what the chain of changes seals.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SupplyMovement {
    /// Its id.
    pub id: SupplyMovementId,
    /// The supply.
    pub supply: SupplyId,
    /// Its number among the supply's movements, from 1 without a gap.
    pub number: i64,
    /// Why.
    pub kind: SupplyMovementKind,
    /// By how much: below zero for a withdrawal.
    pub change: i64,
    /// What is on hand after it.
    pub on_hand: i64,
    /// What a count found.
    pub counted: Option<i64>,
    /// The work order it was used for.
    pub work_order: Option<WorkOrderId>,
    /// The machine it was used for.
    pub machine: Option<MachineId>,
    /// What whoever recorded it says.
    pub note: Option<String>,
    /// Who recorded it.
    pub recorded_by: PersonId,
    /// For a count the moment it refers to, for what work used when the work was done, else when it was recorded.
    pub occurred_at: DateTime<Utc>,
    /// The server's time.
    pub recorded_at: DateTime<Utc>,
}

/// What the ledger holds after the moment of a count.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SinceCount {
    /// The sum of what was withdrawn and received after it.
    pub change: i64,
    /// The moment of the last count on record.
    pub last_count: Option<DateTime<Utc>>,
}

/// The last count on record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LastCount {
    /// The moment it refers to.
    pub moment: DateTime<Utc>,
    /// Its number among the supply's movements.
    pub number: i64,
}

/// What becomes of parts that work used, when it is written up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PartsUsed {
    /// They are withdrawn: what is on hand changes by so many.
    Withdrawn(i64),
    /// The count of this number was taken after they were used: it saw that they were gone.
    Counted(i64),
}

impl SupplyFields {
    /// Everything that cannot be.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require_text(&self.name, 200, "/name");
        errors.require_text(&self.unit, 32, "/unit");
        errors.require((0..=MOST).contains(&self.minimum), "/minimum", format!("must be 0 to {MOST}"));
        errors.require(
            (1..=MOST).contains(&self.reorder_quantity),
            "/reorder_quantity",
            format!("must be 1 to {MOST}"),
        );
        errors.require((1..=3650).contains(&self.lead_time_days), "/lead_time_days", "must be 1 to 3650");
        errors.into_vec()
    }
}

impl Supply {
    /// Whether fewer are on hand than there should be.
    #[must_use]
    pub const fn is_below_minimum(&self) -> bool {
        self.on_hand < self.record.fields.minimum
    }

    fn about(&self) -> Subject {
        Subject::coded(SubjectKind::Supply, &self.record.code)
    }

    /// The change that a withdrawal makes.
    ///
    /// # Errors
    /// When there are fewer on hand.
    pub fn withdraw(&self, quantity: i64) -> Result<i64, Vec<Refusal>> {
        let mut findings = Findings::under(RuleSet::ALL);
        findings.add_if(quantity > self.on_hand, || self.not_enough(quantity));
        if findings.is_empty() { Ok(-quantity) } else { Err(findings.into_refusals()) }
    }

    /// What the write-up of work does that used so many. `used_at` is when, where that was said: a count of a later moment saw
    /// that they were gone.
    ///
    /// # Errors
    /// When they are to be withdrawn and there are fewer on hand.
    pub fn use_parts(
        &self,
        quantity: i64,
        used_at: Option<DateTime<Utc>>,
        last_count: Option<LastCount>,
    ) -> Result<PartsUsed, Vec<Refusal>> {
        match (used_at, last_count) {
            (Some(used_at), Some(count)) if count.moment >= used_at => Ok(PartsUsed::Counted(count.number)),
            _ => self.withdraw(quantity).map(PartsUsed::Withdrawn),
        }
    }

    /// The refusal of a withdrawal that is more than there is.
    #[must_use]
    pub fn not_enough(&self, quantity: i64) -> Refusal {
        let (code, unit) = (&self.record.code, &self.record.fields.unit);
        let sentence = format!("{quantity} of {code} are asked for, and {} are on hand ({unit}).", self.on_hand);
        Refusal::new(Rule::NotEnoughOnHand, sentence).saw(format!("{} on hand", self.on_hand)).about(self.about())
    }

    /// The change that a receipt makes.
    ///
    /// # Errors
    /// A field that says too much.
    pub fn receive(&self, quantity: i64) -> Result<i64, FieldError> {
        if self.on_hand > MOST - quantity {
            let detail = format!("no more than {MOST} are ever on hand");
            return Err(FieldError { pointer: "/quantity".to_owned(), detail });
        }
        Ok(quantity)
    }

    /// The change that makes what was on hand at the moment of a count what was found.
    ///
    /// # Errors
    /// When a later moment was counted already; when more was withdrawn since than was found and came in.
    pub fn count(&self, counted: i64, counted_at: DateTime<Utc>, since: SinceCount) -> Result<i64, Vec<Refusal>> {
        let mut findings = Findings::under(RuleSet::ALL);
        let code = &self.record.code;
        if let Some(last) = since.last_count {
            findings.add_if(counted_at < last, || {
                let sentence =
                    format!("{code} was counted at a later moment, {}.", last.format("%Y-%m-%d %H:%M:%S UTC"));
                Refusal::new(Rule::CountSuperseded, sentence).about(self.about())
            });
        }
        let at_that_moment = self.on_hand - since.change;
        let afterwards = counted + since.change;
        findings.add_if(afterwards < 0, || {
            let sentence =
                format!("{counted} of {code} were counted, and {} more went out than came in since.", -since.change);
            Refusal::new(Rule::CountContradicted, sentence).saw(format!("{} since", since.change)).about(self.about())
        });
        if findings.is_empty() { Ok(counted - at_that_moment) } else { Err(findings.into_refusals()) }
    }
}

#[cfg(test)]
mod tests {
    use super::{LastCount, PartsUsed, SinceCount, Supply, SupplyFields};
    use crate::{code::Code, ids::SupplyId, refusal::Rule, registry::Record};
    use chrono::{DateTime, TimeDelta, Utc};
    use proptest::prelude::*;
    use uuid::Uuid;

    fn supply(on_hand: i64) -> Supply {
        let fields = SupplyFields {
            name: "Collet pads".to_owned(),
            unit: "set".to_owned(),
            minimum: 4,
            reorder_quantity: 10,
            lead_time_days: 14,
            place: None,
            retired: false,
        };
        let at = DateTime::UNIX_EPOCH;
        let id = SupplyId::from_uuid(Uuid::nil());
        let code = Code::parse("SUP-1").unwrap();
        Supply {
            record: Record { id, code, fields, version: 1, created_at: at, updated_at: at },
            on_hand,
            movements: 1,
        }
    }

    fn rules(refused: Result<i64, Vec<crate::refusal::Refusal>>) -> Vec<Rule> {
        refused.err().into_iter().flatten().map(|refusal| refusal.rule).collect()
    }

    #[test]
    fn no_more_goes_out_than_there_is() {
        assert_eq!(supply(5).withdraw(5), Ok(-5));
        assert_eq!(rules(supply(5).withdraw(6)), [Rule::NotEnoughOnHand]);
        assert!(supply(super::MOST).receive(1).is_err() && supply(5).receive(7) == Ok(7));
    }

    /// A count that was taken between the work and its write-up found the shelf without what the work had used.
    #[test]
    fn a_count_after_the_work_saw_that_its_parts_were_gone() {
        let hour = |hours| DateTime::UNIX_EPOCH + TimeDelta::hours(hours);
        let count = Some(LastCount { moment: hour(10), number: 7 });
        assert_eq!(supply(5).use_parts(2, Some(hour(9)), count), Ok(PartsUsed::Counted(7)));
        assert_eq!(
            supply(0).use_parts(2, Some(hour(9)), count),
            Ok(PartsUsed::Counted(7)),
            "none is left, and none goes out"
        );
        assert_eq!(supply(5).use_parts(2, Some(hour(11)), count), Ok(PartsUsed::Withdrawn(-2)));
        assert_eq!(supply(5).use_parts(2, None, count), Ok(PartsUsed::Withdrawn(-2)), "used now");
        assert_eq!(supply(5).use_parts(2, Some(hour(9)), None), Ok(PartsUsed::Withdrawn(-2)));
        assert!(supply(1).use_parts(2, Some(hour(11)), count).is_err());
    }

    #[test]
    fn below_the_minimum_is_below_it() {
        assert!(supply(3).is_below_minimum() && !supply(4).is_below_minimum());
    }

    #[test]
    fn an_earlier_count_does_not_undo_a_later_one() {
        let at = DateTime::UNIX_EPOCH + TimeDelta::hours(1);
        let since = SinceCount { change: 0, last_count: Some(at) };
        assert_eq!(supply(5).count(7, at, since), Ok(2));
        assert_eq!(rules(supply(5).count(7, at - TimeDelta::microseconds(1), since)), [Rule::CountSuperseded]);
    }

    #[test]
    fn what_went_out_after_a_count_was_there() {
        let since = SinceCount { change: -3, last_count: None };
        assert_eq!(supply(5).count(3, DateTime::UNIX_EPOCH, since), Ok(-5));
        assert_eq!(rules(supply(5).count(2, DateTime::UNIX_EPOCH, since)), [Rule::CountContradicted]);
    }

    #[test]
    fn what_cannot_be_is_named() {
        let mut fields = supply(1).record.fields;
        fields.minimum = -1;
        fields.reorder_quantity = 0;
        fields.lead_time_days = 0;
        let pointers: Vec<_> = fields.check().into_iter().map(|fault| fault.pointer).collect();
        assert_eq!(pointers, ["/minimum", "/reorder_quantity", "/lead_time_days"]);
    }

    /// What happens to a shelf: so many taken (or brought), or a count that was begun so many steps ago.
    #[derive(Clone, Debug)]
    enum Act {
        Move(i64),
        Count { begun: usize },
    }

    fn acts() -> impl Strategy<Value = Vec<Act>> {
        let act = prop_oneof![(-9_i64..12).prop_map(Act::Move), (0_usize..6).prop_map(|begun| Act::Count { begun }),];
        proptest::collection::vec(act, 1..60)
    }

    proptest! {
        /// The ledger begins wrong by some, and is told only what people see on the shelf at some earlier moment. After
        /// the first count it says what is on the shelf, whatever moved meanwhile.
        #[test]
        fn a_count_loses_nothing_that_happened_meanwhile(wrong in 0_i64..20, acts in acts()) {
            let instant = |step: usize| DateTime::UNIX_EPOCH + TimeDelta::seconds(i64::try_from(step).unwrap());
            let (mut shelf, mut ledger) = (30_i64, supply(30 + wrong));
            // What was on the shelf after each step, and each change of the ledger with the moment it belongs to.
            let mut shelf_after = vec![shelf];
            let mut rows: Vec<(DateTime<Utc>, i64)> = Vec::new();
            let mut last_count = None;
            for act in acts {
                let now = shelf_after.len();
                match act {
                    Act::Move(change) => {
                        let change = change.max(-shelf.min(ledger.on_hand));
                        shelf += change;
                        ledger.on_hand += change;
                        rows.push((instant(now), change));
                    }
                    Act::Count { begun } => {
                        let moment = now.saturating_sub(begun + 1);
                        let counted_at: DateTime<Utc> = instant(moment);
                        let change = rows.iter().filter(|(at, _)| *at > counted_at).map(|(_, change)| change).sum();
                        let since = SinceCount { change, last_count };
                        match ledger.count(shelf_after[moment], counted_at, since) {
                            Ok(correction) => {
                                ledger.on_hand += correction;
                                rows.push((counted_at, correction));
                                last_count = Some(counted_at);
                                prop_assert_eq!(ledger.on_hand, shelf);
                            }
                            Err(refusals) => {
                                // An older moment may besides contradict what the later count found.
                                prop_assert!(refusals.iter().any(|refusal| refusal.rule == Rule::CountSuperseded));
                            }
                        }
                    }
                }
                shelf_after.push(shelf);
                if last_count.is_some() {
                    prop_assert_eq!(ledger.on_hand, shelf);
                }
            }
        }
    }
}
