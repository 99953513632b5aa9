//! Handovers on the wire.

use super::{floor::FloorMachine, setup::PersonRef};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// What takes the floor over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "read": "47DEQpj8HBSa-_TImW-5JCeuQeRkm5NMpJWZG3hSuFU", "note": "M-102 waits for bar"
}))]
pub struct NewHandover {
    /// The entity tag of the floor as it was read, without its quotation marks. Anything that changed since refuses.
    pub read: String,
    /// What there is to say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// That somebody took over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[schema(as = HandoverSummary)]
pub struct HandoverSummary {
    /// Its id.
    pub id: Uuid,
    /// Who took over.
    pub taken_by: PersonRef,
    /// The server's time.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub taken_at: DateTime<Utc>,
    /// What they said.
    pub note: Option<String>,
}

/// That somebody took over, and what: the floor as it stood then.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = Handover)]
pub struct HandoverView {
    /// Who and when.
    #[serde(flatten)]
    pub summary: HandoverSummary,
    /// The machines as they stood.
    pub machines: Vec<FloorMachine>,
}
