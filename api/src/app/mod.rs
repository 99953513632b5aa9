//! Use cases: each is one function that owns one transaction. A route calls exactly one of them; they call the rules of
//! the trade and the queries.

pub mod as_of;
pub mod center_heights;
pub(crate) mod counter;
pub mod custody;
pub mod due;
pub mod facts;
pub(crate) mod find;
pub mod floor;
pub mod gauge_bindings;
pub mod gauge_checks;
pub mod gauge_control;
pub mod gauge_drift;
pub mod gauge_question;
pub mod gauge_uses;
pub mod handovers;
pub mod holder_checks;
pub mod impacts;
pub mod items;
pub(crate) mod labels;
pub mod ledger;
pub mod life;
pub mod maintenance_plans;
pub mod people;
pub mod perform;
pub mod planning;
pub mod registry;
pub mod reliability;
pub mod run_permit;
pub mod settings;
pub mod setups;
pub mod sign_in;
pub mod supplies;
pub mod tag_outs;
pub mod verification;
pub mod work_orders;

use crate::problem::Problem;
use chrono::{DateTime, SubsecRound, TimeDelta, Utc};

/// How far what people say may lie ahead of the server's time: clocks differ.
const AHEAD: TimeDelta = TimeDelta::minutes(2);

/// When something happened, as a person says: now when they don't, at most 2 minutes ahead (clocks differ) and 7 days
/// back (what was done on paper is caught up within a week).
///
/// # Errors
/// 422 outside these bounds.
pub fn occurred(said: Option<DateTime<Utc>>, now: DateTime<Utc>) -> Result<DateTime<Utc>, Problem> {
    occurred_at(said, now, "/occurred_at")
}

/// The same for a field of another name.
///
/// # Errors
/// 422 outside these bounds.
pub fn occurred_at(said: Option<DateTime<Utc>>, now: DateTime<Utc>, at: &str) -> Result<DateTime<Utc>, Problem> {
    // What both databases can hold, so that an answer equals a later read.
    let Some(said) = said.map(|said| said.trunc_subsecs(6)) else { return Ok(now) };
    if said > now + AHEAD {
        return Err(Problem::field(at, "lies ahead of the server's time"));
    }
    if said < now - TimeDelta::days(7) {
        return Err(Problem::field(at, "lies more than 7 days back"));
    }
    Ok(said)
}
