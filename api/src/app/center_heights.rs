//! Measurements of machines' spindle centre heights. One after work that can move the centres, or one that departs from
//! what was on record before, makes the machine's gauges stale; the newest counts, and none that is older than it is put
//! on record after it.

use super::{
    occurred_at,
    perform::Done,
    registry::{self, Machines, no_faults, write_change},
};
use crate::{
    extract::{Json, Reference, WriteOptions},
    page::Paging,
    principal::{Guarded, Maintain, Principal, Read},
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
    length::Length,
    machine::MachineMode,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    registry::machine::{HeightOnRecord, Machine},
};
use dovetally_db::{
    Connection, Tx,
    machines::{self, CenterHeight},
    people,
};

/// Puts a measurement on record.
///
/// # Errors
/// 404 for an unknown machine, 409 when the centres of a machine that is still released may have moved and for what has
/// to be confirmed, 422 for what cannot be.
pub async fn record(
    guarded: &Guarded<Maintain>,
    options: &WriteOptions,
    machine: Reference,
    body: Json<CenterHeightBody>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let new = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| record_in(tx, who, &machine, &new)).await
}

/// The same inside a transaction.
pub(crate) fn record_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    machine: &Reference,
    new: &CenterHeightBody,
) -> Result<Done, Problem> {
    let id = registry::find::<Machines>(tx.connection(), machine)?.record.id;
    machines::take_guard(tx.connection(), id)?;
    // Read again under the guard: a crash may just have moved the centres too.
    let machine = registry::find::<Machines>(tx.connection(), &Reference::Id(id.uuid()))?;
    // To the microsecond, as both databases keep it: what is answered now is what is read later.
    let performed_at = new.performed_at.map(|at| at.trunc_subsecs(6));
    let fields = new.fields(occurred_at(performed_at, tx.now(), "/performed_at")?);
    no_faults(fields.check())?;
    no_faults(fields.check_against(&machine.record.fields))?;
    // What is measured as it is recorded comes after all that is on record, whatever the clocks of several servers say.
    if new.performed_at.is_some() {
        let newest = machines::newest_center_height(tx.connection(), id, fields.station.as_ref())?;
        let newest = newest.map(|newest| newest.fields.performed_at);
        no_faults(fields.dated_back(newest, machine.centers_may_have_moved_at))?;
    }
    let moved = fields.centers_may_have_moved(on_record(tx.connection(), &machine, fields.station.as_ref())?);
    let (code, nominal) = (&machine.record.code, machine.record.fields.center_height_nominal);
    let mut refusals = if new.confirmed { Vec::new() } else { fields.not_confirmed(code, nominal) };
    if moved && machines::guard(tx.connection(), id)?.mode == MachineMode::Running {
        let sentence = format!("Machine {code} is released, and its spindle centres may have moved.");
        let refusal = Refusal::new(Rule::MachineRunning, sentence)
            .clears("Stop the run first, then record the measurement.")
            .about(Subject::coded(SubjectKind::Machine, code));
        refusals.push(refusal);
    }
    if !refusals.is_empty() {
        return Err(Problem::refusals(refusals));
    }
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
    if moved {
        machines::set_centers_may_have_moved(tx.connection(), id, height.recorded_at)?;
    }
    let height_id = height.id.uuid();
    let by = PersonRef { badge: who.badge.clone(), name: who.name.clone() };
    let view = view(height, machine.record.code.clone(), by);
    let state = serde_json::to_value(&view).map_err(Problem::internal)?;
    write_change(tx, who, "center_height", "dovetally.center_height.recorded", height_id, 1, state);
    Done::created(&view, format!("/v1/machines/{}/center-heights", machine.record.code))
}

/// What is on record before a measurement: at its station, or else for the machine as a whole, or else what the builder gives.
pub(crate) fn on_record(
    connection: &mut Connection,
    machine: &Machine,
    station: Option<&Code>,
) -> Result<HeightOnRecord, Problem> {
    let id = machine.record.id;
    let at_station = match station {
        Some(_) => machines::newest_center_height(connection, id, station)?,
        None => None,
    };
    let measured = match at_station {
        Some(measured) => Some(measured),
        None => machines::newest_center_height(connection, id, None)?,
    };
    let nominal = machine.record.fields.center_height_nominal;
    let nothing = Length::from_picometres(0, nominal.unit());
    Ok(measured.map_or(HeightOnRecord { height: nominal, standard_uncertainty: nothing }, |measured| HeightOnRecord {
        height: measured.fields.measured,
        standard_uncertainty: measured.fields.standard_uncertainty,
    }))
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
