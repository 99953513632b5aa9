//! Documents of what a gauge has touched on the wire.

use super::schema::{CodeSchema, EventKindSchema, ImpactOutcomeSchema, TouchedKindSchema};
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    gauge::{
        impact::{Evidence, TouchedKind},
        impact_document::Outcome,
    },
    setup::event::EventKind,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// From when on a gauge is in doubt.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ImpactQuery {
    /// An instant, included; the gauge's last accepted check when left out.
    #[serde(default, deserialize_with = "super::time::optional_instant")]
    #[param(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub since: Option<DateTime<Utc>>,
}

/// An event that shows why something is touched.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = ImpactEvidence)]
pub struct EvidenceView {
    /// Of this setup.
    pub setup: Uuid,
    /// The event's number there.
    pub sequence: i64,
    /// What happened.
    #[schema(value_type = EventKindSchema)]
    pub kind: EventKind,
    /// At this station.
    #[schema(value_type = Option<CodeSchema>)]
    pub station: Option<Code>,
    /// The server's time of it.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub at: DateTime<Utc>,
}

impl From<&Evidence> for EvidenceView {
    fn from(evidence: &Evidence) -> Self {
        Self {
            setup: evidence.setup.uuid(),
            sequence: evidence.sequence,
            kind: evidence.kind,
            station: evidence.station.clone(),
            at: evidence.at,
        }
    }
}

/// Something that a gauge has touched. What does not belong to its kind is null.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = TouchedByGauge)]
pub struct TouchedView {
    /// What it is.
    #[schema(value_type = TouchedKindSchema)]
    pub kind: TouchedKind,
    /// The setup, or the run's setup.
    pub setup: Option<Uuid>,
    /// The run.
    pub run: Option<Uuid>,
    /// The run's number in its setup.
    pub run_number: Option<i32>,
    /// The machine of the setup or run.
    #[schema(value_type = Option<CodeSchema>)]
    pub machine: Option<Code>,
    /// The part of the setup or run.
    #[schema(value_type = Option<CodeSchema>)]
    pub part: Option<Code>,
    /// The job's number.
    #[schema(value_type = Option<CodeSchema>)]
    pub job: Option<Code>,
    /// The tool.
    #[schema(value_type = Option<CodeSchema>)]
    pub tool: Option<Code>,
    /// When the setup was opened or the run released.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub from: Option<DateTime<Utc>>,
    /// When the run ended; null while its release is in force.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub until: Option<DateTime<Utc>>,
    /// The run's pieces, or those of the setup's or job's touched runs; null for a tool, and for a run until they are booked.
    pub pieces: Option<i64>,
    /// The events that show why, in order.
    pub evidence: Vec<EvidenceView>,
}

/// How much is touched.
#[derive(Clone, Copy, Debug, Default, Serialize, ToSchema)]
pub struct TouchedCounts {
    /// Setups in which the gauge was.
    pub setups: i64,
    /// Runs that rest on heights read on it.
    pub runs: i64,
    /// Jobs of these.
    pub jobs: i64,
    /// Tools set with it.
    pub tools: i64,
    /// Pieces of these runs, as far as they are booked.
    pub pieces: i64,
}

/// Everything that a gauge has touched since an instant, as the records say now. Nothing is stored.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct GaugeImpactView {
    /// The gauge.
    #[schema(value_type = CodeSchema)]
    pub gauge: Code,
    /// The machine it is bound to.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// From when on, included; null where it was never accepted: then everything.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub since: Option<DateTime<Utc>>,
    /// How much.
    pub counts: TouchedCounts,
    /// What: setups, then runs, jobs and tools, of each kind the first 100. A document has them all, in pages.
    pub touched: Vec<TouchedView>,
    /// How many more there are.
    pub more: usize,
    /// What this is not.
    pub caution: &'static str,
}

/// What raises a document by hand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"gauge": "CG-101", "reason": "Dropped on the floor, found by the night shift"}))]
pub struct NewImpact {
    /// The gauge.
    #[schema(value_type = CodeSchema)]
    pub gauge: Code,
    /// From when on it is in doubt; its last accepted check when left out.
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "super::time::optional_instant")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub since: Option<DateTime<Utc>>,
    /// Why.
    #[schema(min_length = 1, max_length = 1000)]
    pub reason: String,
}

/// What became of entries.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"entries": [1, 2], "outcome": "cleared", "note": "Ten pieces of each run measured, all in the middle"}))]
pub struct NewOutcomes {
    /// The entries' numbers, each once, at most 200.
    #[schema(min_items = 1, max_items = 200)]
    pub entries: Vec<i32>,
    /// What became of them.
    #[schema(value_type = ImpactOutcomeSchema)]
    pub outcome: Outcome,
    /// In words: what was looked at, who decided.
    #[schema(min_length = 1, max_length = 1000)]
    pub note: String,
}

/// What closes a document.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"note": "Two runs sorted, nothing was shipped"}))]
pub struct ImpactClosing {
    /// What came of it all.
    #[schema(min_length = 1, max_length = 1000)]
    pub note: String,
}

/// What a list of documents may be narrowed to.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ImpactFilters {
    /// Of this gauge.
    #[param(value_type = Option<String>)]
    pub gauge: Option<Code>,
    /// Only open ones, or only closed ones.
    pub open: Option<bool>,
}

/// What a document's entries may be narrowed to.
#[derive(Clone, Copy, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ImpactEntryFilters {
    /// Only of this kind.
    #[param(value_type = Option<TouchedKindSchema>)]
    pub kind: Option<TouchedKind>,
    /// Only with an outcome, or only without.
    pub judged: Option<bool>,
}

/// A document of what a gauge has touched, to be worked through.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Impact)]
pub struct ImpactView {
    /// Its id.
    pub id: Uuid,
    /// The gauge.
    #[schema(value_type = CodeSchema)]
    pub gauge: Code,
    /// The machine it was bound to.
    #[schema(value_type = CodeSchema)]
    pub machine: Code,
    /// The check that found it wrong; null where somebody raised the document by hand.
    pub check: Option<Uuid>,
    /// Why it was raised.
    pub reason: String,
    /// From when on the gauge is in doubt, included: its last accepted check. Null where it was never accepted.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub doubtful_since: Option<DateTime<Utc>>,
    /// Until when, included: the check that set it right. Null while it was not.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub doubtful_until: Option<DateTime<Utc>>,
    /// How much it holds.
    pub counts: TouchedCounts,
    /// How many entries nobody has judged.
    pub without_outcome: i64,
    /// How many things were touched, or changed, since it was last brought up to date; null in lists and where it is closed.
    pub came_since: Option<usize>,
    /// When it was last brought up to date.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub up_to_date_at: DateTime<Utc>,
    /// The badge of whoever raised it.
    pub raised_by: String,
    /// When.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub raised_at: DateTime<Utc>,
    /// Whether it is still worked through.
    pub open: bool,
    /// The badge of whoever closed it.
    pub closed_by: Option<String>,
    /// When.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub closed_at: Option<DateTime<Utc>>,
    /// What came of it.
    pub closing_note: Option<String>,
    /// What this is not.
    pub caution: &'static str,
}

/// Records tell what was recorded.
pub const CAUTION: &str = "From records: what was set, read or run without being recorded is not in it. Quarantine what \
                           is in doubt by your local rules.";

/// An entry of a document.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = ImpactEntry)]
pub struct ImpactEntryView {
    /// Its number in the document.
    pub number: i32,
    /// What is touched, and why.
    #[serde(flatten)]
    pub touched: TouchedView,
    /// What became of it; null while nobody has judged it.
    #[schema(value_type = Option<ImpactOutcomeSchema>)]
    pub outcome: Option<Outcome>,
    /// In words.
    pub note: Option<String>,
    /// The badge of whoever judged it.
    pub judged_by: Option<String>,
    /// When.
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub judged_at: Option<DateTime<Utc>>,
}
