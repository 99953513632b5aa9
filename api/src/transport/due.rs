//! What is due, on the wire.

use super::schema::CodeSchema;
use chrono::NaiveDate;
use dovetally_core::{
    code::Code,
    due::{Due, DueKind, Urgency},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// The names of the kinds of what is due.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = DueKind)]
#[serde(rename_all = "snake_case")]
pub enum DueKindSchema {
    /// A centre gauge is to be checked.
    GaugeCheck,
    /// A holder is to be checked.
    HolderCheck,
    /// A maintenance plan is to be done.
    MaintenancePlan,
    /// An item is to be brought back.
    ItemReturn,
    /// A form tool that one more usual grind would bring below its minimum.
    LastGrind,
    /// A form tool waits for a check: it was ground, struck or is in doubt.
    ToolCheck,
    /// A form tool waits for the grinder.
    ToolGrind,
    /// A form tool was found damaged: it is to be ground, or retired.
    ToolDamaged,
    /// A holder is blocked until a check clears it.
    HolderBlocked,
    /// Tools of a design are to be ordered, or those there are run out in a job that is booked.
    ToolOrder,
    /// A supply is below its minimum.
    SupplyLow,
    /// A work order is open that no maintenance plan asks for.
    WorkOrder,
    /// Pieces made under a provisional release are held until they are inspected.
    HeldPieces,
    /// What a gauge has touched since it was last known to be right is to be worked through.
    Impact,
}

/// The names of how urgent it is.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Urgency)]
#[serde(rename_all = "snake_case")]
pub enum UrgencySchema {
    /// Its day is past.
    Overdue,
    /// Today, or as it stands.
    Today,
    /// Within the seven days that begin today.
    ThisWeek,
    /// After that.
    Later,
}

/// What is asked of the list.
#[derive(Clone, Copy, Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct DueQuestion {
    /// How many days ahead, today being the first; 7 when it is left out.
    #[param(minimum = 1, maximum = 366, default = 7)]
    pub days: Option<u16>,
    /// Only this kind.
    #[param(value_type = Option<DueKindSchema>)]
    pub kind: Option<DueKind>,
}

/// One thing that is due.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct DueRow {
    /// When.
    #[schema(value_type = UrgencySchema)]
    pub urgency: Urgency,
    /// The day; null where it is due as it stands.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub day: Option<NaiveDate>,
    /// What kind of thing.
    #[schema(value_type = DueKindSchema)]
    pub kind: DueKind,
    /// The thing's code; null for a work order on something that has none.
    #[schema(value_type = Option<CodeSchema>, example = "CG-101")]
    pub code: Option<Code>,
    /// The record in which it is done: the work order, the setup whose pieces are held, the impact document. Null where it
    /// is done to the thing itself.
    pub record: Option<Uuid>,
    /// What is to be done.
    pub sentence: String,
}

impl From<Due> for DueRow {
    fn from(due: Due) -> Self {
        let Due { urgency, day, kind, code, record, sentence } = due;
        Self { urgency, day, kind, code, record, sentence }
    }
}

/// How many of each urgency are listed.
#[derive(Clone, Copy, Debug, Default, Serialize, ToSchema)]
pub struct DueCounts {
    /// Overdue.
    pub overdue: usize,
    /// Today.
    pub today: usize,
    /// This week.
    pub this_week: usize,
    /// Later.
    pub later: usize,
}

/// Everything that is due.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct DueList {
    /// The server's day (UTC).
    #[schema(value_type = chrono::NaiveDate)]
    pub today: NaiveDate,
    /// The last day that is looked at.
    #[schema(value_type = chrono::NaiveDate)]
    pub until: NaiveDate,
    /// How many are listed.
    pub counts: DueCounts,
    /// Kinds of which there are more than are listed: the most urgent are.
    #[schema(value_type = Vec<DueKindSchema>)]
    pub more_of: Vec<DueKind>,
    /// What is due, the most urgent first.
    pub items: Vec<DueRow>,
}
