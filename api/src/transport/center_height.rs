//! Measurements of a machine's spindle centre height on the wire.

use super::{
    schema::{CodeSchema, LengthSchema},
    setup::PersonRef,
};
use chrono::{DateTime, Utc};
use dovetally_core::{
    code::Code,
    length::Length,
    registry::machine::{CenterHeightFields, SpindleHeight},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// A measurement of a machine's spindle centre height.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "measured": {"value": 2.5004, "unit": "in"}, "standard_uncertainty": {"value": 0.0001, "unit": "in"},
    "reason": "carrier bearings renewed", "after_work": true, "station": null, "spindles": []
}))]
pub struct CenterHeightBody {
    /// The height found, above the slide, above zero. Where it departs from what was on record before (the last measurement,
    /// or else the nominal height) by more than twice the combined standard uncertainty, or at all where none is stated, the
    /// machine's centre gauges are stale until they are checked again.
    #[schema(value_type = LengthSchema)]
    pub measured: Length,
    /// The measurement's standard uncertainty, zero or more.
    #[schema(value_type = LengthSchema)]
    pub standard_uncertainty: Length,
    /// Why it was measured.
    #[schema(example = "carrier bearings renewed", max_length = 1000)]
    pub reason: String,
    /// Whether work was done that can move the spindle centres: then the machine's centre gauges are stale until they
    /// are checked again, whatever was found. It has no default: whoever measures says it.
    pub after_work: bool,
    /// When it was measured, at most 2 minutes ahead and 7 days back; now when left out. Not before the newest measurement
    /// on record of the same machine or station, nor, unless it is itself after work, before the spindle centres may have
    /// moved.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub performed_at: Option<DateTime<Utc>>,
    /// The station at which it was measured; when left out it holds for the machine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<CodeSchema>)]
    pub station: Option<Code>,
    /// What was found at each spindle: all of them in order, or none. Half of what lies between the highest and the
    /// lowest is taken off the height limit on either side, at the station or, without one, wherever no station was
    /// measured by itself.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub spindles: Vec<SpindleHeightBody>,
    /// That a height far from the builder's, or a large uncertainty, was measured again, and is so.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub confirmed: bool,
}

/// The height of one spindle's centre.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = SpindleHeight, example = json!({"spindle": 1, "measured": {"value": 2.5004, "unit": "in"}}))]
pub struct SpindleHeightBody {
    /// The spindle, from 1.
    #[schema(minimum = 1, maximum = 16)]
    pub spindle: u8,
    /// Its centre's height above the slide, above zero.
    #[schema(value_type = LengthSchema)]
    pub measured: Length,
}

/// A measurement on record. It is never changed: a newer one follows it.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct CenterHeightView {
    /// Its id.
    #[schema(value_type = uuid::Uuid)]
    pub id: Uuid,
    /// The machine.
    #[schema(value_type = CodeSchema, example = "M-101")]
    pub machine: Code,
    /// The height found, above the slide.
    #[schema(value_type = LengthSchema)]
    pub measured: Length,
    /// The measurement's standard uncertainty.
    #[schema(value_type = LengthSchema)]
    pub standard_uncertainty: Length,
    /// Why it was measured.
    #[schema(example = "carrier bearings renewed")]
    pub reason: String,
    /// Whether work was done that can move the spindle centres.
    pub after_work: bool,
    /// When it was measured, as the person says.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub performed_at: DateTime<Utc>,
    /// Who recorded it.
    pub recorded_by: PersonRef,
    /// The server's time.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub recorded_at: DateTime<Utc>,
    /// The station at which it was measured; null where it holds for the machine.
    #[schema(value_type = Option<CodeSchema>)]
    pub station: Option<Code>,
    /// What was found at each spindle.
    pub spindles: Vec<SpindleHeightBody>,
    /// Highest less lowest of them; null where they were not told apart.
    #[schema(value_type = Option<LengthSchema>)]
    pub spread: Option<Length>,
}

impl CenterHeightBody {
    /// The trade's fields, with the time of the measurement as it counts.
    #[must_use]
    pub fn fields(&self, performed_at: DateTime<Utc>) -> CenterHeightFields {
        CenterHeightFields {
            measured: self.measured,
            standard_uncertainty: self.standard_uncertainty,
            reason: self.reason.clone(),
            after_work: self.after_work,
            performed_at,
            station: self.station.clone(),
            spindles: self
                .spindles
                .iter()
                .map(|height| SpindleHeight { spindle: height.spindle, measured: height.measured })
                .collect(),
        }
    }
}

impl CenterHeightView {
    /// A measurement as clients see it.
    #[must_use]
    pub fn new(
        id: Uuid,
        machine: Code,
        fields: CenterHeightFields,
        recorded_by: PersonRef,
        recorded_at: DateTime<Utc>,
    ) -> Self {
        let spread = fields.spread();
        let spindles = fields.spindles.iter();
        Self {
            id,
            machine,
            station: fields.station,
            spindles: spindles.map(|at| SpindleHeightBody { spindle: at.spindle, measured: at.measured }).collect(),
            spread,
            measured: fields.measured,
            standard_uncertainty: fields.standard_uncertainty,
            reason: fields.reason,
            after_work: fields.after_work,
            performed_at: fields.performed_at,
            recorded_by,
            recorded_at,
        }
    }
}
