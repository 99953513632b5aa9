//! Maintenance plans on the wire.

use super::schema::{CodeSchema, MeasureSchema, PlanStateSchema};
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    code::Code,
    maintenance::{Counter, Interval, Maintained, MaintenancePlan, Measure, PlanState, Standing},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// What a plan or a work order is about: one of the three.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = Maintained, example = json!({"machine": "M-101"}))]
pub struct MaintainedBody {
    /// A machine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub machine: Option<Code>,
    /// A holder, a tool or any other serialised item.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub item: Option<Code>,
    /// Anything that has no record of its own, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub other: Option<String>,
}

impl From<&Maintained> for MaintainedBody {
    fn from(subject: &Maintained) -> Self {
        match subject {
            Maintained::Machine { code, .. } => Self { machine: Some(code.clone()), ..Self::default() },
            Maintained::Item { code, .. } => Self { item: Some(code.clone()), ..Self::default() },
            Maintained::Other(words) => Self { other: Some(words.clone()), ..Self::default() },
        }
    }
}

/// After how much a plan is to be done again: whichever is reached first. At least one; for anything but machines and items
/// days only.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = MaintenanceInterval, example = json!({"days": 90, "running_hours": 500}))]
pub struct IntervalBody {
    /// After so many days.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 3650)]
    pub days: Option<i64>,
    /// After so many pieces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 1_000_000_000)]
    pub pieces: Option<i64>,
    /// After so many setups.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 100_000)]
    pub setups: Option<i64>,
    /// After so many hours under a release in force.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 100_000)]
    pub running_hours: Option<i64>,
}

impl From<Interval> for IntervalBody {
    fn from(interval: Interval) -> Self {
        let Interval { days, pieces, setups, running_hours } = interval;
        Self { days, pieces, setups, running_hours }
    }
}

impl From<IntervalBody> for Interval {
    fn from(body: IntervalBody) -> Self {
        let IntervalBody { days, pieces, setups, running_hours } = body;
        Self { days, pieces, setups, running_hours }
    }
}

const fn usual_percent() -> u8 {
    90
}

/// What puts a plan on record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"code": "MP-101-CARRIER", "name": "Grease the spindle carrier", "subject": {"machine": "M-101"},
    "steps": ["Stop the machine and lock it out", "Grease both carrier bearings until it shows at the seal"],
    "cautions": ["The carrier can index when the brake is off"], "interval": {"days": 90, "running_hours": 500}}))]
pub struct NewMaintenancePlan {
    /// Its code.
    #[schema(value_type = CodeSchema)]
    pub code: Code,
    /// Its name.
    pub name: String,
    /// What it is about; it stays so.
    pub subject: MaintainedBody,
    /// What to do, step by step.
    pub steps: Vec<String>,
    /// What to be careful about.
    #[serde(default)]
    pub cautions: Vec<String>,
    /// After how much.
    pub interval: IntervalBody,
    /// From which share of an interval on it is due, in percent.
    #[serde(default = "usual_percent")]
    #[schema(minimum = 1, maximum = 100, default = 90)]
    pub due_from_percent: u8,
    /// When it was last done, before it was put on record; never, when left out.
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "super::time::optional_instant")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub last_done_at: Option<DateTime<Utc>>,
}

/// What may be written about a plan. What it is about is not among it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"interval": {"days": 60}}))]
pub struct MaintenancePlanChange {
    /// Its code.
    #[schema(value_type = CodeSchema)]
    pub code: Code,
    /// Its name.
    pub name: String,
    /// What to do, step by step.
    pub steps: Vec<String>,
    /// What to be careful about.
    pub cautions: Vec<String>,
    /// After how much.
    pub interval: IntervalBody,
    /// From which share of an interval on it is due, in percent.
    #[schema(minimum = 1, maximum = 100)]
    pub due_from_percent: u8,
    /// Whether it is out of use: it is due no more, and no order is opened from it.
    pub retired: bool,
}

/// What a list of plans may be narrowed to.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct MaintenancePlanFilters {
    /// Of this machine.
    #[param(value_type = Option<String>)]
    pub machine: Option<Code>,
    /// Of this item.
    #[param(value_type = Option<String>)]
    pub item: Option<Code>,
    /// Only those out of use, or only those in use.
    pub retired: Option<bool>,
}

/// A plan on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = MaintenancePlan)]
pub struct MaintenancePlanView {
    /// Its id.
    pub id: Uuid,
    /// Its code.
    #[schema(value_type = CodeSchema, example = "MP-101-CARRIER")]
    pub code: Code,
    /// Its name.
    pub name: String,
    /// What it is about.
    pub subject: MaintainedBody,
    /// What to do, step by step.
    pub steps: Vec<String>,
    /// What to be careful about.
    pub cautions: Vec<String>,
    /// After how much.
    pub interval: IntervalBody,
    /// From which share of an interval on it is due, in percent.
    pub due_from_percent: u8,
    /// When it was last done; none while never.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub last_done_at: Option<DateTime<Utc>>,
    /// Whether it is out of use.
    pub retired: bool,
    /// When it was put on record.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub created_at: DateTime<Utc>,
    /// When its record was last changed.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub updated_at: DateTime<Utc>,
}

impl From<&MaintenancePlan> for MaintenancePlanView {
    fn from(plan: &MaintenancePlan) -> Self {
        let (record, fields) = (&plan.record, &plan.record.fields);
        Self {
            id: record.id.uuid(),
            code: record.code.clone(),
            name: fields.name.clone(),
            subject: (&fields.subject).into(),
            steps: fields.steps.clone(),
            cautions: fields.cautions.clone(),
            interval: fields.interval.into(),
            due_from_percent: fields.due_from_percent,
            last_done_at: plan.last_done_at,
            retired: fields.retired,
            created_at: record.created_at,
            updated_at: record.updated_at,
        }
    }
}

impl From<&MaintenancePlan> for MaintenancePlanChange {
    fn from(plan: &MaintenancePlan) -> Self {
        let fields = &plan.record.fields;
        Self {
            code: plan.record.code.clone(),
            name: fields.name.clone(),
            steps: fields.steps.clone(),
            cautions: fields.cautions.clone(),
            interval: fields.interval.into(),
            due_from_percent: fields.due_from_percent,
            retired: fields.retired,
        }
    }
}

/// One interval of a plan, and how much of it is used.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = MaintenanceCounter)]
pub struct CounterView {
    /// What it counts.
    #[schema(value_type = MeasureSchema, example = "running_hours")]
    pub measure: Measure,
    /// After how much the plan is to be done.
    #[schema(example = 500)]
    pub every: i64,
    /// How much was used since it was last done.
    #[schema(example = 431.5)]
    pub used: f64,
    /// How that stands.
    #[schema(value_type = PlanStateSchema)]
    pub state: PlanState,
    /// Use in a day of late; none for days, and where the records tell no rate.
    #[schema(example = 9.5)]
    pub rate_per_day: Option<f64>,
    /// The day on which the interval is used up, or was. Of days it is the calendar's; of anything else it is reckoned
    /// at the rate of late, and what is used up was so about that day or before.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub runs_out_on: Option<NaiveDate>,
}

/// How a plan stands now.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = MaintenanceStanding)]
pub struct StandingView {
    /// The gravest of its counters.
    #[schema(value_type = PlanStateSchema)]
    pub state: PlanState,
    /// From when use counts.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub counted_from: DateTime<Utc>,
    /// Each interval.
    pub counters: Vec<CounterView>,
    /// The first day on which any of them is used up, or was, as far as the records tell.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub runs_out_on: Option<NaiveDate>,
    /// What this rests on, in words.
    pub judged_on: String,
    /// The order that is open for it.
    pub open_order: Option<Uuid>,
    /// When it was judged.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub judged_at: DateTime<Utc>,
}

impl StandingView {
    /// A standing as it is shown.
    #[must_use]
    pub fn of(plan: &MaintenancePlan, standing: Standing, open_order: Option<Uuid>, judged_at: DateTime<Utc>) -> Self {
        let counter = |counter: Counter| CounterView {
            measure: counter.measure,
            every: counter.every,
            used: counter.used,
            state: counter.state,
            rate_per_day: counter.rate_per_day,
            runs_out_on: counter.runs_out_on,
        };
        Self {
            state: standing.state,
            counted_from: plan.counted_from(),
            counters: standing.counters.into_iter().map(counter).collect(),
            runs_out_on: standing.runs_out_on,
            judged_on: standing.judged_on,
            open_order,
            judged_at,
        }
    }
}

/// A plan of a list, with how it stands.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = MaintenancePlanRow)]
pub struct MaintenancePlanRow {
    /// The plan.
    #[serde(flatten)]
    pub plan: MaintenancePlanView,
    /// How it stands; none for one that is out of use.
    pub standing: Option<StandingView>,
}
