//! The run permit: may this machine run, as far as the records know? Signed when asked for as a token.

use super::{
    registry::find,
    setups::{Loaded, load, machine_facts},
};
use crate::{
    app::registry::Machines,
    conditional::answer_fresh,
    extract::Reference,
    principal::{Guarded, Read},
    problem::Problem,
    transport::run_permit::{PermitQuery, RunPermitView},
};
use actix_web::{HttpResponse, http::header};
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::{
    registry::machine::Machine,
    setup::{
        facts::MachineFacts,
        permit::{PermitPurpose, RunPermit, run_permit},
    },
};
use dovetally_db::{Connection, setups};
use serde::Serialize;

/// The media type in a signed permit's header: it keeps a permit from being taken for an access token.
const PERMIT_TYPE: &str = "run-permit+jwt";
const VALID_FOR: TimeDelta = TimeDelta::seconds(60);
/// What a permit is not.
pub(crate) const CAUTION: &str = "Advice from records, not a safety function: the program cannot see the machine. Guards, interlocks and local lockout rules come first.";

#[derive(Serialize)]
struct Claims<'a> {
    iss: &'a str,
    iat: i64,
    exp: i64,
    #[serde(flatten)]
    permit: &'a RunPermitView,
}

/// Judges whether a machine may run for a purpose.
///
/// # Errors
/// 404 for a machine that is not on record.
pub async fn judge(
    guarded: &Guarded<Read>,
    machine: Reference,
    query: PermitQuery,
    signed: bool,
) -> Result<HttpResponse, Problem> {
    let now = guarded.database().now();
    let latest = now + VALID_FOR;
    let permit = guarded
        .database()
        .read(move |connection| {
            let found = find::<Machines>(connection, &machine)?;
            let Judged { permit, open, .. } = judged(connection, &found, query.purpose, now)?;
            Ok::<_, Problem>(RunPermitView {
                machine: found.record.code,
                purpose: query.purpose,
                permitted: permit.permitted,
                blockers: permit.blockers,
                setup: open.map(|open| open.row.id.uuid()),
                judged_at: now,
                valid_until: permit.not_beyond.filter(|end| *end > now).map_or(latest, |end| latest.min(end)),
                caution: CAUTION.to_owned(),
            })
        })
        .await?;
    if !signed {
        return Ok(answer_fresh(&permit));
    }
    let claims = Claims {
        iss: "dovetally",
        iat: permit.judged_at.timestamp(),
        exp: permit.valid_until.timestamp(),
        permit: &permit,
    };
    let token = guarded.keys().sign(PERMIT_TYPE, &claims).map_err(Problem::internal)?;
    Ok(HttpResponse::Ok()
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header((header::CONTENT_TYPE, "application/jwt"))
        .body(token))
}

/// A permit, and what it was judged on.
pub(crate) struct Judged {
    pub(crate) permit: RunPermit,
    /// The open setup.
    pub(crate) open: Option<Loaded>,
    pub(crate) facts: MachineFacts,
}

/// Judges a machine with its open setup, if it has one.
///
/// # Errors
/// A database error.
pub(crate) fn judged(
    connection: &mut Connection,
    machine: &Machine,
    purpose: PermitPurpose,
    now: DateTime<Utc>,
) -> Result<Judged, Problem> {
    let record = &machine.record;
    let open = setups::open_on(connection, record.id)?;
    let open = open.map(|open| load(connection, open.id)).transpose()?;
    let setup = open.as_ref().map(|open| &open.setup);
    let facts = machine_facts(connection, record.id, setup)?;
    let permit = run_permit(setup, &record.code, &facts, purpose, now);
    Ok(Judged { permit, open, facts })
}
