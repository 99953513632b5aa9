//! The setup record: one open setup a machine, with a state for each station in use.
//!
//! A setup is a sequence of [`event::Event`]s. [`state::Setup`] is their fold, [`decide::decide`] the rules on it. What
//! a person asks is a [`command::Command`] with every scanned code already looked up, so that the rules are pure: the
//! same state, facts, command, person and instant always give the same answer.

pub mod advice;
pub mod blockers;
pub mod command;
pub mod decide;
pub mod discard;
pub mod event;
pub mod facts;
mod fold;
pub mod height_limit;
pub mod held;
pub mod last_time;
pub mod measuring;
pub mod next;
pub mod permit;
pub mod plan;
pub mod runs;
pub mod sizes;
pub mod state;
pub mod stored;
pub mod view;
pub mod wear;
