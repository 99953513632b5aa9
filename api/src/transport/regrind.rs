//! Grinds of form tools on the wire.

use super::{
    schema::{EdgeEndSchema, GrindKindSchema, LengthSchema},
    tool_record::{FaceView, ToolRecordView, height_or_angle},
};
use chrono::{DateTime, Utc};
use dovetally_core::{
    field_error::{FieldError, FieldErrors},
    length::Length,
    life::{
        edge::EdgeEnd,
        regrind::{GrindKind, GroundBy, RegrindFields, Removal},
    },
    registry::tool_design::ToolDesignFields,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A grind of a form tool. A full or partial grind gives one of `height_after`, `stock` and `wear_land`; for circular tools the
/// heights are arcs, and may be given as usable angles.
#[derive(Clone, Debug, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"kind": "full", "height_before": {"value": 1.21, "unit": "in"},
    "height_after": {"value": 1.195, "unit": "in"}, "wheel": "Aluminium oxide, cup", "dressed": true,
    "profile_checked": true, "edge_ended": "worn"}))]
pub struct NewRegrind {
    /// How far it went.
    #[schema(value_type = GrindKindSchema)]
    pub kind: GrindKind,
    /// The height as measured before it; the record's when left out.
    #[serde(default)]
    #[schema(value_type = Option<LengthSchema>)]
    pub height_before: Option<Length>,
    /// Circular tools, instead of the height before: the angle left then.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 360)]
    pub usable_angle_before_deg: Option<f64>,
    /// The height as measured after it.
    #[serde(default)]
    #[schema(value_type = Option<LengthSchema>)]
    pub height_after: Option<Length>,
    /// Circular tools, instead of the height after: the angle left now.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 360)]
    pub usable_angle_after_deg: Option<f64>,
    /// Stock that was ground off, normal to the cutting face; the height follows from clearance and rake.
    #[serde(default)]
    #[schema(value_type = Option<LengthSchema>)]
    pub stock: Option<Length>,
    /// The widest wear land that was ground off, along the relief face.
    #[serde(default)]
    #[schema(value_type = Option<LengthSchema>)]
    pub wear_land: Option<Length>,
    /// With a wear land: stock beyond it, normal to the cutting face; none when left out.
    #[serde(default)]
    #[schema(value_type = Option<LengthSchema>)]
    pub clean_up: Option<Length>,
    /// The count of grinds that the tool itself carries, this one included.
    #[serde(default)]
    #[schema(maximum = 100000)]
    pub regrind_count: Option<u32>,
    /// The wheel.
    #[serde(default)]
    #[schema(max_length = 100)]
    pub wheel: Option<String>,
    /// Whether the wheel was dressed for it.
    #[serde(default)]
    pub dressed: bool,
    /// Whether burn was seen: the tool then stays out of use until a check finds its edge sound.
    #[serde(default)]
    pub burn_seen: bool,
    /// The rake as measured afterwards.
    #[serde(default)]
    #[schema(exclusive_minimum = -45, exclusive_maximum = 45)]
    pub rake_deg: Option<f64>,
    /// Circular tools: the face's distance from the tool's centre, as measured afterwards.
    #[serde(default)]
    #[schema(value_type = Option<LengthSchema>)]
    pub face_offset: Option<Length>,
    /// Whether the grinder compared the profile afterwards.
    #[serde(default)]
    pub profile_checked: bool,
    /// Of a full grind: why the edge ended, `worn`, `early` or `damaged`.
    #[serde(default)]
    #[schema(value_type = Option<EdgeEndSchema>)]
    pub edge_ended: Option<EdgeEnd>,
    /// The badge of whoever did it; whoever records it when left out. They do not pass it afterwards.
    #[serde(default)]
    #[schema(example = "grinder")]
    pub ground_by: Option<String>,
    /// Instead, the person or place outside the shop that did it, in words.
    #[serde(default)]
    #[schema(max_length = 100)]
    pub ground_outside: Option<String>,
    /// That a height far below what is expected was measured again, and is so.
    #[serde(default)]
    pub confirmed: bool,
    /// When it was done; now when left out. Not before the last grind, check or run of the tool.
    #[serde(default, deserialize_with = "super::time::optional_instant")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub occurred_at: Option<DateTime<Utc>>,
    /// Anything else to know.
    #[serde(default)]
    #[schema(max_length = 1000)]
    pub note: Option<String>,
}

impl NewRegrind {
    /// The trade's fields, angles turned into arcs by the design.
    ///
    /// # Errors
    /// What is given twice, or gives no arc.
    pub fn fields(&self, design: &ToolDesignFields, ground_by: GroundBy) -> Result<RegrindFields, Vec<FieldError>> {
        let mut errors = FieldErrors::default();
        let angle = (self.usable_angle_before_deg, "/usable_angle_before_deg");
        let height_before = height_or_angle(design, self.height_before, angle, &mut errors);
        let angle = (self.usable_angle_after_deg, "/usable_angle_after_deg");
        let height_after = height_or_angle(design, self.height_after, angle, &mut errors);
        let given = [height_after.is_some(), self.stock.is_some(), self.wear_land.is_some()];
        errors.require(
            given.iter().filter(|given| **given).count() <= 1,
            "/height_after",
            "give one of height_after, stock and wear_land",
        );
        errors.require(
            self.regrind_count.is_none_or(|count| count <= 100_000),
            "/regrind_count",
            "must be at most 100000",
        );
        errors.require(self.clean_up.is_none() || self.wear_land.is_some(), "/clean_up", "belongs to a wear land");
        let errors = errors.into_vec();
        if !errors.is_empty() {
            return Err(errors);
        }
        let none = |width: Length| Length::from_picometres(0, width.unit());
        Ok(RegrindFields {
            kind: self.kind,
            height_before,
            removal: match (height_after, self.stock, self.wear_land) {
                (Some(after), ..) => Some(Removal::Down(after)),
                (None, Some(stock), _) => Some(Removal::Stock(stock)),
                (None, None, Some(width)) => {
                    Some(Removal::WearLand { width, clean_up: self.clean_up.unwrap_or_else(|| none(width)) })
                }
                (None, None, None) => None,
            },
            regrind_count: self.regrind_count,
            wheel: self.wheel.clone(),
            dressed: self.dressed,
            burn_seen: self.burn_seen,
            rake_deg: self.rake_deg,
            face_offset: self.face_offset,
            profile_checked: self.profile_checked,
            edge_ended: self.edge_ended,
            ground_by,
            confirmed: self.confirmed,
            note: self.note.clone(),
        })
    }
}

/// A grind on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Regrind)]
pub struct RegrindView {
    /// Of what, and by whom.
    #[serde(flatten)]
    pub record: ToolRecordView,
    /// The face as the grinder measured it.
    #[serde(flatten)]
    pub face: FaceView,
    /// Its number among the tool's grinds, touch-ups included.
    pub number: u32,
    /// How far it went.
    #[schema(value_type = GrindKindSchema)]
    pub kind: GrindKind,
    /// The height that was on record before it.
    #[schema(value_type = LengthSchema)]
    pub height_on_record: Length,
    /// The height before it.
    #[schema(value_type = LengthSchema)]
    pub height_before: Length,
    /// The height after it: the record's from then on.
    #[schema(value_type = LengthSchema)]
    pub height_after: Length,
    /// Circular tools whose design has a radius: the angle left before it.
    pub usable_angle_before_deg: Option<f64>,
    /// Circular tools whose design has a radius: the angle left after it.
    pub usable_angle_deg: Option<f64>,
    /// Stock, where it was given.
    #[schema(value_type = Option<LengthSchema>)]
    pub stock: Option<Length>,
    /// Wear land, where it was given.
    #[schema(value_type = Option<LengthSchema>)]
    pub wear_land: Option<Length>,
    /// Stock beyond the wear land.
    #[schema(value_type = Option<LengthSchema>)]
    pub clean_up: Option<Length>,
    /// The tool's count of grinds with it.
    pub regrind_count: u32,
    /// Pieces that were on the edge.
    pub pieces_on_edge: i64,
    /// Why the edge ended.
    #[schema(value_type = Option<EdgeEndSchema>)]
    pub edge_ended: Option<EdgeEnd>,
    /// The wheel.
    pub wheel: Option<String>,
    /// Whether the wheel was dressed for it.
    pub dressed: bool,
    /// Whether burn was seen.
    pub burn_seen: bool,
    /// The badge of whoever did it; null where somebody outside the shop did.
    pub ground_by: Option<String>,
    /// Who outside the shop did it.
    pub ground_outside: Option<String>,
    /// Whether the tool came out below its design's minimum and was retired with it.
    pub retired: bool,
    /// When it was done.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub occurred_at: DateTime<Utc>,
    /// That a record is not a safety device.
    pub caution: &'static str,
}

impl RegrindView {
    /// What a grind's record says, but of a tool that it left below its design's minimum: nobody waits for its check.
    #[must_use]
    pub const fn caution_of(below_minimum: bool) -> &'static str {
        if below_minimum {
            "Edges are sharp, wheels need their guards: local rules and qualified people come first, this record is \
             neither."
        } else {
            "Waits for a check by somebody else before it is used. Edges are sharp, wheels need their guards: local \
             rules and qualified people come first, this record is neither."
        }
    }
}
