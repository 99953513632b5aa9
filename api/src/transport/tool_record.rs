//! What grinds and checks of form tools have in common on the wire.

use super::schema::{CodeSchema, LengthSchema};
use chrono::{DateTime, Utc};
use dovetally_core::{code::Code, field_error::FieldErrors, length::Length, registry::tool_design::ToolDesignFields};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

/// What was measured of what is left: the height, or of a circular tool the arc of the angle, which stands at `at`.
pub(super) fn height_or_angle(
    design: &ToolDesignFields,
    height: Option<Length>,
    (angle_deg, at): (Option<f64>, &str),
    errors: &mut FieldErrors,
) -> Option<Length> {
    let Some(angle_deg) = angle_deg else { return height };
    errors.require(height.is_none(), at, "give it or the height, one of the two");
    design.arc_with_usable_angle(angle_deg).map_err(|why| errors.add(at, why)).ok()
}

/// What was measured of the cutting face, and looked at.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct FaceView {
    /// Whether the profile was compared with the design's.
    pub profile_checked: bool,
    /// The rake as measured.
    pub rake_deg: Option<f64>,
    /// Circular tools: the face's distance from the tool's centre, as measured.
    #[schema(value_type = Option<LengthSchema>)]
    pub face_offset: Option<Length>,
}

/// The record itself: of what, by whom, and what there is to say beside it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ToolRecordView {
    /// Its id.
    pub id: Uuid,
    /// The tool.
    #[schema(value_type = CodeSchema)]
    pub tool: Code,
    /// What there is to say beside it.
    pub remarks: Vec<String>,
    /// Anything else to know.
    pub note: Option<String>,
    /// The badge of whoever recorded it.
    pub recorded_by: String,
    /// The server's time.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub recorded_at: DateTime<Utc>,
}
