//! Checks of holders on the wire.

use super::schema::{CodeSchema, ConditionSchema, HolderFindingSchema};
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    code::Code,
    holder::{HolderCheckFields, HolderFinding},
    item::Condition,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// A check of a holder.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"accepted": false, "found": ["burr_on_seat"], "taper_adjuster_free": true,
    "height_adjuster_free": true, "side_screw_free": true, "seat_clean": false, "note": "Burr at the rear edge"}))]
pub struct NewHolderCheck {
    /// Whether it may be used. Refused where what was found speaks against it.
    pub accepted: bool,
    /// What was found.
    #[serde(default)]
    #[schema(value_type = Vec<HolderFindingSchema>)]
    pub found: Vec<HolderFinding>,
    /// Whether its taper screw turns freely: asked where it has one, and only there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taper_adjuster_free: Option<bool>,
    /// Whether its height screw turns freely: asked where it has one, and only there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_adjuster_free: Option<bool>,
    /// Whether its side screw turns freely: asked where it has one, and only there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side_screw_free: Option<bool>,
    /// Whether its seat is clean and without burrs.
    pub seat_clean: bool,
    /// What else there is to say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 1000)]
    pub note: Option<String>,
    /// What it is now where it is not accepted: `needs_check` (when left out), `damaged` or `retired`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<ConditionSchema>)]
    pub condition: Option<Condition>,
    /// The last day on which this check is valid; by the holder's `check_interval_days` when left out.
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "super::time::optional_day")]
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub next_check: Option<NaiveDate>,
    /// When it was done; now when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub performed_at: Option<DateTime<Utc>>,
}

impl NewHolderCheck {
    /// The trade's own.
    #[must_use]
    pub fn fields(&self, performed_at: DateTime<Utc>) -> HolderCheckFields {
        HolderCheckFields {
            accepted: self.accepted,
            found: self.found.clone(),
            taper_adjuster_free: self.taper_adjuster_free,
            height_adjuster_free: self.height_adjuster_free,
            side_screw_free: self.side_screw_free,
            seat_clean: self.seat_clean,
            note: self.note.clone(),
            condition: self.condition,
            next_check: self.next_check,
            performed_at,
        }
    }
}

/// A check on record.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = HolderCheck)]
pub struct HolderCheckView {
    /// Its id.
    pub id: Uuid,
    /// The holder.
    #[schema(value_type = CodeSchema)]
    pub holder: Code,
    /// Whether it may be used.
    pub accepted: bool,
    /// What was found.
    #[schema(value_type = Vec<HolderFindingSchema>)]
    pub found: Vec<HolderFinding>,
    /// Whether its taper screw turned freely; null where it has none.
    pub taper_adjuster_free: Option<bool>,
    /// Whether its height screw turned freely; null where it has none.
    pub height_adjuster_free: Option<bool>,
    /// Whether its side screw turned freely; null where it has none.
    pub side_screw_free: Option<bool>,
    /// Whether its seat was clean and without burrs.
    pub seat_clean: bool,
    /// What else there was to say.
    pub note: Option<String>,
    /// Its condition from this check on. Unless usable it is blocked until a check clears it.
    #[schema(value_type = ConditionSchema)]
    pub condition: Condition,
    /// The last day on which this check is valid; null where holders are not checked by date.
    #[schema(value_type = Option<chrono::NaiveDate>)]
    pub next_check: Option<NaiveDate>,
    /// When it was done.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub performed_at: DateTime<Utc>,
    /// The badge of whoever recorded it.
    pub recorded_by: String,
    /// The server's time.
    #[schema(value_type = chrono::DateTime<chrono::Utc>)]
    pub recorded_at: DateTime<Utc>,
}
