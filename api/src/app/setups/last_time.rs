//! What the last setups of a part on a machine tell.

use super::load::{names, of_row};
use crate::{
    app::registry::{Machines, find, resolve_in_query},
    conditional::answer_fresh,
    extract::Reference,
    principal::{Guarded, Read},
    problem::Problem,
    transport::last_time::{LastTimeQuestion, LastTimeView, SetupThen},
};
use actix_web::HttpResponse;
use dovetally_core::{
    ids::{MachineId, PartId},
    setup::last_time::LastTime,
};
use dovetally_db::{Connection, codes::CodeSubject, setups};

/// Reads the last finished setups.
///
/// # Errors
/// 404 for an unknown machine, 400 for a part that is not on record.
pub async fn last_time(
    guarded: &Guarded<Read>,
    machine: Reference,
    question: LastTimeQuestion,
) -> Result<HttpResponse, Problem> {
    let most = question.most()?;
    let view = guarded
        .database()
        .read(move |connection| {
            let machine = find::<Machines>(connection, &machine)?.record;
            let part = resolve_in_query(connection, CodeSubject::Part, Some(&question.part), "part")?;
            let part = part.ok_or_else(|| Problem::query("part", "names no part"))?;
            let setups = last_finished(connection, machine.id, PartId::from_uuid(part), most)?;
            Ok::<_, Problem>(LastTimeView { machine: machine.code, part: question.part, setups })
        })
        .await?;
    Ok(answer_fresh(&view))
}

/// The last finished setups of a part on a machine, newest first, as they are answered.
///
/// # Errors
/// A database error.
pub(crate) fn last_finished(
    connection: &mut Connection,
    machine: MachineId,
    part: PartId,
    most: i64,
) -> Result<Vec<SetupThen>, Problem> {
    let rows = setups::last_finished(connection, machine, part, most)?;
    let mut then = Vec::with_capacity(rows.len());
    for row in rows {
        let loaded = of_row(connection, row)?;
        let last = LastTime::of(&loaded.row.plan, &loaded.events);
        let people = names(connection, last.people.iter().copied())?;
        let (opened_at, closed_at) = (loaded.row.opened_at, loaded.row.closed_at);
        then.push(SetupThen::of(loaded.row.id.uuid(), opened_at, closed_at, last, &people));
    }
    Ok(then)
}
