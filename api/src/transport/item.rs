//! Serialised items on the wire: what every kind shows.

use super::schema::{CodeSchema, ConditionSchema, ItemKindSchema, KeeperKindSchema, PurposeSchema};
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    code::Code,
    item::{Condition, HolderOfRecord, ItemKind, Purpose},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// Where an item is: exactly one place, person or machine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Where {
    /// Place, person or machine.
    #[schema(value_type = KeeperKindSchema)]
    pub kind: HolderOfRecord,
    /// What is typed and scanned: a place's or machine's code, a person's badge.
    #[schema(example = "BIN-A1")]
    pub key: String,
    /// What is said: a place's or machine's code, a person's name.
    #[schema(example = "BIN-A1")]
    pub name: String,
    /// Whether the place is outside the shop.
    pub outside: bool,
}

/// In which open setup an item is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct InSetup {
    /// The setup.
    pub setup: Uuid,
    /// Its machine.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// The station.
    #[schema(value_type = CodeSchema)]
    pub station: Code,
}

/// A serialised item, whatever its kind.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Item)]
pub struct ItemView {
    /// Its id.
    pub id: Uuid,
    /// Its code.
    #[schema(value_type = CodeSchema, example = "FT-001")]
    pub code: Code,
    /// Its kind.
    #[schema(value_type = ItemKindSchema)]
    pub kind: ItemKind,
    /// Its name.
    pub name: String,
    /// Whether it may be used, as somebody last judged it.
    #[schema(value_type = ConditionSchema)]
    pub condition: Condition,
    /// Where it is.
    #[serde(rename = "where")]
    pub whereabouts: Where,
    /// Since when.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub since: DateTime<Utc>,
    /// What it was handed out for.
    #[schema(value_type = Option<PurposeSchema>)]
    pub purpose: Option<Purpose>,
    /// The day by which it is due back.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub due: Option<NaiveDate>,
    /// For which job.
    #[schema(value_type = Option<CodeSchema>)]
    pub job: Option<Code>,
    /// For which machine it was handed out, wherever it is.
    #[schema(value_type = Option<CodeSchema>)]
    pub for_machine: Option<Code>,
    /// In which open setup.
    pub in_setup: Option<InSetup>,
    /// When it was put on record.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub created_at: DateTime<Utc>,
    /// When its record was last changed.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub updated_at: DateTime<Utc>,
}

/// What puts an item of another kind on record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"code": "CB-09", "kind": "other", "name": "Cut-off blade", "place": "SHELF-1"}))]
pub struct NewItem {
    /// Its code.
    #[schema(value_type = CodeSchema)]
    pub code: Code,
    /// `other`: the other kinds have collections of their own.
    #[schema(value_type = ItemKindSchema)]
    pub kind: ItemKind,
    /// Its name.
    pub name: String,
    /// The place where it is put.
    #[schema(value_type = CodeSchema)]
    pub place: Code,
}

/// What may be written about an item of another kind.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Cut-off blade, wide"}))]
pub struct ItemChange {
    /// Its code.
    #[schema(value_type = CodeSchema)]
    pub code: Code,
    /// Its name.
    pub name: String,
}

/// What a list of items may be narrowed to.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ItemFilters {
    /// Only of this kind.
    #[param(value_type = Option<ItemKindSchema>)]
    pub kind: Option<ItemKind>,
    /// Only what the person with this badge has.
    pub person: Option<String>,
    /// Only what is in this place.
    #[param(value_type = Option<String>)]
    pub place: Option<Code>,
    /// Only what is in or at this machine.
    #[param(value_type = Option<String>)]
    pub machine: Option<Code>,
    /// Only what was last judged so.
    #[param(value_type = Option<ConditionSchema>)]
    pub condition: Option<Condition>,
    /// Only what is out for this job.
    #[param(value_type = Option<String>)]
    pub job: Option<Code>,
    /// Only what is out past the day by which it is due back.
    pub overdue: Option<bool>,
    /// As the records stood at this instant, inclusive; narrowed by kind and keeper only.
    #[serde(default, deserialize_with = "super::time::optional_instant")]
    #[param(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub as_of: Option<DateTime<Utc>>,
}
