//! What goes over the wire, apart from what the trade's types are and from what rows hold.
//!
//! Leaf values (lengths, codes, names of kinds) are the trade's own types, which parse themselves; the modules here
//! give them their place in the OpenAPI document.

pub mod adjuster;
pub mod as_of;
pub mod auth;
pub mod booking;
pub mod center_gauge;
pub mod center_height;
pub mod due;
pub mod floor;
pub mod form_tool;
pub mod gauge_check;
pub mod gauge_control;
pub mod gauge_drift;
pub mod gauge_question;
pub mod gauge_use;
pub mod handover;
pub mod holder;
pub mod holder_check;
pub mod impact;
pub mod item;
pub mod job;
pub mod last_time;
pub mod machine;
pub mod maintenance_plan;
pub mod movement;
pub mod part;
pub mod person;
pub mod place;
pub mod planning;
pub mod regrind;
pub mod reliability;
pub mod run_permit;
pub mod schema;
pub mod settings;
pub mod setup;
pub mod setup_event;
pub mod setup_history;
pub mod setup_station;
pub mod supply;
pub mod tag_out;
mod time;
pub mod tool_check;
pub mod tool_consent;
pub mod tool_design;
pub mod tool_outlook;
pub mod tool_record;
pub mod traveller;
pub mod wear;
pub mod work_order;
