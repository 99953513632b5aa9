//! Checks of centre gauges: what makes a gauge usable, or takes it out of use, and calls into doubt what was set with it.

use super::{
    facts::whereabouts,
    gauge_drift,
    impacts::{self, Doubt},
    occurred_at,
    perform::Done,
    registry::{CenterGauges, faulty, find, no_faults, record_item, write_change},
};
use crate::{
    extract::{Json, Reference, WriteOptions},
    page::{Keyed, Paging},
    principal::{ControlGauges, Guarded, Principal, Read},
    problem::Problem,
    transport::gauge_check::{GaugeCheckView, NewGaugeCheck},
};
use actix_web::HttpResponse;
use chrono::{DateTime, Utc};
use dovetally_core::{
    field_error::FieldError,
    gauge::{
        check::{CheckDecision, GaugeControl, GaugeProof},
        impact::Window,
        reading::{not_confirmed, off_the_centers},
    },
    ids::{GaugeCheckId, ItemId, MachineId},
    item::Condition,
    refusal::{Refusal, Rule, Subject, SubjectKind},
    registry::item::{CenterGauge, CenterGaugeFields, GaugeCheckFields},
};
use dovetally_db::{
    Connection, Tx,
    center_gauges::{self, GaugeCheck},
    codes, custody, gauge_control, impacts as documents, machines, people,
};

/// Records a check.
///
/// # Errors
/// 404 for what is no centre gauge, 409 for what has to be confirmed, 422 for what cannot be.
pub async fn record(
    guarded: &Guarded<ControlGauges>,
    options: &WriteOptions,
    gauge: Reference,
    body: Json<NewGaugeCheck>,
) -> Result<HttpResponse, Problem> {
    let bytes = body.bytes().to_vec();
    let body = body.into_inner();
    guarded.perform(options, &bytes, move |tx, who| record_in(tx, who, &gauge, &body)).await
}

/// The same inside a transaction.
pub(crate) fn record_in(
    tx: &mut Tx<'_>,
    who: &Principal,
    gauge: &Reference,
    body: &NewGaugeCheck,
) -> Result<Done, Problem> {
    let mut found = taken(tx, gauge)?;
    let id = found.item.id;
    let same = CenterGaugeFields { nominal: found.nominal, limits: found.limits };
    let judged = judge(tx, who, &found, &same, found.machine, body, "")?;
    let doubt = judged.doubt(tx, body.raise_impact)?;
    let check = judged.check;
    tx.pause_point("check-read");
    center_gauges::insert_check(tx.connection(), &check)?;
    apply(tx, &mut found, &check);
    center_gauges::update_record(tx.connection(), &found)?;
    if let Some(doubt) = doubt {
        impacts::raise(tx, who, &found, doubt)?;
    }
    let view = show(tx.connection(), &check)?;
    record_change(tx, who, &view)?;
    record_item(tx, who, id, "dovetally.center_gauge.changed")?;
    Done::created(&view, format!("/v1/center-gauges/{}/checks", found.item.code))
}

/// A gauge, taken for this transaction.
pub(super) fn taken(tx: &mut Tx<'_>, gauge: &Reference) -> Result<CenterGauge, Problem> {
    let id = find::<CenterGauges>(tx.connection(), gauge)?.item.id;
    // Placing a gauge takes the same row: a check and a placing follow each other.
    codes::lock(tx.connection(), id.uuid())?;
    custody::lock(tx.connection(), &[id])?;
    find::<CenterGauges>(tx.connection(), gauge)
}

/// A check that was decided, before it is stored.
pub(super) struct Judged {
    pub(super) check: GaugeCheck,
    control: GaugeControl,
    last_accepted: Option<GaugeCheck>,
}

impl Judged {
    /// The time that the check calls into doubt, if it does.
    pub(super) fn doubt(&self, tx: &mut Tx<'_>, asked: bool) -> Result<Option<Doubt>, Problem> {
        let Some(decision) = &self.check.decision else { return Ok(None) };
        if !decision.calls_for_impact(self.control, asked) {
            return Ok(None);
        }
        // Never ahead of the server: what is done in between would not be seen.
        let not_ahead = |at: DateTime<Utc>| at.min(tx.now());
        let since = self.last_accepted.as_ref().map(|last| not_ahead(last.fields.performed_at));
        let until = self.check.accepted.then(|| not_ahead(self.check.fields.performed_at));
        let until = until.map(|until| since.map_or(until, |since| until.max(since)));
        let found = match decision.as_found.proof {
            GaugeProof::Reject => "outside its limits",
            GaugeProof::Accept | GaugeProof::Undecided => "undecided",
        };
        Ok(Some(Doubt {
            check: Some(self.check.id),
            reason: format!("The check of {} found it {found}.", self.check.fields.performed_at.date_naive()),
            window: Window { since, until },
        }))
    }
}

/// Decides a check of a gauge that is held against `from_now_on` and `machine` afterwards. `at` is the pointer to the check.
pub(super) fn judge(
    tx: &mut Tx<'_>,
    who: &Principal,
    gauge: &CenterGauge,
    from_now_on: &CenterGaugeFields,
    machine: MachineId,
    body: &NewGaugeCheck,
    at: &str,
) -> Result<Judged, Problem> {
    let fields = GaugeCheckFields {
        as_found: body.as_found,
        as_left: body.as_left,
        standard_uncertainty: body.standard_uncertainty,
        certificate: body.certificate.clone(),
        next_check: body.next_check,
        performed_at: occurred_at(body.performed_at, tx.now(), &format!("{at}/performed_at"))?,
    };
    no_faults(placed(at, fields.check(gauge.check_interval_days)))?;
    let last = center_gauges::checks_page(tx.connection(), gauge.item.id, None, 1)?.pop();
    if last.as_ref().is_some_and(|last| fields.performed_at < last.fields.performed_at) {
        // An older finding must not cover a newer one.
        return Err(Problem::field(format!("{at}/performed_at"), "lies before the last check on record"));
    }
    no_faults(gauge.item.fields.judged_before_blocked(fields.performed_at, &format!("{at}/performed_at")))?;
    let until_now = CenterGaugeFields { nominal: gauge.nominal, limits: gauge.limits };
    let (control, _) = gauge_control::find(tx.connection())?;
    let decided = CheckDecision::of(control.rule, &until_now, from_now_on, &fields);
    let decision = decided.map_err(|faults| faulty(placed(at, faults)))?;
    let mut asked = not_confirmed(&gauge.item.code, &until_now, from_now_on, &fields);
    if decision.accepted() {
        at_its_machine(tx, gauge)?;
        asked.extend(beside_centers(tx, gauge, from_now_on, machine)?);
    }
    if !body.confirmed && !asked.is_empty() {
        return Err(Problem::refusals(asked));
    }
    let last_accepted = center_gauges::last_accepted_check(tx.connection(), gauge.item.id)?;
    let recorded_at = last.map_or_else(|| tx.now(), |last| tx.recorded_after(last.recorded_at));
    let mut check = GaugeCheck {
        id: tx.new_id(),
        gauge: gauge.item.id,
        machine,
        accepted: decision.accepted(),
        decision: Some(decision),
        proposed_next_check: None,
        recorded_by: who.person,
        recorded_at,
        fields,
    };
    // On another machine a gauge begins anew.
    let earlier = if machine == gauge.machine { gauge_drift::checks(tx.connection(), gauge)? } else { Vec::new() };
    let proposed = gauge_drift::propose(&earlier, &check, from_now_on, gauge.check_interval_days);
    check.proposed_next_check = Some(proposed);
    Ok(Judged { check, control, last_accepted })
}

/// A gauge is passed beside its machine, not while it is away; that it was found wanting there may be put on record at once.
fn at_its_machine(tx: &mut Tx<'_>, gauge: &CenterGauge) -> Result<(), Problem> {
    let held = whereabouts(tx.connection(), gauge.item.id)?;
    if !held.outside {
        return Ok(());
    }
    let code = &gauge.item.code;
    let refusal = Refusal::new(Rule::ItemHeldElsewhere, format!("Gauge {code} is outside the shop, at {}.", held.name))
        .saw(held.name)
        .clears("Take it back at the counter first, then check it.")
        .about(Subject::coded(SubjectKind::CenterGauge, code));
    Err(Problem::refusals(vec![refusal]))
}

/// What is asked where the gauge and the centres that it goes to differ, as far as they were measured.
fn beside_centers(
    tx: &mut Tx<'_>,
    gauge: &CenterGauge,
    from_now_on: &CenterGaugeFields,
    machine: MachineId,
) -> Result<Option<Refusal>, Problem> {
    let Some(height) = machines::newest_center_height(tx.connection(), machine, None)? else { return Ok(None) };
    let codes = machines::codes_of(tx.connection(), &[machine].into())?;
    let code = codes.get(&machine).ok_or_else(|| Problem::not_found("machine", machine))?;
    Ok(off_the_centers(&gauge.item.code, code, from_now_on, height.fields.measured))
}

/// Faults of a check that stands at `at` in its body.
fn placed(at: &str, faults: Vec<FieldError>) -> Vec<FieldError> {
    faults.into_iter().map(|fault| FieldError { pointer: format!("{at}{}", fault.pointer), ..fault }).collect()
}

/// What a check makes of a gauge's record.
pub(super) fn apply(tx: &Tx<'_>, gauge: &mut CenterGauge, check: &GaugeCheck) {
    // Never ahead of the server: work done in between would not be seen.
    let performed_at = check.fields.performed_at.min(tx.now());
    let judged = match (check.accepted, gauge.item.fields.condition) {
        (true, Condition::NeedsCheck) => Condition::Usable,
        (false, Condition::Usable) => Condition::NeedsCheck,
        (_, as_before) => as_before,
    };
    gauge.item.fields.judge(judged, performed_at);
    if check.accepted {
        gauge.last_accepted_check_at = Some(performed_at);
        gauge.next_check = Some(check.fields.next_check);
    }
    gauge.item.version += 1;
    gauge.item.updated_at = tx.now();
}

/// A check's row in the chain of changes.
pub(super) fn record_change(tx: &mut Tx<'_>, who: &Principal, view: &GaugeCheckView) -> Result<(), Problem> {
    let state = serde_json::to_value(view).map_err(Problem::internal)?;
    write_change(tx, who, "gauge_check", "dovetally.gauge_check.recorded", view.id, 1, state);
    Ok(())
}

/// A gauge's checks, newest first.
///
/// # Errors
/// 404 for what is no centre gauge, 400 for another list's cursor.
pub async fn list(guarded: &Guarded<Read>, gauge: Reference, paging: Paging) -> Result<HttpResponse, Problem> {
    let (paging, page) = guarded
        .database()
        .read(move |connection| {
            let gauge = find::<CenterGauges>(connection, &gauge)?.item.id;
            let before = paging.after()?;
            let shown = rows(connection, gauge, before, paging.rows_to_fetch())?;
            let page = paging.page(shown, |(key, _)| *key, |(_, view)| view)?;
            Ok::<_, Problem>((paging, page))
        })
        .await?;
    paging.answer(&page)
}

/// A gauge's checks before one, newest first, with their places in the list.
///
/// # Errors
/// A database error.
pub(crate) fn rows(
    connection: &mut Connection,
    gauge: ItemId,
    before: Option<(DateTime<Utc>, GaugeCheckId)>,
    limit: i64,
) -> Result<Keyed<(DateTime<Utc>, GaugeCheckId), GaugeCheckView>, Problem> {
    let found = center_gauges::checks_page(connection, gauge, before, limit)?;
    let mut shown = Vec::with_capacity(found.len());
    for row in found {
        shown.push(((row.recorded_at, row.id), show(connection, &row)?));
    }
    Ok(shown)
}

/// A check as it is answered.
pub(super) fn show(connection: &mut Connection, check: &GaugeCheck) -> Result<GaugeCheckView, Problem> {
    let gauge = dovetally_db::items::find(connection, check.gauge)?;
    let machine = machines::code_of(connection, check.machine)?;
    let recorded_by = people::find(connection, check.recorded_by)?;
    let impact = documents::raised_by_check(connection, check.id)?;
    let fields = &check.fields;
    Ok(GaugeCheckView {
        id: check.id.uuid(),
        gauge: gauge.ok_or_else(|| Problem::not_found("centre gauge", check.gauge))?.code,
        machine: machine.ok_or_else(|| Problem::not_found("machine", check.machine))?,
        as_found: fields.as_found,
        as_left: fields.as_left,
        standard_uncertainty: fields.standard_uncertainty,
        accepted: check.accepted,
        decision: check.decision.as_ref().map(Into::into),
        impact: impact.map(|impact| impact.uuid()),
        certificate: fields.certificate.clone(),
        next_check: fields.next_check,
        proposed_next_check: check.proposed_next_check,
        performed_at: fields.performed_at,
        recorded_by: recorded_by.map(|person| person.badge).unwrap_or_default(),
        recorded_at: check.recorded_at,
    })
}
