//! Checks of form tools on the wire.

use super::schema::{CodeSchema, ConditionSchema, LengthSchema, ToolFindingSchema};
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    item::Condition,
    length::Length,
    life::check::{ToolCheckFields, ToolFinding},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// A check of a form tool.
#[derive(Clone, Debug, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"accepted": true, "profile_checked": true, "edge_sound": true,
    "height": {"value": 1.195, "unit": "in"}, "rake_deg": 6.0}))]
pub struct NewToolCheck {
    /// Whether the tool may be used.
    pub accepted: bool,
    /// Whether the profile was compared with the design's.
    pub profile_checked: bool,
    /// Whether the edge was tested for burn and cracks and found sound; asked for after burn was seen.
    #[serde(default)]
    pub edge_sound: bool,
    /// The height as measured; a lower one becomes the record's.
    #[serde(default)]
    #[schema(value_type = Option<LengthSchema>)]
    pub height: Option<Length>,
    /// The rake as measured.
    #[serde(default)]
    #[schema(exclusive_minimum = -45, exclusive_maximum = 45)]
    pub rake_deg: Option<f64>,
    /// Circular tools: the face's distance from the tool's centre, as measured.
    #[serde(default)]
    #[schema(value_type = Option<LengthSchema>)]
    pub face_offset: Option<Length>,
    /// What was found.
    #[serde(default)]
    #[schema(value_type = Vec<ToolFindingSchema>)]
    pub found: Vec<ToolFinding>,
    /// What a tool that is not accepted needs: `needs_grinding` or `damaged`.
    #[serde(default)]
    #[schema(value_type = Option<ConditionSchema>)]
    pub condition: Option<Condition>,
    /// When it was done; now when left out.
    #[serde(default, deserialize_with = "super::time::optional_instant")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub performed_at: Option<DateTime<Utc>>,
    /// Anything else to know.
    #[serde(default)]
    #[schema(max_length = 1000)]
    pub note: Option<String>,
}

impl NewToolCheck {
    /// The trade's fields.
    #[must_use]
    pub fn fields(&self) -> ToolCheckFields {
        ToolCheckFields {
            accepted: self.accepted,
            profile_checked: self.profile_checked,
            edge_sound: self.edge_sound,
            height: self.height,
            rake_deg: self.rake_deg,
            face_offset: self.face_offset,
            found: self.found.clone(),
            condition: self.condition,
            note: self.note.clone(),
        }
    }
}

/// A check on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = ToolCheck)]
pub struct ToolCheckView {
    /// Its id.
    pub id: Uuid,
    /// The tool.
    #[schema(value_type = CodeSchema)]
    pub tool: Code,
    /// The number of the tool's last grind before it; zero for none.
    pub after_grind: u32,
    /// Whether the tool was passed.
    pub accepted: bool,
    /// The tool's condition after it.
    #[schema(value_type = ConditionSchema)]
    pub condition: Condition,
    /// Whether the profile was compared with the design's.
    pub profile_checked: bool,
    /// Whether the edge was tested and found sound.
    pub edge_sound: bool,
    /// The height as measured.
    #[schema(value_type = Option<LengthSchema>)]
    pub height: Option<Length>,
    /// The rake as measured.
    pub rake_deg: Option<f64>,
    /// The face offset as measured.
    #[schema(value_type = Option<LengthSchema>)]
    pub face_offset: Option<Length>,
    /// What was found.
    #[schema(value_type = Vec<ToolFindingSchema>)]
    pub found: Vec<ToolFinding>,
    /// What there is to say beside it.
    pub remarks: Vec<String>,
    /// Anything else to know.
    pub note: Option<String>,
    /// When it was done.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub performed_at: DateTime<Utc>,
    /// The badge of whoever recorded it.
    pub recorded_by: String,
    /// The server's time.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub recorded_at: DateTime<Utc>,
}
