//! Measurements of machines' spindle centre heights. One after work that can move the centres makes the machine's
//! gauges stale.

use super::{
    occurred_at,
    perform::Done,
    registry::{self, Machines, no_faults, write_change},
};
use crate::{
    extract::{Json, Reference, WriteOptions},
    page::Paging,
    principal::{Guarded, Maintain, Read},
    problem::Problem,
    transport::{
        center_height::{CenterHeightBody, CenterHeightView},
        setup::PersonRef,
    },
};
use actix_web::HttpResponse;
use chrono::{DateTime, SubsecRound, Utc};
use dovetally_core::{
    code::Code,
    ids::{CenterHeightId, PersonId},
    machine::MachineMode,
    refusal::{Refusal, Rule, Subject, SubjectKind},
};
use dovetally_db::{
    Connection,
    machines::{self, CenterHeight},
    people,
};

/// Puts a measurement on record.
///
/// # Errors
/// 404 for an unknown machine, 409 after work on a machine that is still released, 422 for what cannot be.
pub async fn record(
    guarded: &Guarded<Maintain>,
    options: &WriteOptions,
    machine: Reference,
    body: Json<CenterHeightBody>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let new = body.into_inner();
    guarded
        .perform(options, &bytes, move |tx, who| {
            let id = registry::find::<Machines>(tx.connection(), &machine)?.record.id;
            machines::take_guard(tx.connection(), id)?;
            // Read again under the guard: a crash may just have moved the centres too.
            let machine = registry::find::<Machines>(tx.connection(), &Reference::Id(id.uuid()))?;
            if new.after_work && machines::guard(tx.connection(), id)?.mode == MachineMode::Running {
                let sentence =
                    format!("Machine {} is released, and its spindle centres may have moved.", machine.record.code);
                let refusal = Refusal::new(Rule::MachineRunning, sentence)
                    .clears("Stop the run first, then record the measurement.")
                    .about(Subject::coded(SubjectKind::Machine, &machine.record.code));
                return Err(Problem::refusals(vec![refusal]));
            }
            // To the microsecond, as both databases keep it: what is answered now is what is read later.
            let performed_at = new.performed_at.map(|at| at.trunc_subsecs(6));
            let fields = new.fields(occurred_at(performed_at, tx.now(), "/performed_at")?);
            no_faults(fields.check())?;
            no_faults(fields.check_against(&machine.record.fields))?;
            let newest = machines::center_heights_page(tx.connection(), id, None, 1)?.pop();
            let last = newest.map(|height| height.recorded_at).max(machine.centers_may_have_moved_at);
            let height = CenterHeight {
                id: tx.new_id(),
                machine: id,
                fields,
                recorded_by: who.person,
                recorded_at: last.map_or_else(|| tx.now(), |last| tx.recorded_after(last)),
            };
            machines::insert_center_height(tx.connection(), &height)?;
            if height.fields.after_work {
                machines::set_centers_may_have_moved(tx.connection(), id, height.recorded_at)?;
            }
            let height_id = height.id.uuid();
            let by = PersonRef { badge: who.badge.clone(), name: who.name.clone() };
            let view = view(height, machine.record.code.clone(), by);
            let state = serde_json::to_value(&view).map_err(Problem::internal)?;
            write_change(tx, who, "center_height", "dovetally.center_height.recorded", height_id, 1, state);
            Done::created(&view, format!("/v1/machines/{}/center-heights", machine.record.code))
        })
        .await
}

/// A machine's measurements, newest first.
///
/// # Errors
/// 404 for an unknown machine, 400 for another list's cursor.
pub async fn list(guarded: &Guarded<Read>, machine: Reference, paging: Paging) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let machine = registry::find::<Machines>(connection, &machine)?.record;
            let before: Option<(DateTime<Utc>, CenterHeightId)> = paging.after()?;
            let heights = machines::center_heights_page(connection, machine.id, before, paging.rows_to_fetch())?;
            let mut rows = Vec::with_capacity(heights.len());
            for height in heights {
                let by = person(connection, height.recorded_by)?;
                rows.push(view(height, machine.code.clone(), by));
            }
            let page = paging.page(rows, |row| (row.recorded_at, row.id), |row| row)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

fn view(height: CenterHeight, machine: Code, recorded_by: PersonRef) -> CenterHeightView {
    CenterHeightView::new(height.id.uuid(), machine, height.fields, recorded_by, height.recorded_at)
}

fn person(connection: &mut Connection, id: PersonId) -> Result<PersonRef, Problem> {
    let person = people::find(connection, id)?.ok_or_else(|| Problem::internal("a record by nobody on record"))?;
    Ok(PersonRef { badge: person.badge, name: person.fields.name })
}
