//! Owners' consents about their form tools on the wire.

use super::schema::{CodeSchema, ConsentKindSchema};
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{code::Code, life::ownership::ConsentKind};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// An owner's consent about a tool of theirs.
#[derive(Clone, Debug, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"kind": "grind", "given_by": "R. Ashby, Ashby Pumps", "note": "Order 4711"}))]
pub struct NewToolConsent {
    /// To what.
    #[schema(value_type = ConsentKindSchema)]
    pub kind: ConsentKind,
    /// For a loan: to which part.
    #[serde(default)]
    #[schema(value_type = Option<CodeSchema>)]
    pub part: Option<Code>,
    /// Who gave it, at the owner's.
    #[schema(min_length = 1, max_length = 100)]
    pub given_by: String,
    /// The last day on which it holds; for good when left out.
    #[serde(default, deserialize_with = "super::time::optional_day")]
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub valid_until: Option<NaiveDate>,
    /// The letter or order that says so, or anything else to know.
    #[serde(default)]
    #[schema(max_length = 1000)]
    pub note: Option<String>,
}

/// That an owner withdrew a consent: nothing more is said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({}))]
pub struct WithdrawToolConsent {}

/// A consent on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = ToolConsent)]
pub struct ToolConsentView {
    /// Its id.
    pub id: Uuid,
    /// The tool.
    #[schema(value_type = CodeSchema)]
    pub tool: Code,
    /// To what.
    #[schema(value_type = ConsentKindSchema)]
    pub kind: ConsentKind,
    /// For a loan: to which part.
    #[schema(value_type = Option<CodeSchema>)]
    pub part: Option<Code>,
    /// Who gave it.
    pub given_by: String,
    /// The last day on which it holds; null for good.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub valid_until: Option<NaiveDate>,
    /// Anything else to know.
    pub note: Option<String>,
    /// The badge of whoever recorded it.
    pub recorded_by: String,
    /// The server's time.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub recorded_at: DateTime<Utc>,
    /// The badge of whoever recorded that it was withdrawn; null while it stands.
    pub withdrawn_by: Option<String>,
    /// When that was recorded.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub withdrawn_at: Option<DateTime<Utc>>,
}
