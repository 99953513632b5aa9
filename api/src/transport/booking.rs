//! Bookings on the wire: items kept for jobs.

use super::schema::CodeSchema;
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::code::Code;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// What is to be kept for a job: these items, or what the kit proposes. One of the two.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"items": [{"station": "S1", "item": "FT-001"}]}))]
pub struct NewBookings {
    /// The items with the stations for which they are kept: all or none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub items: Vec<BookingWish>,
    /// Whether to keep everything that the kit proposes now.
    #[serde(default)]
    pub proposal: bool,
}

/// One item to be kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BookingWish {
    /// The station's code.
    #[schema(value_type = CodeSchema, example = "S1")]
    pub station: Code,
    /// The item's code as scanned.
    #[schema(example = "FT-001")]
    pub item: String,
}

/// What is to be let go: all or none.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"items": ["FT-001"], "reason": "taken for a repair order"}))]
pub struct CancelBookings {
    /// The items' codes.
    #[schema(value_type = Vec<CodeSchema>)]
    pub items: Vec<Code>,
    /// Why.
    #[schema(example = "taken for a repair order")]
    pub reason: String,
}

/// An item kept for a job.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Booking)]
pub struct BookingView {
    /// Its id.
    pub id: Uuid,
    /// The job's number.
    #[schema(value_type = CodeSchema)]
    pub job: Code,
    /// The item.
    #[schema(value_type = CodeSchema)]
    pub item: Code,
    /// The station for which it is kept.
    #[schema(value_type = CodeSchema)]
    pub station: Code,
    /// The first day on which it is kept.
    pub from: NaiveDate,
    /// The last day on which it is kept.
    pub to: NaiveDate,
    /// The badge of whoever booked it.
    pub booked_by: String,
    /// When.
    pub booked_at: DateTime<Utc>,
    /// When it ended; null while in force.
    pub ended_at: Option<DateTime<Utc>>,
    /// The badge of whoever cancelled it; null where it ended with its job.
    pub ended_by: Option<String>,
    /// Why it ended.
    pub ended_because: Option<String>,
}

/// Bookings of a job, by station and item.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Bookings {
    /// The bookings.
    pub items: Vec<BookingView>,
}
