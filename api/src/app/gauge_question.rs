//! The setter's question: is this the right gauge for this machine, and may it be used now?

use crate::{
    app::facts::scanned_gauge,
    conditional::answer_fresh,
    extract::Reference,
    principal::{Guarded, Read},
    problem::Problem,
    transport::gauge_question::GaugeAnswer,
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    gauge::{GaugeMachine, gauge_check},
    ids::{MachineId, PersonId},
};
use dovetally_db::{Connection, codes, codes::CodeSubject, items, machines};

/// Answers the question for whoever asks, at this moment. Whatever was scanned gets a verdict.
///
/// # Errors
/// 404 when there is no such machine.
pub async fn ask(guarded: &Guarded<Read>, machine: Reference, gauge: String) -> Result<HttpResponse, Problem> {
    let (who, now) = (guarded.who.person, guarded.database().now());
    let answer = guarded.database().read(move |connection| answer(connection, &machine, &gauge, who, now)).await?;
    Ok(answer_fresh(&answer))
}

/// The answer about a scanned text, for a person at an instant.
///
/// # Errors
/// 404 when there is no such machine.
pub(crate) fn answer(
    connection: &mut Connection,
    machine: &Reference,
    gauge: &str,
    who: PersonId,
    now: DateTime<Utc>,
) -> Result<GaugeAnswer, Problem> {
    let machine = machine_asked_about(connection, machine)?;
    let scanned = scanned_gauge(connection, gauge)?;
    let item = scanned.known().map(|gauge| items::find(connection, gauge.item)).transpose()?.flatten();
    let verdict = gauge_check(&machine, &scanned, who, now);
    Ok(GaugeAnswer::new(machine, &scanned, item.map(|item| item.fields.name), verdict, now))
}

fn machine_asked_about(connection: &mut Connection, reference: &Reference) -> Result<GaugeMachine, Problem> {
    let id = match reference {
        Reference::Id(id) => Some(*id),
        Reference::Code(code) => codes::find_id(connection, CodeSubject::Machine, code)?,
    };
    let machine = id.map(MachineId::from_uuid);
    let code = machine.map(|machine| machines::code_of(connection, machine)).transpose()?.flatten();
    // By an id nothing but a machine is found; by an older code its present one is answered.
    let found = machine.zip(code).map(|(machine, code)| GaugeMachine { machine, code });
    found.ok_or_else(|| Problem::not_found("machine", reference))
}
