//! Serialised items on record: form tools, holders, centre gauges and others.

use super::{MUST_BE_POSITIVE, Record, is_positive, machine::check_adjusters};
use crate::{
    adjuster::{Adjuster, AdjusterKind},
    code::Code,
    field_error::{FieldError, FieldErrors},
    ids::{ItemId, MachineId, ToolDesignId},
    item::{Condition, ItemKind},
    length::{Deviations, Length, LengthUnit},
    life::ownership::Belonging,
};
use chrono::{DateTime, Days, NaiveDate, Utc};

/// An item as every kind has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ItemFields {
    /// Its kind.
    pub kind: ItemKind,
    /// Its name, for people.
    pub name: String,
    /// The last judgement of it; records make it.
    pub condition: Condition,
    /// When it was last judged not usable; none where it only was put on record so.
    pub blocked_at: Option<DateTime<Utc>>,
}

impl ItemFields {
    /// Takes up a judgement of an instant. One that calls the item not usable keeps that instant, and none before it takes
    /// its place, however late it is written.
    pub fn judge(&mut self, condition: Condition, at: DateTime<Utc>) {
        if !condition.is_usable() {
            self.blocked_at = self.blocked_at.max(Some(at));
        }
        self.condition = condition;
    }

    /// What is wrong with a judgement of an instant, at `pointer`, that may call the item usable: it knows nothing of what
    /// came after it.
    #[must_use]
    pub fn judged_before_blocked(&self, at: DateTime<Utc>, pointer: &str) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        if let Some(blocked_at) = self.blocked_at {
            let on_record = blocked_at.format("%Y-%m-%d %H:%M:%S UTC");
            let detail = format!("lies before {on_record}, when it was judged not usable");
            errors.require(at >= blocked_at, pointer, detail);
        }
        errors.into_vec()
    }
}

/// An item on record.
pub type Item = Record<ItemId, ItemFields>;

/// A form tool's own part of the record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FormTool {
    /// The item.
    pub item: Item,
    /// The design it is made to.
    pub design: ToolDesignId,
    /// The design's code.
    pub design_code: Code,
    /// The height left.
    pub height: Length,
    /// Grinds so far.
    pub regrind_count: u32,
    /// Pieces cut on the edge in use.
    pub pieces_since_grind: i64,
    /// Pieces cut in all.
    pub pieces_total: i64,
    /// When it was last ground.
    pub last_ground_at: Option<DateTime<Utc>>,
    /// Whether it was checked after its last grind; true when never ground.
    pub checked_after_grind: bool,
    /// Whether the edge in use was cutting before the tool came on record, nobody knows for how many pieces.
    pub begun_before: bool,
    /// Whose it is, and what it is kept for.
    pub belonging: Belonging,
}

/// A holder's own part of the record.
#[derive(Clone, Debug, PartialEq)]
pub struct Holder {
    /// The item.
    pub item: Item,
    /// Its style.
    pub style: String,
    /// Its height, taper and side screws.
    pub adjusters: Vec<Adjuster>,
    /// The last day on which its check is valid.
    pub next_check: Option<NaiveDate>,
    /// The days from one check to the next, as planned.
    pub check_interval_days: Option<u32>,
}

/// A centre gauge's own part of the record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CenterGauge {
    /// The item.
    pub item: Item,
    /// The machine it is cut to.
    pub machine: MachineId,
    /// That machine's code.
    pub machine_code: Code,
    /// The last instant at which that machine's spindle centres may have moved.
    pub centers_may_have_moved_at: Option<DateTime<Utc>>,
    /// The stations it is limited to; empty means every station.
    pub stations: Vec<Code>,
    /// Its nominal height.
    pub nominal: Length,
    /// How far it may lie from nominal.
    pub limits: Deviations,
    /// The last day on which its check is valid; none while never checked.
    pub next_check: Option<NaiveDate>,
    /// When it was last accepted against this machine.
    pub last_accepted_check_at: Option<DateTime<Utc>>,
    /// The days from one check to the next, as planned.
    pub check_interval_days: Option<u32>,
}

/// The longest plan: ten years.
const MOST_DAYS_BETWEEN_CHECKS: u32 = 3660;

/// What is wrong with a planned interval between checks.
#[must_use]
pub fn check_interval(days: Option<u32>) -> Vec<FieldError> {
    let mut errors = FieldErrors::default();
    let within = days.is_none_or(|days| (1..=MOST_DAYS_BETWEEN_CHECKS).contains(&days));
    errors.require(within, "/check_interval_days", format!("must be from 1 to {MOST_DAYS_BETWEEN_CHECKS} days"));
    errors.into_vec()
}

/// What is wrong with a day that is given by hand for the next check: beyond the interval of the plan, counted from the day of
/// the check. The plan is the longest that was thought of; a shorter one may be given.
#[must_use]
pub fn within_plan(next_check: Option<NaiveDate>, from: NaiveDate, interval_days: Option<u32>) -> Vec<FieldError> {
    let mut errors = FieldErrors::default();
    if let Some((next, days)) = next_check.zip(interval_days) {
        let last = from.checked_add_days(Days::new(days.into())).unwrap_or(NaiveDate::MAX);
        errors.require(next <= last, "/next_check", format!("the plan is {days} days: {last} at the latest"));
    }
    errors.into_vec()
}

/// The last day on which a thing is used without another check: as said, or by the interval of its plan from a day on. So a
/// thing that has a plan has a day, also before its first check.
#[must_use]
pub fn valid_until(said: Option<NaiveDate>, from: NaiveDate, interval_days: Option<u32>) -> Option<NaiveDate> {
    let by_interval = || from.checked_add_days(Days::new(interval_days?.into()));
    said.or_else(by_interval)
}

/// What people write about a holder.
#[derive(Clone, Debug, PartialEq)]
pub struct HolderFields {
    /// Its style.
    pub style: String,
    /// Its screws.
    pub adjusters: Vec<Adjuster>,
}

impl HolderFields {
    /// Everything that cannot be.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require_text(&self.style, 64, "/style");
        check_adjusters(&self.adjusters, "/adjusters", &mut errors);
        for (index, adjuster) in self.adjusters.iter().enumerate() {
            errors.require(
                matches!(adjuster.kind(), AdjusterKind::Height | AdjusterKind::Taper | AdjusterKind::Lateral),
                format!("/adjusters/{index}/clockwise_moves"),
                "a holder has height (edge_up/edge_down), taper (far_diameter_up/far_diameter_down) and side (toward_collet/away_from_collet) screws",
            );
        }
        errors.into_vec()
    }
}

/// What people write about a centre gauge.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CenterGaugeFields {
    /// Its nominal height.
    pub nominal: Length,
    /// How far it may lie from nominal.
    pub limits: Deviations,
}

impl CenterGaugeFields {
    /// Everything that cannot be.
    #[must_use]
    pub fn check(&self) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.require(is_positive(self.nominal), "/nominal/value", MUST_BE_POSITIVE);
        errors.require(
            self.limits.lower() < self.limits.upper(),
            "/limits/upper",
            "must lie above the lower limit: nothing is proved to lie between limits without room",
        );
        errors.into_vec()
    }
}

/// Half of one millimetre either way: machines' spindle centres wear by less, and two machines whose gauges can be mixed up
/// differ by more or by so little that only a check against the machine tells. Common practice, no published source.
pub(super) const NEAR_CENTER_HEIGHT: Length = Length::from_picometres(500_000_000, LengthUnit::Millimetre);

/// What is wrong with a gauge's nominal height beside its machine's spindle centre height, which it is cut to.
#[must_use]
pub fn not_near_center_height(nominal: Length, center: Length, machine: &Code) -> Vec<FieldError> {
    let mut errors = FieldErrors::default();
    let apart = nominal.minus(center).abs();
    errors.require(
        apart <= NEAR_CENTER_HEIGHT,
        "/nominal",
        format!("{nominal} is not the spindle centre height of machine {machine}, which is {center}"),
    );
    errors.into_vec()
}

/// One check of a centre gauge, as it is recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GaugeCheckFields {
    /// What it measured before anything was done to it.
    pub as_found: Length,
    /// What it measured afterwards, where something was done.
    pub as_left: Option<Length>,
    /// Standard uncertainty of the measurement, above zero.
    pub standard_uncertainty: Length,
    /// The certificate's number, where there is one.
    pub certificate: Option<String>,
    /// The last day on which this check is valid.
    pub next_check: NaiveDate,
    /// When it was done.
    pub performed_at: DateTime<Utc>,
}

impl GaugeCheckFields {
    /// Everything that cannot be, of a gauge that is checked every so many days.
    #[must_use]
    pub fn check(&self, interval_days: Option<u32>) -> Vec<FieldError> {
        let mut errors = FieldErrors::default();
        errors.extend(within_plan(Some(self.next_check), self.performed_at.date_naive(), interval_days));
        errors.require(is_positive(self.as_found), "/as_found/value", MUST_BE_POSITIVE);
        if let Some(as_left) = self.as_left {
            errors.require(is_positive(as_left), "/as_left/value", MUST_BE_POSITIVE);
        }
        errors.require(
            is_positive(self.standard_uncertainty),
            "/standard_uncertainty/value",
            "must be above zero: a measurement without its uncertainty proves nothing",
        );
        errors.require(
            self.next_check >= self.performed_at.date_naive(),
            "/next_check",
            "must not lie before the check itself",
        );
        if let Some(certificate) = &self.certificate {
            errors.require_text(certificate, 100, "/certificate");
        }
        errors.into_vec()
    }
}

#[cfg(test)]
mod tests {
    use super::ItemFields;
    use crate::item::{Condition, ItemKind};
    use chrono::{DateTime, Utc};

    fn at(hour: u32) -> DateTime<Utc> {
        format!("2026-06-01T{hour:02}:00:00Z").parse().unwrap()
    }

    #[test]
    fn nothing_found_before_an_item_was_blocked_says_that_it_is_usable() {
        let name = "Holder".to_owned();
        let mut item = ItemFields { kind: ItemKind::Holder, name, condition: Condition::NeedsCheck, blocked_at: None };
        assert!(item.judged_before_blocked(at(1), "/at").is_empty(), "it was only put on record so");
        item.judge(Condition::Damaged, at(10));
        // Of an earlier instant, and written later.
        item.judge(Condition::NeedsCheck, at(8));
        let faults = item.judged_before_blocked(at(9), "/at");
        assert_eq!(faults.len(), 1);
        assert!(faults[0].pointer == "/at" && faults[0].detail.contains("2026-06-01 10:00:00"), "{faults:?}");
        assert!(item.judged_before_blocked(at(10), "/at").is_empty());
        item.judge(Condition::Usable, at(11));
        assert_eq!((item.condition, item.blocked_at), (Condition::Usable, Some(at(10))));
    }
}
