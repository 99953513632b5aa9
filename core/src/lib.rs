//! The trade, pure: types, rules and calculations for the tooling and the setups of multi-spindle bar machines.
//!
//! Nothing in this crate reads a clock, draws a random number, touches a database or knows HTTP. A rule is a function
//! from what is known (facts, a fold of events) and what is asked (a command) to what happens (events) or why not
//! (refusals). The same function serves the dry run, the page, the API and the release.

pub mod adjuster;
pub mod calc;
pub mod code;
pub mod custody;
pub mod due;
pub mod field_error;
pub mod findings;
pub mod floor;
pub mod gauge;
pub mod handover;
pub mod holder;
pub mod ids;
pub mod item;
pub mod length;
pub mod life;
pub mod machine;
pub mod maintenance;
mod names;
pub mod people;
pub mod planning;
pub mod reading;
pub mod refusal;
pub mod registry;
pub mod reliability;
pub mod scan;
pub mod setup;
pub mod supply;
pub mod work_order;
