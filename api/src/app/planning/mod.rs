//! Planning: readiness, kits and bookings, from the records as they stand.

pub mod bookings;
mod load;
pub mod read;
