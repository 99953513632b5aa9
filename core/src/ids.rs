//! The one registry of typed ids. All are UUIDv7, made by the database layer; core only carries them.

use serde::{Deserialize, Serialize};
use std::{fmt, str::FromStr};
use uuid::Uuid;

macro_rules! typed_ids {
    ($($(#[$doc:meta])* $name:ident,)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(Uuid);

        impl $name {
            /// Wraps a UUID that is known to name a thing of this kind.
            #[must_use]
            pub const fn from_uuid(id: Uuid) -> Self {
                Self(id)
            }

            /// The bare UUID.
            #[must_use]
            pub const fn uuid(self) -> Uuid {
                self.0
            }
        }

        impl From<Uuid> for $name {
            fn from(id: Uuid) -> Self {
                Self(id)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }

        impl FromStr for $name {
            type Err = uuid::Error;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                Uuid::parse_str(text).map(Self)
            }
        }
    )*};
}

// Alphabetical, one line a kind.
typed_ids! {
    /// One booking: an item kept for a job.
    BookingId,
    /// One row of the chain of changes, before it has its number.
    ChangeId,
    /// One measurement of a machine's spindle centre height.
    CenterHeightId,
    /// One check of a centre gauge.
    GaugeCheckId,
    /// A handover: who took the floor over, when, and how it stood.
    HandoverId,
    /// One check of a holder.
    HolderCheckId,
    /// A document of what a gauge has touched.
    ImpactId,
    /// A serialised item: form tool, holder, centre gauge or other. A gauge's id is its item id.
    ItemId,
    /// A job: so many of a part, on a machine, from a day on.
    JobId,
    /// A machine.
    MachineId,
    /// A maintenance plan.
    MaintenancePlanId,
    /// One movement of one item.
    MovementId,
    /// A part.
    PartId,
    /// A person or an integration client.
    PersonId,
    /// A place: bin, shelf, cart, outside address.
    PlaceId,
    /// One grind of a form tool.
    RegrindId,
    /// One run of a setup.
    RunId,
    /// A signed-in session.
    SessionId,
    /// A setup of one machine.
    SetupId,
    /// A station of one machine.
    StationId,
    /// A supply: something that is counted and not numbered.
    SupplyId,
    /// One movement of one supply.
    SupplyMovementId,
    /// A tag-out of one machine.
    TagOutId,
    /// One check of a form tool.
    ToolCheckId,
    /// An owner's consent about one form tool.
    ToolConsentId,
    /// A tool design.
    ToolDesignId,
    /// A work order.
    WorkOrderId,
}
