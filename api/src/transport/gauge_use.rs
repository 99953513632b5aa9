//! What was set with which gauge, on the wire.

use super::schema::CodeSchema;
use chrono::{DateTime, Utc};
use dovetally_core::code::Code;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// One stay of a gauge in a machine.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = GaugeUse)]
pub struct GaugeUseView {
    /// The setup; its event `placed_sequence` placed the gauge.
    pub setup: Uuid,
    /// The number of that event.
    pub placed_sequence: i64,
    /// The gauge.
    #[schema(value_type = CodeSchema, example = "CG-101")]
    pub gauge: Code,
    /// The machine.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub machine: Code,
    /// The station.
    #[schema(value_type = CodeSchema, example = "S1")]
    pub station: Code,
    /// The tool whose edge was last read on it; null when none was.
    #[schema(value_type = Option<CodeSchema>)]
    pub tool: Option<Code>,
    /// When it was placed, by the server's time.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub placed_at: DateTime<Utc>,
    /// When it was taken out; null while it is in the machine.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub removed_at: Option<DateTime<Utc>>,
}

/// What a list of gauge uses may be narrowed to.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct GaugeUseFilters {
    /// Only of this gauge.
    #[param(value_type = Option<String>)]
    pub gauge: Option<Code>,
    /// Only in this machine.
    #[param(value_type = Option<String>)]
    pub machine: Option<Code>,
    /// Only those on which this tool was set.
    #[param(value_type = Option<String>)]
    pub tool: Option<Code>,
    /// Only those in a machine at this recorded instant: from when it was placed until before it was taken out. Each is
    /// shown as it went on since: when it was taken out, and which tool was set on it last. The future is refused.
    #[serde(default, deserialize_with = "super::time::optional_instant")]
    #[param(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub as_of: Option<DateTime<Utc>>,
}
