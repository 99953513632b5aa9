//! Tag-outs on the wire.

use super::schema::CodeSchema;
use chrono::{DateTime, Utc};
use dovetally_core::code::Code;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// What places a tag-out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewTagOut {
    /// The machine.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub machine: Code,
    /// Why it may not be used.
    #[schema(example = "Coolant pump leaks onto the floor")]
    pub reason: String,
}

/// What clears a tag-out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClearTagOutBody {
    /// What was done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Seal replaced")]
    pub note: Option<String>,
}

/// What a list of tag-outs may be narrowed to.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct TagOutFilters {
    /// Of this machine.
    #[param(value_type = Option<String>)]
    pub machine: Option<Code>,
    /// Only those in force, or only cleared ones.
    pub in_force: Option<bool>,
}

/// A tag-out: the record that a machine may not be used.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = TagOut)]
pub struct TagOutView {
    /// Its id.
    pub id: Uuid,
    /// The machine.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// Why it may not be used.
    pub reason: String,
    /// The badge of whoever placed it.
    pub placed_by: String,
    /// When.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub placed_at: DateTime<Utc>,
    /// Whether it is in force.
    pub in_force: bool,
    /// The badge of whoever cleared it.
    pub cleared_by: Option<String>,
    /// When.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub cleared_at: Option<DateTime<Utc>>,
    /// What was done.
    pub note: Option<String>,
    /// What this record is not.
    pub caution: &'static str,
}

impl TagOutView {
    /// A record stops nobody's hand.
    pub const CAUTION: &'static str =
        "This is a record, not a lock: it stops no machine. Isolate and lock out by your local rules.";
}
