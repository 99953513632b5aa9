//! Places on the wire.

use super::schema::{CodeSchema, PlaceKindSchema};
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    registry::place::{Place, PlaceFields, PlaceKind},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What is written about a place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlaceBody {
    /// Its code.
    #[schema(value_type = CodeSchema, example = "BIN-A1")]
    pub code: Code,
    /// Its name.
    #[schema(example = "Gauge drawer")]
    pub name: String,
    /// What kind of place it is.
    #[schema(value_type = PlaceKindSchema)]
    pub kind: PlaceKind,
    /// Whether it is out of use.
    #[serde(default)]
    pub retired: bool,
}

/// A place on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct PlaceView {
    /// Its id.
    #[schema(value_type = uuid::Uuid)]
    pub id: uuid::Uuid,
    /// Its code.
    #[schema(value_type = CodeSchema, example = "BIN-A1")]
    pub code: Code,
    /// Its name.
    #[schema(example = "Gauge drawer")]
    pub name: String,
    /// What kind of place it is.
    #[schema(value_type = PlaceKindSchema)]
    pub kind: PlaceKind,
    /// Whether it is out of use.
    pub retired: bool,
    /// When it was put on record.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub created_at: DateTime<Utc>,
    /// When it was last changed.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub updated_at: DateTime<Utc>,
}

impl PlaceBody {
    /// The trade's fields.
    #[must_use]
    pub fn fields(&self) -> PlaceFields {
        PlaceFields { name: self.name.clone(), kind: self.kind, retired: self.retired }
    }
}

impl From<&Place> for PlaceBody {
    fn from(place: &Place) -> Self {
        let fields = &place.fields;
        Self { code: place.code.clone(), name: fields.name.clone(), kind: fields.kind, retired: fields.retired }
    }
}

impl From<&Place> for PlaceView {
    fn from(place: &Place) -> Self {
        Self {
            id: place.id.uuid(),
            code: place.code.clone(),
            name: place.fields.name.clone(),
            kind: place.fields.kind,
            retired: place.fields.retired,
            created_at: place.created_at,
            updated_at: place.updated_at,
        }
    }
}
