//! The run permit on the wire.

use super::schema::CodeSchema;
use crate::openapi::RefusalSchema;
use chrono::{DateTime, Utc};
use dovetally_core::{code::Code, refusal::Refusal, setup::permit::PermitPurpose};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// What a permit is asked for.
#[derive(Clone, Copy, Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct PermitQuery {
    /// `trial` or `production`; production when left out.
    #[serde(default = "production")]
    #[param(value_type = Option<String>)]
    pub purpose: PermitPurpose,
}

const fn production() -> PermitPurpose {
    PermitPurpose::Production
}

/// Whether the records stand against running. Advice, not a safety function.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[schema(as = RunPermit)]
pub struct RunPermitView {
    /// The machine.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// `trial` or `production`.
    #[schema(value_type = String, example = "production")]
    pub purpose: PermitPurpose,
    /// Whether nothing on record stands against it.
    pub permitted: bool,
    /// Everything that does.
    #[schema(value_type = Vec<RefusalSchema>)]
    pub blockers: Vec<Refusal>,
    /// The setup it rests on.
    pub setup: Option<Uuid>,
    /// When it was judged.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub judged_at: DateTime<Utc>,
    /// Not to be relied on after this instant, at most a minute later, and never past the end of a provisional release.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub valid_until: DateTime<Utc>,
    /// What this is not.
    pub caution: String,
}
