//! Checks of form tools on the wire.

use super::{
    schema::{ConditionSchema, LengthSchema, ToolFindingSchema},
    tool_record::{FaceView, ToolRecordView, height_or_angle},
};
use chrono::{DateTime, Utc};
use dovetally_core::{
    field_error::{FieldError, FieldErrors},
    item::Condition,
    length::Length,
    life::check::{ToolCheckFields, ToolFinding},
    registry::tool_design::ToolDesignFields,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A check of a form tool. For circular tools the height is the arc, and may be given as usable angle.
#[derive(Clone, Debug, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"accepted": true, "profile_checked": true, "edge_sound": true,
    "height": {"value": 1.195, "unit": "in"}, "rake_deg": 6.0}))]
pub struct NewToolCheck {
    /// Whether the tool may be used.
    pub accepted: bool,
    /// Whether the profile was compared with the design's; a tool is passed only with it.
    pub profile_checked: bool,
    /// Whether the edge was tested for burn and cracks and found sound; asked for after either was seen.
    #[serde(default)]
    pub edge_sound: bool,
    /// What was done that the edge is found sound, where a check had found burn or a crack and nothing was ground off since:
    /// an inspector's to say.
    #[serde(default)]
    #[schema(max_length = 1000)]
    pub edge_cleared: Option<String>,
    /// The height as measured, asked for after a grind; a lower one becomes the record's.
    #[serde(default)]
    #[schema(value_type = Option<LengthSchema>)]
    pub height: Option<Length>,
    /// Circular tools, instead of the height: the angle left.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 360)]
    pub usable_angle_deg: Option<f64>,
    /// The rake as measured; asked for after a grind.
    #[serde(default)]
    #[schema(exclusive_minimum = -45, exclusive_maximum = 45)]
    pub rake_deg: Option<f64>,
    /// Circular tools: the face's distance from the tool's centre, as measured; asked for after a grind.
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
    /// That a height far below what is expected was measured again, and is so.
    #[serde(default)]
    pub confirmed: bool,
    /// When it was done; now when left out. Not before the last grind, check or run of the tool.
    #[serde(default, deserialize_with = "super::time::optional_instant")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub performed_at: Option<DateTime<Utc>>,
    /// Anything else to know.
    #[serde(default)]
    #[schema(max_length = 1000)]
    pub note: Option<String>,
}

impl NewToolCheck {
    /// The trade's fields, the angle turned into the arc by the design.
    ///
    /// # Errors
    /// What is given twice, or gives no arc.
    pub fn fields(&self, design: &ToolDesignFields) -> Result<ToolCheckFields, Vec<FieldError>> {
        let mut errors = FieldErrors::default();
        let angle = (self.usable_angle_deg, "/usable_angle_deg");
        let height = height_or_angle(design, self.height, angle, &mut errors);
        let errors = errors.into_vec();
        if !errors.is_empty() {
            return Err(errors);
        }
        Ok(ToolCheckFields {
            accepted: self.accepted,
            profile_checked: self.profile_checked,
            edge_sound: self.edge_sound,
            edge_cleared: self.edge_cleared.clone(),
            confirmed: self.confirmed,
            height,
            rake_deg: self.rake_deg,
            face_offset: self.face_offset,
            found: self.found.clone(),
            condition: self.condition,
            note: self.note.clone(),
        })
    }
}

/// A check on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = ToolCheck)]
pub struct ToolCheckView {
    /// Of what, and by whom.
    #[serde(flatten)]
    pub record: ToolRecordView,
    /// The face as it was measured.
    #[serde(flatten)]
    pub face: FaceView,
    /// The number of the tool's last grind before it; zero for none.
    pub after_grind: u32,
    /// Whether the tool was passed.
    pub accepted: bool,
    /// The tool's condition after it.
    #[schema(value_type = ConditionSchema)]
    pub condition: Condition,
    /// Whether the edge was tested and found sound.
    pub edge_sound: bool,
    /// What was done that it is, where a check had found burn or a crack.
    pub edge_cleared: Option<String>,
    /// The height as measured.
    #[schema(value_type = Option<LengthSchema>)]
    pub height: Option<Length>,
    /// Circular tools whose design has a radius, where it was measured: the angle left.
    pub usable_angle_deg: Option<f64>,
    /// What was found.
    #[schema(value_type = Vec<ToolFindingSchema>)]
    pub found: Vec<ToolFinding>,
    /// When it was done.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub performed_at: DateTime<Utc>,
}
